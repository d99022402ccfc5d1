/* Following from tied points, in a thread of its own, for a reviewer who watches and then keeps the
 * result or not. Nothing is written to the study here. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include "desk/desk_route.h"

#define TIES_MOST 64   /* tied points of one job */
#define TIES_JOBS 8    /* jobs kept; the oldest goes first */
#define TIES_THREADS 2 /* of the decoder */

typedef enum { TIE_RUNNING, TIE_DONE, TIE_FAILED, TIE_CANCELLED } DeskTieState;

/* Shared with the job's thread; what the thread writes is read only after `state` has left RUNNING.
 */
typedef struct {
    int64_t id;
    LfStretch stretch;
    int64_t photo;
    char *said;    /* the ties, JSON */
    double before; /* confidence */

    LfStudyTie *tie;
    int cancel, done, total; /* atomic */

    int state; /* atomic, a DeskTieState */
    LfTied tied;
    GArray *places; /* LfTiedPlace */
    GError *error;
} DeskTie;

struct DeskTies {
    GQueue jobs; /* DeskTie, in an atomic box; oldest first */
    int64_t last_id;
};

static void desk_tie_clear(gpointer data)
{
    DeskTie *job = data;
    lf_study_tie_free(job->tie);
    lf_tied_clear(&job->tied);
    g_clear_pointer(&job->places, g_array_unref);
    g_clear_error(&job->error);
    g_free(job->said);
}

static void desk_tie_drop(gpointer job)
{
    g_atomic_int_set(&((DeskTie *)job)->cancel, 1);
    g_atomic_rc_box_release_full(job, desk_tie_clear);
}

struct DeskTies *desk_ties_new(void)
{
    return g_new0(struct DeskTies, 1);
}

void desk_ties_free(struct DeskTies *ties)
{
    if (ties)
        g_queue_clear_full(&ties->jobs, desk_tie_drop);
    g_free(ties);
}

static DeskTie *desk_tie_find(LfDesk *desk, int64_t id, GError **error)
{
    for (GList *link = desk->ties->jobs.head; link; link = link->next)
        if (((DeskTie *)link->data)->id == id)
            return link->data;
    desk_fail(error, DESK_NOT_FOUND, "There is no such preview any more; make it again.");
    return NULL;
}

/* --- in the job's thread ---------------------------------------------------------------------- */

static void desk_tie_progress(int64_t done, int64_t total, void *data)
{
    DeskTie *job = data;
    g_atomic_int_set(&job->done, (int)done);
    g_atomic_int_set(&job->total, (int)total);
}

static gpointer desk_tie_work(gpointer data)
{
    DeskTie *job = data;
    DeskTieState state = TIE_DONE;
    if (!lf_study_tie_run(job->tie, TIES_THREADS, desk_tie_progress, job, &job->cancel, &job->tied,
                          &job->error))
        state = g_atomic_int_get(&job->cancel) ? TIE_CANCELLED : TIE_FAILED;
    job->places = g_array_new(FALSE, FALSE, sizeof(LfTiedPlace));
    for (gsize i = 0; i < job->tied.n_samples; i++) {
        const LfTiedPlace place = lf_study_tie_place(job->tie, &job->tied.samples[i]);
        g_array_append_val(job->places, place);
    }
    g_atomic_int_set(&job->state, state);
    g_atomic_rc_box_release_full(job, desk_tie_clear);
    return NULL;
}

/* --- asking for one --------------------------------------------------------------------------- */

static bool desk_tie_read_one(JsonNode *node, LfTie *tie, GError **error)
{
    double frame[2], photo[2];
    if (!JSON_NODE_HOLDS_OBJECT(node))
        return desk_fail(error, DESK_BAD, "A tie must be an object with t_us, frame and photo.");
    JsonObject *object = json_node_get_object(node);
    if (!desk_body_int(object, "t_us", G_MININT64 / 2, G_MAXINT64 / 2, &tie->t_us, NULL, error) ||
        !desk_body_point(json_object_get_member(object, "frame"), "frame", frame, error) ||
        !desk_body_point(json_object_get_member(object, "photo"), "photo", photo, error))
        return false;
    tie->frame = (LfPoint){frame[0], frame[1]};
    tie->photo = (LfPoint){photo[0], photo[1]};
    return true;
}

/* What was tied, as it is kept with the placement. */
static char *desk_tie_say(const LfTie *ties, gsize n, int64_t photo)
{
    g_autoptr(GString) json = g_string_new(NULL);
    desk_json_open(json, '{');
    desk_json_put_int(json, "photo", photo);
    desk_json_key_open(json, "ties", '[');
    for (gsize i = 0; i < n; i++) {
        desk_json_open(json, '{');
        desk_json_put_int(json, "t_us", ties[i].t_us);
        desk_json_key_open(json, "frame", '[');
        desk_json_number(json, ties[i].frame.x, 3);
        desk_json_number(json, ties[i].frame.y, 3);
        desk_json_close(json, ']');
        desk_json_key_open(json, "photo", '[');
        desk_json_number(json, ties[i].photo.x, 3);
        desk_json_number(json, ties[i].photo.y, 3);
        desk_json_close(json, ']');
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
    desk_json_close(json, '}');
    return g_string_free(g_steal_pointer(&json), FALSE);
}

bool desk_post_tie(DeskCall *call, GError **error)
{
    struct DeskTies *jobs = call->desk->ties;
    g_autofree LfTie *ties = NULL;
    JsonArray *list;
    LfStretch stretch;
    const char *name;
    int64_t id, photo;
    if (!desk_call_name(call, &name, error) ||
        !desk_body_int(call->body, "stretch", 1, G_MAXINT64, &id, NULL, error) ||
        !desk_body_int(call->body, "photo", 1, G_MAXINT64, &photo, NULL, error) ||
        !desk_body_list(call->body, "ties", TIES_MOST, &list, NULL, error) ||
        !desk_stretch_find(call, id, &stretch, error) || !desk_photo(call->desk, photo, error))
        return false;
    gsize n = json_array_get_length(list);
    ties = g_new0(LfTie, n + 1);
    for (gsize i = 0; i < n; i++)
        if (!desk_tie_read_one(json_array_get_element(list, (guint)i), &ties[i], error))
            return false;
    g_autoptr(LfStudyTie) tie =
        lf_study_tie_new(call->desk->study, &stretch, photo, ties, n, error);
    if (!tie)
        return false;
    DeskTie *job = g_atomic_rc_box_new0(DeskTie);
    *job = (DeskTie){.id = ++jobs->last_id,
                     .stretch = stretch,
                     .photo = photo,
                     .said = desk_tie_say(ties, n, photo),
                     .before = stretch.confidence,
                     .tie = g_steal_pointer(&tie),
                     .state = TIE_RUNNING};
    g_queue_push_tail(&jobs->jobs, job);
    while (g_queue_get_length(&jobs->jobs) > TIES_JOBS)
        desk_tie_drop(g_queue_pop_head(&jobs->jobs));
    g_thread_unref(g_thread_new("tie", desk_tie_work, g_atomic_rc_box_acquire(job)));
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "job", job->id);
    desk_json_close(call->json, '}');
    call->status = SOUP_STATUS_ACCEPTED;
    return true;
}

/* --- the answer ------------------------------------------------------------------------------- */

static void desk_tie_column(GString *json, const char *name, const DeskTie *job,
                            double (*value)(const LfSampleCast *sample), int decimals)
{
    desk_json_key_open(json, name, '[');
    for (gsize i = 0; i < job->tied.n_samples; i++)
        desk_json_number(json, value(&job->tied.samples[i]), decimals);
    desk_json_close(json, ']');
}

static double desk_tie_x(const LfSampleCast *sample)
{
    return sample->x;
}

static double desk_tie_y(const LfSampleCast *sample)
{
    return sample->y;
}

static double desk_tie_confidence(const LfSampleCast *sample)
{
    return sample->confidence;
}

static double desk_tie_radius(const LfSampleCast *sample)
{
    return sample->radius_px;
}

static double desk_tie_state(const LfSampleCast *sample)
{
    return sample->state;
}

static void desk_tie_samples(GString *json, const DeskTie *job)
{
    desk_json_key_open(json, "samples", '{');
    desk_json_key_open(json, "t_us", '[');
    for (guint i = 0; i < job->places->len; i++)
        desk_json_int(json, g_array_index(job->places, LfTiedPlace, i).t_us);
    desk_json_close(json, ']');
    desk_tie_column(json, "state", job, desk_tie_state, 0);
    desk_json_key_open(json, "photo", '[');
    for (gsize i = 0; i < job->tied.n_samples; i++)
        if (job->tied.samples[i].photo < 0)
            desk_json_null(json);
        else
            desk_json_int(json, job->photo);
    desk_json_close(json, ']');
    desk_tie_column(json, "x", job, desk_tie_x, 2);
    desk_tie_column(json, "y", job, desk_tie_y, 2);
    desk_tie_column(json, "confidence", job, desk_tie_confidence, 4);
    desk_tie_column(json, "radius", job, desk_tie_radius, 2);
    desk_json_key_open(json, "cov", '[');
    for (gsize i = 0; i < job->tied.n_samples; i++) {
        const LfCov2 *cov = &job->tied.samples[i].cov;
        if (!isfinite(cov->xx)) {
            desk_json_null(json);
            continue;
        }
        desk_json_open(json, '[');
        desk_json_number(json, cov->xx, 3);
        desk_json_number(json, cov->xy, 3);
        desk_json_number(json, cov->yy, 3);
        desk_json_close(json, ']');
    }
    desk_json_close(json, ']');
    desk_json_close(json, '}');
}

/* Mean confidence of what has one, and the share of samples with gaze that are sure. */
static void desk_tie_worth(GString *json, const DeskTie *job)
{
    double sum = 0;
    gsize n = 0, gaze = 0, sure = 0;
    for (gsize i = 0; i < job->tied.n_samples; i++) {
        const LfSampleCast *sample = &job->tied.samples[i];
        gaze += sample->state != LF_STATE_LOST;
        sure += sample->state == LF_STATE_SURE;
        if (isfinite(sample->confidence)) {
            sum += sample->confidence;
            n++;
        }
    }
    desk_json_put_number(json, "confidence", n > 0 ? sum / (double)n : (double)NAN, 4);
    desk_json_put_number(json, "confidence_before", job->before, 4);
    desk_json_put_number(json, "sure", gaze > 0 ? (double)sure / (double)gaze : (double)NAN, 4);
}

static void desk_tie_write_result(GString *json, const DeskTie *job)
{
    desk_json_open(json, '{');
    desk_tie_samples(json, job);
    desk_json_key_open(json, "poses", '[');
    for (gsize i = 0; i < job->tied.n_poses; i++)
        desk_json_pose(json, job->photo, &job->tied.poses[i]);
    desk_json_close(json, ']');
    desk_json_key_open(json, "frames", '[');
    for (gsize i = 0; i < job->tied.n_frames; i++) {
        const LfTiedFrame *frame = &job->tied.frames[i];
        desk_json_open(json, '{');
        desk_json_put_int(json, "t_us", frame->t_us);
        desk_json_matrix(json, "m", &frame->photo_from_frame);
        desk_json_put_bool(json, "refined", frame->refined);
        desk_json_put_number(json, "miss_deg", frame->miss_deg, 4);
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
    desk_tie_worth(json, job);
    desk_json_close(json, '}');
}

bool desk_get_tie(DeskCall *call, GError **error)
{
    static const char *const names[] = {"running", "done", "failed", "cancelled"};
    DeskTie *job = desk_tie_find(call->desk, call->id, error);
    GString *json = call->json;
    if (!job)
        return false;
    int state = g_atomic_int_get(&job->state);
    desk_json_open(json, '{');
    desk_json_put_string(json, "state", names[state]);
    desk_json_put_int(json, "done", g_atomic_int_get(&job->done));
    desk_json_put_int(json, "total", g_atomic_int_get(&job->total));
    desk_json_put_string(json, "error", state == TIE_FAILED ? job->error->message : NULL);
    desk_json_key(json, "result");
    if (state == TIE_DONE)
        desk_tie_write_result(json, job);
    else
        desk_json_null(json);
    desk_json_close(json, '}');
    return true;
}

bool desk_delete_tie(DeskCall *call, GError **error)
{
    DeskTie *job = desk_tie_find(call->desk, call->id, error);
    if (!job)
        return false;
    g_queue_remove(&call->desk->ties->jobs, job);
    desk_tie_drop(job);
    desk_json_open(call->json, '{');
    desk_json_close(call->json, '}');
    return true;
}

bool desk_tie_result(LfDesk *desk, int64_t id, const LfStretch *stretch, const LfTiedPlace **places,
                     gsize *n, const char **said, GError **error)
{
    DeskTie *job = desk_tie_find(desk, id, error);
    if (!job)
        return false;
    if (g_atomic_int_get(&job->state) != TIE_DONE)
        return desk_fail(error, DESK_CONFLICT, "This preview is not ready.");
    if (job->stretch.id != stretch->id)
        return desk_fail(error, DESK_CONFLICT, "This preview is of another stretch.");
    *places = (const LfTiedPlace *)(const void *)job->places->data;
    *n = job->places->len;
    *said = job->said;
    return true;
}

bool desk_tie_pose(LfDesk *desk, int64_t id, int64_t t_us, LfMat3 *photo_from_frame)
{
    DeskTie *job = desk_tie_find(desk, id, NULL);
    if (!job || g_atomic_int_get(&job->state) != TIE_DONE)
        return false;
    for (gsize i = 0; i < job->tied.n_poses; i++)
        if (job->tied.poses[i].t_us == t_us) {
            *photo_from_frame = job->tied.poses[i].photo_from_frame;
            return true;
        }
    return false;
}
