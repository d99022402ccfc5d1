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
    {"GET", "/api/agreement", desk_get_agreement},
    {"GET", "/api/worklist", desk_get_worklist},
    {"GET", "/api/stretch/#", desk_get_stretch},
    {"GET", "/api/stretch/#/after", desk_get_after},
    {"GET", "/api/around", desk_get_around},
    {"GET", "/api/placements", desk_get_placements},
    {"GET", "/api/frame", desk_get_frame},
    {"GET", "/api/photo/#", desk_get_photo},
    {"GET", "/api/warp", desk_get_warp},
    {"GET", "/api/draw", desk_get_draw},
    {"POST", "/api/decision", desk_post_decision},
    {"POST", "/api/lift", desk_post_lift},
    {"POST", "/api/undo", desk_post_undo},
    {"POST", "/api/redo", desk_post_redo},
    {"POST", "/api/tie", desk_post_tie},
    {"GET", "/api/tie/#", desk_get_tie},
    {"DELETE", "/api/tie/#", desk_delete_tie},
    {"GET", "/api/walk/#/frames", desk_get_walk_frames},
    {"GET", "/api/walk/#/strip", desk_get_walk_strip},
    {"GET", "/api/mark-names", desk_get_mark_names},
    {"POST", "/api/mark-names", desk_post_mark_names},
    {"PUT", "/api/mark-names", desk_put_mark_names},
    {"DELETE", "/api/mark-names", desk_delete_mark_names},
    {"GET", "/api/marks", desk_get_marks},
    {"POST", "/api/marks", desk_post_marks},
    {"PUT", "/api/marks/#", desk_put_mark},
    {"DELETE", "/api/marks/#", desk_delete_mark},
    {"POST", "/api/marks/undo", desk_post_marks_undo},
    {"POST", "/api/marks/redo", desk_post_marks_redo},
    {"GET", "/api/areas", desk_get_areas},
    {"POST", "/api/areas", desk_post_areas},
    {"PUT", "/api/areas", desk_put_areas},
    {"DELETE", "/api/areas", desk_delete_areas},
    {"PUT", "/api/areas/#", desk_put_area},
    {"DELETE", "/api/areas/#", desk_delete_area},
    {"POST", "/api/areas/order", desk_post_areas_order},
    {"POST", "/api/areas/copy", desk_post_areas_copy},
    {"POST", "/api/areas/undo", desk_post_areas_undo},
    {"POST", "/api/areas/redo", desk_post_areas_redo},
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
