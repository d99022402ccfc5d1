/* The study at large, and who is at the desk. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include "desk/desk_route.h"

#define STUDY_NAME_MOST 100 /* characters of a reviewer's name */
#define STUDY_BLIND_SHARE 0.2

static void desk_study_photo(GString *json, const LfStudyPhoto *photo)
{
    g_autofree char *picture = g_strdup_printf("/api/photo/%" G_GINT64_FORMAT "?v=%.12s",
                                               (gint64)photo->id, photo->sha256);
    desk_json_open(json, '{');
    desk_json_put_int(json, "id", photo->id);
    desk_json_put_string(json, "name", photo->name);
    desk_json_put_int(json, "width_px", photo->report.width);
    desk_json_put_int(json, "height_px", photo->report.height);
    desk_json_put_number(json, "width_mm", photo->width_mm, 3);
    desk_json_put_string(json, "picture", picture);
    desk_json_close(json, '}');
}

/* One degree at the middle of the frame, px: across a step of one pixel. */
static double desk_study_degree_px(const LfLens *lens)
{
    LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0}, side = middle, a, b;
    side.x += 1;
    if (!lf_lens_undistort(lens, middle, &a) || !lf_lens_undistort(lens, side, &b))
        return (double)NAN;
    return 1 / lf_lens_angle_deg(lens, a, b);
}

static void desk_study_lens(GString *json, const LfLens *lens)
{
    desk_json_key_open(json, "lens", '{');
    desk_json_put_bool(json, "calibrated", lens->calibrated);
    desk_json_put_number(json, "fx", lens->fx, 6);
    desk_json_put_number(json, "fy", lens->fy, 6);
    desk_json_put_number(json, "cx", lens->cx, 6);
    desk_json_put_number(json, "cy", lens->cy, 6);
    desk_json_key_open(json, "k", '[');
    for (int i = 0; i < lens->n_k; i++)
        desk_json_exact(json, lens->k[i]);
    desk_json_close(json, ']');
    desk_json_close(json, '}');
}

static void desk_study_walk(GString *json, const LfStudyWalk *walk)
{
    desk_json_open(json, '{');
    desk_json_put_int(json, "id", walk->id);
    desk_json_put_string(json, "name", walk->name);
    desk_json_put_string(json, "participant", walk->participant);
    desk_json_put_string(json, "group", walk->group);
    desk_json_put_int(json, "width_px", walk->width_px);
    desk_json_put_int(json, "height_px", walk->height_px);
    desk_json_put_int(json, "frames", walk->frames);
    desk_json_put_int(json, "end_us", walk->end_us);
    desk_json_put_int(json, "samples", walk->samples);
    desk_json_put_int(json, "interval_us", walk->interval_us);
    desk_json_put_number(json, "cast", (double)walk->chunks_cast / (double)MAX(walk->chunks, 1), 4);
    desk_json_key_open(json, "states", '{');
    for (int state = LF_STATE_LOST; state <= LF_STATE_SURE; state++)
        desk_json_put_int(json, lf_state_name((LfState)state), walk->states[state]);
    desk_json_close(json, '}');
    desk_study_lens(json, &walk->lens);
    desk_json_put_number(json, "degree_px", desk_study_degree_px(&walk->lens), 4);
    desk_json_close(json, '}');
}

static bool desk_study_people(DeskCall *call, GError **error)
{
    GString *json = call->json;
    g_autoptr(GPtrArray) names = lf_study_reviewers(call->desk->study, error);
    if (!names)
        return false;
    desk_json_put_string(json, "reviewer", call->session->reviewer);
    desk_json_put_bool(json, "blind", call->session->blind);
    desk_json_put_number(json, "blind_share", call->session->blind_share, 6);
    desk_json_key_open(json, "reviewers", '[');
    for (guint i = 0; i < names->len; i++)
        desk_json_string(json, names->pdata[i]);
    desk_json_close(json, ']');
    return true;
}

bool desk_get_study(DeskCall *call, GError **error)
{
    LfDesk *desk = call->desk;
    GString *json = call->json;
    g_autofree char *name = g_path_get_basename(desk->path);
    g_autofree char *shown = g_filename_display_name(name);
    LfCastSettings settings;
    if (!desk_fresh(desk, error) || !lf_study_settings(desk->study, &settings, error))
        return false;
    desk_json_open(json, '{');
    desk_json_put_string(json, "name", shown);
    desk_json_put_string(json, "program", LOOKFALL_VERSION);
    desk_json_put_number(json, "tolerance_deg", settings.tolerance_deg, 6);
    desk_json_put_number(json, "sure_at", settings.sure_at, 6);
    if (!desk_study_people(call, error))
        return false;
    desk_json_key_open(json, "photos", '[');
    for (guint i = 0; i < desk->photos->len; i++)
        desk_study_photo(json, desk->photos->pdata[i]);
    desk_json_close(json, ']');
    desk_json_key_open(json, "walks", '[');
    for (guint i = 0; i < desk->walks->len; i++)
        desk_study_walk(json, desk->walks->pdata[i]);
    desk_json_close(json, ']');
    desk_json_reasons(json);
    if (!desk_list_progress(call, error))
        return false;
    desk_json_close(json, '}');
    return true;
}

static bool desk_study_check_name(const char *name, GError **error)
{
    if (!name[0] || g_utf8_strlen(name, -1) > STUDY_NAME_MOST)
        return desk_fail(error, DESK_BAD, "A name has 1 to %d characters.", STUDY_NAME_MOST);
    if (g_unichar_isspace(g_utf8_get_char(name)) ||
        g_unichar_isspace(g_utf8_get_char(g_utf8_prev_char(name + strlen(name)))))
        return desk_fail(error, DESK_BAD, "A name must not begin or end with a blank.");
    for (const char *c = name; *c; c = g_utf8_next_char(c))
        if (g_unichar_iscntrl(g_utf8_get_char(c)))
            return desk_fail(error, DESK_BAD, "A name must not hold a line break.");
    return true;
}

bool desk_post_sign_in(DeskCall *call, GError **error)
{
    const char *name;
    bool blind = false, there;
    double share = STUDY_BLIND_SHARE;
    if (!desk_body_text(call->body, "name", &name, NULL, error) ||
        !desk_study_check_name(name, error) ||
        !desk_body_bool(call->body, "blind", &blind, &there, error) ||
        !desk_body_number(call->body, "blind_share", &share, &there, error))
        return false;
    if (share <= 0 || share > 1)
        return desk_fail(error, DESK_BAD, "\"blind_share\" must lie over 0 and up to 1.");
    g_free(call->session->reviewer);
    call->session->reviewer = g_strdup(name);
    call->session->blind = blind;
    call->session->blind_share = share;
    return desk_get_study(call, error);
}

bool desk_post_invite(DeskCall *call, G_GNUC_UNUSED GError **error)
{
    g_autofree char *link = lf_desk_link(call->desk);
    desk_json_open(call->json, '{');
    desk_json_put_string(call->json, "url", link);
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_pulse(DeskCall *call, GError **error)
{
    int64_t version;
    desk_json_open(call->json, '{');
    if (!desk_fresh(call->desk, error) ||
        !lf_study_review_version(call->desk->study, &version, error))
        return false;
    g_autofree char *text = g_strdup_printf("%" G_GINT64_FORMAT, (gint64)version);
    desk_json_put_string(call->json, "version", text);
    if (!desk_list_progress(call, error))
        return false;
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_agreement(DeskCall *call, GError **error)
{
    g_autoptr(GPtrArray) rows = lf_study_agreement(call->desk->study, error);
    GString *json = call->json;
    if (!rows)
        return false;
    desk_json_open(json, '{');
    desk_json_key_open(json, "rows", '[');
    for (guint i = 0; i < rows->len; i++) {
        const LfAgreement *row = rows->pdata[i];
        desk_json_open(json, '{');
        desk_json_put_string(json, "first", row->first);
        desk_json_put_string(json, "second", row->second);
        desk_json_put_int(json, "pairs", row->pairs);
        desk_json_put_int(json, "samples", row->samples);
        desk_json_put_int(json, "points", row->points);
        desk_json_put_number(json, "median_deg", row->median_deg, 4);
        desk_json_put_number(json, "p95_deg", row->p95_deg, 4);
        desk_json_put_number(json, "same_state", row->same_state, 4);
        desk_json_put_number(json, "kappa", row->kappa, 4);
        desk_json_put_number(json, "kappa_low", row->kappa_low, 4);
        desk_json_put_number(json, "kappa_high", row->kappa_high, 4);
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
    desk_json_close(json, '}');
    return true;
}
