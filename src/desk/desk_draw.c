/* Pictures of what people looked at, as they are asked for: made in a thread with a study of its
 * own, one at a time, since each takes a core for seconds. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include <lookfall/draw.h>

#include "desk/desk_route.h"

#define DRAW_WIDTH_MIN 200
#define DRAW_WIDTH_MOST 8000
#define DRAW_WAITING_MOST 16 /* pictures asked for and not made yet */

typedef struct {
    LfDesk *desk;
    SoupServerMessage *message;
    int gone; /* atomic: nobody waits any more */
    gulong finished;
    char *path; /* of the study */
    LfDrawSettings settings;
    LfDrawFormat format;
    LfDrawReport report;
    /* What the settings borrow. */
    char *photo, *title, *background, *span, *against;
    GStrv walks, groups;
} DrawJob;

static GMutex desk_draw_one_at_a_time;

static void desk_draw_free(gpointer data)
{
    DrawJob *job = data;
    char *const texts[] = {job->path,       job->photo, job->title,
                           job->background, job->span,  job->against};
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(texts[i]);
    g_strfreev(job->walks);
    g_strfreev(job->groups);
    g_clear_object(&job->message);
    lf_draw_report_clear(&job->report);
    g_free(job);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DrawJob, desk_draw_free)

/* --- what is asked for ------------------------------------------------------------------------ */

static bool desk_draw_flag(const DeskCall *call, const char *name, bool *value, GError **error)
{
    int64_t number = *value;
    if (!desk_query_int(call, name, 0, 1, &number, error))
        return false;
    *value = number != 0;
    return true;
}

static bool desk_draw_length(const DeskCall *call, const char *name, LfDrawLength *length,
                             GError **error)
{
    const char *text = desk_query_text(call, name);
    return !text || lf_draw_length_parse(text, length, error);
}

static bool desk_draw_span(const DeskCall *call, DrawJob *job, GError **error)
{
    int64_t from_us = 0, to_us = 0;
    if (!desk_query_int(call, "from_us", 0, G_MAXINT64 / 2, &from_us, error) ||
        !desk_query_int(call, "to_us", 1, G_MAXINT64 / 2, &to_us, error))
        return false;
    job->span = g_strdup(desk_query_text(call, "span"));
    job->settings.choice.span = job->span;
    if (desk_query_text(call, "from_us"))
        job->settings.choice.from_s = (double)from_us / 1e6;
    if (to_us)
        job->settings.choice.to_s = (double)to_us / 1e6;
    return true;
}

/* Walks by number, groups by name, parted by line breaks. */
static bool desk_draw_people(const DeskCall *call, DrawJob *job, GError **error)
{
    g_autoptr(GArray) ids = desk_query_list(call, "walk", error);
    g_autoptr(GStrvBuilder) names = g_strv_builder_new();
    const char *groups = desk_query_text(call, "group");
    if (!ids)
        return false;
    for (guint i = 0; i < ids->len; i++) {
        const LfStudyWalk *walk = desk_walk(call->desk, g_array_index(ids, int64_t, i), error);
        if (!walk)
            return false;
        g_strv_builder_add(names, walk->name);
    }
    job->walks = g_strv_builder_end(names);
    if (ids->len > 0)
        job->settings.choice.walks = (const char *const *)job->walks;
    if (groups) {
        job->groups = g_strsplit(groups, "\n", -1);
        job->settings.choice.groups = (const char *const *)job->groups;
    }
    return true;
}

static bool desk_draw_photo(const DeskCall *call, DrawJob *job, GError **error)
{
    int64_t id = 0;
    if (!desk_query_int(call, "photo", 1, G_MAXINT64, &id, error))
        return false;
    const LfStudyPhoto *photo = id ? desk_photo(call->desk, id, error) : NULL;
    if (id && !photo)
        return false;
    job->photo = photo ? g_strdup(photo->name) : NULL;
    job->settings.choice.photo = job->photo;
    return true;
}

static bool desk_draw_look(const DeskCall *call, DrawJob *job, GError **error)
{
    LfDrawSettings *s = &job->settings;
    const char *colours = desk_query_text(call, "colours");
    int64_t width = s->width_px, level = s->level;
    if (!desk_query_int(call, "width", DRAW_WIDTH_MIN, DRAW_WIDTH_MOST, &width, error) ||
        !desk_query_int(call, "level", 0, 100, &level, error) ||
        !desk_draw_length(call, "kernel", &s->kernel, error) ||
        !desk_draw_length(call, "radius", &s->radius, error) ||
        !desk_draw_flag(call, "doubtful", &s->choice.doubtful, error) ||
        !desk_draw_flag(call, "samples", &s->samples, error) ||
        !desk_draw_flag(call, "count", &s->count, error) ||
        !desk_draw_flag(call, "pooled", &s->pooled, error))
        return false;
    if (colours && !lf_draw_colours_from_name(colours, &s->colours))
        return desk_fail(error, DESK_BAD, "There are no colours called \"%.40s\".", colours);
    s->width_px = (int)width;
    s->level = (int)level;
    if ((job->title = g_strdup(desk_query_text(call, "title"))))
        s->title = job->title;
    if ((job->background = g_strdup(desk_query_text(call, "background"))))
        s->background = job->background;
    if ((job->against = g_strdup(desk_query_text(call, "against"))))
        s->against = job->against;
    return lf_draw_settings_check(s, error);
}

static bool desk_draw_read(const DeskCall *call, DrawJob *job, GError **error)
{
    static const char *const formats[] = {"png", "svg", "pdf"};
    const char *name = desk_query_text(call, "kind"), *format = desk_query_text(call, "format");
    LfDrawKind kind;
    gsize i = 0;
    if (!name || !lf_draw_kind_from_name(name, &kind))
        return desk_fail(error, DESK_BAD,
                         "\"kind\" must be heat, focus, scanpath, areas, timeline, transitions or "
                         "difference.");
    while (format && i < G_N_ELEMENTS(formats) && strcmp(format, formats[i]) != 0)
        i++;
    if (i == G_N_ELEMENTS(formats))
        return desk_fail(error, DESK_BAD, "\"format\" must be png, svg or pdf.");
    job->format = (LfDrawFormat)i;
    job->settings = lf_draw_settings_default(kind);
    return desk_draw_photo(call, job, error) && desk_draw_people(call, job, error) &&
           desk_draw_span(call, job, error) && desk_draw_look(call, job, error);
}

/* --- making it -------------------------------------------------------------------------------- */

static void desk_draw_work(GTask *task, G_GNUC_UNUSED gpointer source, gpointer data,
                           G_GNUC_UNUSED GCancellable *cancellable)
{
    DrawJob *job = data;
    GError *error = NULL;
    GBytes *bytes = NULL;
    g_mutex_lock(&desk_draw_one_at_a_time);
    if (g_atomic_int_get(&job->gone)) {
        desk_fail(&error, DESK_STOPPING, "Nobody waits for this picture any more.");
    } else {
        g_autoptr(LfStudy) study = lf_study_open(job->path, LF_STUDY_READ, &error);
        if (study)
            bytes = lf_draw_picture(study, &job->settings, job->format, &job->report, &error);
    }
    g_mutex_unlock(&desk_draw_one_at_a_time);
    if (bytes)
        g_task_return_pointer(task, bytes, (GDestroyNotify)g_bytes_unref);
    else
        g_task_return_error(task, error);
}

/* What stands behind the picture, as JSON in a header. */
static char *desk_draw_report(const LfDrawReport *report)
{
    g_autoptr(GString) json = g_string_new(NULL);
    desk_json_open(json, '{');
    desk_json_put_int(json, "width_px", report->width_px);
    desk_json_put_int(json, "height_px", report->height_px);
    desk_json_put_int(json, "people", (int64_t)report->people);
    desk_json_put_int(json, "walks", (int64_t)report->walks);
    desk_json_put_int(json, "walks_left_out", (int64_t)report->undone);
    desk_json_put_int(json, "looks", (int64_t)report->looks);
    desk_json_put_number(json, "look_s", report->look_s, 3);
    desk_json_put_number(json, "gaze_s", report->gaze_s, 3);
    desk_json_put_number(json, "unsettled_s", report->unsettled_s, 3);
    desk_json_close(json, '}');
    return g_string_free(g_steal_pointer(&json), FALSE);
}

static void desk_draw_gone(G_GNUC_UNUSED SoupServerMessage *message, gpointer data)
{
    g_atomic_int_set(&((DrawJob *)data)->gone, 1);
}

static void desk_draw_done(G_GNUC_UNUSED GObject *source, GAsyncResult *result,
                           G_GNUC_UNUSED gpointer data)
{
    DrawJob *job = g_task_get_task_data(G_TASK(result));
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) bytes = g_task_propagate_pointer(G_TASK(result), &error);
    job->desk->pending--;
    job->desk->drawing--;
    g_signal_handler_disconnect(job->message, job->finished);
    if (job->gone)
        return;
    if (bytes) {
        g_autofree char *report = desk_draw_report(&job->report);
        desk_answer_bytes(job->message, SOUP_STATUS_OK, lf_draw_format_mime(job->format), bytes);
        soup_message_headers_replace(soup_server_message_get_response_headers(job->message),
                                     "Lookfall-Picture", report);
    } else {
        desk_answer_error(job->message, error);
    }
    soup_server_message_unpause(job->message);
}

bool desk_get_draw(DeskCall *call, GError **error)
{
    LfDesk *desk = call->desk;
    g_autoptr(DrawJob) job = g_new0(DrawJob, 1);
    if (!desk_fresh(desk, error) || !desk_draw_read(call, job, error))
        return false;
    if (desk->drawing >= DRAW_WAITING_MOST)
        return desk_fail(error, DESK_BUSY,
                         "Many pictures are waiting to be made; ask again later.");
    job->desk = desk;
    job->path = g_strdup(desk->path);
    job->message = g_object_ref(call->message);
    job->finished = g_signal_connect(call->message, "finished", G_CALLBACK(desk_draw_gone), job);
    soup_server_message_pause(call->message);
    g_autoptr(GTask) task = g_task_new(NULL, NULL, desk_draw_done, NULL);
    g_task_set_task_data(task, g_steal_pointer(&job), desk_draw_free);
    desk->pending++;
    desk->drawing++;
    g_task_run_in_thread(task, desk_draw_work);
    call->answered = true;
    return true;
}
