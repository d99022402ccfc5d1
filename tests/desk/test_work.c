/* Work done at the desk over a socket, back and forth over restarts: areas, marks, ties. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "desk/server_fixture.h"

/* Names of areas, or of marks, as the desk lists them, parted by blanks; what can be undone and
 * redone after a stroke each. */
static void expect_rows(const Server *server, const char *line, const char *wanted)
{
    g_autoptr(JsonObject) list = ask_json(server, 200, line, NULL);
    JsonArray *rows = json_object_get_array_member(list, "rows");
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < json_array_get_length(rows); i++)
        g_string_append_printf(
            text, "%s ",
            json_object_get_string_member(json_array_get_object_element(rows, i), "name"));
    const char *undo = json_object_get_string_member_with_default(list, "undo", NULL);
    const char *redo = json_object_get_string_member_with_default(list, "redo", NULL);
    g_string_append_printf(text, "/ %s / %s", undo ? undo : "-", redo ? redo : "-");
    assert_string_equal(text->str, wanted);
}

/* Areas and marks are undone and redone, by whoever drew them, after a restart too. */
static void test_way_back(void **state)
{
    Server *server = *state;
    static const char oats[] = "{\"photo\": 1, \"name\": \"oats\", \"shape\": \"rect\","
                               " \"points\": [[10, 10], [90, 10], [90, 60], [10, 60]]}";
    server_enter(server);
    expect(server, 403, "no-name", "POST /api/areas", oats);
    expect(server, 403, "no-name", "POST /api/areas/undo", "{\"photo\": 1}");
    expect(server, 403, "no-name", "POST /api/marks/undo", "{\"walk\": 1}");
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    expect(server, 200, NULL, "POST /api/areas", oats);
    expect(server, 409, "conflict", "POST /api/areas", oats);
    expect(server, 200, NULL, "POST /api/areas/copy",
           "{\"photo\": 1, \"ids\": [1], \"count\": 2, \"dx\": 100, \"dy\": 0}");
    expect(server, 200, NULL, "PUT /api/areas/1", "{\"name\": \"porridge\"}");
    expect(server, 200, NULL, "DELETE /api/areas/2", NULL);
    expect(server, 200, NULL, "POST /api/areas/order", "{\"photo\": 1, \"ids\": [3, 1]}");
    expect(server, 200, NULL, "POST /api/marks",
           "{\"walk\": 1, \"name\": \"reaches\", \"from_us\": 1000000}");
    expect(server, 200, NULL, "PUT /api/marks/1", "{\"name\": \"takes\", \"to_us\": 2000000}");
    expect(server, 200, NULL, "DELETE /api/marks/1", NULL);
    static const char *const areas[] = {
        "oats 3 porridge / changing the order / -",
        "porridge oats 3 / removing oats 2 / changing the order",
        "porridge oats 2 oats 3 / changing oats / removing oats 2",
        "oats oats 2 oats 3 / copying 2 areas / changing oats",
        "oats / drawing oats / copying 2 areas",
        "/ - / drawing oats",
    };
    static const char *const marks[] = {
        "/ removing a mark / -",
        "takes / changing takes / removing a mark",
        "reaches / noting reaches / changing takes",
        "/ - / noting reaches",
    };
    server_again(server);
    for (int way = 0; way < 2; way++) {
        const char *what = way ? "redo" : "undo";
        g_autofree char *step_areas = g_strdup_printf("POST /api/areas/%s", what);
        g_autofree char *step_marks = g_strdup_printf("POST /api/marks/%s", what);
        for (gsize i = 0; i < G_N_ELEMENTS(areas); i++) {
            expect_rows(server, "GET /api/areas?photo=1",
                        areas[way ? G_N_ELEMENTS(areas) - 1 - i : i]);
            expect(server, i + 1 < G_N_ELEMENTS(areas) ? 200 : 409, NULL, step_areas,
                   "{\"photo\": 1}");
        }
        for (gsize i = 0; i < G_N_ELEMENTS(marks); i++) {
            expect_rows(server, "GET /api/marks?walk=1",
                        marks[way ? G_N_ELEMENTS(marks) - 1 - i : i]);
            expect(server, i + 1 < G_N_ELEMENTS(marks) ? 200 : 409, NULL, step_marks,
                   "{\"walk\": 1}");
        }
        server_again(server);
    }
    /* Ben has changed one since, and none of this was his. */
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ben\"}");
    expect(server, 409, "conflict", "POST /api/areas/undo", "{\"photo\": 1}");
    expect(server, 200, NULL, "PUT /api/areas/3", "{\"name\": \"rye\"}");
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    expect(server, 409, "changed", "POST /api/areas/undo", "{\"photo\": 1}");
    expect_rows(server, "GET /api/areas?photo=1", "rye porridge / removing oats 2 / -");
}

/* What is done to several areas at once is one step of the way back. */
static void test_several_areas(void **state)
{
    Server *server = *state;
    server_enter(server);
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    expect(
        server, 200, NULL, "POST /api/areas",
        "{\"photo\": 1, \"name\": \"oats\", \"shape\": \"rect\", \"points\": [[10, 10], [90, 10],"
        " [90, 60], [10, 60]]}");
    expect(server, 200, NULL, "POST /api/areas/copy",
           "{\"photo\": 1, \"ids\": [1], \"count\": 2, \"dx\": 100, \"dy\": 0}");
    /* All or nothing. */
    expect(server, 410, "gone", "PUT /api/areas",
           "{\"photo\": 1, \"areas\": [{\"id\": 1, \"name\": \"rye\"}, {\"id\": 9}]}");
    expect(server, 400, "bad-request", "PUT /api/areas",
           "{\"photo\": 1, \"areas\": [{\"id\": 1, \"name\": \"rye\"}, {\"id\": 2, \"shape\": "
           "\"star\"}]}");
    expect(server, 410, "gone", "DELETE /api/areas", "{\"photo\": 1, \"ids\": [1, 9]}");
    expect_rows(server, "GET /api/areas?photo=1", "oats oats 2 oats 3 / copying 2 areas / -");
    expect(server, 200, NULL, "PUT /api/areas",
           "{\"photo\": 1, \"areas\": [{\"id\": 1, \"name\": \"rye\"}, {\"id\": 3, \"name\": "
           "\"bran\"}]}");
    expect_rows(server, "GET /api/areas?photo=1", "rye oats 2 bran / changing 2 areas / -");
    expect(server, 200, NULL, "DELETE /api/areas", "{\"photo\": 1, \"ids\": [1, 2]}");
    expect_rows(server, "GET /api/areas?photo=1", "bran / removing 2 areas / -");
    expect(server, 200, NULL, "POST /api/areas/undo", "{\"photo\": 1}");
    expect(server, 200, NULL, "POST /api/areas/undo", "{\"photo\": 1}");
    expect_rows(server, "GET /api/areas?photo=1",
                "oats oats 2 oats 3 / copying 2 areas / changing 2 areas");
}

/* --- ties ------------------------------------------------------------------------------------- */

/* One tie where the point truly is, asked for and followed to its end: the job's number and, in
 * *result, what the engine made of it. */
static int tie_once(const Server *server, JsonObject *stretch, JsonObject **result)
{
    double truth_x = 160 + 150 * sin(1.52 * 0.6), truth_y = 70 + 60 * cos(1.52 * 0.8);
    g_autofree char *body = g_strdup_printf(
        "{\"stretch\": %d, \"version\": %d, \"photo\": 1, \"ties\": [{\"t_us\": 1520000,"
        " \"frame\": [240, 180], \"photo\": [%.1f, %.1f]}]}",
        (int)json_object_get_int_member(stretch, "id"),
        (int)json_object_get_int_member(stretch, "version"), 240 + truth_x, 180 + truth_y);
    g_autoptr(JsonObject) asked = ask_json(server, 202, "POST /api/tie", body);
    int job = (int)json_object_get_int_member(asked, "job");
    g_autofree char *line = g_strdup_printf("GET /api/tie/%d", job);
    while (true) {
        g_autoptr(JsonObject) answer = ask_json(server, 200, line, NULL);
        const char *state = json_object_get_string_member(answer, "state");
        if (strcmp(state, "running") == 0) {
            g_usleep(50000);
            continue;
        }
        if (strcmp(state, "done") != 0)
            fail_msg("%s: %s", state,
                     json_object_get_string_member_with_default(answer, "error", ""));
        *result = json_object_ref(json_object_get_object_member(answer, "result"));
        return job;
    }
}

static JsonObject *tie_samples(JsonObject *of)
{
    return json_object_get_object_member(of, "samples");
}

/* How many of the stretch's samples with gaze are told within 4 px (a good half degree) of where
 * they truly fall, of all. */
static double tie_share(JsonObject *samples, JsonObject *gaze)
{
    JsonArray *t = json_object_get_array_member(gaze, "t_us");
    JsonArray *gx = json_object_get_array_member(gaze, "gx");
    JsonArray *gy = json_object_get_array_member(gaze, "gy");
    JsonArray *x = json_object_get_array_member(samples, "x");
    JsonArray *y = json_object_get_array_member(samples, "y");
    int n = 0, right = 0;
    assert_int_equal(json_array_get_length(x), json_array_get_length(t));
    for (guint i = 0; i < json_array_get_length(t); i++) {
        if (json_array_get_null_element(gx, i))
            continue;
        /* the film of the bed is cut from the photo along this way, 25 pictures a second */
        double t_s = (double)(json_array_get_int_element(t, i) / 40000 * 40000) / 1e6;
        double dx = 160 + 150 * sin(t_s * 0.6), dy = 70 + 60 * cos(t_s * 0.8);
        n++;
        right +=
            !json_array_get_null_element(x, i) &&
            hypot(json_array_get_double_element(x, i) - json_array_get_double_element(gx, i) - dx,
                  json_array_get_double_element(y, i) - json_array_get_double_element(gy, i) - dy) <
                4;
    }
    assert_int_not_equal(n, 0);
    return (double)right / n;
}

/* One point tied: what comes of it is seen before it is kept; kept, undone, and redone after a
 * restart. The engine's poses of the bed are a facing and more off all along. */
static void test_tie(void **state)
{
    Server *server = *state;
    JsonObject *made = NULL;
    server_enter(server);
    expect(server, 403, "no-name", "POST /api/tie", "{\"stretch\": 1, \"photo\": 1, \"ties\": []}");
    server_again(server);
    g_autofree char *before = bed_output(server->bed, "export r.lookfall samples");
    g_autoptr(JsonObject) list = ask_json(server, 200, "GET /api/worklist?reason=alike", NULL);
    JsonObject *row = json_array_get_object_element(json_object_get_array_member(list, "rows"), 0);
    g_autofree char *line =
        g_strdup_printf("GET /api/stretch/%d", (int)json_object_get_int_member(row, "id"));
    g_autoptr(JsonObject) stretch = ask_json(server, 200, line, NULL);
    assert_true(tie_share(tie_samples(stretch), tie_samples(stretch)) < 0.1);

    int job = tie_once(server, stretch, &made);
    g_autoptr(JsonObject) result = made;
    assert_true(tie_share(tie_samples(result), tie_samples(stretch)) > 0.97);
    double sure = json_object_get_double_member(result, "confidence"),
           was = json_object_get_double_member(result, "confidence_before");
    if (fabs(was - 0.4) > 1e-6 || sure < 0.8)
        fail_msg("confidence %.3f before, %.3f now", was, sure);
    /* Nothing is kept by asking. */
    g_autofree char *asked = bed_output(server->bed, "export r.lookfall samples");
    assert_string_equal(asked, before);

    g_autofree char *body =
        g_strdup_printf("{\"stretch\": %d, \"version\": %d, \"kind\": \"tie\", \"job\": %d}",
                        (int)json_object_get_int_member(row, "id"),
                        (int)json_object_get_int_member(stretch, "version"), job);
    g_autoptr(JsonObject) done = ask_json(server, 200, "POST /api/decision", body);
    assert_true(
        json_object_get_boolean_member(json_object_get_object_member(done, "stretch"), "settled"));
    g_autoptr(JsonObject) kept = ask_json(server, 200, line, NULL);
    assert_true(tie_share(tie_samples(kept), tie_samples(kept)) > 0.97);
    g_autofree char *after = bed_output(server->bed, "export r.lookfall samples");
    assert_string_not_equal(after, before);

    expect(server, 200, NULL, "POST /api/undo", "{}");
    g_autofree char *undone = bed_output(server->bed, "export r.lookfall samples");
    assert_string_equal(undone, before);
    server_again(server);
    expect(server, 200, NULL, "POST /api/redo", "{}");
    g_autofree char *redone = bed_output(server->bed, "export r.lookfall samples");
    assert_string_equal(redone, after);
    /* Another program knows nothing of the preview. */
    g_autofree char *gone = g_strdup_printf("GET /api/tie/%d", job);
    expect(server, 404, "not-found", gone, NULL);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, server_set_up, server_tear_down)
    const struct CMUnitTest tests[] = {TEST(test_way_back), TEST(test_several_areas),
                                       TEST(test_tie)};
    return cmocka_run_group_tests(tests, server_group_set_up, server_group_tear_down);
}
