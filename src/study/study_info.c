/* What is in a study: walks with their counts, and inputs that are gone or have changed. Reads no
 * sample: the chunks carry the counts. */
#include "study/study_recipe.h"

static void study_info_walk_free(gpointer data)
{
    LfStudyWalk *walk = data;
    char *const strings[] = {walk->name,  walk->participant, walk->group,
                             walk->video, walk->gaze,        walk->camera};
    for (gsize i = 0; i < G_N_ELEMENTS(strings); i++)
        g_free(strings[i]);
    g_free(walk);
}

static LfStudyWalk *study_info_from(StudyWalk *walk)
{
    LfStudyWalk *info = g_new0(LfStudyWalk, 1);
    info->id = walk->id;
    info->name = g_steal_pointer(&walk->name);
    info->participant = g_steal_pointer(&walk->participant);
    info->group = g_steal_pointer(&walk->group);
    info->video = g_steal_pointer(&walk->video.path);
    info->gaze = g_steal_pointer(&walk->gaze.path);
    info->camera = g_steal_pointer(&walk->camera.path);
    info->width_px = walk->info.width;
    info->height_px = walk->info.height;
    info->lens = walk->lens;
    info->frames = walk->frames;
    info->end_us = walk->end_us;
    info->cut_off = walk->cut_off;
    info->samples = walk->n_samples;
    info->lost = walk->n_lost;
    info->outside = walk->n_outside;
    info->interval_us = walk->interval_us;
    return info;
}

static bool study_info_counts(LfStudy *study, LfStudyWalk *info, int64_t recipe, GError **error)
{
    g_autoptr(sqlite3_stmt) counts = study_db_prepare(
        study, error,
        "SELECT count(*), total(recipe IS ?1),"
        " total(lost) FILTER (WHERE recipe IS ?1), total(away) FILTER (WHERE recipe IS ?1),"
        " total(blocked) FILTER (WHERE recipe IS ?1), total(doubtful) FILTER (WHERE recipe IS ?1),"
        " total(sure) FILTER (WHERE recipe IS ?1) FROM chunk WHERE walk = ?2");
    bool row = false;
    if (!counts)
        return false;
    study_db_bind(counts, "ii", recipe, info->id);
    if (!study_db_step(study, counts, &row, error))
        return false;
    info->chunks = (gsize)sqlite3_column_int64(counts, 0);
    info->chunks_cast = (gsize)sqlite3_column_int64(counts, 1);
    for (int state = LF_STATE_LOST; state <= LF_STATE_SURE; state++)
        info->states[state] = sqlite3_column_int64(counts, 2 + state);
    return true;
}

static bool study_info_walks(LfStudy *study, const char *const *names, GPtrArray *walks,
                             GError **error)
{
    g_autofree char *head = study_recipe_head(study, error);
    g_autoptr(GArray) ids = head ? study_walk_ids(study, names, error) : NULL;
    if (!ids)
        return false;
    for (guint i = 0; i < ids->len; i++) {
        int64_t recipe;
        g_autoptr(StudyWalk) walk = study_walk_load(study, g_array_index(ids, int64_t, i), error);
        if (!walk || !study_recipe_find(study, head, walk, &recipe, error))
            return false;
        LfStudyWalk *info = study_info_from(walk);
        g_ptr_array_add(walks, info);
        if (!study_info_counts(study, info, recipe, error))
            return false;
    }
    return true;
}

GPtrArray *lf_study_walks(LfStudy *study, const char *const *names, GError **error)
{
    g_autoptr(GPtrArray) walks = g_ptr_array_new_with_free_func(study_info_walk_free);
    if (!study_db_begin_read(study, error) ||
        !study_db_end(study, study_info_walks(study, names, walks, error), error))
        return NULL;
    return g_steal_pointer(&walks);
}

static void study_info_news_free(gpointer data)
{
    LfStudyFileNews *news = data;
    g_free(news->owner);
    g_free(news->path);
    g_free(news);
}

GPtrArray *lf_study_file_news(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(study_info_news_free);
    g_autoptr(sqlite3_stmt) files = study_db_prepare(
        study, error,
        "SELECT 'photo ' || name, image FROM photo"
        " UNION ALL SELECT 'walk ' || name, video FROM walk"
        " UNION ALL SELECT 'walk ' || name, gaze FROM walk"
        " UNION ALL SELECT 'walk ' || name, camera FROM walk WHERE camera IS NOT NULL");
    bool ok = false, row = false;
    if (!files)
        return NULL;
    while ((ok = study_db_step(study, files, &row, error)) && row) {
        StudyFile file = {0};
        StudyFileState state;
        if (!study_file_look(study, sqlite3_column_int64(files, 1), &file, &state, error))
            return NULL;
        if (state == STUDY_FILE_MISSING || state == STUDY_FILE_CHANGED) {
            LfStudyFileNews *news = g_new0(LfStudyFileNews, 1);
            news->owner = study_db_string(files, 0);
            news->path = g_steal_pointer(&file.path);
            news->missing = state == STUDY_FILE_MISSING;
            g_ptr_array_add(all, news);
        }
        study_file_clear(&file);
    }
    return ok ? g_steal_pointer(&all) : NULL;
}
