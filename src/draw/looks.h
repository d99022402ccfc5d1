/* Looks as points of a density, weighed as the settings say, and what its numbers are called. */
#ifndef LF_DRAW_LOOKS_H
#define LF_DRAW_LOOKS_H

#include "draw/field.h"
#include "look/density.h"

/* The points of all that is shown; weights are seconds or counts, or, unless pooled, shares of each
 * person's own, divided by the number of people. */
GArray *looks_points(const Material *material, const LfDrawSettings *settings);

/* The density as a field of so many px; LF_ERROR_INPUT where the kernel is too narrow or wide. */
LfDensity *looks_density(const Material *material, const LfDrawSettings *settings, double kernel_px,
                         GError **error);
Field *looks_field(const LfDensity *density, int width, int height);

/* Numbers of a density as people read them. */
typedef struct {
    double factor;    /* from weight per px^2 */
    const char *what; /* "seconds", "% of looking time" */
    const char *per;  /* "square degree" */
} LooksUnit;
LooksUnit looks_unit(const Material *material, const LfDrawSettings *settings);

/* Lines of the legend that say what was done, the same for heat and focus. */
void looks_tell(SheetLegend *legend, const Material *material, const LfDrawSettings *settings,
                double kernel_px);
/* "kernel 1\u00b0 (63 px)"; owned by the caller. */
char *looks_kernel(const LfDrawSettings *settings, double kernel_px);

/* Picture px of the field that lies over a photo shown so wide; half as many in a vector file. */
#define LOOKS_CONTOUR_PX 480

#endif
