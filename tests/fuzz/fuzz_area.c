/* libFuzzer target for files of areas and marks: SVG, CSV, planogram, marks; and for the text of
 * points.
 *
 * The first byte picks the parser; the rest is the file. What is read must be usable, and read back
 * as the same from what is written. */
#include <lookfall/area.h>
#include <lookfall/mark.h>

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static const LfAreaPhoto fuzz_area_photo = {"shelf", 1000, 800, 2000};

static void fuzz_area_demand(bool holds)
{
    if (!holds)
        __builtin_trap();
}

static void fuzz_area_note(const char *sentence, void *data)
{
    (void)data;
    fuzz_area_demand(g_utf8_validate(sentence, -1, NULL));
}

static void fuzz_area_refused(const GError *error)
{
    fuzz_area_demand(error->domain == LF_ERROR && error->code == LF_ERROR_INPUT);
    fuzz_area_demand(g_utf8_validate(error->message, -1, NULL));
    fuzz_area_demand(!strchr(error->message, '\n'));
}

/* What was accepted can be asked anything. */
static void fuzz_area_check(const LfArea *area)
{
    LfPoint low, high;
    fuzz_area_demand(
        lf_area_check(area, fuzz_area_photo.width_px, fuzz_area_photo.height_px, NULL));
    fuzz_area_demand(lf_area_surface_px2(area) > 0);
    lf_area_bounds(area, &low, &high);
    fuzz_area_demand(low.x <= high.x && low.y <= high.y);
    LfPoint middle = {(low.x + high.x) / 2, (low.y + high.y) / 2};
    double distance_px = lf_area_distance_px(area, middle);
    fuzz_area_demand(isfinite(distance_px));
    fuzz_area_demand(lf_area_contains(area, middle) ? distance_px <= 0 : distance_px >= 0);
    fuzz_area_demand(!lf_area_contains(area, (LfPoint){low.x - 1, low.y - 1}));
    LfArea *flat = lf_area_flatten(area, 0.5);
    fuzz_area_demand(flat->n_points >= 3);
    lf_area_free(flat);
}

static void fuzz_area_again(const GPtrArray *areas)
{
    g_autofree char *csv = lf_area_write_csv(areas);
    g_autofree char *svg = lf_area_write_svg(areas, &fuzz_area_photo, "p.png");
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) again =
        lf_area_read_csv(csv, strlen(csv), "fuzz", &fuzz_area_photo, &error);
    /* Rounding to 4 decimals may close what was open by less: refused, but never another area. */
    if (!again) {
        fuzz_area_refused(error);
        return;
    }
    g_autofree char *second = lf_area_write_csv(again);
    fuzz_area_demand(strcmp(csv, second) == 0);
    g_autoptr(GPtrArray) drawn =
        lf_area_read_svg(svg, strlen(svg), "fuzz", &fuzz_area_photo, NULL, NULL, NULL);
    fuzz_area_demand(!drawn || drawn->len == areas->len);
}

static GPtrArray *fuzz_area_read(int kind, const char *text, gsize n, GError **error)
{
    switch (kind) {
    case 0:
        return lf_area_read_svg(text, n, "fuzz", &fuzz_area_photo, fuzz_area_note, NULL, error);
    case 1:
        return lf_area_read_csv(text, n, "fuzz", &fuzz_area_photo, error);
    default:
        return lf_area_read_planogram(text, n, "fuzz", &fuzz_area_photo, kind == 3, error);
    }
}

static void fuzz_area_areas(int kind, const char *text, gsize n)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) areas = fuzz_area_read(kind, text, n, &error);
    fuzz_area_demand(!areas == !!error);
    if (!areas) {
        fuzz_area_refused(error);
        return;
    }
    for (guint i = 0; i < areas->len; i++)
        fuzz_area_check(areas->pdata[i]);
    fuzz_area_again(areas);
}

static void fuzz_area_marks(const char *text, gsize n)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) marks = lf_mark_read_csv(text, n, "fuzz", NULL, &error);
    fuzz_area_demand(!marks == !!error);
    if (!marks) {
        fuzz_area_refused(error);
        return;
    }
    g_autofree char *csv = lf_mark_write_csv(marks);
    g_autoptr(GPtrArray) again = lf_mark_read_csv(csv, strlen(csv), "fuzz", NULL, NULL);
    fuzz_area_demand(again && again->len == marks->len);
}

static void fuzz_area_points(const char *text, gsize n)
{
    g_autofree char *points = g_strndup(text, n);
    for (int shape = LF_AREA_RECT; shape <= LF_AREA_PATH; shape++) {
        g_autoptr(LfArea) area = lf_area_new("shelf", "a", "", (LfAreaShape)shape, points, NULL);
        if (area && lf_area_check(area, 1000, 800, NULL))
            fuzz_area_check(area);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n == 0)
        return 0;
    /* With a 0 behind it, as files have when they are read whole. */
    g_autofree char *text = g_strndup((const char *)data + 1, n - 1);
    memcpy(text, data + 1, n - 1);
    int kind = data[0] % 6;
    if (kind < 4)
        fuzz_area_areas(kind, text, n - 1);
    else if (kind == 4)
        fuzz_area_marks(text, n - 1);
    else
        fuzz_area_points(text, n - 1);
    return 0;
}
