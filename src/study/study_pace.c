/* How long a stretch takes a reviewer. */
#include "study/study_review.h"

#include <math.h>

#define PACE_LAST 300      /* decisions that are looked at */
#define PACE_PAUSE_S 120   /* a longer time between two decisions is a pause (common practice) */
#define PACE_SETTLED_MIN 5 /* fewer settled stretches tell nothing */

/* Times between decisions of one reviewer, pauses left out, by the stretches they settled. A lifted
 * placement took its time too. */
static bool study_pace_of(LfStudy *study, const char *name, bool blind, double *seconds,
                          GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT who, CAST(strftime('%s', at) AS INTEGER), settled FROM"
        " (SELECT id, who, at, settled FROM placement WHERE blind = ?1 AND (?2 IS NULL OR who = ?2)"
        "  ORDER BY id DESC LIMIT ?3) ORDER BY who, id");
    g_autofree char *who = NULL;
    int64_t before = 0, worked = 0, settled = 0;
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "isi", (int64_t)blind, name, (int64_t)PACE_LAST);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const char *mine = (const char *)sqlite3_column_text(rows, 0);
        int64_t at = sqlite3_column_int64(rows, 1);
        bool first = g_strcmp0(who, mine) != 0;
        /* The first decision after a pause settled something in a time that nobody knows. */
        if (!first && at - before <= PACE_PAUSE_S) {
            worked += at - before;
            settled += sqlite3_column_int64(rows, 2);
        }
        if (first) {
            g_free(who);
            who = g_strdup(mine);
        }
        before = at;
    }
    *seconds = settled >= PACE_SETTLED_MIN ? (double)worked / (double)settled : (double)NAN;
    return ok;
}

bool lf_study_review_pace(LfStudy *study, const LfReviewer *reviewer, double *seconds,
                          GError **error)
{
    const char *name = reviewer ? reviewer->name : NULL;
    bool blind = reviewer && reviewer->blind;
    *seconds = (double)NAN;
    if (name && !study_pace_of(study, name, blind, seconds, error))
        return false;
    return isfinite(*seconds) || study_pace_of(study, NULL, blind, seconds, error);
}
