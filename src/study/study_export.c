/* Rows out of the study, walk by walk.
 *
 * A walk is read in one read transaction and handed on after it, so that a slow reader of the
 * export (a pager, a full pipe) never keeps a cast waiting. Gaze and results lie in the same order,
 * so one pass over both joins them. Results of chunks that are not current are never given out;
 * placements lie on top of all. */
#include "study/study_recipe.h"
#include "study/study_review.h"

#include <math.h>

typedef struct {
    StudyWalk *walk;
    GArray *spans; /* StudyCurrent of the current chunks, ascending */
    gsize n_chunks;
} ExportWalk;

typedef struct {
    int64_t t_us;
    int64_t photo; /* id; 0: none */
    LfSampleCast result;
} ExportSample;

typedef struct {
    int64_t photo;
    LfPoseCast pose;
} ExportPose;

static void study_export_walk_clear(ExportWalk *walk)
{
    g_clear_pointer(&walk->walk, study_walk_free);
    g_clear_pointer(&walk->spans, g_array_unref);
}

/* The walk and its current chunks. */
static bool study_export_open(LfStudy *study, int64_t id, ExportWalk *walk, GError **error)
{
    g_autofree char *head = study_recipe_head(study, error);
    int64_t n_chunks;
    *walk = (ExportWalk){NULL, NULL, 0};
    if (!head || !(walk->walk = study_walk_load(study, id, error)) ||
        !(walk->spans = study_current_chunks(study, head, walk->walk, NULL, error)) ||
        !study_db_get(study, error, 0, &n_chunks, "SELECT count(*) FROM chunk WHERE walk = ?", "i",
                      id))
        return false;
    walk->n_chunks = (gsize)n_chunks;
    return true;
}

/* Names by id, for the length of one export of one walk. */
static GHashTable *study_export_photo_names(LfStudy *study, GError **error)
{
    g_autoptr(GHashTable) names =
        g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
    g_autoptr(sqlite3_stmt) photos = study_db_prepare(study, error, "SELECT id, name FROM photo");
    bool ok = false, row = false;
    if (!photos)
        return NULL;
    while ((ok = study_db_step(study, photos, &row, error)) && row) {
        gint64 *id = g_new(gint64, 1);
        *id = sqlite3_column_int64(photos, 0);
        g_hash_table_insert(names, id, study_db_string(photos, 1));
    }
    return ok ? g_steal_pointer(&names) : NULL;
}

/* --- samples ---------------------------------------------------------------------------------- */

static bool study_export_read_results(LfStudy *study, int64_t id, GArray *results, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT t_us, photo, state, x_px, y_px, confidence, radius_px FROM cast_sample"
        " WHERE walk = ? ORDER BY t_us");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", id);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        ExportSample sample = {
            .t_us = sqlite3_column_int64(rows, 0),
            .photo = sqlite3_column_int64(rows, 1),
            .result = {.state = (LfState)sqlite3_column_int(rows, 2),
                       .x = study_db_double(rows, 3),
                       .y = study_db_double(rows, 4),
                       .confidence = study_db_double(rows, 5),
                       .radius_px = study_db_double(rows, 6)},
        };
        g_array_append_val(results, sample);
    }
    return ok;
}

/* A reviewer's word in place of the engine's result. It carries no confidence: that is the engine's
 * estimate of being right. */
static void study_export_place(LfStudySample *row, const LfPlace *place, GHashTable *photos)
{
    row->cast = true;
    row->result = (LfSampleCast){.state = place->state,
                                 .x = place->x,
                                 .y = place->y,
                                 .confidence = (double)NAN,
                                 .radius_px = place->radius_px,
                                 .cov = {(double)NAN, (double)NAN, (double)NAN}};
    row->photo = g_hash_table_lookup(photos, &place->photo);
}

static bool study_export_give_samples(const ExportWalk *walk, const LfGazeSample *gaze, gsize n,
                                      const GArray *results, const GArray *overlay,
                                      GHashTable *photos, LfStudySampleSink sink, void *data,
                                      GError **error)
{
    guint span = 0, k = 0, o = 0;
    for (gsize i = 0; i < n; i++) {
        LfStudySample row = {.walk = walk->walk->name,
                             .t_us = gaze[i].t_us,
                             .gaze_px = {gaze[i].x, gaze[i].y},
                             .time_decimals = walk->walk->time_decimals};
        while (k < results->len && g_array_index(results, ExportSample, k).t_us < gaze[i].t_us)
            k++;
        if (study_current_at(walk->spans, &span, gaze[i].t_us) && k < results->len) {
            const ExportSample *found = &g_array_index(results, ExportSample, k);
            row.cast = found->t_us == gaze[i].t_us;
            if (row.cast) {
                row.result = found->result;
                row.photo = g_hash_table_lookup(photos, &found->photo);
            }
        }
        const StudyOverlay *placed = study_overlay_at(overlay, &o, gaze[i].t_us);
        if (placed)
            study_export_place(&row, &placed->place, photos);
        if (!sink(&row, data, error))
            return false;
    }
    return true;
}

static bool study_export_walk_samples(LfStudy *study, int64_t id, ExportWalk *walk,
                                      LfStudySampleSink sink, void *data, GError **error)
{
    g_autofree LfGazeSample *gaze = NULL;
    g_autoptr(GArray) results = g_array_new(FALSE, FALSE, sizeof(ExportSample));
    g_autoptr(GArray) overlay = NULL;
    g_autoptr(GHashTable) photos = NULL;
    gsize n = 0;

    if (!study_db_begin_read(study, error))
        return false;
    bool ok = study_export_open(study, id, walk, error) &&
              study_walk_load_gaze(study, id, &gaze, &n, error) &&
              study_export_read_results(study, id, results, error) &&
              (overlay = study_overlay_load(study, NULL, id, INT64_MIN, INT64_MAX, error)) &&
              (photos = study_export_photo_names(study, error));
    return study_db_end(study, ok, error) &&
           study_export_give_samples(walk, gaze, n, results, overlay, photos, sink, data, error);
}

/* --- poses ------------------------------------------------------------------------------------ */

static bool study_export_read_poses(LfStudy *study, const ExportWalk *walk, GArray *poses,
                                    GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT t_us, photo, confidence, m1, m2, m3, m4, m5, m6, m7, m8, m9 FROM pose"
        " WHERE walk = ? ORDER BY t_us, photo");
    bool ok = false, row = false;
    guint span = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk->walk->id);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        ExportPose pose = {.photo = sqlite3_column_int64(rows, 1),
                           .pose = {.t_us = sqlite3_column_int64(rows, 0),
                                    .confidence = study_db_double(rows, 2)}};
        if (!study_current_at(walk->spans, &span, pose.pose.t_us))
            continue;
        for (int i = 0; i < 9; i++)
            pose.pose.photo_from_frame.m[i] = sqlite3_column_double(rows, 3 + i);
        g_array_append_val(poses, pose);
    }
    return ok;
}

static bool study_export_walk_poses(LfStudy *study, int64_t id, ExportWalk *walk,
                                    LfStudyPoseSink sink, void *data, GError **error)
{
    g_autoptr(GArray) poses = g_array_new(FALSE, FALSE, sizeof(ExportPose));
    g_autoptr(GHashTable) photos = NULL;

    if (!study_db_begin_read(study, error))
        return false;
    bool ok = study_export_open(study, id, walk, error) &&
              study_export_read_poses(study, walk, poses, error) &&
              (photos = study_export_photo_names(study, error));
    if (!study_db_end(study, ok, error))
        return false;
    for (guint i = 0; i < poses->len; i++) {
        const ExportPose *pose = &g_array_index(poses, ExportPose, i);
        LfStudyPose row = {.walk = walk->walk->name,
                           .photo = g_hash_table_lookup(photos, &pose->photo),
                           .pose = pose->pose};
        if (!sink(&row, data, error))
            return false;
    }
    return true;
}

/* --- both ------------------------------------------------------------------------------------- */

/* Whether any of the walks has a current chunk at all: asked first, so that an export of nothing
 * gives no row. */
static bool study_export_check(LfStudy *study, const GArray *ids, GError **error)
{
    for (guint i = 0; i < ids->len; i++) {
        ExportWalk walk = {0};
        bool ok = study_export_open(study, g_array_index(ids, int64_t, i), &walk, error);
        guint current = walk.spans ? walk.spans->len : 0;
        study_export_walk_clear(&walk);
        if (!ok || current > 0)
            return ok;
    }
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: %s", study->name,
                ids->len == 0
                    ? "there is no walk in this study yet; add one with \"lookfall walk add\""
                    : "nothing is cast yet with today's photos, inputs and settings. Run "
                      "\"lookfall cast\" first");
    return false;
}

static bool study_export(LfStudy *study, const char *const *names, LfStudySampleSink samples,
                         LfStudyPoseSink poses, void *data, GPtrArray *undone, GError **error)
{
    g_autoptr(GArray) ids = study_walk_ids(study, names, error);
    if (!ids || !study_export_check(study, ids, error))
        return false;
    for (guint i = 0; i < ids->len; i++) {
        int64_t id = g_array_index(ids, int64_t, i);
        ExportWalk walk = {0};
        bool ok = samples ? study_export_walk_samples(study, id, &walk, samples, data, error)
                          : study_export_walk_poses(study, id, &walk, poses, data, error);
        if (ok && undone && walk.spans->len < walk.n_chunks)
            g_ptr_array_add(undone, g_strdup(walk.walk->name));
        study_export_walk_clear(&walk);
        if (!ok)
            return false;
    }
    return true;
}

bool lf_study_export_samples(LfStudy *study, const char *const *walks, LfStudySampleSink sink,
                             void *data, GPtrArray *undone, GError **error)
{
    return study_export(study, walks, sink, NULL, data, undone, error);
}

bool lf_study_export_poses(LfStudy *study, const char *const *walks, LfStudyPoseSink sink,
                           void *data, GPtrArray *undone, GError **error)
{
    return study_export(study, walks, NULL, sink, data, undone, error);
}
