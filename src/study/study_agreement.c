/* How well two reviewers agree: the one whose word holds, and one who was blind to it.
 *
 * A pair is a run of samples of a walk on which one placement of each lies: two decisions about the
 * same thing. Its distance is the mean over its samples of the visual angle between the two places,
 * carried back into the frame through the engine's pose next in time. The state of each is what it
 * says of most of the samples: a kept guess may flicker between samples, and is one decision all
 * the same. States are compared by Cohen's kappa (lookfall/statistics.h). */
#include "study/study_review.h"

#include <math.h>

#include <lookfall/statistics.h>

/* A pose further away than this says nothing about the sample's frame. */
#define AGREEMENT_POSE_US 500000

typedef struct {
    int64_t first_id, second_id; /* placements */
    int64_t state[2];            /* 0 away, -1 blocked, else the photo's id */
    int64_t samples, angles;
    double sum_deg;
} AgreementPair;

/* How many samples of the pair at hand a reviewer says this of. */
typedef struct {
    int64_t state, samples;
} AgreementCount;

typedef struct {
    char *first, *second;
    GArray *pairs;     /* AgreementPair */
    GArray *counts[2]; /* AgreementCount, of the last pair */
} AgreementGroup;

static void study_agreement_group_free(gpointer data)
{
    AgreementGroup *group = data;
    g_free(group->first);
    g_free(group->second);
    g_array_unref(group->pairs);
    for (int side = 0; side < 2; side++)
        g_array_unref(group->counts[side]);
    g_free(group);
}

static void study_agreement_row_free(gpointer data)
{
    LfAgreement *row = data;
    g_free(row->first);
    g_free(row->second);
    g_free(row);
}

static AgreementGroup *study_agreement_group(GPtrArray *groups, const char *first,
                                             const char *second)
{
    for (guint i = 0; i < groups->len; i++) {
        AgreementGroup *group = groups->pdata[i];
        if (g_strcmp0(group->first, first) == 0 && g_strcmp0(group->second, second) == 0)
            return group;
    }
    AgreementGroup *group = g_new0(AgreementGroup, 1);
    group->first = g_strdup(first);
    group->second = g_strdup(second);
    group->pairs = g_array_new(FALSE, FALSE, sizeof(AgreementPair));
    for (int side = 0; side < 2; side++)
        group->counts[side] = g_array_new(FALSE, FALSE, sizeof(AgreementCount));
    g_ptr_array_add(groups, group);
    return group;
}

/* --- angles ------------------------------------------------------------------------------------
 */

typedef struct {
    const LfLens *lens;
    const GArray *poses; /* LfSpanPose of the walk */
    guint at;            /* the first not before the sample */
} AgreementView;

static double study_agreement_deg(AgreementView *view, int64_t t_us, const LfPlace *a,
                                  const LfPlace *b)
{
    const LfPoseCast *pose = NULL;
    int64_t least = AGREEMENT_POSE_US;
    LfMat3 frame_from_photo;
    LfPoint p, q;
    while (view->at < view->poses->len &&
           g_array_index(view->poses, LfSpanPose, view->at).pose.t_us < t_us)
        view->at++;
    for (int step = -1; step <= 1; step += 2)
        for (int64_t i = (int64_t)view->at - (step < 0); i >= 0 && i < (int64_t)view->poses->len;
             i += step) {
            const LfSpanPose *near = &g_array_index(view->poses, LfSpanPose, i);
            int64_t far = ABS(near->pose.t_us - t_us);
            if (far > least)
                break;
            if (near->photo == a->photo) {
                pose = &near->pose;
                least = far;
                break;
            }
        }
    if (!pose || !lf_mat3_invert(&pose->photo_from_frame, &frame_from_photo) ||
        !lf_mat3_apply(&frame_from_photo, (LfPoint){a->x, a->y}, &p) ||
        !lf_mat3_apply(&frame_from_photo, (LfPoint){b->x, b->y}, &q))
        return (double)NAN;
    return lf_lens_angle_deg(view->lens, p, q);
}

/* --- pairs of one walk ---------------------------------------------------------------------------
 */

static int64_t study_agreement_state(const LfPlace *place)
{
    return place->state == LF_STATE_BLOCKED ? -1 : place->state == LF_STATE_AWAY ? 0 : place->photo;
}

/* Counts a sample; the state that most have so far, the earlier one where two have as many. */
static int64_t study_agreement_most(GArray *counts, int64_t state)
{
    guint best = 0, i = 0;
    while (i < counts->len && g_array_index(counts, AgreementCount, i).state != state)
        i++;
    if (i == counts->len) {
        const AgreementCount fresh = {state, 0};
        g_array_append_val(counts, fresh);
    }
    g_array_index(counts, AgreementCount, i).samples++;
    for (i = 1; i < counts->len; i++)
        if (g_array_index(counts, AgreementCount, i).samples >
            g_array_index(counts, AgreementCount, best).samples)
            best = i;
    return g_array_index(counts, AgreementCount, best).state;
}

/* The pair that two placements make: the one at hand, or a new one. */
static AgreementPair *study_agreement_pair(AgreementGroup *group, int64_t first_id,
                                           int64_t second_id)
{
    GArray *pairs = group->pairs;
    const AgreementPair *last =
        pairs->len > 0 ? &g_array_index(pairs, AgreementPair, pairs->len - 1) : NULL;
    if (!last || last->first_id != first_id || last->second_id != second_id) {
        const AgreementPair fresh = {.first_id = first_id, .second_id = second_id};
        g_array_append_val(pairs, fresh);
        for (int side = 0; side < 2; side++)
            g_array_set_size(group->counts[side], 0);
    }
    return &g_array_index(pairs, AgreementPair, pairs->len - 1);
}

static void study_agreement_add(AgreementGroup *group, const StudyOverlay *a, const StudyOverlay *b,
                                AgreementView *view)
{
    AgreementPair *pair = study_agreement_pair(group, a->placement, b->placement);
    const int64_t state[2] = {study_agreement_state(&a->place), study_agreement_state(&b->place)};
    for (int side = 0; side < 2; side++)
        pair->state[side] = study_agreement_most(group->counts[side], state[side]);
    pair->samples++;
    if (state[0] > 0 && state[0] == state[1]) {
        double deg = study_agreement_deg(view, a->t_us, &a->place, &b->place);
        if (isfinite(deg)) {
            pair->angles++;
            pair->sum_deg += deg;
        }
    }
}

static GHashTable *study_agreement_who(LfStudy *study, int64_t walk, GError **error)
{
    g_autoptr(GHashTable) who = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error, "SELECT id, who FROM placement WHERE walk = ?");
    bool ok = false, row = false;
    if (!rows)
        return NULL;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        gint64 *id = g_new(gint64, 1);
        *id = sqlite3_column_int64(rows, 0);
        g_hash_table_insert(who, id, study_db_string(rows, 1));
    }
    return ok ? g_steal_pointer(&who) : NULL;
}

static bool study_agreement_blind(LfStudy *study, const StudyWalk *walk, const char *second,
                                  const LfSpan *span, const GArray *first, GHashTable *who,
                                  GPtrArray *groups, GError **error)
{
    const LfReviewer reviewer = {second, true};
    AgreementView view = {&walk->lens, span->poses, 0};
    g_autoptr(GArray) blind =
        study_overlay_load(study, &reviewer, walk->id, INT64_MIN, INT64_MAX, error);
    guint at = 0;
    if (!blind)
        return false;
    for (guint i = 0; i < blind->len; i++) {
        const StudyOverlay *b = &g_array_index(blind, StudyOverlay, i);
        const StudyOverlay *a = study_overlay_at(first, &at, b->t_us);
        const char *name = a ? g_hash_table_lookup(who, &a->placement) : NULL;
        /* Nobody is a second opinion on their own. */
        if (name && g_strcmp0(name, second) != 0)
            study_agreement_add(study_agreement_group(groups, name, second), a, b, &view);
    }
    return true;
}

static bool study_agreement_walk(LfStudy *study, int64_t id, GPtrArray *groups, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT DISTINCT who FROM placement WHERE walk = ? AND blind AND NOT lifted ORDER BY who");
    g_autoptr(GPtrArray) seconds = g_ptr_array_new_with_free_func(g_free);
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", id);
    while ((ok = study_db_step(study, rows, &row, error)) && row)
        g_ptr_array_add(seconds, study_db_string(rows, 0));
    if (!ok || seconds->len == 0)
        return ok;
    g_autoptr(StudyWalk) walk = study_walk_load(study, id, error);
    g_autoptr(LfSpan) span =
        walk ? study_span_load(study, NULL, id, INT64_MIN, INT64_MAX, error) : NULL;
    g_autoptr(GArray) first =
        span ? study_overlay_load(study, NULL, id, INT64_MIN, INT64_MAX, error) : NULL;
    g_autoptr(GHashTable) who = first ? study_agreement_who(study, id, error) : NULL;
    for (guint i = 0; i < seconds->len && who; i++)
        if (!study_agreement_blind(study, walk, seconds->pdata[i], span, first, who, groups, error))
            return false;
    return who != NULL;
}

/* --- from pairs to a row
 * -------------------------------------------------------------------------- */

static gint study_agreement_compare(gconstpointer a, gconstpointer b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Linear between ranks (R. Hyndman, Y. Fan, "Sample quantiles in statistical packages", The
 * American Statistician 50, 1996, definition 7). */
static double study_agreement_quantile(const GArray *sorted, double p)
{
    if (sorted->len == 0)
        return (double)NAN;
    double rank = p * (double)(sorted->len - 1);
    guint low = (guint)rank, high = MIN(low + 1, sorted->len - 1);
    double a = g_array_index(sorted, double, low), b = g_array_index(sorted, double, high);
    return a + (rank - (double)low) * (b - a);
}

/* Kappa and its 95% interval over the states of pairs; left NaN where chance explains it all. */
static void study_agreement_kappa(const GArray *pairs, LfAgreement *row)
{
    g_autoptr(GArray) states = g_array_new(FALSE, FALSE, sizeof(int64_t));
    g_autofree int *codes = g_new0(int, 2 * (gsize)pairs->len + 1);
    LfStatKappa kappa;
    for (int side = 0; side < 2; side++)
        for (guint i = 0; i < pairs->len; i++) {
            int64_t state = g_array_index(pairs, AgreementPair, i).state[side];
            guint k = 0;
            while (k < states->len && g_array_index(states, int64_t, k) != state)
                k++;
            if (k == states->len)
                g_array_append_val(states, state);
            codes[(gsize)side * pairs->len + i] = (int)k;
        }
    row->kappa = row->kappa_low = row->kappa_high = (double)NAN;
    if (!lf_stat_kappa(codes, codes + pairs->len, pairs->len, (int)states->len, 0.95, &kappa, NULL))
        return;
    row->kappa = kappa.kappa;
    row->kappa_low = kappa.interval.low;
    row->kappa_high = kappa.interval.high;
}

static LfAgreement *study_agreement_row(const AgreementGroup *group)
{
    g_autoptr(GArray) distances = g_array_new(FALSE, FALSE, sizeof(double));
    LfAgreement *row = g_new0(LfAgreement, 1);
    gsize same = 0;
    row->first = g_strdup(group->first);
    row->second = g_strdup(group->second);
    row->pairs = group->pairs->len;
    for (guint i = 0; i < group->pairs->len; i++) {
        const AgreementPair *pair = &g_array_index(group->pairs, AgreementPair, i);
        row->samples += pair->samples;
        same += pair->state[0] == pair->state[1];
        if (pair->angles > 0 && pair->state[0] == pair->state[1]) {
            double deg = pair->sum_deg / (double)pair->angles;
            g_array_append_val(distances, deg);
        }
    }
    g_array_sort(distances, study_agreement_compare);
    row->points = distances->len;
    row->median_deg = study_agreement_quantile(distances, 0.5);
    row->p95_deg = study_agreement_quantile(distances, 0.95);
    row->same_state = (double)same / (double)MAX(group->pairs->len, 1);
    study_agreement_kappa(group->pairs, row);
    return row;
}

static bool study_agreement_all(LfStudy *study, GPtrArray *groups, GError **error)
{
    g_autoptr(GArray) ids = study_walk_ids(study, NULL, error);
    for (guint i = 0; ids && i < ids->len; i++)
        if (!study_agreement_walk(study, g_array_index(ids, int64_t, i), groups, error))
            return false;
    return ids != NULL;
}

GPtrArray *lf_study_agreement(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) groups = g_ptr_array_new_with_free_func(study_agreement_group_free);
    g_autoptr(GPtrArray) rows = g_ptr_array_new_with_free_func(study_agreement_row_free);
    if (!study_db_begin_read(study, error) ||
        !study_db_end(study, study_agreement_all(study, groups, error), error))
        return NULL;
    for (guint i = 0; i < groups->len; i++)
        g_ptr_array_add(rows, study_agreement_row(groups->pdata[i]));
    if (groups->len > 1) {
        const AgreementGroup all = {.pairs = g_array_new(FALSE, FALSE, sizeof(AgreementPair))};
        for (guint i = 0; i < groups->len; i++) {
            const AgreementGroup *group = groups->pdata[i];
            g_array_append_vals(all.pairs, group->pairs->data, group->pairs->len);
        }
        g_ptr_array_add(rows, study_agreement_row(&all));
        g_array_unref(all.pairs);
    }
    return g_steal_pointer(&rows);
}
