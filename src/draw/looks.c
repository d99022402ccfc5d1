/* Looks as a density. */
#include "draw/looks.h"

#include <math.h>

/* Widths of kernels that make sense, as shares of the photo's longer side. */
#define LOOKS_WIDEST 0.5

GArray *looks_points(const Material *material, const LfDrawSettings *settings)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(LfDensityPoint));
    gsize n_people;
    g_autofree gsize *person = material_people(material, &n_people);
    g_autofree double *whole = g_new0(double, n_people + 1);
    for (guint i = 0; i < material->walks->len; i++)
        whole[person[i]] += material_shown(material->walks->pdata[i], settings->count);
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        double share = settings->pooled ? 1 : 1 / (whole[person[i]] * (double)material->n_people);
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            double weight = settings->count ? 1 : look->to_s - look->from_s;
            LfDensityPoint point = {look->x, look->y, weight * share, look->radius_px};
            if (look->shown)
                g_array_append_val(points, point);
        }
    }
    return points;
}

LfDensity *looks_density(const Material *material, const LfDrawSettings *settings, double kernel_px,
                         GError **error)
{
    double most = LOOKS_WIDEST * MAX(material->width_px, material->height_px);
    if (kernel_px < LF_DENSITY_SIGMA_MIN_PX || kernel_px > most) {
        g_autofree char *px = canvas_number(kernel_px);
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "the kernel is %s px of the photo \"%s\"; it must lie between %.0f and %.0f",
                    px, material->photo, LF_DENSITY_SIGMA_MIN_PX, most);
        return NULL;
    }
    g_autoptr(GArray) points = looks_points(material, settings);
    LfDensity *density = lf_density_new((gpointer)points->data, points->len, material->width_px,
                                        material->height_px, kernel_px, 4);
    if (!density)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "there is not enough memory for a kernel of so few px");
    return density;
}

Field *looks_field(const LfDensity *density, int width, int height)
{
    Field *field = field_new(width, height);
    lf_density_read(density, width, height, field->value);
    field_measure(field);
    return field;
}

LooksUnit looks_unit(const Material *material, const LfDrawSettings *settings)
{
    LooksUnit unit;
    double length; /* px of the side of the square */
    if (settings->kernel.unit == LF_DRAW_DEG) {
        length = material->px_per_deg;
        unit.per = "square degree";
    } else if (settings->kernel.unit == LF_DRAW_MM) {
        length = 100 * material->width_px / material->width_mm;
        unit.per = "10 cm × 10 cm";
    } else {
        length = 100;
        unit.per = "100 px × 100 px";
    }
    unit.factor = length * length * (settings->pooled ? 1 : 100);
    if (settings->pooled)
        unit.what = !settings->count ? "seconds" : settings->samples ? "samples" : "fixations";
    else
        unit.what = !settings->count    ? "% of looking time"
                    : settings->samples ? "% of samples"
                                        : "% of fixations";
    return unit;
}

char *looks_kernel(const LfDrawSettings *settings, double kernel_px)
{
    g_autofree char *value = canvas_short(settings->kernel.value);
    g_autofree char *px = canvas_number(kernel_px);
    if (settings->kernel.unit == LF_DRAW_PX)
        return g_strdup_printf("Gaussian kernel %s px", px);
    return g_strdup_printf("Gaussian kernel %s%s = %s px", value,
                           settings->kernel.unit == LF_DRAW_DEG ? "°" : " mm", px);
}

void looks_tell(SheetLegend *legend, const Material *material, const LfDrawSettings *settings,
                double kernel_px)
{
    g_autofree char *kernel = looks_kernel(settings, kernel_px);
    g_autofree char *looks = settings->samples
                                 ? canvas_count(material->n_looks, "gaze sample", "gaze samples")
                                 : canvas_count(material->n_looks, "fixation", "fixations");
    g_autofree char *time = canvas_time(material->look_s);
    sheet_line(legend, "%s, %s%s", looks, time,
               settings->choice.doubtful ? ", doubtful ones among them" : "");
    sheet_line(legend, "%s; %s", settings->count ? "Weighted by number" : "Weighted by duration",
               settings->pooled ? "all people pooled" : "every person has the same weight");
    sheet_line(legend, "%s (one standard deviation); widened where a position is less certain",
               kernel);
}
