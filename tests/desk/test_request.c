/* Requests and answers as text: JSON written and read, members of a body, addresses. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "desk/desk_route.h"

static void test_write(void **state)
{
    g_autoptr(GString) json = g_string_new(NULL);
    (void)state;
    desk_json_open(json, '{');
    desk_json_put_string(json, "text", "a \"b\" \\ \n \x01 \x7f ö");
    desk_json_put_string(json, "none", NULL);
    desk_json_put_int(json, "int", INT64_MIN);
    desk_json_put_id(json, "id", 0);
    desk_json_put_bool(json, "yes", true);
    desk_json_key_open(json, "numbers", '[');
    static const double numbers[] = {0, -0.0, 1.5, -0.004, 0.005, 1e15, 123456.789, NAN, INFINITY};
    for (gsize i = 0; i < G_N_ELEMENTS(numbers); i++)
        desk_json_number(json, numbers[i], 2);
    desk_json_number(json, 1e300, 0);
    desk_json_exact(json, 0.1);
    desk_json_close(json, ']');
    desk_json_key_open(json, "empty", '[');
    desk_json_close(json, ']');
    desk_json_put_raw(json, "raw", "{\"a\": [1]}");
    desk_json_close(json, '}');
    /* What json-glib reads of it is what was put in. */
    g_autoptr(JsonObject) back = desk_body_parse(json->str, json->len, NULL);
    assert_non_null(back);
    assert_string_equal(json_object_get_string_member(back, "text"), "a \"b\" \\ \n \x01 \x7f ö");
    assert_true(json_object_get_null_member(back, "none"));
    assert_true(json_object_get_int_member(back, "int") == INT64_MIN);
    assert_true(json_object_get_null_member(back, "id"));
    JsonArray *list = json_object_get_array_member(back, "numbers");
    static const double rounded[] = {0, 0, 1.5, 0, 0.01, 1e15, 123456.79};
    for (guint i = 0; i < G_N_ELEMENTS(rounded); i++)
        assert_true(json_array_get_double_element(list, i) == rounded[i]);
    assert_true(json_array_get_null_element(list, 7));
    assert_true(json_array_get_null_element(list, 8));
    assert_true(json_array_get_double_element(list, 9) == 1e300);
    assert_true(json_array_get_double_element(list, 10) == 0.1);
    assert_int_equal(json_array_get_length(json_object_get_array_member(back, "empty")), 0);
    assert_null(strstr(json->str, "-0,"));
}

static void test_parse(void **state)
{
    static const char *const broken[] = {
        "",           " ",           "{",
        "}",          "[1]",         "1",
        "null",       "\"a\"",       "{a:1}",
        "{\"a\":1",   "{\"a\" 1}",   "{\"a\":}",
        "{\"a\":1}}", "{'a':1}",     "{/* */}",
        "// \n{}",    "\xff{}",      "{\"a\":\"\xc3\"}",
        "<xml/>",     "{\"a\":tru}", "{\"a\":\"b\\u0000\"}",
    };
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(broken); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(JsonObject) body = desk_body_parse(broken[i], strlen(broken[i]), &error);
        if (body)
            fail_msg("\"%s\" was taken", broken[i]);
        assert_int_equal(error->code, DESK_BAD);
    }
    g_autoptr(JsonObject) zero = desk_body_parse("{}\0{}", 5, NULL);
    assert_null(zero);
    g_autoptr(JsonObject) empty = desk_body_parse(" {} ", 4, NULL);
    assert_non_null(empty);
    /* Brackets without end, up to the largest body there may be: refused, not crashed. */
    g_autofree char *deep = g_malloc(DESK_BODY_MOST);
    memset(deep, '[', DESK_BODY_MOST);
    memcpy(deep, "{\"a\":", 5);
    g_autoptr(JsonObject) nested = desk_body_parse(deep, DESK_BODY_MOST, NULL);
    assert_null(nested);
    /* In quotes they are only letters; single quotes, which the parser takes too, hide nothing. */
    static const char quoted[] = "{\"a\": \"[[[[[[[[[[[[[[[[[[[[[[ \\\" [[[[\"}";
    g_autoptr(JsonObject) letters = desk_body_parse(quoted, strlen(quoted), NULL);
    assert_non_null(letters);
    static const char slashes[] = "{\"a\": \"\\\\u0000\"}"; /* a backslash, and letters */
    g_autoptr(JsonObject) backslash = desk_body_parse(slashes, strlen(slashes), NULL);
    assert_non_null(backslash);
    memcpy(deep, "{'\"':", 6);
    g_autoptr(JsonObject) hidden = desk_body_parse(deep, DESK_BODY_MOST, NULL);
    assert_null(hidden);
}

static void test_members(void **state)
{
    static const char text[] = "{\"n\": 3, \"d\": 2.5, \"t\": \"x\", \"y\": true, \"z\": null,"
                               " \"l\": [1, 2, 3], \"p\": [1, 2.5], \"o\": {}, \"big\": 1e400}";
    g_autoptr(JsonObject) body = desk_body_parse(text, strlen(text), NULL);
    int64_t n = 7;
    double d = 7;
    const char *t = NULL;
    bool y = false, there;
    JsonArray *l = NULL;
    (void)state;
    assert_non_null(body);
    assert_true(desk_body_int(body, "n", 0, 3, &n, NULL, NULL) && n == 3);
    assert_true(desk_body_number(body, "n", &d, NULL, NULL) && d == 3);
    assert_true(desk_body_number(body, "d", &d, NULL, NULL) && d == 2.5);
    assert_true(desk_body_text(body, "t", &t, NULL, NULL) && strcmp(t, "x") == 0);
    assert_true(desk_body_bool(body, "y", &y, NULL, NULL) && y);
    assert_true(desk_body_list(body, "l", 3, &l, NULL, NULL) && json_array_get_length(l) == 3);
    /* What may be missing keeps its value. */
    n = 7;
    assert_true(desk_body_int(body, "none", 0, 9, &n, &there, NULL) && !there && n == 7);
    assert_true(desk_body_int(body, "z", 0, 9, &n, &there, NULL) && !there && n == 7);
    assert_true(desk_body_int(body, "n", 0, 9, &n, &there, NULL) && there && n == 3);
    /* What must be there, of another kind, or out of range. */
    assert_false(desk_body_int(body, "none", 0, 9, &n, NULL, NULL));
    assert_false(desk_body_int(body, "z", 0, 9, &n, NULL, NULL));
    assert_false(desk_body_int(NULL, "n", 0, 9, &n, NULL, NULL));
    assert_false(desk_body_int(body, "n", 4, 9, &n, NULL, NULL));
    assert_false(desk_body_int(body, "n", 0, 2, &n, NULL, NULL));
    static const char *const members[] = {"d", "t", "y", "l", "o"};
    for (gsize i = 0; i < G_N_ELEMENTS(members); i++)
        assert_false(desk_body_int(body, members[i], 0, 9, &n, &there, NULL));
    assert_false(desk_body_number(body, "t", &d, &there, NULL));
    assert_false(desk_body_number(body, "y", &d, &there, NULL));
    assert_false(desk_body_number(body, "big", &d, &there, NULL));
    assert_false(desk_body_text(body, "n", &t, &there, NULL));
    assert_false(desk_body_bool(body, "n", &y, &there, NULL));
    assert_false(desk_body_list(body, "o", 9, &l, &there, NULL));
    assert_false(desk_body_list(body, "l", 2, &l, &there, NULL));
    static const char octal[] = "{\"t\": \"\\211\"}";
    g_autoptr(JsonObject) bytes = desk_body_parse(octal, strlen(octal), NULL);
    assert_false(bytes && desk_body_text(bytes, "t", &t, NULL, NULL));
    double xy[2];
    assert_true(desk_body_point(json_object_get_member(body, "p"), "p", xy, NULL));
    assert_true(xy[0] == 1 && xy[1] == 2.5);
    static const char *const no_points[] = {"l", "o", "n", "t", "none"};
    for (gsize i = 0; i < G_N_ELEMENTS(no_points); i++)
        assert_false(desk_body_point(json_object_get_member(body, no_points[i]), "p", xy, NULL));
}

static void test_routes(void **state)
{
    static const struct {
        const char *method, *path;
        DeskHandler handler;
        int64_t id;
        int code; /* where there is no handler */
    } cases[] = {
        {"GET", "/api/study", desk_get_study, 0, 0},
        {"GET", "/api/stretch/77", desk_get_stretch, 77, 0},
        {"GET", "/api/stretch/77/after", desk_get_after, 77, 0},
        {"DELETE", "/api/areas/9", desk_delete_area, 9, 0},
        {"POST", "/api/areas/order", desk_post_areas_order, 0, 0},
        {"POST", "/api/study", NULL, 0, DESK_METHOD},
        {"GET", "/api/decision", NULL, 0, DESK_METHOD},
        {"GET", "/api/", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/study/", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/0", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/-1", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/7x", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/7/", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/stretch/99999999999999999999", NULL, 0, DESK_NOT_FOUND},
        {"GET", "/api/../etc/passwd", NULL, 0, DESK_NOT_FOUND},
    };
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        int64_t id = 0;
        DeskHandler handler = desk_route_find(cases[i].method, cases[i].path, &id, &error);
        if (handler != cases[i].handler || id != cases[i].id)
            fail_msg("%s %s", cases[i].method, cases[i].path);
        if (!handler)
            assert_int_equal(error->code, cases[i].code);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_write),
        cmocka_unit_test(test_parse),
        cmocka_unit_test(test_members),
        cmocka_unit_test(test_routes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
