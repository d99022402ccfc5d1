/* Pictures: frames of walks, photos, and how a photo lies on a frame. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include "desk/desk_route.h"
#include "shim.h"

#define PICTURE_QUALITY 86       /* of a frame made smaller */
#define PICTURE_LOUPE_QUALITY 95 /* of what is looked at closely */
#define PICTURE_WIDTH_MIN 16
#define PICTURE_AHEAD 10      /* frames decoded ahead of one that is stepped to */
#define PICTURE_BACK 8        /* of one that is stepped back from */
#define PICTURE_PLAY 40       /* of one that is played */
#define PICTURE_MEMORY_MOST 6 /* photos kept as JPEG */
#define PICTURE_COLUMNS 25
#define PICTURE_ROWS 17

/* --- frames ----------------------------------------------------------------------------------- */

/* A request that waits for its frame. */
typedef struct {
    SoupServerMessage *message;
    int gone; /* atomic: nobody waits any more */
    gulong finished;
} PictureWait;

static void desk_picture_finished(SoupServerMessage *message, gpointer data)
{
    PictureWait *wait = data;
    (void)message;
    g_atomic_int_set(&wait->gone, 1);
}

static void desk_picture_done(GBytes *jpeg, const GError *error, gpointer data)
{
    PictureWait *wait = data;
    g_signal_handler_disconnect(wait->message, wait->finished);
    if (!wait->gone) {
        if (jpeg) {
            desk_answer_bytes(wait->message, SOUP_STATUS_OK, "image/jpeg", jpeg);
            soup_message_headers_replace(soup_server_message_get_response_headers(wait->message),
                                         "Cache-Control", "private, max-age=600");
        } else {
            g_autoptr(GError) none = NULL;
            if (!error)
                desk_fail(&none, DESK_STOPPING, "The desk is ending.");
            desk_answer_error(wait->message, error ? error : none);
        }
        soup_server_message_unpause(wait->message);
    }
    g_object_unref(wait->message);
    g_free(wait);
}

/* The part of the frame that is wanted, and its size. */
static bool desk_picture_cut(DeskCall *call, const LfVideoInfo *info, DeskCut *cut, GError **error)
{
    int64_t x = 0, y = 0, w = info->width, h = info->height, width = 0;
    if (!desk_query_int(call, "x", 0, info->width - 2, &x, error) ||
        !desk_query_int(call, "y", 0, info->height - 2, &y, error) ||
        !desk_query_int(call, "w", 2, info->width, &w, error) ||
        !desk_query_int(call, "h", 2, info->height, &h, error) ||
        !desk_query_int(call, "width", PICTURE_WIDTH_MIN, 4 * info->width, &width, error))
        return false;
    w = MIN(w, info->width - x);
    h = MIN(h, info->height - y);
    bool part = w < info->width || h < info->height;
    int64_t out = width > 0 ? (part ? width : MIN(width, w)) : w;
    *cut = (DeskCut){.x = (int)x,
                     .y = (int)y,
                     .width = (int)w,
                     .height = (int)h,
                     .out_width = (int)out,
                     .out_height = (int)MAX(1, (h * out + w / 2) / w),
                     .quality = out < w ? PICTURE_QUALITY : PICTURE_LOUPE_QUALITY};
    return true;
}

/* Whoever steps back frame by frame wants more of them: they are decoded a few at a time, for each
 * time decoding begins at a key frame. */
static void desk_picture_back(LfDesk *desk, DeskVideo *video, gsize frame)
{
    bool back = desk->last_walk == video->walk && frame < desk->last_frame &&
                desk->last_frame - frame <= PICTURE_BACK;
    desk->last_walk = video->walk;
    desk->last_frame = frame;
    if (back && frame > 0)
        desk_frames_ahead(desk->frames, video, frame > PICTURE_BACK ? frame - PICTURE_BACK : 0,
                          MIN(frame, PICTURE_BACK), true);
}

bool desk_get_frame(DeskCall *call, GError **error)
{
    int64_t walk, t_us, play = 0, ahead = 0;
    DeskCut cut;
    if (!desk_query_needed(call, "walk", 1, G_MAXINT64, &walk, error) ||
        !desk_query_needed(call, "t_us", G_MININT64 / 2, G_MAXINT64 / 2, &t_us, error) ||
        !desk_query_int(call, "play", 0, 1, &play, error) ||
        !desk_query_int(call, "ahead", 0, 1, &ahead, error))
        return false;
    DeskVideo *video = desk_walk_video(call->desk, walk, error);
    if (!video || !desk_picture_cut(call, &video->index->info, &cut, error))
        return false;
    gsize frame = desk_video_frame_at(video, t_us);
    g_autofree char *frame_us =
        g_strdup_printf("%" G_GINT64_FORMAT, (gint64)video->index->frame_us[frame]);
    SoupMessageHeaders *to = soup_server_message_get_response_headers(call->message);
    soup_message_headers_replace(to, "Lookfall-Frame-Us", frame_us);
    call->answered = true;
    if (ahead) {
        desk_frames_ahead(call->desk->frames, video, frame, 1, true);
        desk_answer_headers(call->message);
        soup_server_message_set_status(call->message, SOUP_STATUS_NO_CONTENT, NULL);
        return true;
    }
    PictureWait *wait = g_new0(PictureWait, 1);
    wait->message = g_object_ref(call->message);
    wait->finished =
        g_signal_connect(call->message, "finished", G_CALLBACK(desk_picture_finished), wait);
    soup_server_message_pause(call->message);
    desk_frames_get(call->desk->frames, video, frame, &cut, &wait->gone, desk_picture_done, wait);
    desk_picture_back(call->desk, video, frame);
    desk_frames_ahead(call->desk->frames, video, frame + 1, play ? PICTURE_PLAY : PICTURE_AHEAD,
                      play != 0);
    return true;
}

/* --- photos ----------------------------------------------------------------------------------- */

/* Reading and encoding a large photo takes a second: in a thread, so that the desk goes on. */
typedef struct {
    LfDesk *desk;
    SoupServerMessage *message;
    int gone; /* nobody waits any more */
    gulong finished;
    char *name, *path, *key;
    int width;
} PicturePhoto;

static void desk_picture_photo_free(gpointer data)
{
    PicturePhoto *photo = data;
    g_object_unref(photo->message);
    g_free(photo->name);
    g_free(photo->path);
    g_free(photo->key);
    g_free(photo);
}

static void desk_picture_photo_gone(SoupServerMessage *message, gpointer data)
{
    PicturePhoto *photo = data;
    (void)message;
    photo->gone = 1;
}

static void desk_picture_photo_work(GTask *task, gpointer source, gpointer data,
                                    GCancellable *cancellable)
{
    const PicturePhoto *photo = data;
    GError *error = NULL;
    uint8_t *rgb = NULL;
    int w, h;
    char why[LF_SHIM_MESSAGE];
    (void)source;
    (void)cancellable;
    int status = lf_shim_read_rgb(photo->path, photo->width, 0, &rgb, &w, &h, NULL, NULL, why);
    if (status != LF_SHIM_OK) {
        desk_fail(&error, status == LF_SHIM_BAD_INPUT ? DESK_NOT_FOUND : DESK_FAILED,
                  "The picture of the photo %s cannot be shown (%s): %s", photo->name, why,
                  photo->path);
        g_task_return_error(task, error);
        return;
    }
    GBytes *jpeg = lf_jpeg_from_rgb(rgb, (ptrdiff_t)3 * w, w, h, PICTURE_LOUPE_QUALITY, &error);
    lf_shim_free(rgb);
    if (jpeg)
        g_task_return_pointer(task, jpeg, (GDestroyNotify)g_bytes_unref);
    else
        g_task_return_error(task, error);
}

/* The address tells the photo's checksum, so the browser may keep what it got. */
static void desk_picture_photo_answer(SoupServerMessage *message, GBytes *jpeg)
{
    desk_answer_bytes(message, SOUP_STATUS_OK, "image/jpeg", jpeg);
    soup_message_headers_replace(soup_server_message_get_response_headers(message), "Cache-Control",
                                 "private, max-age=3600");
}

static void desk_picture_photo_done(GObject *source, GAsyncResult *result, gpointer data)
{
    PicturePhoto *photo = g_task_get_task_data(G_TASK(result));
    LfDesk *desk = photo->desk;
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) jpeg = g_task_propagate_pointer(G_TASK(result), &error);
    (void)source;
    (void)data;
    desk->pending--;
    if (jpeg && g_hash_table_size(desk->pictures) >= PICTURE_MEMORY_MOST)
        g_hash_table_remove_all(desk->pictures);
    if (jpeg)
        g_hash_table_replace(desk->pictures, g_strdup(photo->key), g_bytes_ref(jpeg));
    g_signal_handler_disconnect(photo->message, photo->finished);
    if (photo->gone)
        return;
    if (jpeg)
        desk_picture_photo_answer(photo->message, jpeg);
    else
        desk_answer_error(photo->message, error);
    soup_server_message_unpause(photo->message);
}

bool desk_get_photo(DeskCall *call, GError **error)
{
    LfDesk *desk = call->desk;
    const LfStudyPhoto *photo = desk_photo(desk, call->id, error);
    int64_t width = 0;
    if (!photo ||
        !desk_query_int(call, "width", PICTURE_WIDTH_MIN, photo->report.width, &width, error))
        return false;
    g_autofree char *key =
        g_strdup_printf("%s %d", photo->sha256, width < photo->report.width ? (int)width : 0);
    GBytes *jpeg = g_hash_table_lookup(desk->pictures, key);
    call->answered = true;
    if (jpeg) {
        desk_picture_photo_answer(call->message, jpeg);
        return true;
    }
    PicturePhoto *job = g_new0(PicturePhoto, 1);
    *job = (PicturePhoto){.desk = desk,
                          .message = g_object_ref(call->message),
                          .name = g_strdup(photo->name),
                          .path = g_strdup(photo->path),
                          .key = g_steal_pointer(&key),
                          .width = (int)width};
    job->finished =
        g_signal_connect(call->message, "finished", G_CALLBACK(desk_picture_photo_gone), job);
    soup_server_message_pause(call->message);
    g_autoptr(GTask) task = g_task_new(NULL, NULL, desk_picture_photo_done, NULL);
    g_task_set_task_data(task, job, desk_picture_photo_free);
    desk->pending++;
    g_task_run_in_thread(task, desk_picture_photo_work);
    return true;
}

/* --- warp ------------------------------------------------------------------------------------- */

/* Where a lattice of the photo lies on the frame as shown. */
static void desk_picture_lattice(GString *json, const LfStudyPhoto *photo, const LfLens *lens,
                                 const LfMat3 *frame_from_photo, bool ys)
{
    for (int row = 0; row < PICTURE_ROWS; row++)
        for (int column = 0; column < PICTURE_COLUMNS; column++) {
            const LfPoint at = {(double)column / (PICTURE_COLUMNS - 1) * photo->report.width - 0.5,
                                (double)row / (PICTURE_ROWS - 1) * photo->report.height - 0.5};
            LfPoint flat, back, shown = {(double)NAN, (double)NAN};
            if (lf_mat3_apply(frame_from_photo, at, &flat)) {
                shown = lf_lens_distort(lens, flat);
                /* Beyond what the lens model holds for a point does not come back. */
                if (lens->n_k > 0 && (!lf_lens_undistort(lens, shown, &back) ||
                                      hypot(back.x - flat.x, back.y - flat.y) > 1))
                    shown = (LfPoint){(double)NAN, (double)NAN};
            }
            desk_json_number(json, ys ? shown.y : shown.x, 2);
        }
}

static bool desk_picture_pose(LfDesk *desk, int64_t walk, int64_t photo, int64_t t_us, int64_t job,
                              LfMat3 *photo_from_frame, bool *found, GError **error)
{
    if (job) {
        *found = desk_tie_pose(desk, job, t_us, photo_from_frame);
        return true;
    }
    g_autoptr(LfSpan) span = lf_study_span(desk->study, NULL, walk, t_us, t_us + 1, error);
    for (guint i = 0; span && i < span->poses->len; i++) {
        const LfSpanPose *pose = &g_array_index(span->poses, LfSpanPose, i);
        if (pose->photo == photo && pose->pose.t_us == t_us) {
            *photo_from_frame = pose->pose.photo_from_frame;
            *found = true;
        }
    }
    return span != NULL;
}

bool desk_get_warp(DeskCall *call, GError **error)
{
    int64_t walk_id, photo_id, t_us, job = 0;
    LfMat3 photo_from_frame, frame_from_photo;
    bool found = false;
    if (!desk_query_needed(call, "walk", 1, G_MAXINT64, &walk_id, error) ||
        !desk_query_needed(call, "photo", 1, G_MAXINT64, &photo_id, error) ||
        !desk_query_needed(call, "t_us", G_MININT64 / 2, G_MAXINT64 / 2, &t_us, error) ||
        !desk_query_int(call, "tie", 1, G_MAXINT64, &job, error))
        return false;
    const LfStudyWalk *walk = desk_walk(call->desk, walk_id, error);
    const LfStudyPhoto *photo = walk ? desk_photo(call->desk, photo_id, error) : NULL;
    DeskVideo *video = photo ? desk_walk_video(call->desk, walk_id, error) : NULL;
    if (!video)
        return false;
    t_us = video->index->frame_us[desk_video_frame_at(video, t_us)];
    if (!desk_picture_pose(call->desk, walk_id, photo_id, t_us, job, &photo_from_frame, &found,
                           error))
        return false;
    found = found && lf_mat3_invert(&photo_from_frame, &frame_from_photo);
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "t_us", t_us);
    desk_json_put_int(call->json, "photo", photo_id);
    if (found) {
        frame_from_photo = lf_mat3_normalize(&frame_from_photo);
        desk_json_matrix(call->json, "frame_from_photo", &frame_from_photo);
    } else {
        desk_json_key(call->json, "frame_from_photo");
        desk_json_null(call->json);
    }
    desk_json_put_int(call->json, "columns", PICTURE_COLUMNS);
    desk_json_put_int(call->json, "rows", PICTURE_ROWS);
    for (int ys = 0; ys < 2; ys++) {
        desk_json_key_open(call->json, ys ? "y" : "x", '[');
        if (found)
            desk_picture_lattice(call->json, photo, &walk->lens, &frame_from_photo, ys != 0);
        desk_json_close(call->json, ']');
    }
    desk_json_close(call->json, '}');
    return true;
}
