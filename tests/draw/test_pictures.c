/* Every kind of picture against one that was looked at and approved (tests/draw/approved).
 *
 * Letters come from the same font everywhere (.ci/packages), drawn without hinting, but versions of
 * FreeType and zlib differ, so a few px may be a little off: at most 0.3% of them by more than 32
 * of 255. A picture that was changed on purpose is approved anew by looking at it: with
 * LOOKFALL_APPROVE=FOLDER the pictures are written there instead of compared. */
#include "draw/picture.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>

#include "draw/scene.h"
#include "geometry/check.h"

#define FAR_OFF 32      /* of 255, in any channel */
#define FAR_SHARE 0.003 /* of the px */

typedef struct {
    char *folder, *photo;
} TestPictures;

typedef struct {
    const char *name;
    LfDrawKind kind;
    int people, fixations, width, height; /* of the photo */
    int level;
    const char *title, *background;
    bool pooled, no_looks_differ;
} TestPicture;

static const TestPicture test_pictures_cases[] = {
    {"heat", LF_DRAW_HEAT, 12, 40, 300, 200, 0, "A photo of packs", NULL, false, false},
    {"heat_tall", LF_DRAW_HEAT, 1, 12, 160, 300, 0, NULL, "photo", true, false},
    {"focus", LF_DRAW_FOCUS, 6, 30, 300, 200, 0, NULL, NULL, false, false},
    {"scanpath_one", LF_DRAW_SCANPATH, 1, 30, 300, 200, 0, NULL, NULL, false, false},
    {"scanpath_some", LF_DRAW_SCANPATH, 5, 20, 300, 200, 0, NULL, NULL, false, false},
    {"scanpath_many", LF_DRAW_SCANPATH, 40, 30, 300, 200, 0, NULL, NULL, false, false},
    {"areas", LF_DRAW_AREAS, 8, 40, 300, 200, 2, NULL, NULL, false, false},
    {"timeline", LF_DRAW_TIMELINE, 8, 30, 300, 200, 0, NULL, NULL, false, false},
    {"transitions", LF_DRAW_TRANSITIONS, 12, 40, 300, 200, 0, NULL, NULL, false, false},
    {"difference", LF_DRAW_DIFFERENCE, 30, 40, 300, 200, 0, NULL, NULL, false, false},
    {"difference_none", LF_DRAW_DIFFERENCE, 4, 8, 300, 200, 0, NULL, "#dfe8e4", false, true},
};

static int test_pictures_set_up(void **state)
{
    TestPictures *t = g_new0(TestPictures, 1);
    t->folder = g_dir_make_tmp("lookfall-draw-XXXXXX", NULL);
    t->photo = g_build_filename(t->folder, "photo.ppm", NULL);
    *state = t;
    return t->folder ? 0 : -1;
}

static int test_pictures_tear_down(void **state)
{
    TestPictures *t = *state;
    g_remove(t->photo);
    g_rmdir(t->folder);
    g_free(t->photo);
    g_free(t->folder);
    g_free(t);
    return 0;
}

static GBytes *test_pictures_draw(const TestPictures *t, const TestPicture *c, LfDrawFormat format,
                                  guint32 seed, LfDrawReport *report)
{
    static const PictureDraw draw[] = {
        [LF_DRAW_HEAT] = heat_draw,
        [LF_DRAW_FOCUS] = focus_draw,
        [LF_DRAW_SCANPATH] = scanpath_draw,
        [LF_DRAW_AREAS] = areas_draw,
        [LF_DRAW_TIMELINE] = timeline_draw,
        [LF_DRAW_TRANSITIONS] = transitions_draw,
        [LF_DRAW_DIFFERENCE] = difference_draw,
    };
    static const char *const groups[] = {"new layout", NULL};
    scene_photo(t->photo, c->width, c->height);
    g_autoptr(Material) material =
        scene_material(t->photo, c->width, c->height, c->people, c->fixations, seed);
    material->areas = scene_areas(c->width, c->height);
    LfDrawSettings settings = lf_draw_settings_default(c->kind);
    settings.width_px = 560;
    settings.title = c->title;
    settings.level = c->level;
    settings.pooled = c->pooled;
    settings.background = c->background ? c->background : settings.background;
    if (c->kind == LF_DRAW_DIFFERENCE) {
        settings.choice.groups = groups;
        settings.against = "control";
    }
    GError *error = NULL;
    GBytes *bytes = draw[c->kind](material, &settings, format, report, &error);
    if (!bytes)
        fail_msg("%s: %s", c->name, error->message);
    return bytes;
}

typedef struct {
    const guint8 *data;
    gsize n, at;
} TestPicturesReader;

static cairo_status_t test_pictures_read(void *data, unsigned char *to, unsigned int n)
{
    TestPicturesReader *reader = data;
    if (reader->n - reader->at < n)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(to, reader->data + reader->at, n);
    reader->at += n;
    return CAIRO_STATUS_SUCCESS;
}

static cairo_surface_t *test_pictures_surface(GBytes *bytes)
{
    TestPicturesReader reader = {0};
    reader.data = g_bytes_get_data(bytes, &reader.n);
    cairo_surface_t *surface =
        cairo_image_surface_create_from_png_stream(test_pictures_read, &reader);
    assert_int_equal(cairo_surface_status(surface), CAIRO_STATUS_SUCCESS);
    return surface;
}

/* Share of px that are far off; 1 where the sizes differ. */
static double test_pictures_off(GBytes *a, GBytes *b)
{
    cairo_surface_t *x = test_pictures_surface(a), *y = test_pictures_surface(b);
    int w = cairo_image_surface_get_width(x), h = cairo_image_surface_get_height(x), off = 0;
    bool same = w == cairo_image_surface_get_width(y) && h == cairo_image_surface_get_height(y);
    for (int row = 0; same && row < h; row++) {
        const guint8 *p = cairo_image_surface_get_data(x) + row * cairo_image_surface_get_stride(x);
        const guint8 *q = cairo_image_surface_get_data(y) + row * cairo_image_surface_get_stride(y);
        for (int i = 0; i < w; i++)
            off += abs(p[4 * i] - q[4 * i]) > FAR_OFF ||
                   abs(p[4 * i + 1] - q[4 * i + 1]) > FAR_OFF ||
                   abs(p[4 * i + 2] - q[4 * i + 2]) > FAR_OFF;
    }
    cairo_surface_destroy(x);
    cairo_surface_destroy(y);
    return same ? (double)off / (w * h) : 1;
}

static void test_pictures_approved(void **state)
{
    const TestPictures *t = *state;
    const char *approve = g_getenv("LOOKFALL_APPROVE");
    for (gsize i = 0; i < G_N_ELEMENTS(test_pictures_cases); i++) {
        const TestPicture *c = &test_pictures_cases[i];
        g_auto(LfDrawReport) report = {0};
        g_autoptr(GBytes) bytes = test_pictures_draw(t, c, LF_DRAW_PNG, 1, &report);
        g_autofree char *name = g_strconcat(c->name, ".png", NULL);
        g_autofree char *path = g_build_filename(approve ? approve : APPROVED, name, NULL);
        gsize n;
        const void *data = g_bytes_get_data(bytes, &n);
        assert_int_equal(report.width_px, 560);
        if (approve) {
            assert_true(g_file_set_contents(path, data, (gssize)n, NULL));
            continue;
        }
        char *approved = NULL;
        assert_true(g_file_get_contents(path, &approved, &n, NULL));
        g_autoptr(GBytes) expected = g_bytes_new_take(approved, n);
        double off = test_pictures_off(bytes, expected);
        if (off > FAR_SHARE)
            fail_msg("%s: %.2f%% of the px are far off", c->name, 100 * off);
        /* Other people make another picture: the comparison can fail. */
        if (!c->no_looks_differ) {
            g_auto(LfDrawReport) again = {0};
            g_autoptr(GBytes) other = test_pictures_draw(t, c, LF_DRAW_PNG, 2, &again);
            assert_true(test_pictures_off(other, expected) > FAR_SHARE);
        }
    }
}

/* The same input gives the same bytes, and SVG and PDF are what they say. */
static void test_pictures_formats(void **state)
{
    const TestPictures *t = *state;
    static const char *const start[] = {"\x89PNG", "<?xml", "%PDF"};
    for (int format = 0; format < 3; format++)
        for (gsize i = 0; i < G_N_ELEMENTS(test_pictures_cases); i += 3) {
            g_auto(LfDrawReport) report = {0};
            g_auto(LfDrawReport) again = {0};
            g_autoptr(GBytes) a =
                test_pictures_draw(t, &test_pictures_cases[i], (LfDrawFormat)format, 1, &report);
            gsize n;
            assert_true(g_str_has_prefix(g_bytes_get_data(a, &n), start[format]));
            assert_true(n > 1000);
            if (format != LF_DRAW_PNG) /* a PDF tells when it was made, an SVG counts its parts */
                continue;
            g_autoptr(GBytes) b =
                test_pictures_draw(t, &test_pictures_cases[i], (LfDrawFormat)format, 1, &again);
            assert_true(g_bytes_equal(a, b));
        }
}

/* Where the difference was planted: people of the new layout look more at the right. */
static void test_pictures_places(void **state)
{
    const TestPictures *t = *state;
    const TestPicture c = {"difference", LF_DRAW_DIFFERENCE, 30, 40, 300, 200, 0, NULL, NULL, false,
                           false};
    g_auto(LfDrawReport) report = {0};
    g_autoptr(GBytes) bytes = test_pictures_draw(t, &c, LF_DRAW_PNG, 1, &report);
    gsize held = 0;
    double right = 0, left = 0;

    assert_true(report.n_places >= report.clusters && report.clusters >= 2);
    assert_true(report.places[0].p == report.least_p);
    for (gsize i = 0; i < report.n_places; i++) {
        const LfDrawPlace *p = &report.places[i];
        held += p->holds;
        assert_true(p->holds == (p->p <= 0.05));
        assert_true(i == 0 || p->mass <= report.places[i - 1].mass);
        assert_true(p->left_px >= -0.5 && p->right_px <= c.width - 0.5 + 1e-9);
        assert_true(p->top_px >= -0.5 && p->bottom_px <= c.height - 0.5 + 1e-9);
        assert_true(p->left_px < p->x_px && p->x_px < p->right_px);
        assert_true(p->top_px < p->y_px && p->y_px < p->bottom_px);
        assert_true(p->area_px2 > 0 &&
                    p->area_px2 <= (p->right_px - p->left_px) * (p->bottom_px - p->top_px) + 1e-6);
        if (!p->holds)
            continue;
        assert_true(p->first_more == (p->amount > 0) && fabs(p->amount) < 1);
        right = p->first_more ? fmax(right, p->x_px) : right;
        left = p->first_more ? left : fmax(left, p->x_px);
    }
    assert_int_equal(held, report.clusters);
    assert_true(right > c.width / 2.0 && left < right);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pictures_approved),
        cmocka_unit_test(test_pictures_formats),
        cmocka_unit_test(test_pictures_places),
    };
    return cmocka_run_group_tests(tests, test_pictures_set_up, test_pictures_tear_down);
}
