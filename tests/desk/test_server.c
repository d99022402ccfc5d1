/* The desk as a program, asked over a socket as any other program on the machine could: what it
 * refuses leaves the study as it is, to the byte; what it does holds. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "desk/server_fixture.h"

/* --- tests ------------------------------------------------------------------------------------ */

static void test_not_let_in(void **state)
{
    Server *server = *state;
    static const char *const lines[] = {"GET /",
                                        "GET /desk.js",
                                        "GET /?key=guess",
                                        "GET /api/study",
                                        "GET /api/frame?walk=1&t_us=0",
                                        "GET /none"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_auto(Reply) reply = ask(server, lines[i], NULL);
        assert_int_equal(reply.status, 401);
    }
    expect(server, 401, "no-session", "POST /api/sign-in", "{\"name\": \"Ana\"}");
    expect(server, 401, "no-session", "POST /api/invite", "{}");
    /* The link works once. */
    g_autofree char *line = g_strdup_printf("GET /?key=%s", server->key);
    server_enter(server);
    g_autofree char *cookie = g_steal_pointer(&server->cookie);
    g_auto(Reply) again = ask(server, line, NULL);
    assert_int_equal(again.status, 401);
    /* Another one for another browser, which is a session of its own. */
    server->cookie = g_steal_pointer(&cookie);
    g_autoptr(JsonObject) invite = ask_json(server, 200, "POST /api/invite", "{}");
    const char *url = json_object_get_string_member(invite, "url");
    g_free(server->key);
    server->key = g_strdup(strstr(url, "key=") + strlen("key="));
    g_autoptr(JsonObject) ana = ask_json(server, 200, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    assert_string_equal(json_object_get_string_member(ana, "reviewer"), "Ana");
    g_free(server->cookie);
    server_enter(server);
    g_autoptr(JsonObject) other = ask_json(server, 200, "GET /api/study", NULL);
    assert_true(json_object_get_null_member(other, "reviewer"));
    expect_untouched(server);
}

static void test_other_places(void **state)
{
    Server *server = *state;
    server_enter(server);
    static const struct {
        const char *host, *origin;
        guint status;
    } cases[] = {
        {"127.0.0.1:%d", NULL, 200},
        {"localhost:%d", "http://localhost:%d", 200},
        {"example.org:%d", NULL, 403},
        {"example.org", NULL, 403},
        {"127.0.0.1:%d", "http://example.org", 403},
        {"127.0.0.1:%d", "https://127.0.0.1:%d", 403},
        {"127.0.0.1:%d", "null", 403},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *port = g_strdup_printf("%d", server->port);
        g_auto(GStrv) host = g_strsplit(cases[i].host, "%d", 2);
        g_auto(GStrv) origin = g_strsplit(cases[i].origin ? cases[i].origin : "", "%d", 2);
        g_autofree char *host_text = g_strjoinv(port, host);
        g_autofree char *origin_text = g_strjoinv(port, origin);
        g_autofree char *headers = g_strdup_printf(
            "Host: %s\r\nCookie: %s\r\n%s%s%s", host_text, server->cookie,
            cases[i].origin ? "Origin: " : "", origin_text, cases[i].origin ? "\r\n" : "");
        g_auto(Reply) reply = ask_raw(server, "GET /api/study", headers, NULL);
        if (reply.status != cases[i].status)
            fail_msg("%s: %u", headers, reply.status);
    }
    g_autofree char *silent =
        g_strdup_printf("Host: 127.0.0.1:%d\r\nCookie: %s\r\n", server->port, server->cookie);
    /* A whole address counts for more than Host. */
    g_auto(Reply) proxy = ask_raw(server, "GET http://example.org/api/study", silent, NULL);
    assert_int_equal(proxy.status, 403);
    /* What changes something must say where it comes from. */
    g_auto(Reply) reply = ask_raw(server, "POST /api/sign-in", silent, "{\"name\": \"Ana\"}");
    assert_int_equal(reply.status, 403);
    expect_untouched(server);
}

static void test_headers(void **state)
{
    Server *server = *state;
    server_enter(server);
    static const char *const lines[] = {"GET /", "GET /leaflet/leaflet.js", "GET /api/study",
                                        "GET /api/none", "GET /api/frame?walk=1&t_us=0&width=64"};
    static const char *const headers[] = {"Content-Security-Policy: default-src 'none'; script-src "
                                          "'self'",
                                          "X-Content-Type-Options: nosniff",
                                          "Referrer-Policy: no-referrer",
                                          "Cross-Origin-Resource-Policy: same-origin"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_auto(Reply) reply = ask(server, lines[i], NULL);
        for (gsize k = 0; k < G_N_ELEMENTS(headers); k++)
            if (!strstr(reply.head, headers[k]))
                fail_msg("%s: no %s in\n%s", lines[i], headers[k], reply.head);
    }
}

static void test_paths(void **state)
{
    Server *server = *state;
    server_enter(server);
    static const char *const lines[] = {
        "GET /../r.lookfall",    "GET /r.lookfall",      "GET /..%2f..%2fetc/passwd",
        "GET /%2e%2e/shelf.ppm", "GET //etc/passwd",     "GET /leaflet/../../a.csv",
        "GET /leaflet/%00",      "GET /page/index.html", "GET /api/photo/1/../../../etc/passwd",
        "GET /api/photo/..%2f1",
    };
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_auto(Reply) reply = ask(server, lines[i], NULL);
        if (reply.status != 404 && reply.status != 400)
            fail_msg("%s: %u", lines[i], reply.status);
    }
    expect(server, 405, "method", "POST /", "{}");
    expect(server, 405, "method", "GET /api/decision", NULL);
    expect_untouched(server);
}

static void test_bodies(void **state)
{
    Server *server = *state;
    server_enter(server);
    expect(server, 400, "bad-request", "POST /api/sign-in", "{\"name\": ");
    expect(server, 400, "bad-request", "POST /api/sign-in", "[]");
    expect(server, 400, "bad-request", "POST /api/sign-in", "{\"name\": 5}");
    expect(server, 400, "bad-request", "POST /api/sign-in", "{\"name\": \"\"}");
    expect(server, 400, "bad-request", "POST /api/sign-in", "{\"name\": \" Ana\"}");
    expect(server, 400, "bad-request", "POST /api/sign-in", "{}");
    expect(server, 400, "bad-request", "POST /api/sign-in",
           "{\"name\": \"Ana\", \"blind\": true, \"blind_share\": 2}");
    /* 10 MB, told and sent. */
    g_autofree char *large = g_malloc(10000001);
    memset(large, ' ', 10000000);
    large[10000000] = '\0';
    g_auto(Reply) reply = ask(server, "POST /api/sign-in", large);
    assert_int_equal(reply.status, 413);
    /* Without a length. */
    g_autofree char *headers =
        g_strdup_printf("Host: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\nCookie: %s\r\n"
                        "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n",
                        server->port, server->port, server->cookie);
    g_autofree char *chunked = g_strdup_printf(
        "POST /api/sign-in HTTP/1.1\r\nConnection: close\r\n%s\r\n2\r\n{}\r\n0\r\n\r\n", headers);
    g_auto(Reply) endless = send_bytes(server, chunked, strlen(chunked));
    assert_int_equal(endless.status, 411);
    expect_untouched(server);
}

/* Requests that make no sense: a status and a sentence, and the study as it was. */
static void test_nonsense(void **state)
{
    Server *server = *state;
    static const struct {
        const char *line, *body;
        guint status;
    } cases[] = {
        {"GET /api/stretch/999", NULL, 410},
        {"GET /api/stretch/999/after", NULL, 410},
        {"GET /api/worklist?reason=rain", NULL, 400},
        {"GET /api/worklist?settled=maybe", NULL, 400},
        {"GET /api/worklist?order=up", NULL, 400},
        {"GET /api/worklist?walk=x", NULL, 400},
        {"GET /api/worklist?count=1001", NULL, 400},
        {"GET /api/around?walk=1&from_us=0", NULL, 400},
        {"GET /api/around?walk=1&from_us=0&to_us=60000001", NULL, 400},
        {"GET /api/around?walk=9&from_us=0&to_us=1", NULL, 404},
        {"GET /api/frame?walk=9&t_us=0", NULL, 404},
        {"GET /api/frame?t_us=0", NULL, 400},
        {"GET /api/frame?walk=1&t_us=zero", NULL, 400},
        {"GET /api/frame?walk=1&t_us=0&width=1", NULL, 400},
        {"GET /api/frame?walk=1&t_us=0&x=480", NULL, 400},
        {"GET /api/photo/9", NULL, 404},
        {"GET /api/warp?walk=1&t_us=0&photo=9", NULL, 404},
        {"GET /api/walk/9/strip", NULL, 404},
        {"GET /api/walk/1/strip?bins=0", NULL, 400},
        {"GET /api/walk/9/frames", NULL, 404},
        {"GET /api/draw", NULL, 400},
        {"GET /api/draw?kind=star", NULL, 400},
        {"GET /api/draw?kind=heat&format=gif", NULL, 400},
        {"GET /api/draw?kind=heat&photo=9", NULL, 404},
        {"GET /api/draw?kind=heat&walk=9", NULL, 404},
        {"GET /api/draw?kind=heat&kernel=far", NULL, 400},
        {"GET /api/draw?kind=heat&width=9", NULL, 400},
        {"GET /api/draw?kind=heat", NULL, 400}, /* its fixations are not up to date */
        {"GET /api/tie/1", NULL, 404},
        {"DELETE /api/tie/1", NULL, 404},
        {"GET /api/placements?walk=9", NULL, 404},
        {"POST /api/decision", "{}", 400},
        {"POST /api/decision", "{\"stretch\": 1, \"version\": 1, \"kind\": \"guess\"}", 400},
        {"POST /api/decision", "{\"stretch\": 999, \"version\": 1, \"kind\": \"accept\"}", 410},
        {"POST /api/decision", "{\"stretch\": 1, \"version\": 0, \"kind\": \"accept\"}", 409},
        {"POST /api/decision", "{\"stretch\": 1, \"version\": 1, \"kind\": \"point\"}", 400},
        {"POST /api/decision",
         "{\"stretch\": 1, \"version\": 1, \"kind\": \"point\", \"t_us\": 1500000, \"photo\": 1,"
         " \"x\": 800, \"y\": 10}",
         400},
        {"POST /api/decision",
         "{\"stretch\": 1, \"version\": 1, \"kind\": \"accept\", \"scope\": \"fixation\"}", 400},
        {"POST /api/decision", "{\"stretch\": 1, \"version\": 1, \"kind\": \"tie\", \"job\": 1}",
         404},
        {"POST /api/undo", "{}", 409},
        {"POST /api/redo", "{}", 409},
        {"POST /api/lift", "{\"placement\": 1}", 410},
        {"POST /api/tie", "{\"stretch\": 1, \"photo\": 1, \"ties\": 5}", 400},
        {"POST /api/tie", "{\"stretch\": 1, \"photo\": 1, \"ties\": [5]}", 400},
        {"POST /api/tie", "{\"stretch\": 1, \"photo\": 9, \"ties\": []}", 404},
        {"POST /api/marks", "{\"walk\": 9, \"name\": \"a\", \"from_us\": 1}", 404},
        {"POST /api/marks", "{\"walk\": 1, \"name\": \"a\", \"from_us\": 99000000}", 400},
        {"PUT /api/marks/5", "{}", 410},
        {"DELETE /api/marks/5", NULL, 410},
        {"POST /api/mark-names", "{\"name\": \"a\", \"key\": \"ab\"}", 400},
        {"POST /api/areas", "{\"photo\": 1, \"name\": \"a\", \"shape\": \"star\", \"points\": []}",
         400},
        {"POST /api/areas",
         "{\"photo\": 1, \"name\": \"a\", \"shape\": \"rect\", \"points\": [[1, 2]]}", 400},
        {"PUT /api/areas/5", "{}", 410},
        {"DELETE /api/areas/5", NULL, 410},
        {"PUT /api/areas", "{\"photo\": 1, \"areas\": [5]}", 400},
        {"PUT /api/areas", "{\"photo\": 1, \"areas\": [{\"id\": 5}]}", 410},
        {"DELETE /api/areas", "{\"photo\": 1, \"ids\": [5]}", 410},
        {"POST /api/areas/undo", "{\"photo\": 1}", 409},
    };
    server_enter(server);
    expect(server, 403, "no-name", "POST /api/decision",
           "{\"stretch\": 1, \"version\": 1, \"kind\": \"accept\"}");
    expect(server, 403, "no-name", "POST /api/undo", "{}");
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(Reply) reply = ask(server, cases[i].line, cases[i].body);
        if (reply.status != cases[i].status)
            fail_msg("%s %s: %u instead of %u: %s", cases[i].line,
                     cases[i].body ? cases[i].body : "", reply.status, cases[i].status,
                     reply.body->str);
        g_autoptr(JsonObject) why = desk_body_parse(reply.body->str, reply.body->len, NULL);
        assert_non_null(why);
        assert_true(strlen(json_object_get_string_member(why, "error")) > 10);
    }
    expect_untouched(server);
}

/* One decision from the list to the export, back after a restart, and forth again. */
static void test_decide(void **state)
{
    Server *server = *state;
    server_enter(server);
    g_autoptr(JsonObject) in = ask_json(server, 200, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    g_autofree char *before = bed_output(server->bed, "export r.lookfall samples");
    g_autoptr(JsonObject) list = ask_json(server, 200, "GET /api/worklist", NULL);
    assert_int_equal(json_object_get_int_member(list, "total"), 2); /* listed reasons alone */
    JsonObject *row = json_array_get_object_element(json_object_get_array_member(list, "rows"), 0);
    assert_string_equal(json_object_get_string_member(row, "reason"), "alike");
    assert_int_equal(json_object_get_int_member(row, "stake_us"), 45 * 20000);
    g_autofree char *line =
        g_strdup_printf("GET /api/stretch/%d", (int)json_object_get_int_member(row, "id"));
    g_autoptr(JsonObject) stretch = ask_json(server, 200, line, NULL);
    JsonObject *rival =
        json_array_get_object_element(json_object_get_array_member(stretch, "rivals"), 0);
    assert_true(json_object_get_double_member(rival, "dx") == REVIEW_RIVAL);
    assert_int_equal(json_object_get_int_member(rival, "frames"), 25);
    assert_int_equal(json_array_get_length(json_object_get_array_member(stretch, "frames")), 25);
    assert_int_equal(json_object_get_int_member(stretch, "show_us"), 1600000);
    JsonArray *next = json_object_get_array_member(stretch, "next");
    assert_int_equal(json_array_get_length(next), 1);
    g_autofree char *body =
        g_strdup_printf("{\"stretch\": %d, \"version\": %d, \"kind\": \"rival\", \"rival\": 0}",
                        (int)json_object_get_int_member(row, "id"),
                        (int)json_object_get_int_member(stretch, "version"));
    g_autoptr(JsonObject) done = ask_json(server, 200, "POST /api/decision", body);
    assert_true(
        json_object_get_boolean_member(json_object_get_object_member(done, "stretch"), "settled"));
    assert_int_equal(
        json_object_get_int_member(json_object_get_object_member(done, "progress"), "settled"), 1);
    expect(server, 409, "changed", "POST /api/decision", body);
    g_autofree char *after = bed_output(server->bed, "export r.lookfall samples");
    assert_string_not_equal(after, before);
    assert_non_null(strstr(after, ",placed,"));
    /* Another time, the same reviewer. */
    server_again(server);
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ben\"}");
    expect(server, 409, "conflict", "POST /api/undo", "{}");
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
    expect(server, 200, NULL, "POST /api/undo", "{}");
    g_autofree char *undone = bed_output(server->bed, "export r.lookfall samples");
    assert_string_equal(undone, before);
    expect(server, 200, NULL, "POST /api/redo", "{}");
    g_autofree char *redone = bed_output(server->bed, "export r.lookfall samples");
    assert_string_equal(redone, after);
}

/* Pictures are made while the desk goes on, and of what a person settled. */
static void test_draw(void **state)
{
    Server *server = *state;
    server_enter(server);
    bed_expect(server->bed, 0, NULL, "fixate r.lookfall");
    g_auto(Reply) reply = ask(server, "GET /api/draw?kind=heat&width=400", NULL);
    assert_int_equal(reply.status, 200);
    assert_non_null(strstr(reply.head, "Content-Type: image/png"));
    assert_non_null(strstr(reply.head, "Lookfall-Picture: {\"width_px\":400,"));
    assert_memory_equal(reply.body->str, "\x89PNG\r\n", 6);
    g_auto(Reply) drawing = ask(server, "GET /api/draw?kind=scanpath&format=svg&walk=1", NULL);
    assert_int_equal(drawing.status, 200);
    assert_non_null(strstr(drawing.body->str, "<svg"));
}

static void test_filters(void **state)
{
    Server *server = *state;
    static const struct {
        const char *query;
        int total;
    } cases[] = {
        {"", 2},
        {"?walk=1", 2},
        {"?walk=2", 0},
        {"?photo=1", 2},
        {"?reason=blur", 1},
        {"?reason=alike,blur", 2},
        {"?reason=blocked", 1},
        {"?reason=unseen", 1},
        {"?reason=alike,blur,blocked,unseen", 4},
        {"?reason=alike,blur,blocked,unseen&photo=1", 3},
        {"?settled=yes", 0},
        {"?settled=all", 2},
        {"?order=time&from=1", 2},
    };
    server_enter(server);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *line = g_strconcat("GET /api/worklist", cases[i].query, NULL);
        g_autoptr(JsonObject) list = ask_json(server, 200, line, NULL);
        if (json_object_get_int_member(list, "total") != cases[i].total)
            fail_msg("%s: %d", cases[i].query, (int)json_object_get_int_member(list, "total"));
    }
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, server_set_up, server_tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_not_let_in), TEST(test_other_places), TEST(test_headers),
        TEST(test_paths),      TEST(test_bodies),       TEST(test_nonsense),
        TEST(test_decide),     TEST(test_filters),      TEST(test_draw),
    };
    return cmocka_run_group_tests(tests, server_group_set_up, server_group_tear_down);
}
