/* Geometry of areas: points in them, distances, surfaces, what is refused; levels; text. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/area.h>

static LfArea *area_of(LfAreaShape shape, const char *points)
{
    g_autoptr(GError) error = NULL;
    LfArea *area = lf_area_new("shelf", "a", "", shape, points, &error);
    if (!area)
        fail_msg("%s", error->message);
    return area;
}

/* A square of 10 px with a square hole of 4, and one of 2 inside the hole. */
static const char ringed[] = "0,0 10,0 10,10 0,10; 3,3 7,3 7,7 3,7; 4,4 6,4 6,6 4,6";
/* Half-axes 5 and 3, turned by 30 degrees. */
static const char turned[] = "20,10 24.3301,12.5 18.5,12.5981";

static void test_contains(void **state)
{
    (void)state;
    static const struct {
        LfAreaShape shape;
        const char *points;
        double x, y;
        bool in;
        double distance_px; /* worked out by hand */
    } cases[] = {
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 5, 3, true, -3},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 9, 3, true, -1},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 13, 10, false, 5},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", -2, 3, false, 2},
        /* Left and top edges are inside, right and bottom ones are not. */
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 0, 3, true, 0},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 5, 0, true, 0},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 10, 3, false, 0},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", 5, 6, false, 0},
        /* The same corners the other way round. */
        {LF_AREA_RECT, "0,6 10,6 10,0 0,0", 5, 3, true, -3},
        {LF_AREA_POLYGON, "0,0 8,0 0,6", 2, 2, true,
         -2}, /* to the slope 3x + 4y = 24: (24 - 14) / 5 = 2; to the legs 2 */
        {LF_AREA_POLYGON, "0,0 8,0 0,6", 8, 6, false, 4.8},
        {LF_AREA_PATH, ringed, 1, 5, true, -1},
        {LF_AREA_PATH, ringed, 3.5, 5, false, 0.5},
        {LF_AREA_PATH, ringed, 5, 5, true, -1},
        {LF_AREA_PATH, ringed, 12, 5, false, 2},
        {LF_AREA_ELLIPSE, "20,10 25,10 20,13", 20, 10, true, -3},
        {LF_AREA_ELLIPSE, "20,10 25,10 20,13", 25, 10, true, 0},
        {LF_AREA_ELLIPSE, "20,10 25,10 20,13", 27, 10, false, 2},
        {LF_AREA_ELLIPSE, "20,10 25,10 20,13", 24.9, 12.9, false, NAN},
        {LF_AREA_ELLIPSE, turned, 20 + 6 * 0.8660254, 13, false, 1},
        {LF_AREA_ELLIPSE, turned, 20 + 4 * 0.8660254, 12, true, NAN},
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", NAN, 3, false, NAN},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(LfArea) area = area_of(cases[i].shape, cases[i].points);
        LfPoint at = {cases[i].x, cases[i].y};
        if (lf_area_contains(area, at) != cases[i].in)
            fail_msg("case %zu: %g,%g", i, at.x, at.y);
        if (isnan(cases[i].distance_px))
            continue;
        /* Ellipses: 256 chords, 7.5e-5 of the longer half-axis. */
        double off = fabs(lf_area_distance_px(area, at) - cases[i].distance_px);
        if (off > 1e-3)
            fail_msg("case %zu: distance %g", i, lf_area_distance_px(area, at));
    }
}

/* A point on the common edge of neighbours belongs to exactly one of them. */
static void test_neighbours(void **state)
{
    (void)state;
    g_autoptr(LfArea) left = area_of(LF_AREA_POLYGON, "0,0 7.1,0.3 6.3,9.7 0,10");
    g_autoptr(LfArea) right = area_of(LF_AREA_POLYGON, "7.1,0.3 15,0 15,10 6.3,9.7");
    for (int i = 1; i < 1000; i++) {
        double t = i / 1000.0;
        LfPoint at = {7.1 + t * (6.3 - 7.1), 0.3 + t * (9.7 - 0.3)};
        assert_int_equal(lf_area_contains(left, at) + lf_area_contains(right, at), 1);
    }
}

static void test_surface(void **state)
{
    (void)state;
    static const struct {
        LfAreaShape shape;
        const char *points;
        double surface_px2;
    } cases[] = {
        {LF_AREA_RECT, "1000000,0 1000010,0 1000010,6 1000000,6", 60},
        {LF_AREA_POLYGON, "0,0 8,0 0,6", 24},
        {LF_AREA_PATH, ringed, 100 - 16 + 4},
        {LF_AREA_ELLIPSE, "20,10 25,10 20,13", 15 * G_PI},
        {LF_AREA_ELLIPSE, turned, 15 * G_PI},
        /* Conjugate, not at right angles: p = (5, 0), q = (2, 3). */
        {LF_AREA_ELLIPSE, "0,0 5,0 2,3", 15 * G_PI},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(LfArea) area = area_of(cases[i].shape, cases[i].points);
        g_autoptr(LfArea) flat = lf_area_flatten(area, 0.001);
        double surface = lf_area_surface_px2(area);
        assert_true(fabs(surface - cases[i].surface_px2) < 1e-4 * surface);
        assert_true(fabs(lf_area_surface_px2(flat) - surface) < 1e-3 * surface);
        assert_true(flat->shape == LF_AREA_POLYGON || flat->shape == LF_AREA_PATH);
    }
}

static void test_bounds(void **state)
{
    (void)state;
    LfPoint low, high;
    g_autoptr(LfArea) area = area_of(LF_AREA_ELLIPSE, "0,0 5,0 2,3");
    lf_area_bounds(area, &low, &high);
    assert_true(fabs(high.x - sqrt(29)) < 1e-12 && fabs(low.x + sqrt(29)) < 1e-12);
    assert_true(fabs(high.y - 3) < 1e-12 && fabs(low.y + 3) < 1e-12);
    g_autoptr(LfArea) flat = lf_area_flatten(area, 0.01);
    for (gsize i = 0; i < flat->n_points; i++)
        assert_true(fabs(flat->points[i].x) <= high.x && fabs(flat->points[i].y) <= high.y);
}

static void test_text(void **state)
{
    (void)state;
    static const struct {
        LfAreaShape shape;
        const char *in, *out; /* out NULL: refused */
    } cases[] = {
        {LF_AREA_RECT, "0,0 10,0 10,6 0,6", "0,0 10,0 10,6 0,6"},
        {LF_AREA_RECT, "  0 , 0  10.50,-0 10,6\n0,6 ", "0,0 10.5,0 10,6 0,6"},
        {LF_AREA_POLYGON, "1e1,.5 +3,-4.25 0.00004,7", "10,0.5 3,-4.25 0,7"},
        {LF_AREA_PATH, "0,0 1,0 1,1;2,2 3,2 3,3", "0,0 1,0 1,1; 2,2 3,2 3,3"},
        {LF_AREA_RECT, "0,0 10,0 10,6", NULL},
        {LF_AREA_ELLIPSE, "0,0 10,0", NULL},
        {LF_AREA_POLYGON, "0,0 10,0", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 1,1;2,2 3,2 3,3", NULL},
        {LF_AREA_PATH, "0,0 1,0 1,1;2,2 3,2", NULL},
        {LF_AREA_PATH, "0,0 1,0 1,1;", NULL},
        {LF_AREA_POLYGON, "", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 1,x", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 1,1a", NULL},
        {LF_AREA_POLYGON, "0;0 1;0 1;1", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 inf,1", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 0x1,1", NULL},
        {LF_AREA_POLYGON, "0,0 1,0 1e9,1", NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(LfArea) area = lf_area_new("p", "a", NULL, cases[i].shape, cases[i].in, &error);
        if (!cases[i].out) {
            if (area || !g_error_matches(error, LF_ERROR, LF_ERROR_INPUT))
                fail_msg("\"%s\" was taken", cases[i].in);
            continue;
        }
        if (!area)
            fail_msg("\"%s\": %s", cases[i].in, error->message);
        g_autofree char *text = lf_area_points(area);
        assert_string_equal(text, cases[i].out);
    }
}

static void test_check(void **state)
{
    (void)state;
    static const struct {
        const char *name, *group;
        LfAreaShape shape;
        const char *points;
        const char *fault; /* NULL: fine */
    } cases[] = {
        {"a", "", LF_AREA_RECT, "0,0 10,0 10,6 0,6", NULL},
        {"a", "x/y", LF_AREA_PATH, ringed, NULL},
        {"a", "", LF_AREA_POLYGON, "0,0 10,10 10,0 0,10", "crosses its own outline near 5.0,5.0"},
        /* The same, with a corner where it crosses; with two. */
        {"a", "", LF_AREA_POLYGON, "0,0 5,5 10,10 10,0 0,10", "crosses"},
        {"a", "", LF_AREA_POLYGON, "0,0 5,5 10,10 10,0 5,5 0,10", "crosses"},
        /* A corner that touches an edge, or another corner, from one side. */
        {"a", "", LF_AREA_POLYGON, "0,0 10,0 10,10 5,0 0,10", NULL},
        {"a", "", LF_AREA_POLYGON, "0,0 10,0 5,5 10,10 0,10 5,5", NULL},
        {"a", "", LF_AREA_POLYGON, "0,0 10,0 10,0 10,10 0,10 0,0", NULL},
        {"a", "", LF_AREA_PATH, "0,0 10,0 10,10 0,10; 5,5 15,5 15,15 5,15", "crosses"},
        {"a", "", LF_AREA_PATH, "0,0 10,0 10,10 0,10; 20,0 30,0 30,10 20,10", NULL},
        {"a", "", LF_AREA_POLYGON, "0,0 5,5 10,10", "has no surface"},
        {"a", "", LF_AREA_RECT, "5,5 5,5 5,5 5,5", "has no surface"},
        {"a", "", LF_AREA_ELLIPSE, "0,0 5,5 10,10", "has no surface"},
        {"a", "", LF_AREA_RECT, "100,0 110,0 110,6 100,6", "lies off the photo"},
        {"a", "", LF_AREA_RECT, "-10,0 -0.6,0 -0.6,6 -10,6", "lies off the photo"},
        {"a", "", LF_AREA_RECT, "90,0 110,0 110,6 90,6", NULL}, /* in part: told elsewhere */
        {"", "", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "is empty"},
        {" a", "", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "begins or ends with a blank"},
        {"a\nb", "", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "control character"},
        {"a\xff", "", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "UTF-8"},
        {"a", "x//y", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "group"},
        {"a", "/x", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "group"},
        {"a", "x /y", LF_AREA_RECT, "0,0 10,0 10,6 0,6", "group"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(LfArea) area =
            lf_area_new("p", cases[i].name, cases[i].group, cases[i].shape, cases[i].points, NULL);
        assert_non_null(area);
        bool fine = lf_area_check(area, 100, 80, &error);
        if (fine != !cases[i].fault)
            fail_msg("case %zu: %s", i, fine ? "was taken" : error->message);
        if (!fine && (!g_error_matches(error, LF_ERROR, LF_ERROR_INPUT) ||
                      !strstr(error->message, cases[i].fault)))
            fail_msg("case %zu: %s", i, error->message);
    }
}

/* Crossings of random polygons against comparing every edge with every other one. */
static void test_crossings(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    int crossing = 0;
    for (int round = 0; round < 400; round++) {
        int n = g_rand_int_range(rand, 4, 9);
        LfPoint p[9];
        g_autoptr(GString) text = g_string_new(NULL);
        for (int i = 0; i < n; i++) {
            double turn = 2 * G_PI * i / n, r = g_rand_double_range(rand, 5, 45);
            turn += g_rand_double_range(rand, -1.2, 1.2);
            p[i] = (LfPoint){floor(50 + r * cos(turn) * 8) / 8, floor(50 + r * sin(turn) * 8) / 8};
            g_string_append_printf(text, "%g,%g ", p[i].x, p[i].y);
        }
        bool found = false;
        for (int i = 0; i < n; i++)
            for (int j = i + 2; j < n; j++) {
                if (i == 0 && j == n - 1)
                    continue;
                LfPoint a = p[i], b = p[i + 1], c = p[j], d = p[(j + 1) % n];
                double ac = (d.x - c.x) * (a.y - c.y) - (d.y - c.y) * (a.x - c.x);
                double bc = (d.x - c.x) * (b.y - c.y) - (d.y - c.y) * (b.x - c.x);
                double ca = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
                double da = (b.x - a.x) * (d.y - a.y) - (b.y - a.y) * (d.x - a.x);
                found = found || (ac * bc < 0 && ca * da < 0);
            }
        g_autoptr(LfArea) area = area_of(LF_AREA_POLYGON, text->str);
        assert_int_equal(lf_area_check(area, 1000, 1000, NULL), !found);
        crossing += found;
    }
    assert_in_range(crossing, 40, 360); /* both kinds were met */
}

static void test_targets(void **state)
{
    (void)state;
    static const char *const given[][3] = {
        {"shelf", "oats", "upper/Morrow"}, {"shelf", "rye", "upper/Quill"},
        {"shelf", "tea", "lower/Quill"},   {"sign", "oats", ""},
        {"shelf", "tag", "upper"},
    };
    static const struct {
        const char *photo, *name;
        int level;
        const char *areas;
    } wanted[] = {
        {"shelf", "oats", 0, "0"},         {"shelf", "rye", 0, "1"},
        {"shelf", "tea", 0, "2"},          {"sign", "oats", 0, "3"},
        {"shelf", "tag", 0, "4"},          {"shelf", "upper", 1, "014"},
        {"shelf", "upper/Morrow", 2, "0"}, {"shelf", "upper/Quill", 2, "1"},
        {"shelf", "lower", 1, "2"},        {"shelf", "lower/Quill", 2, "2"},
        {"shelf", "shelf", -1, ""},        {"sign", "sign", -1, ""},
    };
    g_autoptr(GPtrArray) areas = lf_area_list_new();
    for (gsize i = 0; i < G_N_ELEMENTS(given); i++)
        g_ptr_array_add(areas, lf_area_new(given[i][0], given[i][1], given[i][2], LF_AREA_RECT,
                                           "0,0 1,0 1,1 0,1", NULL));
    g_autoptr(GPtrArray) targets = lf_area_targets(areas);
    assert_int_equal(targets->len, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < targets->len; i++) {
        const LfAreaTarget *target = targets->pdata[i];
        assert_string_equal(target->photo, wanted[i].photo);
        assert_string_equal(target->name, wanted[i].name);
        assert_int_equal(target->level, wanted[i].level);
        assert_int_equal(target->n_areas, strlen(wanted[i].areas));
        for (gsize k = 0; k < target->n_areas; k++)
            assert_int_equal(target->areas[k], (gsize)(wanted[i].areas[k] - '0'));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_contains),  cmocka_unit_test(test_neighbours),
        cmocka_unit_test(test_surface),   cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_text),      cmocka_unit_test(test_check),
        cmocka_unit_test(test_crossings), cmocka_unit_test(test_targets),
    };
    return cmocka_run_group_tests_name("look/area", tests, NULL, NULL);
}
