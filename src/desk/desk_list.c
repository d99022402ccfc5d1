/* The worklist: which stretches, in which order, and how far the work has come. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include "desk/desk_route.h"

#define LIST_MOST_SHARE 0.9 /* of the gaze time left, that progress tells the work for */
#define LIST_COUNT_MOST 1000

/* --- reasons ---------------------------------------------------------------------------------- */

static const struct {
    int reason;
    const char *words;
    bool listed;
} desk_reasons[] = {
    {LF_DOUBT_BLUR, "the picture is smeared", true},
    {LF_DOUBT_FRONT, "something may stand in front", true},
    {LF_DOUBT_ALIKE, "two places look alike", true},
    {LF_DOUBT_LITTLE, "too little of the photo in view", true},
    {LF_DOUBT_CHANGED, "the shelf differs from the photo", true},
    {LF_DOUBT_GAP, "not found in these frames, carried over from others", true},
    {LF_DOUBT_DEPTH, "things at different depths", true},
    {LF_REASON_UNCLEAR, "no single reason stands out", true},
    {LF_REASON_BLOCKED, "something stands in front", false},
    {LF_REASON_UNSEEN, "the photo is not found, but is before and after", false},
};

bool desk_reason_listed(int reason)
{
    return reason != LF_REASON_BLOCKED && reason != LF_REASON_UNSEEN;
}

void desk_json_reasons(GString *json)
{
    desk_json_key_open(json, "reasons", '[');
    for (gsize i = 0; i < G_N_ELEMENTS(desk_reasons); i++) {
        desk_json_open(json, '{');
        desk_json_put_string(json, "id", lf_reason_name(desk_reasons[i].reason));
        desk_json_put_string(json, "words", desk_reasons[i].words);
        desk_json_put_bool(json, "listed", desk_reasons[i].listed);
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
}

/* --- the list in memory ----------------------------------------------------------------------- */

static int64_t desk_list_stake_us(const LfStretch *stretch)
{
    return stretch->samples * stretch->interval_us;
}

static int64_t desk_list_left_us(const LfStretch *stretch)
{
    return stretch->left * stretch->interval_us;
}

/* Most gaze time first; what the engine is not in doubt of comes last. */
static gint desk_list_by_stake(gconstpointer a, gconstpointer b)
{
    const LfStretch *x = *(const LfStretch *const *)a, *y = *(const LfStretch *const *)b;
    bool listed_x = desk_reason_listed(x->reason), listed_y = desk_reason_listed(y->reason);
    if (listed_x != listed_y)
        return listed_y - listed_x;
    int64_t stake_x = desk_list_stake_us(x), stake_y = desk_list_stake_us(y);
    if (stake_x != stake_y)
        return (stake_x < stake_y) - (stake_x > stake_y);
    return (x->id > y->id) - (x->id < y->id);
}

/* Whether a blind reviewer gets a stretch: evenly over all, and always the same ones, also after
 * they were worked out anew. */
static bool desk_list_drawn(const DeskSession *session, const LfStretch *stretch)
{
    if (!session->blind)
        return true;
    g_autofree char *key = g_strdup_printf(
        "%s %" G_GINT64_FORMAT " %" G_GINT64_FORMAT " %" G_GINT64_FORMAT, session->reviewer,
        (gint64)stretch->walk, (gint64)stretch->from_us, (gint64)stretch->to_us);
    g_autofree char *hash = g_compute_checksum_for_string(G_CHECKSUM_SHA256, key, -1);
    hash[8] = '\0';
    return (double)g_ascii_strtoull(hash, NULL, 16) / 4294967296.0 < session->blind_share;
}

void desk_list_free(gpointer data)
{
    DeskList *list = data;
    g_clear_pointer(&list->stretches, g_array_unref);
    if (list->progress)
        g_string_free(list->progress, TRUE);
    g_free(list);
}

static void desk_list_minutes(GString *json, const char *name, double pace_s, guint stretches)
{
    desk_json_put_number(json, name, pace_s * (double)stretches / 60, 1);
}

/* What is to be done for most of the gaze time left. `left` holds unsettled stretches. */
static void desk_list_most(GString *json, GPtrArray *left, int64_t left_us, double pace_s)
{
    int64_t sum_us = 0;
    guint n = 0;
    g_ptr_array_sort(left, desk_list_by_stake);
    while (n < left->len && (double)sum_us < LIST_MOST_SHARE * (double)left_us)
        sum_us += desk_list_left_us(left->pdata[n++]);
    desk_json_key_open(json, "most", '{');
    desk_json_put_number(json, "share", LIST_MOST_SHARE, 3);
    desk_json_put_int(json, "stretches", n);
    desk_list_minutes(json, "minutes", pace_s, n);
    desk_json_close(json, '}');
}

static void desk_list_write_progress(LfDesk *desk, DeskList *list, double pace_s)
{
    GString *json = list->progress = g_string_new(NULL);
    g_autoptr(GPtrArray) left = g_ptr_array_new();
    int64_t stake_us = 0, left_us = 0;
    guint n = 0;
    for (guint i = 0; i < list->stretches->len; i++) {
        LfStretch *stretch = &g_array_index(list->stretches, LfStretch, i);
        if (!desk_reason_listed(stretch->reason))
            continue;
        n++;
        stake_us += desk_list_stake_us(stretch);
        left_us += desk_list_left_us(stretch);
        if (stretch->left > 0)
            g_ptr_array_add(left, stretch);
    }
    g_autofree char *version = g_strdup_printf("%" G_GINT64_FORMAT, (gint64)list->version);
    desk_json_open(json, '{');
    desk_json_put_string(json, "version", version);
    desk_json_put_int(json, "preparing", desk->preparing);
    desk_json_put_int(json, "stretches", n);
    desk_json_put_int(json, "settled", n - left->len);
    desk_json_put_int(json, "stake_us", stake_us);
    desk_json_put_int(json, "settled_us", stake_us - left_us);
    desk_json_put_int(json, "left_us", left_us);
    desk_json_put_number(json, "share",
                         stake_us > 0 ? (double)(stake_us - left_us) / (double)stake_us : 1, 4);
    desk_json_put_number(json, "pace_s", pace_s, 2);
    desk_list_minutes(json, "minutes_left", pace_s, left->len);
    desk_list_most(json, left, left_us, pace_s);
    desk_json_close(json, '}');
}

static DeskList *desk_list_load(LfDesk *desk, const DeskSession *session, int64_t version,
                                GError **error)
{
    const LfReviewer reviewer = desk_reviewer(session);
    g_autoptr(GArray) all = lf_study_stretches(desk->study, &reviewer, error);
    double pace_s;
    if (!all || !lf_study_review_pace(desk->study, &reviewer, &pace_s, error))
        return NULL;
    DeskList *list = g_new0(DeskList, 1);
    list->version = version;
    list->stretches = g_array_sized_new(FALSE, FALSE, sizeof(LfStretch), all->len);
    for (guint i = 0; i < all->len; i++)
        if (desk_list_drawn(session, &g_array_index(all, LfStretch, i)))
            g_array_append_val(list->stretches, g_array_index(all, LfStretch, i));
    desk_list_write_progress(desk, list, pace_s);
    return list;
}

const DeskList *desk_list(LfDesk *desk, const DeskSession *session, GError **error)
{
    int64_t version;
    if (!desk_fresh(desk, error) || !lf_study_review_version(desk->study, &version, error))
        return NULL;
    const LfReviewer reviewer = desk_reviewer(session);
    /* Pace and blind share are the session's own. */
    g_autofree char *key = g_strdup_printf("%d %.6f %s", reviewer.blind, session->blind_share,
                                           session->reviewer ? session->reviewer : "");
    DeskList *list = g_hash_table_lookup(desk->lists, key);
    if (list && list->version == version)
        return list;
    if (!(list = desk_list_load(desk, session, version, error)))
        return NULL;
    g_hash_table_replace(desk->lists, g_steal_pointer(&key), list);
    return list;
}

/* --- filters ---------------------------------------------------------------------------------- */

typedef struct {
    GArray *walks, *photos; /* int64_t; empty: all */
    guint64 reasons;        /* bits; all listed ones where not told */
    bool settled, unsettled;
    bool by_time;
} DeskFilter;

static void desk_filter_clear(DeskFilter *filter)
{
    g_clear_pointer(&filter->walks, g_array_unref);
    g_clear_pointer(&filter->photos, g_array_unref);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DeskFilter, desk_filter_clear)

static guint64 desk_filter_bit(int reason)
{
    return G_GUINT64_CONSTANT(1) << reason;
}

static bool desk_filter_reasons(const DeskCall *call, DeskFilter *filter, GError **error)
{
    const char *text = desk_query_text(call, "reason");
    g_auto(GStrv) words = g_strsplit(text ? text : "", ",", 64);
    for (gsize i = 0; words[i]; i++) {
        int reason = lf_reason_from_name(words[i]);
        if (reason < 0)
            return desk_fail(error, DESK_BAD, "There is no reason called \"%.40s\".", words[i]);
        filter->reasons |= desk_filter_bit(reason);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(desk_reasons) && !words[0]; i++)
        if (desk_reasons[i].listed)
            filter->reasons |= desk_filter_bit(desk_reasons[i].reason);
    return true;
}

static bool desk_filter_read(const DeskCall *call, DeskFilter *filter, GError **error)
{
    const char *settled = desk_query_text(call, "settled"), *order = desk_query_text(call, "order");
    if (!(filter->walks = desk_query_list(call, "walk", error)) ||
        !(filter->photos = desk_query_list(call, "photo", error)) ||
        !desk_filter_reasons(call, filter, error))
        return false;
    filter->unsettled = !settled || !strcmp(settled, "no") || !strcmp(settled, "all");
    filter->settled = settled && (!strcmp(settled, "yes") || !strcmp(settled, "all"));
    if (!filter->unsettled && !filter->settled)
        return desk_fail(error, DESK_BAD, "\"settled\" must be no, yes or all.");
    filter->by_time = order && strcmp(order, "time") == 0;
    if (order && !filter->by_time && strcmp(order, "stake") != 0)
        return desk_fail(error, DESK_BAD, "\"order\" must be stake or time.");
    return true;
}

static bool desk_filter_holds(const GArray *ids, int64_t id)
{
    for (guint i = 0; i < ids->len; i++)
        if (g_array_index(ids, int64_t, i) == id)
            return true;
    return ids->len == 0;
}

/* How a stretch passes: all filters, all but the reasons, all but the walks. */
typedef struct {
    bool all, but_reason, but_walk;
} DeskPass;

static DeskPass desk_filter_pass(const DeskFilter *filter, const LfStretch *stretch)
{
    bool settled = stretch->left > 0 ? filter->unsettled : filter->settled;
    bool photo = settled && desk_filter_holds(filter->photos, stretch->photo);
    bool walk = desk_filter_holds(filter->walks, stretch->walk);
    bool reason = (filter->reasons & desk_filter_bit(stretch->reason)) != 0;
    return (DeskPass){photo && walk && reason, photo && walk, photo && reason};
}

/* Borrowed stretches that pass, in order. */
static GPtrArray *desk_filter_apply(const DeskFilter *filter, const DeskList *list)
{
    GPtrArray *rows = g_ptr_array_new();
    for (guint i = 0; i < list->stretches->len; i++) {
        LfStretch *stretch = &g_array_index(list->stretches, LfStretch, i);
        if (desk_filter_pass(filter, stretch).all)
            g_ptr_array_add(rows, stretch);
    }
    if (!filter->by_time) /* the list is by walk and time */
        g_ptr_array_sort(rows, desk_list_by_stake);
    return rows;
}

/* --- answers ---------------------------------------------------------------------------------- */

bool desk_list_summary(LfDesk *desk, const DeskSession *session, GString *json,
                       const LfStretch *stretch, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(session);
    desk_json_open(json, '{');
    desk_json_put_int(json, "id", stretch->id);
    desk_json_put_int(json, "walk", stretch->walk);
    desk_json_put_int(json, "from_us", stretch->from_us);
    desk_json_put_int(json, "to_us", stretch->to_us);
    desk_json_put_id(json, "photo", stretch->photo);
    desk_json_put_string(json, "reason", lf_reason_name(stretch->reason));
    desk_json_put_int(json, "samples", stretch->samples);
    desk_json_put_int(json, "stake_us", desk_list_stake_us(stretch));
    desk_json_put_int(json, "left_us", desk_list_left_us(stretch));
    desk_json_put_bool(json, "settled", stretch->left == 0);
    desk_json_put_number(json, "confidence", stretch->confidence, 3);
    desk_json_key_open(json, "by", '[');
    if (stretch->left < stretch->samples) {
        g_autoptr(GPtrArray) names = lf_study_placed_by(desk->study, &reviewer, stretch->walk,
                                                        stretch->from_us, stretch->to_us, error);
        if (!names)
            return false;
        for (guint i = 0; i < names->len; i++)
            desk_json_string(json, names->pdata[i]);
    }
    desk_json_close(json, ']');
    return true;
}

static bool desk_list_rows(DeskCall *call, const GPtrArray *rows, gsize from, gsize count,
                           GError **error)
{
    desk_json_key_open(call->json, "rows", '[');
    for (gsize i = from; i < rows->len && i - from < count; i++) {
        if (!desk_list_summary(call->desk, call->session, call->json, rows->pdata[i], error))
            return false;
        desk_json_close(call->json, '}');
    }
    desk_json_close(call->json, ']');
    return true;
}

/* Counts by reason and by walk, each under the other filters. */
static void desk_list_counts(DeskCall *call, const DeskFilter *filter, const DeskList *list)
{
    guint reasons[64] = {0}, n = 0;
    int64_t walk = 0, left_us = 0;
    for (guint i = 0; i < list->stretches->len; i++) {
        const LfStretch *stretch = &g_array_index(list->stretches, LfStretch, i);
        reasons[stretch->reason] += desk_filter_pass(filter, stretch).but_reason;
    }
    desk_json_key_open(call->json, "reasons", '{');
    for (gsize i = 0; i < G_N_ELEMENTS(desk_reasons); i++)
        if (reasons[desk_reasons[i].reason] > 0)
            desk_json_put_int(call->json, lf_reason_name(desk_reasons[i].reason),
                              reasons[desk_reasons[i].reason]);
    desk_json_close(call->json, '}');
    desk_json_key_open(call->json, "by_walk", '[');
    for (guint i = 0; i <= list->stretches->len; i++) {
        const LfStretch *stretch =
            i < list->stretches->len ? &g_array_index(list->stretches, LfStretch, i) : NULL;
        if (n > 0 && (!stretch || stretch->walk != walk)) {
            desk_json_open(call->json, '[');
            desk_json_int(call->json, walk);
            desk_json_int(call->json, n);
            desk_json_int(call->json, left_us);
            desk_json_close(call->json, ']');
        }
        if (!stretch)
            break;
        if (stretch->walk != walk) {
            n = 0;
            left_us = 0;
        }
        walk = stretch->walk;
        if (desk_filter_pass(filter, stretch).but_walk) {
            n++;
            left_us += desk_list_left_us(stretch);
        }
    }
    desk_json_close(call->json, ']');
}

bool desk_get_worklist(DeskCall *call, GError **error)
{
    g_auto(DeskFilter) filter = {0};
    int64_t from = 0, count = 100, stake_us = 0, left_us = 0;
    if (!desk_filter_read(call, &filter, error) ||
        !desk_query_int(call, "from", 0, G_MAXINT32, &from, error) ||
        !desk_query_int(call, "count", 0, LIST_COUNT_MOST, &count, error))
        return false;
    const DeskList *list = desk_list(call->desk, call->session, error);
    if (!list)
        return false;
    g_autoptr(GPtrArray) rows = desk_filter_apply(&filter, list);
    for (guint i = 0; i < rows->len; i++) {
        stake_us += desk_list_stake_us(rows->pdata[i]);
        left_us += desk_list_left_us(rows->pdata[i]);
    }
    g_autofree char *version = g_strdup_printf("%" G_GINT64_FORMAT, (gint64)list->version);
    desk_json_open(call->json, '{');
    desk_json_put_string(call->json, "version", version);
    desk_json_put_int(call->json, "total", rows->len);
    desk_json_put_int(call->json, "stake_us", stake_us);
    desk_json_put_int(call->json, "left_us", left_us);
    desk_json_put_int(call->json, "from", from);
    if (!desk_list_rows(call, rows, (gsize)from, (gsize)count, error))
        return false;
    desk_list_counts(call, &filter, list);
    desk_json_put_raw(call->json, "progress", list->progress->str);
    desk_json_close(call->json, '}');
    return true;
}

/* Where the stretch is, or would be, among rows of the same order. */
static guint desk_list_place(const GPtrArray *rows, const DeskFilter *filter,
                             const LfStretch *stretch)
{
    guint i = 0;
    for (; i < rows->len; i++) {
        const LfStretch *row = rows->pdata[i];
        bool before = filter->by_time
                          ? row->walk < stretch->walk ||
                                (row->walk == stretch->walk && row->from_us < stretch->from_us)
                          : desk_list_by_stake(&row, &stretch) < 0;
        if (!before)
            break;
    }
    return i;
}

/* After the answer has gone: decoding ahead must not keep anybody waiting. */
static gboolean desk_list_ahead(gpointer data)
{
    LfDesk *desk = data;
    for (guint i = desk->ahead->len; i > 0; i--) { /* the latest wish comes first */
        const LfStretch *stretch = &g_array_index(desk->ahead, LfStretch, i - 1);
        g_autoptr(LfSpan) span =
            lf_study_span(desk->study, NULL, stretch->walk, stretch->from_us, stretch->to_us, NULL);
        DeskVideo *video = span ? desk_walk_video(desk, stretch->walk, NULL) : NULL;
        if (video)
            desk_frames_ahead(desk->frames, video,
                              desk_video_frame_at(video, desk_stretch_show_us(span, stretch)), 1,
                              true);
    }
    g_array_set_size(desk->ahead, 0);
    desk->ahead_source = 0;
    return G_SOURCE_REMOVE;
}

bool desk_list_neighbours(DeskCall *call, const LfStretch *stretch, bool before, int64_t count,
                          const char *name, GError **error)
{
    g_auto(DeskFilter) filter = {0};
    const DeskList *list =
        desk_filter_read(call, &filter, error) ? desk_list(call->desk, call->session, error) : NULL;
    if (!list)
        return false;
    filter.unsettled = true;
    filter.settled = false;
    g_autoptr(GPtrArray) rows = desk_filter_apply(&filter, list);
    guint at = desk_list_place(rows, &filter, stretch);
    bool in = at < rows->len && ((const LfStretch *)rows->pdata[at])->id == stretch->id;
    guint others = rows->len - in, n = (guint)MIN(count, others);
    desk_json_key_open(call->json, name, '[');
    for (guint i = 0; i < n; i++) {
        guint k = before ? (at + rows->len - 1 - i) % rows->len : (at + in + i) % rows->len;
        if (!desk_list_summary(call->desk, call->session, call->json, rows->pdata[k], error))
            return false;
        desk_json_close(call->json, '}');
        g_array_append_vals(call->desk->ahead, rows->pdata[k], 1);
    }
    desk_json_close(call->json, ']');
    if (n > 0 && !call->desk->ahead_source)
        call->desk->ahead_source = g_idle_add(desk_list_ahead, call->desk);
    return true;
}

bool desk_list_progress(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    LfReviewStep undo, redo;
    const DeskList *list = desk_list(call->desk, call->session, error);
    if (!list || !lf_study_review_steps(call->desk->study, &reviewer, &undo, &redo, error))
        return false;
    desk_json_put_raw(call->json, "progress", list->progress->str);
    desk_json_step(call->json, "undo", &undo);
    desk_json_step(call->json, "redo", &redo);
    return true;
}
