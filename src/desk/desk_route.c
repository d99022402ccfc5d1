/* The table of addresses. "#" stands for a number. */
#include "desk/desk_route.h"

#include <string.h>

typedef struct {
    const char *method, *path;
    DeskHandler handler;
} DeskRoute;

static const DeskRoute desk_routes[] = {
    {"GET", "/api/study", desk_get_study},
    {"POST", "/api/sign-in", desk_post_sign_in},
    {"POST", "/api/invite", desk_post_invite},
    {"GET", "/api/pulse", desk_get_pulse},
};

/* Whether the path fits the pattern; *id takes its number. */
static bool desk_route_fits(const char *pattern, const char *path, int64_t *id)
{
    const char *hash = strchr(pattern, '#');
    if (!hash)
        return strcmp(pattern, path) == 0;
    gsize before = (gsize)(hash - pattern);
    if (strncmp(pattern, path, before) != 0)
        return false;
    gsize digits = strspn(path + before, G_CSET_DIGITS);
    g_autofree char *number = g_strndup(path + before, digits);
    gint64 value;
    if (!g_ascii_string_to_signed(number, 10, 1, G_MAXINT64, &value, NULL) ||
        strcmp(path + before + digits, hash + 1) != 0)
        return false;
    *id = value;
    return true;
}

DeskHandler desk_route_find(const char *method, const char *path, int64_t *id, GError **error)
{
    bool known = false;
    for (gsize i = 0; i < G_N_ELEMENTS(desk_routes); i++) {
        if (!desk_route_fits(desk_routes[i].path, path, id))
            continue;
        if (strcmp(desk_routes[i].method, method) == 0)
            return desk_routes[i].handler;
        known = true;
    }
    if (known)
        desk_fail(error, DESK_METHOD, "This address does not take %s.", method);
    else
        desk_fail(error, DESK_NOT_FOUND, "There is nothing at this address.");
    return NULL;
}
