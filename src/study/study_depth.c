/* The depth of the photos: found once by a survey of the walks, kept with the photos, and part of
 * every recipe. Walks that are added later are cast with what is kept: results stay comparable. */
#include "study/study_depth.h"

#include "study/study_photo.h"
#include "study/study_walk.h"

static bool depth_read(LfStudy *study, int64_t photo, GBytes **relief, GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error, "SELECT relief FROM photo_relief WHERE photo = ?");
    bool row = false;
    *relief = NULL;
    if (!rows)
        return false;
    study_db_bind(rows, "i", photo);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (row)
        *relief = g_bytes_new(sqlite3_column_blob(rows, 0), (gsize)sqlite3_column_bytes(rows, 0));
    return true;
}

bool study_depth_load(LfStudy *study, const GPtrArray *photos, const GArray *ids, bool *whole,
                      GError **error)
{
    *whole = true;
    for (guint i = 0; i < photos->len; i++) {
        g_autoptr(GBytes) relief = NULL;
        if (!depth_read(study, g_array_index(ids, int64_t, i), &relief, error))
            return false;
        *whole = *whole && relief && lf_photo_set_relief(photos->pdata[i], relief, NULL);
    }
    return true;
}

static bool depth_write(LfStudy *study, const GPtrArray *photos, const GArray *ids, guint walks,
                        GError **error)
{
    for (guint i = 0; i < photos->len; i++) {
        g_autoptr(GBytes) relief = lf_photo_relief(photos->pdata[i]);
        g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, relief);
        if (!study_db_run(study, error, "INSERT OR REPLACE INTO photo_relief VALUES(?, ?, ?)",
                          "isb", g_array_index(ids, int64_t, i), sha256, relief))
            return false;
    }
    g_autofree char *detail =
        g_strdup_printf("depth of %u photos from %u walks", photos->len, walks);
    return study_db_run(study, error, "UPDATE study SET revision = revision + 1", "") &&
           study_db_log(study, "survey", detail, NULL, error);
}

/* The walk as the survey needs it: no samples. */
static bool depth_walk(LfStudy *study, const StudyWalk *walk, LfCastWalk *out, GError **error)
{
    g_autoptr(GArray) spans = g_array_new(FALSE, FALSE, sizeof(LfChunkSpan));
    g_autoptr(sqlite3_stmt) chunks = study_db_prepare(
        study, error, "SELECT key_us, from_us, to_us FROM chunk WHERE walk = ? ORDER BY number");
    bool ok = false, row = false;
    if (!chunks)
        return false;
    study_db_bind(chunks, "i", walk->id);
    while ((ok = study_db_step(study, chunks, &row, error)) && row) {
        LfChunkSpan span = {.key_us = sqlite3_column_int64(chunks, 0),
                            .from_us = sqlite3_column_int64(chunks, 1),
                            .to_us = sqlite3_column_int64(chunks, 2)};
        g_array_append_val(spans, span);
    }
    *out = (LfCastWalk){.video_path = walk->video.path, .lens = walk->lens, .n_chunks = spans->len};
    out->chunks = (LfChunkSpan *)(void *)g_array_free(g_steal_pointer(&spans), FALSE);
    return ok;
}

bool study_depth_survey(LfStudy *study, const GPtrArray *photos, const GArray *ids,
                        const GPtrArray *walks, int jobs, const int *cancel, GError **error)
{
    g_autofree LfCastWalk *list = g_new0(LfCastWalk, walks->len + 1);
    bool ok = true;
    for (guint i = 0; i < walks->len && ok; i++)
        ok = depth_walk(study, walks->pdata[i], &list[i], error);
    ok = ok && lf_cast_survey((LfPhoto *const *)photos->pdata, photos->len, list, walks->len, jobs,
                              cancel, error);
    for (guint i = 0; i < walks->len; i++)
        g_free((void *)list[i].chunks);
    if (!ok || (cancel && g_atomic_int_get(cancel)))
        return ok;
    return study_db_begin(study, error) &&
           study_db_end(study, depth_write(study, photos, ids, walks->len, error), error);
}
