/* Pieces of SVG (W3C, Scalable Vector Graphics 1.1, 2nd edition): numbers, transforms, path data.
 */
#ifndef LF_LOOK_SVG_PATH_H
#define LF_LOOK_SVG_PATH_H

#include <lookfall/geometry.h>

/* (x, y) -> (a x + c y + e, b x + d y + f). */
typedef struct {
    double a, b, c, d, e, f;
} SvgTransform;

SvgTransform svg_transform_identity(void);
/* First `inner`, then `outer`. */
SvgTransform svg_transform_join(const SvgTransform *outer, const SvgTransform *inner);
LfPoint svg_transform_point(const SvgTransform *transform, LfPoint point);
/* The value of a transform attribute; LF_ERROR_INPUT without a place. */
bool svg_transform_parse(const char *text, SvgTransform *transform, GError **error);

/* The next number of a list, with white space and one comma before it; *text moves behind it. */
bool svg_number(const char **text, double *value);

/* Rings made of straight edges. */
typedef struct {
    GArray *points; /* LfPoint */
    GArray *ends;   /* gsize: index after each ring's last point */
} SvgRings;

SvgRings *svg_rings_new(void);
void svg_rings_free(SvgRings *rings);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(SvgRings, svg_rings_free)

/* Path data, mapped to photo px; curves become chords that lie within 0.05 px of them. Rings with
 * fewer than three corners, which fill nothing, are left out. LF_ERROR_INPUT without a place. */
bool svg_path_parse(const char *data, const SvgTransform *photo_from_user, SvgRings *rings,
                    GError **error);
/* A rectangle with rounded corners, likewise. */
void svg_path_round_rect(double x, double y, double width, double height, double rx, double ry,
                         const SvgTransform *photo_from_user, SvgRings *rings);
/* Leaves out rings that do not part inside from outside by the nonzero rule, so that filling the
 * rest even-odd gives the same. Rings must not cross. */
void svg_rings_nonzero(SvgRings *rings);

#endif
