/* What the desk reads of a request before anything is done with it: headers, address, body. The
 * first lines of the input are method, path, Host, Origin, Content-Type, Content-Length, Cookie;
 * the rest is the body. */
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "desk/desk_route.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void fuzz_members(JsonObject *body)
{
    g_autoptr(GList) names = json_object_get_members(body);
    for (GList *name = names; name; name = name->next) {
        int64_t whole = 0;
        double number = 0, xy[2];
        bool flag = false, there;
        const char *text = NULL;
        JsonArray *list = NULL;
        (void)desk_body_int(body, name->data, -5, 5, &whole, &there, NULL);
        (void)desk_body_number(body, name->data, &number, NULL, NULL);
        (void)desk_body_bool(body, name->data, &flag, &there, NULL);
        (void)desk_body_text(body, name->data, &text, &there, NULL);
        (void)desk_body_list(body, name->data, 10, &list, &there, NULL);
        (void)desk_body_point(json_object_get_member(body, name->data), "point", xy, NULL);
        if (text) { /* what is written can be read */
            g_autoptr(GString) json = g_string_new(NULL);
            desk_json_open(json, '{');
            desk_json_put_string(json, "text", text);
            desk_json_close(json, '}');
            g_autoptr(JsonObject) back = desk_body_parse(json->str, json->len, NULL);
            g_assert_nonnull(back);
            g_assert_cmpstr(json_object_get_string_member(back, "text"), ==, text);
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    g_auto(GStrv) lines = g_strsplit(text, "\n", 8);
    guint n = g_strv_length(lines);
    DeskGuard guard;
    DeskRefusal refusal;
    int64_t id = 0;
    if (n < 7)
        return 0;
    const DeskHead head = {.method = lines[0],
                           .host = lines[2],
                           .origin = lines[3][0] ? lines[3] : NULL,
                           .content_type = lines[4],
                           .content_length = lines[5][0] ? lines[5] : NULL};
    desk_guard_init(&guard, 8123);
    (void)desk_guard_admit(&guard, &head, &refusal);
    (void)desk_guard_session(&guard, lines[6]);
    (void)desk_route_find(lines[0], lines[1], &id, NULL);
    if (n == 8) {
        /* Bytes after the first NUL count too. */
        const char *body = memchr(data, '\0', size) ? (const char *)data : lines[7];
        gsize length = body == lines[7] ? strlen(lines[7]) : size;
        g_autoptr(JsonObject) object = desk_body_parse(body, length, NULL);
        if (object)
            fuzz_members(object);
    }
    desk_guard_clear(&guard);
    return 0;
}
