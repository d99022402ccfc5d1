/* Stretches in the study: worked out once for each state of a walk's results, then counted down as
 * placements come. */
#include "study/study_recipe.h"
#include "study/study_review.h"
#include "study/stretch_cut.h"

#include <math.h>
#include <string.h>

/* How near in time a pose must be for a photo to count as seen: one and a half frames. */
#define STRETCH_SEEN_FRAMES 1.5

static const struct {
    int reason;
    const char *name;
} study_stretch_reasons[] = {
    {LF_REASON_UNCLEAR, "unclear"}, {LF_REASON_BLOCKED, "blocked"}, {LF_REASON_UNSEEN, "unseen"}};

const char *lf_reason_name(int reason)
{
    for (gsize i = 0; i < G_N_ELEMENTS(study_stretch_reasons); i++)
        if (study_stretch_reasons[i].reason == reason)
            return study_stretch_reasons[i].name;
    return reason > 0 && reason <= LF_DOUBT_DEPTH ? lf_doubt_name((LfDoubt)reason) : NULL;
}

int lf_reason_from_name(const char *name)
{
    for (int reason = 0; reason <= LF_REASON_UNSEEN; reason++)
        if (g_strcmp0(lf_reason_name(reason), name) == 0)
            return reason;
    return -1;
}

/* --- rows ----------------------------------------------------------------------------------------
 */

static const char study_stretch_columns[] =
    "SELECT s.id, s.walk, s.photo, s.from_us, s.to_us, s.reason, s.samples, s.left,"
    " w.interval_us, s.confidence, s.version FROM stretch s JOIN walk w ON w.id = s.walk ";

static LfStretch study_stretch_from_row(sqlite3_stmt *row)
{
    return (LfStretch){.id = sqlite3_column_int64(row, 0),
                       .walk = sqlite3_column_int64(row, 1),
                       .photo = sqlite3_column_int64(row, 2),
                       .from_us = sqlite3_column_int64(row, 3),
                       .to_us = sqlite3_column_int64(row, 4),
                       .reason = sqlite3_column_int(row, 5),
                       .samples = sqlite3_column_int64(row, 6),
                       .left = sqlite3_column_int64(row, 7),
                       .interval_us = sqlite3_column_int64(row, 8),
                       .confidence = study_db_double(row, 9),
                       .version = sqlite3_column_int64(row, 10)};
}

static GArray *study_stretch_list(LfStudy *study, sqlite3_stmt *rows, GError **error)
{
    g_autoptr(GArray) list = g_array_new(FALSE, FALSE, sizeof(LfStretch));
    bool ok = false, row = false;
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const LfStretch stretch = study_stretch_from_row(rows);
        g_array_append_val(list, stretch);
    }
    return ok ? g_steal_pointer(&list) : NULL;
}

/* --- working them out ------------------------------------------------------------------------- */

static bool study_stretch_read(LfStudy *study, int64_t walk, const GArray *current, GArray *samples,
                               GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error,
                         "SELECT t_us, photo, state, confidence, doubt FROM cast_sample"
                         " WHERE walk = ? ORDER BY t_us");
    bool ok = false, row = false;
    guint at = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const StretchSample sample = {
            .t_us = sqlite3_column_int64(rows, 0),
            .photo = sqlite3_column_int64(rows, 1),
            .state = (guint8)sqlite3_column_int(rows, 2),
            .confidence = (float)study_db_double(rows, 3),
            .doubt = (guint8)sqlite3_column_int(rows, 4),
        };
        if (study_current_at(current, &at, sample.t_us))
            g_array_append_val(samples, sample);
    }
    return ok;
}

/* Marks what is away with no pose near, from the walk's first pose to its last. */
static bool study_stretch_unseen(LfStudy *study, const StudyWalk *walk, GArray *samples,
                                 GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT DISTINCT t_us FROM pose WHERE walk = ? ORDER BY t_us");
    double rate = walk->info.frame_rate > 0 ? walk->info.frame_rate : 25;
    int64_t near_us = (int64_t)(1e6 * STRETCH_SEEN_FRAMES / rate), before_us = INT64_MIN;
    bool row = false;
    guint i = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk->id);
    while (true) {
        if (!study_db_step(study, rows, &row, error))
            return false;
        if (!row)
            return true;
        int64_t pose_us = sqlite3_column_int64(rows, 0);
        for (; i < samples->len && g_array_index(samples, StretchSample, i).t_us < pose_us; i++) {
            StretchSample *sample = &g_array_index(samples, StretchSample, i);
            sample->unseen = sample->state == LF_STATE_AWAY && before_us != INT64_MIN &&
                             sample->t_us - before_us > near_us && pose_us - sample->t_us > near_us;
        }
        before_us = pose_us;
    }
}

/* What two stretches have in common that are the same to a reviewer. */
static char *study_stretch_key(const LfStretch *stretch)
{
    return g_strdup_printf("%" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %" G_GINT64_FORMAT
                           " %" G_GINT64_FORMAT " %d %.17g",
                           (gint64)stretch->from_us, (gint64)stretch->to_us, (gint64)stretch->photo,
                           (gint64)stretch->samples, stretch->reason, stretch->confidence);
}

/* Ids of the walk's stretches as they are, by key. */
static GHashTable *study_stretch_old(LfStudy *study, int64_t walk, GError **error)
{
    g_autoptr(GHashTable) old = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    g_autofree char *sql = g_strconcat(study_stretch_columns, "WHERE s.walk = ?", NULL);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, sql);
    if (!rows)
        return NULL;
    study_db_bind(rows, "i", walk);
    g_autoptr(GArray) list = study_stretch_list(study, rows, error);
    for (guint i = 0; list && i < list->len; i++) {
        const LfStretch *stretch = &g_array_index(list, LfStretch, i);
        gint64 *id = g_new(gint64, 1);
        *id = stretch->id;
        g_hash_table_insert(old, study_stretch_key(stretch), id);
    }
    return list ? g_steal_pointer(&old) : NULL;
}

static bool study_stretch_add(LfStudy *study, sqlite3_stmt *add, int64_t walk,
                              const LfStretch *stretch, int64_t version, GError **error)
{
    study_db_bind(add, "iiiiiiidi", walk, stretch->from_us, stretch->to_us, stretch->photo,
                  (int64_t)stretch->reason, stretch->samples, stretch->left, stretch->confidence,
                  version);
    if (!stretch->photo)
        sqlite3_bind_null(add, 4);
    return study_db_finish(study, add, error);
}

/* What is the same as before keeps its number: while a walk is being cast chunk by chunk, a
 * reviewer may be at work on what is done. */
static bool study_stretch_replace(LfStudy *study, int64_t walk, const GArray *stretches,
                                  int64_t version, GError **error)
{
    g_autoptr(GHashTable) old = study_stretch_old(study, walk, error);
    g_autoptr(sqlite3_stmt) add = study_db_prepare(
        study, error,
        "INSERT INTO stretch(walk, from_us, to_us, photo, reason, samples, left, confidence,"
        " version) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?)");
    GHashTableIter iter;
    gpointer id;
    if (!old || !add)
        return false;
    for (guint i = 0; i < stretches->len; i++) {
        const LfStretch *stretch = &g_array_index(stretches, LfStretch, i);
        g_autofree char *key = study_stretch_key(stretch);
        if (!g_hash_table_remove(old, key) &&
            !study_stretch_add(study, add, walk, stretch, version, error))
            return false;
    }
    g_hash_table_iter_init(&iter, old);
    while (g_hash_table_iter_next(&iter, NULL, &id))
        if (!study_db_run(study, error, "DELETE FROM stretch WHERE id = ?", "i",
                          (int64_t) * (gint64 *)id))
            return false;
    return study_stretch_recount(study, walk, INT64_MIN, INT64_MAX, false, NULL, error);
}

static bool study_stretch_make(LfStudy *study, const StudyWalk *walk, const GArray *current,
                               const char *source, GError **error)
{
    g_autoptr(GArray) samples = g_array_new(FALSE, FALSE, sizeof(StretchSample));
    g_autoptr(GArray) stretches = g_array_new(FALSE, FALSE, sizeof(LfStretch));
    int64_t version;
    if (!study_stretch_read(study, walk->id, current, samples, error) ||
        !study_stretch_unseen(study, walk, samples, error) ||
        !study_review_bump(study, &version, error))
        return false;
    stretch_cut((const StretchSample *)(void *)samples->data, samples->len, walk->interval_us,
                stretches);
    return study_stretch_replace(study, walk->id, stretches, version, error) &&
           study_db_run(study, error, "INSERT OR REPLACE INTO stretch_walk VALUES(?, ?)", "is",
                        walk->id, source);
}

/* One walk, where its results are others than those its stretches were made of. */
static bool study_stretch_refresh_walk(LfStudy *study, int64_t id, bool make, bool *due,
                                       GError **error)
{
    g_autofree char *head = study_recipe_head(study, error), *source = NULL;
    g_autoptr(StudyWalk) walk = head ? study_walk_load(study, id, error) : NULL;
    g_autoptr(GArray) current =
        walk ? study_current_chunks(study, head, walk, &source, error) : NULL;
    int64_t same;
    if (!current ||
        !study_db_get(study, error, 0, &same,
                      "SELECT 1 FROM stretch_walk WHERE walk = ? AND source = ?", "is", id, source))
        return false;
    *due = !same;
    return same || !make || study_stretch_make(study, walk, current, source, error);
}

bool lf_study_stretches_refresh(LfStudy *study, int most, int *left, GError **error)
{
    g_autoptr(GArray) ids = study_walk_ids(study, NULL, error);
    int done = 0;
    if (!ids)
        return false;
    *left = 0;
    for (guint i = 0; i < ids->len; i++) {
        int64_t id = g_array_index(ids, int64_t, i);
        bool due = false;
        if (!study_db_begin_read(study, error) ||
            !study_db_end(study, study_stretch_refresh_walk(study, id, false, &due, error), error))
            return false;
        if (!due)
            continue;
        if (most > 0 && done == most) {
            (*left)++;
            continue;
        }
        done++;
        if (!study_db_begin(study, error) ||
            !study_db_end(study, study_stretch_refresh_walk(study, id, true, &due, error), error))
            return false;
    }
    return true;
}

/* --- counting --------------------------------------------------------------------------------- */

bool study_review_bump(LfStudy *study, int64_t *version, GError **error)
{
    return study_db_run(study, error, "UPDATE review SET version = version + 1", "") &&
           lf_study_review_version(study, version, error);
}

bool lf_study_review_version(LfStudy *study, int64_t *version, GError **error)
{
    return study_db_get(study, error, 0, version, "SELECT version FROM review", "");
}

bool lf_study_changes(LfStudy *study, int64_t *number, GError **error)
{
    return study_db_get(study, error, 0, number, "PRAGMA data_version", "");
}

/* Takes from `left` what the overlay (ascending) holds within each stretch. */
static void study_stretch_count(LfStretch *stretch, const GArray *overlay)
{
    guint low = 0, high = overlay->len;
    while (low < high) {
        guint middle = low + (high - low) / 2;
        if (g_array_index(overlay, StudyOverlay, middle).t_us < stretch->from_us)
            low = middle + 1;
        else
            high = middle;
    }
    stretch->left = stretch->samples;
    for (; low < overlay->len && g_array_index(overlay, StudyOverlay, low).t_us < stretch->to_us;
         low++)
        stretch->left--;
    stretch->left = MAX(stretch->left, 0);
}

/* The span that a walk's overlapping stretches cover: a placement may reach out of the caller's. */
static void study_stretch_cover(const GArray *list, int64_t *from_us, int64_t *to_us)
{
    *from_us = INT64_MAX;
    *to_us = INT64_MIN;
    for (guint i = 0; i < list->len; i++) {
        *from_us = MIN(*from_us, g_array_index(list, LfStretch, i).from_us);
        *to_us = MAX(*to_us, g_array_index(list, LfStretch, i).to_us);
    }
}

bool study_stretch_recount(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                           bool touched, int64_t *settled, GError **error)
{
    g_autofree char *sql = g_strconcat(study_stretch_columns,
                                       "WHERE s.walk = ? AND s.from_us < ? AND s.to_us > ?", NULL);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, sql);
    g_autoptr(sqlite3_stmt) put =
        study_db_prepare(study, error, "UPDATE stretch SET left = ?, version = ? WHERE id = ?");
    int64_t version;
    if (settled)
        *settled = 0;
    if (!rows || !put || !lf_study_review_version(study, &version, error))
        return false;
    study_db_bind(rows, "iii", walk, to_us, from_us);
    g_autoptr(GArray) list = study_stretch_list(study, rows, error);
    if (!list || list->len == 0)
        return list != NULL;
    study_stretch_cover(list, &from_us, &to_us);
    g_autoptr(GArray) overlay = study_overlay_load(study, NULL, walk, from_us, to_us, error);
    if (!overlay)
        return false;
    for (guint i = 0; i < list->len; i++) {
        LfStretch *stretch = &g_array_index(list, LfStretch, i);
        int64_t before = stretch->left;
        study_stretch_count(stretch, overlay);
        if (settled && before > 0 && stretch->left == 0)
            (*settled)++;
        if (!touched && stretch->left == before)
            continue;
        study_db_bind(put, "iii", stretch->left, version, stretch->id);
        if (!study_db_finish(study, put, error))
            return false;
    }
    return true;
}

/* --- reading ---------------------------------------------------------------------------------- */

/* A blind reviewer's own count, walk by walk; the list is in the order of walks. */
static bool study_stretch_blind(LfStudy *study, const LfReviewer *reviewer, GArray *list,
                                GError **error)
{
    g_autoptr(GArray) overlay = NULL;
    int64_t walk = 0;
    for (guint i = 0; i < list->len; i++) {
        LfStretch *stretch = &g_array_index(list, LfStretch, i);
        if (stretch->walk != walk) {
            g_clear_pointer(&overlay, g_array_unref);
            walk = stretch->walk;
            overlay = study_overlay_load(study, reviewer, walk, INT64_MIN, INT64_MAX, error);
        }
        if (!overlay)
            return false;
        study_stretch_count(stretch, overlay);
    }
    return true;
}

GArray *lf_study_stretches(LfStudy *study, const LfReviewer *reviewer, GError **error)
{
    bool blind = reviewer && reviewer->blind;
    g_autofree char *sql =
        g_strconcat(study_stretch_columns,
                    "WHERE NOT ?1 OR NOT EXISTS (SELECT 1 FROM placement p WHERE p.walk = s.walk"
                    " AND p.who = ?2 AND NOT p.blind AND NOT p.lifted AND p.from_us < s.to_us"
                    " AND p.to_us > s.from_us) ORDER BY s.walk, s.from_us, s.id",
                    NULL);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, sql);
    if (!rows || !study_db_begin_read(study, error))
        return NULL;
    study_db_bind(rows, "is", (int64_t)blind, blind ? reviewer->name : "");
    g_autoptr(GArray) list = study_stretch_list(study, rows, error);
    sqlite3_reset(rows);
    bool ok = list &&
              (!reviewer || !reviewer->blind || study_stretch_blind(study, reviewer, list, error));
    return study_db_end(study, ok, error) ? g_steal_pointer(&list) : NULL;
}

bool lf_study_stretch(LfStudy *study, const LfReviewer *reviewer, int64_t id, LfStretch *stretch,
                      bool *found, GError **error)
{
    g_autofree char *sql = g_strconcat(study_stretch_columns, "WHERE s.id = ?", NULL);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, sql);
    if (!rows)
        return false;
    study_db_bind(rows, "i", id);
    g_autoptr(GArray) list = study_stretch_list(study, rows, error);
    if (!list ||
        (reviewer && reviewer->blind && !study_stretch_blind(study, reviewer, list, error)))
        return false;
    *found = list->len == 1;
    if (*found)
        *stretch = g_array_index(list, LfStretch, 0);
    return true;
}
