/* The work of a day through the command line: what it prints for people and for programs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <json-glib/json-glib.h>

#include "study/bed.h"

/* s.lookfall is cast, new.lookfall is the same before its cast; a test that changes a study works
 * on a copy. */
static Bed *bed;

static int set_up(void **state)
{
    (void)state;
    bed = bed_new();
    bed_study(bed);
    bed_copy(bed, "s.lookfall", "new.lookfall");
    bed_expect(bed, 0, "1 walk cast", "cast s.lookfall --jobs 2");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    bed_free(bed);
    return 0;
}

static JsonNode *parse(const char *text)
{
    g_autoptr(GError) error = NULL;
    JsonNode *node = json_from_string(text, &error);
    if (!node)
        fail_msg("no JSON: %s\n%s", error ? error->message : "", text);
    return node;
}

static void test_samples(void **state)
{
    (void)state;
    g_autofree char *text = bed_output(bed, "export s.lookfall samples");
    g_auto(GStrv) lines = g_strsplit(text, "\r\n", -1);
    assert_string_equal(lines[0], "walk,t_s,photo,x_px,y_px,confidence,state,radius_px");
    assert_int_equal(g_strv_length(lines), 1 + 450 + 1); /* the last line ends too */
    assert_string_equal(lines[451], "");
    int on_photo = 0;
    for (int i = 0; i < 450; i++) {
        g_auto(GStrv) fields = g_strsplit(lines[1 + i], ",", -1);
        g_autofree char *t_s = g_strdup_printf("%d.%04d", i / 50, i % 50 * 200);
        assert_int_equal(g_strv_length(fields), 8);
        assert_string_equal(fields[0], "w");
        assert_string_equal(fields[1], t_s);
        assert_int_equal(strcmp(fields[6], "lost") == 0, i % 10 == 9);
        bool here = strcmp(fields[2], "shelf") == 0;
        assert_true(here || !fields[2][0]);
        assert_int_equal(fields[3][0] != 0, here);
        assert_int_equal(fields[4][0] != 0, here);
        if (!here)
            continue;
        on_photo++;
        assert_true(atof(fields[5]) >= 0 && atof(fields[5]) <= 1);
    }
    assert_in_range(on_photo, 390, 405); /* of 405 with gaze; the photo fills every frame */
}

/* The point that gaze falls on is known: bed_video shows photo pixels one to one, its window's
 * corner at (160 + 150 sin(0.6 t), 70 + 60 cos(0.8 t)), at the time of each frame. */
static void test_truth(void **state)
{
    (void)state;
    g_autofree char *text = bed_output(bed, "export s.lookfall poses");
    g_auto(GStrv) lines = g_strsplit(text, "\r\n", -1);
    assert_string_equal(lines[0],
                        "walk,t_s,photo,photo_from_frame_1,photo_from_frame_2,photo_from_frame_3,"
                        "photo_from_frame_4,photo_from_frame_5,photo_from_frame_6,"
                        "photo_from_frame_7,photo_from_frame_8,photo_from_frame_9,confidence");
    guint n = g_strv_length(lines) - 2;
    assert_in_range(n, 220, 225);
    for (guint i = 0; i < n; i++) {
        g_auto(GStrv) fields = g_strsplit(lines[1 + i], ",", -1);
        assert_int_equal(g_strv_length(fields), 13);
        double t_s = atof(fields[1]);
        double m[9];
        for (int k = 0; k < 9; k++)
            m[k] = atof(fields[3 + k]);
        /* The window is cut at whole pixels, and even ones for the chroma. */
        double u = 240, v = 180, w = m[6] * u + m[7] * v + m[8];
        double x = (m[0] * u + m[1] * v + m[2]) / w - u, y = (m[3] * u + m[4] * v + m[5]) / w - v;
        assert_true(fabs(x - (160 + 150 * sin(0.6 * t_s))) < 2.5);
        assert_true(fabs(y - (70 + 60 * cos(0.8 * t_s))) < 2.5);
    }
}

static void test_out_file(void **state)
{
    (void)state;
    g_autofree char *printed = bed_output(bed, "export s.lookfall samples");
    bed_expect(bed, 0, NULL, "export s.lookfall samples --out out.csv");
    g_autoptr(GBytes) written = bed_read(bed, "out.csv");
    assert_int_equal(g_bytes_get_size(written), strlen(printed));
    assert_memory_equal(g_bytes_get_data(written, NULL), printed, strlen(printed));
    bed_write(bed, "out.csv", "mine\n");
    bed_expect(bed, 3, "--force", "export s.lookfall samples --out out.csv");
    g_autoptr(GBytes) kept = bed_read(bed, "out.csv");
    assert_memory_equal(g_bytes_get_data(kept, NULL), "mine\n", 5);
    bed_expect(bed, 0, NULL, "export s.lookfall samples --out out.csv --force");
    g_autoptr(GBytes) replaced = bed_read(bed, "out.csv");
    assert_true(g_bytes_equal(written, replaced));
    bed_expect(bed, 3, NULL, "export s.lookfall samples --out no-folder/out.csv");
}

static void test_part(void **state)
{
    (void)state;
    bed_copy(bed, "new.lookfall", "p.lookfall");
    bed_expect(bed, 0, NULL, "walk add p.lookfall --name v --video w.mp4 --gaze w.csv");
    bed_expect(bed, 0, NULL, "cast p.lookfall --walk w");
    g_auto(BedRun) run = bed_run(bed, "export p.lookfall samples");
    assert_int_equal(run.status, 1);
    assert_non_null(strstr(run.err, "v"));
    assert_non_null(strstr(run.out, "\r\nv,0.0000,,,,,,\r\n"));
    assert_null(strstr(run.out, "w,0.0000,,,,,,"));
    bed_expect(bed, 0, NULL, "export p.lookfall samples --walk w");
    bed_expect(bed, 3, "nothing is cast", "export p.lookfall samples --walk v");
}

static void test_import(void **state)
{
    (void)state;
    bed_copy(bed, "s.lookfall", "i.lookfall");
    bed_write(
        bed, "m.csv",
        "name;video;gaze;participant;clock-shift\nx, y;w.mp4;w.csv;p1;-20\nz;w.mp4;w.csv;;\n");
    bed_expect(bed, 0, "added 2 walks", "walk import i.lookfall m.csv");
    g_autofree char *text = bed_output(bed, "walk list i.lookfall --json");
    g_autoptr(JsonNode) node = parse(text);
    JsonArray *walks = json_node_get_array(node);
    assert_int_equal(json_array_get_length(walks), 3);
    JsonObject *walk = json_array_get_object_element(walks, 1);
    assert_string_equal(json_object_get_string_member(walk, "name"), "x, y");
    assert_string_equal(json_object_get_string_member(walk, "participant"), "p1");
    assert_int_equal(json_object_get_int_member(walk, "outside"), 1);
    bed_expect(bed, 0, NULL, "cast i.lookfall");
    g_autofree char *csv = bed_output(bed, "export i.lookfall samples");
    assert_non_null(strstr(csv, "\r\n\"x, y\",-0.0200,"));
}

static void test_info(void **state)
{
    (void)state;
    bed_expect(bed, 0, NULL, "new n.lookfall --tolerance 0.5");
    bed_expect(bed, 0, "Next: lookfall photo add n.lookfall", "info n.lookfall");
    bed_expect(bed, 0, NULL, "photo add n.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, "Next: lookfall walk add n.lookfall", "info n.lookfall");
    bed_expect(bed, 0, NULL, "walk add n.lookfall --name w --video w.mp4 --gaze w.csv");
    bed_expect(bed, 0, "Next: lookfall cast n.lookfall", "info n.lookfall");
    bed_expect(bed, 0, NULL, "cast n.lookfall");
    bed_expect(bed, 0, "Next: lookfall export n.lookfall", "info n.lookfall");
    g_autofree char *text = bed_output(bed, "info n.lookfall --json");
    g_autoptr(JsonNode) node = parse(text);
    JsonObject *info = json_node_get_object(node);
    assert_true(json_object_get_double_member(info, "tolerance_deg") == 0.5);
    assert_int_equal(json_object_get_int_member(info, "walks_cast"), 1);
    assert_int_equal(json_object_get_int_member(info, "samples"), 450);
    assert_int_equal(json_object_get_int_member(info, "samples_cast"), 450);
    JsonObject *states = json_object_get_object_member(info, "states");
    JsonObject *lost = json_object_get_object_member(states, "lost");
    assert_int_equal(json_object_get_int_member(lost, "samples"), 45);
    assert_true(fabs(json_object_get_double_member(lost, "seconds") - 0.9) < 1e-9);
    assert_int_equal(json_array_get_length(json_object_get_array_member(info, "files")), 0);
}

static void test_photo_json(void **state)
{
    (void)state;
    bed_expect(bed, 0, NULL, "new j.lookfall");
    g_autofree char *added = bed_output(
        bed, "photo add j.lookfall --name shelf --image shelf.ppm --width-mm 2400 --json");
    g_autofree char *listed = bed_output(bed, "photo list j.lookfall --json");
    g_autoptr(JsonNode) one = parse(added), all = parse(listed);
    JsonObject *photo = json_node_get_object(one);
    JsonObject *again = json_array_get_object_element(json_node_get_array(all), 0);
    assert_int_equal(json_object_get_int_member(photo, "width_px"), 800);
    assert_true(json_object_get_double_member(photo, "width_mm") == 2400);
    static const char *const same[] = {"features", "spread", "alike", "width_mm", "height_px"};
    for (gsize i = 0; i < G_N_ELEMENTS(same); i++)
        assert_true(json_object_get_double_member(photo, same[i]) ==
                    json_object_get_double_member(again, same[i]));
}

static void test_locate(void **state)
{
    (void)state;
    bed_photo(bed, "other.ppm", 4);
    g_autofree char *same = bed_output(bed, "locate --photo shelf.ppm --image shelf.ppm --json");
    g_autofree char *none = bed_output(bed, "locate --photo shelf.ppm --image other.ppm --json");
    g_autoptr(JsonNode) found = parse(same), lost = parse(none);
    JsonObject *yes = json_node_get_object(found), *no = json_node_get_object(lost);
    assert_true(json_object_get_boolean_member(yes, "found"));
    JsonArray *m = json_object_get_array_member(yes, "photo_to_image");
    assert_int_equal(json_array_get_length(m), 9);
    double scale = json_array_get_double_element(m, 8);
    for (guint i = 0; i < 9; i++) /* a photo lies on itself: the identity, to a tenth of a pixel */
        assert_true(fabs(json_array_get_double_element(m, i) / scale - (i % 4 == 0)) <
                    (i % 3 == 2 ? 0.1 : 1e-3));
    assert_true(json_object_get_double_member(yes, "confidence") > 0.8);
    assert_false(json_object_get_boolean_member(no, "found"));
    assert_true(json_object_get_null_member(no, "photo_to_image"));
}

/* A video that ends early: cast what is there, say where it ends, status 1. */
static void test_cut_off(void **state)
{
    (void)state;
    bed_copy(bed, "s.lookfall", "c.lookfall");
    const char *argv[] = {"ffmpeg", "-v", "error", "-y",        "-i",
                          "w.mp4",  "-c", "copy",  "whole.mkv", NULL};
    assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH, NULL,
                             NULL, NULL, NULL, NULL, NULL));
    g_autoptr(GBytes) whole = bed_read(bed, "whole.mkv");
    assert_true(g_file_set_contents(bed_path(bed, "cut.mkv"), g_bytes_get_data(whole, NULL),
                                    (gssize)g_bytes_get_size(whole) * 6 / 10, NULL));
    bed_expect(bed, 0, "the video is cut off",
               "walk add c.lookfall --name v --video cut.mkv --gaze w.csv");
    bed_expect(bed, 1, "walk v: its video breaks off at", "cast c.lookfall");
    bed_expect(bed, 0, NULL, "export c.lookfall samples");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_samples),    cmocka_unit_test(test_truth),
        cmocka_unit_test(test_out_file),   cmocka_unit_test(test_part),
        cmocka_unit_test(test_import),     cmocka_unit_test(test_info),
        cmocka_unit_test(test_photo_json), cmocka_unit_test(test_locate),
        cmocka_unit_test(test_cut_off),
    };
    return cmocka_run_group_tests_name("cli/flow", tests, set_up, tear_down);
}
