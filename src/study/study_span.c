/* Everything known of a short span of a walk, for a person who looks at it. */
#include "study/study_recipe.h"
#include "study/study_review.h"

#include <math.h>
#include <string.h>

#define SPAN_RIVAL_NEAR_PX 12.0   /* rivals of different frames this near are the same place */
#define SPAN_RIVAL_NEAR_SHARE 0.1 /* or within this share of how far they move */
/* Two places gathered are one where they lie within this share of how far they are from the guess:
 * neighbours of a row lie a whole pack apart. */
#define SPAN_RIVAL_MEET_SHARE 0.3

void lf_span_free(LfSpan *span)
{
    if (!span)
        return;
    g_clear_pointer(&span->samples, g_array_unref);
    g_clear_pointer(&span->poses, g_array_unref);
    g_clear_pointer(&span->fixations, g_array_unref);
    g_clear_pointer(&span->placements, g_ptr_array_unref);
    g_free(span);
}

static bool study_span_samples(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                               const GArray *current, const GArray *overlay, GArray *samples,
                               GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT g.t_us, g.x_px, g.y_px, c.state, c.photo, c.x_px, c.y_px, c.radius_px,"
        " c.confidence, c.cov_xx, c.cov_xy, c.cov_yy, c.doubt FROM gaze g"
        " LEFT JOIN cast_sample c ON c.walk = g.walk AND c.t_us = g.t_us"
        " WHERE g.walk = ? AND g.t_us >= ? AND g.t_us < ? ORDER BY g.t_us");
    bool ok = false, row = false;
    guint chunk = 0, over = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk, from_us, to_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfSpanSample sample = {
            .t_us = sqlite3_column_int64(rows, 0),
            .gaze_px = {study_db_double(rows, 1), study_db_double(rows, 2)},
            .lost = sqlite3_column_type(rows, 1) == SQLITE_NULL,
        };
        sample.cast = study_current_at(current, &chunk, sample.t_us) &&
                      sqlite3_column_type(rows, 3) != SQLITE_NULL;
        sample.guess = (LfPlace){LF_STATE_LOST, 0, (double)NAN, (double)NAN, (double)NAN};
        sample.confidence = (double)NAN;
        sample.cov = (LfCov2){(double)NAN, (double)NAN, (double)NAN};
        if (sample.cast) {
            sample.guess = (LfPlace){(LfState)sqlite3_column_int(rows, 3),
                                     sqlite3_column_int64(rows, 4), study_db_double(rows, 5),
                                     study_db_double(rows, 6), study_db_double(rows, 7)};
            sample.confidence = study_db_double(rows, 8);
            sample.cov = (LfCov2){study_db_double(rows, 9), study_db_double(rows, 10),
                                  study_db_double(rows, 11)};
            sample.doubt = (LfDoubt)sqlite3_column_int(rows, 12);
        }
        const StudyOverlay *placed = study_overlay_at(overlay, &over, sample.t_us);
        sample.now = placed ? placed->place : sample.guess;
        sample.placement = placed ? placed->placement : 0;
        g_array_append_val(samples, sample);
    }
    return ok;
}

/* The frame before the span and the one after it belong to it: samples lie between frames. */
static bool study_span_poses(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                             const GArray *current, GArray *poses, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT t_us, photo, confidence, m1, m2, m3, m4, m5, m6, m7, m8, m9 FROM pose"
        " WHERE walk = ?1"
        " AND t_us >= coalesce((SELECT max(t_us) FROM pose WHERE walk = ?1 AND t_us <= ?2), ?2)"
        " AND t_us <= coalesce((SELECT min(t_us) FROM pose WHERE walk = ?1 AND t_us >= ?3), ?3)"
        " ORDER BY t_us, photo");
    bool ok = false, row = false;
    guint chunk = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk, from_us, to_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfSpanPose pose = {.photo = sqlite3_column_int64(rows, 1),
                           .pose = {.t_us = sqlite3_column_int64(rows, 0),
                                    .photo = -1,
                                    .confidence = study_db_double(rows, 2)}};
        for (int i = 0; i < 9; i++)
            pose.pose.photo_from_frame.m[i] = sqlite3_column_double(rows, 3 + i);
        if (study_current_at(current, &chunk, pose.pose.t_us))
            g_array_append_val(poses, pose);
    }
    return ok;
}

static bool study_span_pose_rivals(LfStudy *study, int64_t walk, GArray *poses, GError **error)
{
    if (poses->len == 0)
        return true;
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT t_us, photo, dx_px, dy_px, strength FROM pose_rival"
        " WHERE walk = ? AND t_us >= ? AND t_us <= ? ORDER BY t_us, photo, number");
    bool ok = false, row = false;
    guint at = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk, g_array_index(poses, LfSpanPose, 0).pose.t_us,
                  g_array_index(poses, LfSpanPose, poses->len - 1).pose.t_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        int64_t t_us = sqlite3_column_int64(rows, 0), photo = sqlite3_column_int64(rows, 1);
        for (; at < poses->len; at++) {
            const LfSpanPose *pose = &g_array_index(poses, LfSpanPose, at);
            if (pose->pose.t_us > t_us || (pose->pose.t_us == t_us && pose->photo >= photo))
                break;
        }
        if (at == poses->len)
            continue; /* to the end: a statement is read whole */
        LfSpanPose *pose = &g_array_index(poses, LfSpanPose, at);
        if (pose->pose.t_us == t_us && pose->photo == photo && pose->pose.n_rivals < LF_RIVALS_MAX)
            pose->pose.rivals[pose->pose.n_rivals++] =
                (LfRival){sqlite3_column_double(rows, 2), sqlite3_column_double(rows, 3),
                          sqlite3_column_double(rows, 4)};
    }
    return ok;
}

/* As they were last found, up to date or not: they only tell where to step. */
static bool study_span_fixations(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                                 GArray *fixations, GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error,
                         "SELECT from_us, to_us FROM fixation"
                         " WHERE walk = ? AND from_us < ? AND to_us > ? ORDER BY from_us");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk, to_us, from_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const LfTimeSpan span = {sqlite3_column_int64(rows, 0), sqlite3_column_int64(rows, 1)};
        g_array_append_val(fixations, span);
    }
    return ok;
}

static bool study_span_read(LfStudy *study, const LfReviewer *reviewer, int64_t walk_id,
                            int64_t from_us, int64_t to_us, LfSpan *span, GError **error)
{
    g_autofree char *head = study_recipe_head(study, error);
    g_autoptr(StudyWalk) walk = head ? study_walk_load(study, walk_id, error) : NULL;
    g_autoptr(GArray) current = walk ? study_current_chunks(study, head, walk, NULL, error) : NULL;
    g_autoptr(GArray) overlay =
        current ? study_overlay_load(study, reviewer, walk_id, from_us, to_us, error) : NULL;
    return overlay &&
           study_span_samples(study, walk_id, from_us, to_us, current, overlay, span->samples,
                              error) &&
           study_span_poses(study, walk_id, from_us, to_us, current, span->poses, error) &&
           study_span_pose_rivals(study, walk_id, span->poses, error) &&
           study_span_fixations(study, walk_id, from_us, to_us, span->fixations, error) &&
           (span->placements =
                study_placement_list(study, reviewer, walk_id, from_us, to_us, error));
}

LfSpan *study_span_load(LfStudy *study, const LfReviewer *reviewer, int64_t walk, int64_t from_us,
                        int64_t to_us, GError **error)
{
    g_autoptr(LfSpan) span = g_new0(LfSpan, 1);
    span->samples = g_array_new(FALSE, FALSE, sizeof(LfSpanSample));
    span->poses = g_array_new(FALSE, FALSE, sizeof(LfSpanPose));
    span->fixations = g_array_new(FALSE, FALSE, sizeof(LfTimeSpan));
    if (!study_span_read(study, reviewer, walk, from_us, to_us, span, error))
        return NULL;
    return g_steal_pointer(&span);
}

LfSpan *lf_study_span(LfStudy *study, const LfReviewer *reviewer, int64_t walk, int64_t from_us,
                      int64_t to_us, GError **error)
{
    if (!study_db_begin_read(study, error))
        return NULL;
    g_autoptr(LfSpan) span = study_span_load(study, reviewer, walk, from_us, to_us, error);
    return study_db_end(study, span != NULL, error) ? g_steal_pointer(&span) : NULL;
}

/* --- at a glance --------------------------------------------------------------------------------
 */

static bool study_span_glance(LfStudy *study, const LfReviewer *reviewer, int64_t walk_id,
                              int64_t from_us, int64_t to_us, LfGlance glance, void *data,
                              GError **error)
{
    g_autofree char *head = study_recipe_head(study, error);
    g_autoptr(StudyWalk) walk = head ? study_walk_load(study, walk_id, error) : NULL;
    g_autoptr(GArray) current = walk ? study_current_chunks(study, head, walk, NULL, error) : NULL;
    g_autoptr(GArray) overlay =
        current ? study_overlay_load(study, reviewer, walk_id, from_us, to_us, error) : NULL;
    g_autoptr(sqlite3_stmt) rows =
        overlay ? study_db_prepare(study, error,
                                   "SELECT t_us, state, confidence FROM cast_sample"
                                   " WHERE walk = ? AND t_us >= ? AND t_us < ? ORDER BY t_us")
                : NULL;
    bool ok = false, row = false;
    guint chunk = 0, over = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk_id, from_us, to_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        int64_t t_us = sqlite3_column_int64(rows, 0);
        const StudyOverlay *placed = study_overlay_at(overlay, &over, t_us);
        if (placed || study_current_at(current, &chunk, t_us))
            glance(t_us, placed ? placed->place.state : (LfState)sqlite3_column_int(rows, 1),
                   study_db_double(rows, 2), placed != NULL, data);
    }
    return ok;
}

bool lf_study_glance(LfStudy *study, const LfReviewer *reviewer, int64_t walk, int64_t from_us,
                     int64_t to_us, LfGlance glance, void *data, GError **error)
{
    return study_db_begin_read(study, error) &&
           study_db_end(
               study, study_span_glance(study, reviewer, walk, from_us, to_us, glance, data, error),
               error);
}

/* --- rivals of many frames ----------------------------------------------------------------------
 */

typedef struct {
    LfSpanRival sum;
    LfRival last; /* as last seen: a rival wanders slowly from frame to frame */
} SpanRivalTrack;

static bool study_span_rival_near(const LfRival *a, const LfRival *b)
{
    double near_px = MAX(SPAN_RIVAL_NEAR_PX, SPAN_RIVAL_NEAR_SHARE * hypot(b->dx, b->dy));
    return hypot(a->dx - b->dx, a->dy - b->dy) <= near_px;
}

/* Whether a person would take both for one place. */
static bool study_span_rivals_meet(const LfSpanRival *a, const LfSpanRival *b)
{
    double least = MIN(hypot(a->dx, a->dy), hypot(b->dx, b->dy));
    return a->photo == b->photo && hypot(a->dx - b->dx, a->dy - b->dy) <=
                                       MAX(SPAN_RIVAL_NEAR_PX, SPAN_RIVAL_MEET_SHARE * least);
}

/* The strongest of the tracks, without those that meet a stronger one. */
static int study_span_rivals_best(const GArray *tracks, LfSpanRival rivals[LF_SPAN_RIVALS_MAX])
{
    int n = 0;
    for (guint t = 0; t < tracks->len && n < LF_SPAN_RIVALS_MAX; t++) {
        LfSpanRival mean = g_array_index(tracks, SpanRivalTrack, t).sum;
        int k = 0;
        mean.dx /= mean.frames;
        mean.dy /= mean.frames;
        mean.strength /= mean.frames;
        while (k < n && !study_span_rivals_meet(&rivals[k], &mean))
            k++;
        if (k == n)
            rivals[n++] = mean;
    }
    return n;
}

static gint study_span_rival_compare(gconstpointer a, gconstpointer b)
{
    const SpanRivalTrack *x = a, *y = b;
    return (x->sum.strength < y->sum.strength) - (x->sum.strength > y->sum.strength);
}

int lf_span_rivals(const LfSpan *span, int64_t from_us, int64_t to_us,
                   LfSpanRival rivals[LF_SPAN_RIVALS_MAX])
{
    g_autoptr(GArray) tracks = g_array_new(FALSE, FALSE, sizeof(SpanRivalTrack));
    for (guint i = 0; i < span->poses->len; i++) {
        const LfSpanPose *pose = &g_array_index(span->poses, LfSpanPose, i);
        if (pose->pose.t_us >= to_us)
            break;
        /* The frame shown at from_us began before it. */
        if (pose->pose.t_us < from_us && i + 1 < span->poses->len &&
            g_array_index(span->poses, LfSpanPose, i + 1).pose.t_us <= from_us)
            continue;
        for (int k = 0; k < pose->pose.n_rivals; k++) {
            const LfRival *rival = &pose->pose.rivals[k];
            guint t = 0;
            while (t < tracks->len &&
                   (g_array_index(tracks, SpanRivalTrack, t).sum.photo != pose->photo ||
                    !study_span_rival_near(rival, &g_array_index(tracks, SpanRivalTrack, t).last)))
                t++;
            if (t == tracks->len) {
                const SpanRivalTrack track = {{.photo = pose->photo}, *rival};
                g_array_append_val(tracks, track);
            }
            SpanRivalTrack *track = &g_array_index(tracks, SpanRivalTrack, t);
            track->last = *rival;
            track->sum.dx += rival->dx;
            track->sum.dy += rival->dy;
            track->sum.strength += rival->strength;
            track->sum.frames++;
        }
    }
    g_array_sort(tracks, study_span_rival_compare);
    return study_span_rivals_best(tracks, rivals);
}
