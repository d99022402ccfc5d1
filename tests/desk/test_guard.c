/* Who is let in, and what is turned away before anything is done with it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "desk/desk_guard.h"

static void test_admit(void **state)
{
    static const struct {
        DeskHead head;
        guint status; /* 0: admitted */
    } cases[] = {
#define HERE .host = "127.0.0.1:8123"
#define OURS HERE, .origin = "http://127.0.0.1:8123"
#define BODY .content_type = "application/json", .content_length = "2"
        {{.method = "GET", HERE}, 0},
        {{.method = "HEAD", HERE}, 0},
        {{.method = "GET", .host = "localhost:8123"}, 0},
        {{.method = "GET", .host = "LOCALHOST:8123", .origin = "http://localhost:8123"}, 0},
        {{.method = "GET", HERE, .fetch_site = "none"}, 0},
        {{.method = "GET", OURS, .fetch_site = "same-origin"}, 0},
        {{.method = "POST", OURS, BODY}, 0},
        {{.method = "POST",
          OURS,
          .content_type = "Application/JSON; charset=utf-8",
          .content_length = "1048576"},
         0},
        {{.method = "PUT", OURS, BODY}, 0},
        {{.method = "DELETE", OURS}, 0},
        {{.method = "DELETE", OURS, BODY}, 0},
        /* another host name leads here (DNS rebinding), or another port, or none */
        {{.method = "GET", .host = "example.org"}, 403},
        {{.method = "GET", .host = "example.org:8123"}, 403},
        {{.method = "GET", .host = "127.0.0.1:81234"}, 403},
        {{.method = "GET", .host = "127.0.0.1"}, 403},
        {{.method = "GET", .host = "127.0.0.1:8123.example.org"}, 403},
        {{.method = "GET", .host = "[::1]:8123"}, 403},
        {{.method = "GET", .host = ""}, 403},
        {{.method = "GET", .host = NULL}, 403},
        /* a whole address asked for, as of a proxy */
        {{.method = "GET", HERE, .target = "127.0.0.1:8123"}, 0},
        {{.method = "GET", HERE, .target = "example.org:80"}, 403},
        /* another page asks */
        {{.method = "GET", HERE, .origin = "http://example.org"}, 403},
        {{.method = "GET", HERE, .origin = "https://127.0.0.1:8123"}, 403},
        {{.method = "GET", HERE, .origin = "http://127.0.0.1:8124"}, 403},
        {{.method = "GET", HERE, .origin = "http://localhost:8123"}, 403},
        {{.method = "GET", HERE, .origin = "null"}, 403},
        {{.method = "GET", HERE, .origin = ""}, 403},
        {{.method = "GET", HERE, .fetch_site = "cross-site"}, 403},
        {{.method = "GET", HERE, .fetch_site = "same-site"}, 403},
        {{.method = "POST", HERE, BODY}, 403},
        {{.method = "DELETE", HERE}, 403},
        {{.method = "PATCH", HERE, BODY}, 403},
        {{.method = "POST", HERE, .origin = "http://example.org", BODY}, 403},
        /* bodies */
        {{.method = "POST", OURS, .content_type = "application/json"}, 411},
        {{.method = "POST", OURS, .content_type = "application/json", .encoding = "chunked"}, 411},
        {{.method = "POST", OURS, BODY, .encoding = "chunked"}, 411},
        {{.method = "POST", OURS, .content_type = "application/json", .content_length = "1048577"},
         413},
        {{.method = "POST",
          OURS,
          .content_type = "application/json",
          .content_length = "18446744073709551616"},
         400},
        {{.method = "POST", OURS, .content_type = "application/json", .content_length = "-1"}, 400},
        {{.method = "POST", OURS, .content_type = "application/json", .content_length = "2x"}, 400},
        {{.method = "POST", OURS, .content_type = "text/plain", .content_length = "2"}, 415},
        {{.method = "POST", OURS, .content_type = "application/jsonp", .content_length = "2"}, 415},
        {{.method = "POST", OURS, .content_type = "", .content_length = "2"}, 415},
        {{.method = "POST", OURS, .content_length = "2"}, 415},
        {{.method = "GET", HERE, BODY}, 400},
        {{.method = "GET", HERE, .encoding = "chunked"}, 400},
    };
    DeskGuard guard;
    (void)state;
    desk_guard_init(&guard, 8123);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DeskRefusal refusal = {0};
        bool admitted = desk_guard_admit(&guard, &cases[i].head, &refusal);
        if (admitted != (cases[i].status == 0) || refusal.status != cases[i].status)
            fail_msg("case %d: %s, status %u instead of %u", (int)i,
                     admitted ? "admitted" : "refused", refusal.status, cases[i].status);
        if (!admitted)
            assert_non_null(refusal.sentence);
    }
    desk_guard_clear(&guard);
}

static void test_link_once(void **state)
{
    DeskGuard guard;
    (void)state;
    desk_guard_init(&guard, 8123);
    g_autofree char *key = g_strdup(desk_guard_key(&guard));
    g_autofree char *other = g_strdup(desk_guard_key(&guard));
    assert_int_equal(strlen(key), 32); /* 24 random bytes */
    assert_string_not_equal(key, other);
    assert_null(desk_guard_enter(&guard, NULL));
    assert_null(desk_guard_enter(&guard, ""));
    assert_null(desk_guard_enter(&guard, "guess"));
    g_autofree char *token = g_strdup(desk_guard_enter(&guard, key));
    assert_non_null(token);
    assert_string_not_equal(token, key);
    assert_null(desk_guard_enter(&guard, key));
    g_autofree char *second = g_strdup(desk_guard_enter(&guard, other));
    assert_non_null(second);
    assert_string_not_equal(second, token);
    desk_guard_clear(&guard);
}

static void test_cookie(void **state)
{
    static const struct {
        const char *format; /* %s: the token */
        bool in;
    } cases[] = {
        {"lookfall_8123=%s", true},
        {"a=b; lookfall_8123=%s", true},
        {"lookfall_8124=x;lookfall_8123=%s;c=d", true},
        /* one of another time, then ours */
        {"lookfall_8123=old; lookfall_8123=%s", true},
        {"lookfall_8124=%s", false},
        {"lookfall_81234=%s", false},
        {"lookfall_8123=%sx", false},
        {"lookfall_8123=x%s", false},
        {"lookfall_8123=", false},
        {"lookfall_8123", false},
        {"x_lookfall_8123=%s", false},
        {"", false},
        {";;;=;", false},
    };
    DeskGuard guard;
    (void)state;
    desk_guard_init(&guard, 8123);
    const char *token = desk_guard_enter(&guard, desk_guard_key(&guard));
    assert_null(desk_guard_session(&guard, NULL));
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(GStrv) parts = g_strsplit(cases[i].format, "%s", -1);
        g_autofree char *cookie = g_strjoinv(token, parts);
        if ((desk_guard_session(&guard, cookie) != NULL) != cases[i].in)
            fail_msg("%s: %s", cases[i].format, cases[i].in ? "turned away" : "let in");
    }
    desk_guard_clear(&guard);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_admit),
        cmocka_unit_test(test_link_once),
        cmocka_unit_test(test_cookie),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
