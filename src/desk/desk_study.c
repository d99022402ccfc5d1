/* The study at large, and who is at the desk. */
#include "desk/desk_state.h"

#include "desk/desk_route.h"

bool desk_get_study(DeskCall *call, GError **error)
{
    GString *json = call->json;
    g_autofree char *name = g_path_get_basename(call->desk->path);
    g_autofree char *shown = g_filename_display_name(name);
    LfCastSettings settings;
    if (!lf_study_settings(call->desk->study, &settings, error))
        return false;
    desk_json_open(json, '{');
    desk_json_put_string(json, "name", shown);
    desk_json_put_string(json, "program", LOOKFALL_VERSION);
    desk_json_put_number(json, "tolerance_deg", settings.tolerance_deg, 6);
    desk_json_put_number(json, "sure_at", settings.sure_at, 6);
    desk_json_put_string(json, "reviewer", call->session->reviewer);
    desk_json_put_bool(json, "blind", call->session->blind);
    desk_json_close(json, '}');
    return true;
}

bool desk_post_sign_in(DeskCall *call, GError **error)
{
    const char *name;
    bool blind = false, there;
    if (!desk_body_text(call->body, "name", &name, NULL, error) ||
        !desk_body_bool(call->body, "blind", &blind, &there, error))
        return false;
    g_free(call->session->reviewer);
    call->session->reviewer = g_strdup(name);
    call->session->blind = blind;
    return desk_get_study(call, error);
}

bool desk_post_invite(DeskCall *call, GError **error)
{
    g_autofree char *link = lf_desk_link(call->desk);
    (void)error;
    desk_json_open(call->json, '{');
    desk_json_put_string(call->json, "url", link);
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_pulse(DeskCall *call, GError **error)
{
    (void)error;
    desk_json_open(call->json, '{');
    desk_json_close(call->json, '}');
    return true;
}
