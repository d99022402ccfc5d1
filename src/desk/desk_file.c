/* The files of the page, from a table inside the program. */
#include "desk/desk_route.h"

#include <string.h>

#include "desk_resource.h"

#define DESK_FILE_ROOT "/lookfall/desk"

static const char *desk_file_type(const char *path)
{
    static const char *const types[][2] = {
        {".html", "text/html; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".woff2", "font/woff2"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(types); i++)
        if (g_str_has_suffix(path, types[i][0]))
            return types[i][1];
    return "application/octet-stream";
}

bool desk_file_answer(SoupServerMessage *message, const char *path)
{
    g_autofree char *name =
        g_strconcat(DESK_FILE_ROOT, strcmp(path, "/") == 0 ? "/index.html" : path, NULL);
    g_autoptr(GBytes) bytes =
        g_resource_lookup_data(desk_get_resource(), name, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
    if (!bytes)
        return false;
    desk_answer_bytes(message, SOUP_STATUS_OK, desk_file_type(name), bytes);
    /* The browser wants the window's icon anew whenever the address changes: with every stretch. */
    if (g_str_has_suffix(name, ".svg"))
        soup_message_headers_replace(soup_server_message_get_response_headers(message),
                                     "Cache-Control", "private, max-age=600");
    return true;
}

void desk_file_turn_away(SoupServerMessage *message)
{
    static const char text[] =
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>lookfall desk</title>"
        "<h1>This link lets nobody in any more</h1>"
        "<p>The link that <code>lookfall desk</code> prints works once, for one browser. Press "
        "Enter in that terminal for another one.</p></html>";
    g_autoptr(GBytes) bytes = g_bytes_new_static(text, sizeof text - 1);
    desk_answer_bytes(message, SOUP_STATUS_UNAUTHORIZED, "text/html; charset=utf-8", bytes);
}
