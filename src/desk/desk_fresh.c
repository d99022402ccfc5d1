/* Keeping up with the study: walks, photos and stretches change under the desk's feet while a cast
 * runs or somebody adds a walk. */
#include "desk/desk_state.h"

#include <string.h>

#define FRESH_EVERY_US 3000000 /* a running cast writes several times a second */
#define FRESH_WALKS 4          /* worked out at a time, so that requests are answered in between */

LfReviewer desk_reviewer(const DeskSession *session)
{
    return (LfReviewer){session->reviewer, session->blind && session->reviewer};
}

static gboolean desk_fresh_go_on(gpointer data)
{
    LfDesk *desk = data;
    g_autoptr(GError) error = NULL;
    if (lf_study_stretches_refresh(desk->study, FRESH_WALKS, &desk->preparing, &error) &&
        desk->preparing > 0)
        return G_SOURCE_CONTINUE;
    if (error)
        g_message("%s", error->message);
    desk->refresh_source = 0;
    return G_SOURCE_REMOVE;
}

bool desk_fresh(LfDesk *desk, GError **error)
{
    int64_t changes, now_us = g_get_monotonic_time();
    if (!lf_study_changes(desk->study, &changes, error))
        return false;
    if (desk->walks && (changes == desk->changes || now_us - desk->refreshed_us < FRESH_EVERY_US))
        return true;
    g_autoptr(GPtrArray) walks = lf_study_walks(desk->study, NULL, error);
    g_autoptr(GPtrArray) photos = walks ? lf_study_photos(desk->study, error) : NULL;
    if (!photos || !lf_study_stretches_refresh(desk->study, FRESH_WALKS, &desk->preparing, error) ||
        !lf_study_changes(desk->study, &desk->changes, error))
        return false;
    g_clear_pointer(&desk->walks, g_ptr_array_unref);
    g_clear_pointer(&desk->photos, g_ptr_array_unref);
    desk->walks = g_steal_pointer(&walks);
    desk->photos = g_steal_pointer(&photos);
    g_hash_table_remove_all(desk->videos);
    desk->refreshed_us = now_us;
    if (desk->preparing > 0 && !desk->refresh_source)
        desk->refresh_source = g_idle_add(desk_fresh_go_on, desk);
    return true;
}

const LfStudyWalk *desk_walk(LfDesk *desk, int64_t id, GError **error)
{
    if (!desk->walks && !desk_fresh(desk, error))
        return NULL;
    for (guint i = 0; i < desk->walks->len; i++) {
        const LfStudyWalk *walk = desk->walks->pdata[i];
        if (walk->id == id)
            return walk;
    }
    desk_fail(error, DESK_NOT_FOUND, "There is no such walk in the study.");
    return NULL;
}

const LfStudyPhoto *desk_photo(LfDesk *desk, int64_t id, GError **error)
{
    if (!desk->photos && !desk_fresh(desk, error))
        return NULL;
    for (guint i = 0; i < desk->photos->len; i++) {
        const LfStudyPhoto *photo = desk->photos->pdata[i];
        if (photo->id == id)
            return photo;
    }
    desk_fail(error, DESK_NOT_FOUND, "There is no such photo in the study.");
    return NULL;
}

DeskVideo *desk_walk_video(LfDesk *desk, int64_t id, GError **error)
{
    DeskVideo *video = g_hash_table_lookup(desk->videos, &id);
    const LfStudyWalk *walk = desk_walk(desk, id, error);
    if (video || !walk)
        return walk ? video : NULL;
    g_autoptr(LfVideoIndex) index = lf_study_frames(desk->study, id, error);
    if (!index)
        return NULL;
    gint64 *key = g_new(gint64, 1);
    *key = id;
    video = desk_video_new(id, walk->video, g_steal_pointer(&index));
    g_hash_table_insert(desk->videos, key, video);
    return video;
}
