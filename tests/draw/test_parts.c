/* What pictures are put together from: numbers as text, colours, lines of equal value, places and
 * ways, areas' counts, weights of looks. */
#include <cairo.h>
#include <string.h>

#include "draw/colour.h"
#include "draw/field.h"
#include "draw/flow.h"
#include "draw/looks.h"
#include "draw/scene.h"
#include "draw/zones.h"
#include "geometry/check.h"

static void test_parts_numbers(void **state)
{
    (void)state;
    static const struct {
        char *(*write)(double);
        double value;
        const char *text;
    } cases[] = {
        {canvas_number, 0, "0"},
        {canvas_number, 0.0123, "0.012"},
        {canvas_number, 1.25, "1.2"},
        {canvas_number, 9.96, "10"},
        {canvas_number, 1234.5, "1234"},
        {canvas_time, 0, "0.0 s"},
        {canvas_time, 59.96, "1 min 0 s"},
        {canvas_time, 59.94, "59.9 s"},
        {canvas_time, 3725, "1 h 2 min"},
        {canvas_share, 0, "0%"},
        {canvas_share, 1, "100%"},
        {canvas_share, 0.0001, "under 0.1%"},
        {canvas_share, 0.9996, "over 99.9%"},
        {canvas_share, 0.042, "4.2%"},
        {canvas_share, 0.5, "50%"},
        {canvas_p, 1.0 / 1001, "p = 0.001"},
        {canvas_p, 0.0001, "p < 0.001"},
        {canvas_short, 0.05, "0.05"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = cases[i].write(cases[i].value);
        assert_string_equal(text, cases[i].text);
    }
    check_near(field_step(3.4, 5), 1, 1e-12);
    check_near(field_step(0.042, 5), 0.01, 1e-12);
    check_near(field_step_s(100, 8), 15, 0);
    check_near(field_step_s(7200, 10), 1800, 0);
}

static double test_parts_grey(CanvasColour c)
{
    return 0.2126 * c.r + 0.7152 * c.g + 0.0722 * c.b;
}

static void test_parts_colours(void **state)
{
    (void)state;
    /* First, middle and last of viridis as published: #440154, #21918c, #fde725. */
    static const int viridis[3][4] = {
        {0, 0x44, 0x01, 0x54}, {128, 0x21, 0x91, 0x8c}, {255, 0xfd, 0xe7, 0x25}};
    ColourMap map;
    assert_true(colour_map_load(&map, LF_DRAW_VIRIDIS, NULL));
    for (int i = 0; i < 3; i++) {
        CanvasColour c = map.step[viridis[i][0]];
        check_near(c.r * 255, viridis[i][1], 2);
        check_near(c.g * 255, viridis[i][2], 2);
        check_near(c.b * 255, viridis[i][3], 2);
    }
    /* All of them grow lighter, or darker, all the way. */
    for (int m = LF_DRAW_VIRIDIS; m <= LF_DRAW_CIVIDIS; m++) {
        assert_true(colour_map_load(&map, (LfDrawColours)m, NULL));
        for (int i = 16; i < 256; i += 16)
            assert_true(test_parts_grey(map.step[i]) > test_parts_grey(map.step[i - 16]));
    }
    /* White in Oklab is L = 1; its red is (0.628, 0.2577, 29.23 degrees) (Ottosson's page, sRGB
     * red). */
    CanvasColour white = colour_from_oklch(1, 0, 0),
                 red = colour_from_oklch(0.62796, 0.25768, 29.234);
    check_near(white.r + white.g + white.b, 3, 1e-3);
    check_near(red.r, 1, 0.005);
    check_near(red.g + red.b, 0, 0.02);
    /* Both arms are as light as each other. */
    for (double v = 0.25; v <= 1; v += 0.25)
        check_near(test_parts_grey(colour_diverging(v)), test_parts_grey(colour_diverging(-v)),
                   0.06);
}

/* A cone has circles: the line at 3 goes around at a radius of 5 cells. */
static void test_parts_contour(void **state)
{
    (void)state;
    g_autoptr(Field) field = field_new(21, 21);
    for (int i = 0; i < 21 * 21; i++)
        field->value[i] = (float)(8 - hypot(i % 21 - 10, i / 21 - 10));
    field_measure(field);
    check_near(field->most, 8, 1e-6);
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1);
    cairo_t *cr = cairo_create(surface);
    field_contour(field, cr, (SheetBox){0, 0, 42, 42}, 3); /* two px a cell */
    cairo_path_t *path = cairo_copy_path(cr);
    int points = 0;
    for (int i = 0; i < path->num_data; i += path->data[i].header.length, points++)
        check_near(hypot(path->data[i + 1].point.x - 21, path->data[i + 1].point.y - 21), 10, 0.15);
    assert_true(points > 40);
    cairo_path_destroy(path);
    cairo_new_path(cr);
    field_contour(field, cr, (SheetBox){0, 0, 42, 42}, 9); /* above all there is */
    assert_false(cairo_has_current_point(cr));
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
}

/* --- a material made by hand ------------------------------------------------------------------ */

static void test_parts_look(MaterialWalk *walk, double from_s, double to_s, double x, double y)
{
    bool shown = !isnan(x);
    MaterialLook look = {.from_s = from_s,
                         .to_s = to_s,
                         .x = x,
                         .y = y,
                         .shown = shown,
                         .state = shown ? LF_STATE_SURE : LF_STATE_AWAY};
    g_array_append_val(walk->looks, look);
}

/* Two people. p1 in two walks: 1 s and 3 s at A (20, 20), then 1 s at B (80, 20), away, 1 s at A.
 * p2: 2 s at B. */
static Material *test_parts_material(void)
{
    Material *m = material_blank("shelf", 100, 50);
    MaterialWalk *walk = material_add_walk(m, "w1", "p1", NULL);
    test_parts_look(walk, 0.5, 1.5, 20, 20);
    test_parts_look(walk, 2, 5, 22, 20);
    test_parts_look(walk, 5, 6, 80, 20);
    test_parts_look(walk, 6, 7, NAN, NAN);
    walk = material_add_walk(m, "w2", "p1", NULL);
    test_parts_look(walk, 1, 2, 20, 20);
    walk = material_add_walk(m, "w3", "p2", NULL);
    test_parts_look(walk, 4, 6, 80, 20);
    material_count(m);
    return m;
}

static void test_parts_counts(void **state)
{
    (void)state;
    g_autoptr(Material) m = test_parts_material();
    assert_int_equal(m->n_people, 2);
    assert_int_equal(m->n_walks, 3);
    assert_int_equal(m->n_looks, 5);
    check_near(m->look_s, 8, 1e-12);
}

static void test_parts_weights(void **state)
{
    (void)state;
    g_autoptr(Material) m = test_parts_material();
    /* p1 has 6 s of looks or 4 of them, p2 2 s or one: each person is a half. */
    static const struct {
        bool pooled, count;
        double weight[5];
    } cases[] = {
        {true, false, {1, 3, 1, 1, 2}},
        {true, true, {1, 1, 1, 1, 1}},
        {false, false, {1 / 12.0, 3 / 12.0, 1 / 12.0, 1 / 12.0, 0.5}},
        {false, true, {0.125, 0.125, 0.125, 0.125, 0.5}},
    };
    for (gsize c = 0; c < G_N_ELEMENTS(cases); c++) {
        LfDrawSettings settings = lf_draw_settings_default(LF_DRAW_HEAT);
        settings.pooled = cases[c].pooled;
        settings.count = cases[c].count;
        g_autoptr(GArray) points = looks_points(m, &settings);
        assert_int_equal(points->len, 5);
        for (guint i = 0; i < 5; i++)
            check_near(g_array_index(points, LfDensityPoint, i).weight, cases[c].weight[i], 1e-12);
    }
    /* Units: 50 px a degree, so a square degree has 2,500 px^2. */
    m->px_per_deg = 50;
    LfDrawSettings settings = lf_draw_settings_default(LF_DRAW_HEAT);
    settings.pooled = true;
    check_near(looks_unit(m, &settings).factor, 2500, 1e-9);
    settings.pooled = false; /* in percent */
    check_near(looks_unit(m, &settings).factor, 250000, 1e-9);
    m->width_mm = 200; /* 10 cm are 50 px */
    settings.kernel.unit = LF_DRAW_MM;
    settings.pooled = true;
    check_near(looks_unit(m, &settings).factor, 2500, 1e-9);
}

static void test_parts_lengths(void **state)
{
    (void)state;
    g_autoptr(Material) m = test_parts_material();
    g_autoptr(GError) error = NULL;
    double px;
    m->px_per_deg = 30;
    m->width_mm = 400;
    assert_true(material_length_px(m, &(LfDrawLength){2, LF_DRAW_DEG}, "kernel", &px, NULL));
    check_near(px, 60, 1e-12);
    assert_true(material_length_px(m, &(LfDrawLength){2, LF_DRAW_MM}, "kernel", &px, NULL));
    check_near(px, 0.5, 1e-12);
    m->width_mm = NAN;
    assert_false(material_length_px(m, &(LfDrawLength){2, LF_DRAW_MM}, "kernel", &px, &error));
    assert_non_null(strstr(error->message, "--width-mm"));
    static const char *const bad[] = {"",      "deg", "1",      "1 deg",
                                      "-1deg", "0px", "nandeg", "1.5degrees"};
    LfDrawLength length;
    for (gsize i = 0; i < G_N_ELEMENTS(bad); i++)
        assert_false(lf_draw_length_parse(bad[i], &length, NULL));
    assert_true(lf_draw_length_parse("1.5deg", &length, NULL));
    check_near(length.value, 1.5, 0);
}

static void test_parts_area(GPtrArray *areas, const char *name, const char *group,
                            const char *points)
{
    LfArea *area = lf_area_new("shelf", name, group, LF_AREA_RECT, points, NULL);
    assert_non_null(area);
    g_ptr_array_add(areas, area);
}

static void test_parts_zones(void **state)
{
    (void)state;
    g_autoptr(Material) m = test_parts_material();
    g_autoptr(GError) error = NULL;
    m->areas = lf_area_list_new();
    assert_null(zones_new(m, 0, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    g_clear_error(&error);
    test_parts_area(m->areas, "A", "top/x", "10,10 30,10 30,30 10,30");
    test_parts_area(m->areas, "B", "top/y", "70,10 90,10 90,30 70,30");
    test_parts_area(m->areas, "C", "low/x", "70,35 90,35 90,45 70,45");
    g_autoptr(Zones) zones = zones_new(m, 0, NULL);
    const Zone *a = zones->zones->pdata[0], *b = zones->zones->pdata[1],
               *c = zones->zones->pdata[2];
    assert_int_equal(a->looks, 3);
    assert_int_equal(a->people, 1);
    check_near(a->look_s, 5, 1e-12);
    check_near(a->first_s, 0.75, 1e-12); /* 0.5 s and 1 s */
    assert_int_equal(b->people, 2);
    check_near(b->look_s, 3, 1e-12);
    check_near(b->first_s, 4.5, 1e-12);
    assert_int_equal(c->looks, 0);
    assert_true(isnan(c->first_s));
    check_near(zones->inside_s, 8, 1e-12);
    g_autofree guint *order = zones_by_time(zones);
    assert_int_equal(order[0], 0);
    assert_int_equal(order[2], 2);
    g_autoptr(Zones) upper = zones_new(m, 1, NULL);
    assert_int_equal(upper->zones->len, 2);
    assert_string_equal(((Zone *)upper->zones->pdata[0])->name, "top");
    check_near(((Zone *)upper->zones->pdata[0])->look_s, 8, 1e-12);
    /* Two groups "x" are told apart by their paths. */
    g_autoptr(Zones) lower = zones_new(m, 2, NULL);
    assert_string_equal(((Zone *)lower->zones->pdata[0])->name, "top/x");
    assert_string_equal(((Zone *)lower->zones->pdata[1])->name, "y");
    assert_string_equal(((Zone *)lower->zones->pdata[2])->name, "low/x");
    assert_null(zones_new(m, 3, &error));
    assert_non_null(strstr(error->message, "--level"));
}

static void test_parts_flow(void **state)
{
    (void)state;
    g_autoptr(Material) m = test_parts_material();
    g_autoptr(Flow) flow = flow_new(m, 12);
    assert_int_equal(flow->places->len, 2);
    const FlowPlace *a = &g_array_index(flow->places, FlowPlace, 0);
    check_near(a->look_s, 5, 1e-12);
    check_near(a->x, 21.2, 1e-9); /* 2 s at 20, 3 s at 22 */
    /* From A to B once; the way within A is none, nor is the one over the look away. */
    assert_int_equal(flow->ways->len, 1);
    check_near(flow->steps, 1, 0);
    assert_int_equal(g_array_index(flow->ways, FlowWay, 0).from, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_parts_numbers), cmocka_unit_test(test_parts_colours),
        cmocka_unit_test(test_parts_contour), cmocka_unit_test(test_parts_counts),
        cmocka_unit_test(test_parts_weights), cmocka_unit_test(test_parts_lengths),
        cmocka_unit_test(test_parts_zones),   cmocka_unit_test(test_parts_flow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
