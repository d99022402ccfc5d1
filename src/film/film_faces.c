/* Faces, frame by frame.
 *
 * Detectors are asked at instants 0.4 s apart. From each find the box is followed by
 * its content forward, and where it is new, backward through what was read since the instant before
 * the last one: a face that turns away or is hidden for a moment stays blurred. Two stretches of
 * small frames are kept in memory, whatever the walk's length. */
#include "film/film_faces.h"

#include <math.h>

#include "film/film_blur.h"
#include "film/film_detect.h"
#include "film/film_source.h"

enum {
    FILM_FACES_EVERY_US = 400000,
    FILM_FACES_WIDTH = 960, /* px of the small frames */
    FILM_FACES_REACH = 40,  /* px of the small frames that a face moves from frame to frame */
    FILM_FACES_MISSED = 2,  /* instants that a face is followed without being found again */
};
/* Correlation under which a box is not where its content was sought: it moves on as the picture
 * does, and grows. */
static const double FILM_FACES_LOST = 0.5, FILM_FACES_GROW = 1.12;
/* What is blurred, in boxes of the detector, which reach from brows to chin. */
static const double FILM_FACES_WIDE = 1.7, FILM_FACES_HIGH = 2.0;

typedef struct {
    LfShimBox box; /* px of the small frames */
    int missed;
} FilmFace;

/* A small frame, and what is to be blurred in it. */
typedef struct {
    int64_t t_us;
    uint8_t *luma;
    GArray *boxes; /* LfShimBox */
} FilmFacesFrame;

typedef struct {
    int64_t t_us;
    LfShimBox box; /* px of the frame, what is blurred */
} FilmFacesBox;

struct FilmFaces {
    GArray *boxes; /* FilmFacesBox, by time */
};

/* The state of the search. */
typedef struct {
    FilmFaces *faces;
    FilmDetect *detect;
    int width, height; /* px of the small frames */
    double shrink;
    GPtrArray *before, *now; /* FilmFacesFrame: up to the last instant, and since */
    GArray *active;          /* FilmFace in the newest frame */
    int64_t instant_us;      /* of the last one, or LF_NO_TIME */
} FilmSearch;

static void film_faces_frame_free(gpointer data)
{
    FilmFacesFrame *frame = data;
    g_free(frame->luma);
    g_array_unref(frame->boxes);
    g_free(frame);
}

static LfShimImage film_faces_image(const FilmSearch *s, const FilmFacesFrame *frame)
{
    return (LfShimImage){frame->luma, s->width, s->height, s->width};
}

/* --- following --- */

/* How the whole picture moves from one frame to the next, px of the small frames. */
static void film_faces_shift(const FilmSearch *s, const FilmFacesFrame *from,
                             const FilmFacesFrame *to, double *dx, double *dy)
{
    const int w = MAX(16, s->width / 4), h = MAX(16, s->height / 4);
    const LfShimImage a = film_faces_image(s, from), b = film_faces_image(s, to);
    g_autofree uint8_t *small = g_malloc(2 * (gsize)w * (gsize)h);
    const LfShimImage sa = {small, w, h, w}, sb = {small + w * h, w, h, w};
    double response = 0;

    *dx = *dy = 0;
    if (lf_shim_shrink(&a, small, w, h, NULL) != LF_SHIM_OK ||
        lf_shim_shrink(&b, small + w * h, w, h, NULL) != LF_SHIM_OK ||
        lf_shim_phase_shift(&sa, &sb, dx, dy, &response, NULL) != LF_SHIM_OK || response < 0.05) {
        *dx = *dy = 0;
        return;
    }
    *dx *= (double)s->width / w;
    *dy *= (double)s->height / h;
}

static void film_faces_grow(LfShimBox *box, double factor)
{
    const float w = (float)(box->w * factor), h = (float)(box->h * factor);
    box->x -= (w - box->w) / 2;
    box->y -= (h - box->h) / 2;
    box->w = w;
    box->h = h;
}

/* Moves the box to where its content is in the next frame; false where it has left the picture. */
static bool film_faces_follow(const FilmSearch *s, const FilmFacesFrame *from,
                              const FilmFacesFrame *to, double dx, double dy, LfShimBox *box)
{
    const LfShimImage a = film_faces_image(s, from), b = film_faces_image(s, to);
    LfShimBox moved = {box->x + (float)dx, box->y + (float)dy, box->w, box->h};
    const LfShimBox guess = moved;
    double score = -1;

    if (lf_shim_follow_box(&a, &b, box, FILM_FACES_REACH, &moved, &score, NULL) != LF_SHIM_OK ||
        score < FILM_FACES_LOST) {
        moved = guess;
        film_faces_grow(&moved, FILM_FACES_GROW);
    }
    *box = moved;
    return moved.x + moved.w > 0 && moved.y + moved.h > 0 && moved.x < (float)s->width &&
           moved.y < (float)s->height && moved.w < (float)s->width;
}

static void film_faces_forward(FilmSearch *s, const FilmFacesFrame *from, FilmFacesFrame *to)
{
    double dx, dy;

    if (s->active->len == 0)
        return;
    film_faces_shift(s, from, to, &dx, &dy);
    for (guint i = s->active->len; i-- > 0;) {
        FilmFace *face = &g_array_index(s->active, FilmFace, i);
        if (film_faces_follow(s, from, to, dx, dy, &face->box))
            g_array_append_val(to->boxes, face->box);
        else
            g_array_remove_index(s->active, i);
    }
}

/* From the last frame of `now` back to the first of `before`. */
static void film_faces_backward(FilmSearch *s, LfShimBox box)
{
    for (guint i = s->now->len + s->before->len - 1; i-- > 0;) {
        FilmFacesFrame *from = i + 1 < s->before->len ? s->before->pdata[i + 1]
                                                      : s->now->pdata[i + 1 - s->before->len];
        FilmFacesFrame *to =
            i < s->before->len ? s->before->pdata[i] : s->now->pdata[i - s->before->len];
        double dx, dy;
        film_faces_shift(s, from, to, &dx, &dy);
        if (!film_faces_follow(s, from, to, dx, dy, &box))
            return;
        g_array_append_val(to->boxes, box);
    }
}

/* --- instants --- */

static bool film_faces_known(const GArray *faces, const LfShimBox *box)
{
    for (guint i = 0; i < faces->len; i++)
        if (film_detect_overlap(&g_array_index(faces, FilmFace, i).box, box) > 0.4)
            return true;
    return false;
}

/* What is followed and not found again goes on for a while. */
static void film_faces_keep(const FilmSearch *s, const GArray *found, GArray *active)
{
    for (guint i = 0; i < s->active->len; i++) {
        FilmFace face = g_array_index(s->active, FilmFace, i);
        bool again = false;
        for (guint k = 0; k < found->len && !again; k++)
            again = film_detect_overlap(&face.box, &g_array_index(found, LfShimBox, k)) > 0.4;
        if (!again && face.missed++ < FILM_FACES_MISSED)
            g_array_append_val(active, face);
    }
}

/* Gives out the frames before the last instant. */
static void film_faces_settle(FilmSearch *s, GPtrArray *frames)
{
    for (guint i = 0; i < frames->len; i++) {
        const FilmFacesFrame *frame = frames->pdata[i];
        for (guint k = 0; k < frame->boxes->len; k++) {
            const LfShimBox small = g_array_index(frame->boxes, LfShimBox, k);
            const double w = small.w * FILM_FACES_WIDE, h = small.h * FILM_FACES_HIGH;
            const double x = small.x + small.w / 2.0 - w / 2, y = small.y + small.h / 2.0 - h / 2;
            const FilmFacesBox box = {frame->t_us,
                                      {(float)(x * s->shrink), (float)(y * s->shrink),
                                       (float)(w * s->shrink), (float)(h * s->shrink)}};
            g_array_append_val(s->faces->boxes, box);
        }
    }
    g_ptr_array_set_size(frames, 0);
}

/* Asks the detectors about the newest frame. */
static bool film_faces_instant(FilmSearch *s, GError **error)
{
    FilmFacesFrame *frame = s->now->pdata[s->now->len - 1];
    const LfShimImage picture = film_faces_image(s, frame);
    g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(LfShimBox));
    GArray *active = g_array_new(FALSE, FALSE, sizeof(FilmFace));

    if (!film_detect_find(s->detect, &picture, frame->t_us, found, error)) {
        g_array_unref(active);
        return false;
    }
    for (guint i = 0; i < found->len; i++) {
        const FilmFace face = {g_array_index(found, LfShimBox, i), 0};
        g_array_append_val(active, face);
        g_array_append_val(frame->boxes, face.box);
        if (!film_faces_known(s->active, &face.box))
            film_faces_backward(s, face.box);
    }
    film_faces_keep(s, found, active);
    g_array_unref(s->active);
    s->active = active;
    s->instant_us = frame->t_us;
    film_faces_settle(s, s->before);
    GPtrArray *settled = s->before;
    s->before = s->now;
    s->now = settled;
    return true;
}

/* --- reading --- */

static FilmFacesFrame *film_faces_newest(const FilmSearch *s)
{
    const GPtrArray *frames = s->now->len > 0 ? s->now : s->before;
    return frames->len > 0 ? frames->pdata[frames->len - 1] : NULL;
}

static bool film_faces_add(FilmSearch *s, const LfFrame *frame, GError **error)
{
    const LfShimImage full = {frame->luma, frame->width, frame->height, frame->stride};
    FilmFacesFrame *last = film_faces_newest(s);
    FilmFacesFrame *small = g_new0(FilmFacesFrame, 1);
    char why[LF_SHIM_MESSAGE] = "";

    small->t_us = frame->t_us;
    small->luma = g_malloc((gsize)s->width * (gsize)s->height);
    small->boxes = g_array_new(FALSE, FALSE, sizeof(LfShimBox));
    g_ptr_array_add(s->now, small);
    if (lf_shim_shrink(&full, small->luma, s->width, s->height, why) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Faces cannot be looked for: %s.", why);
        return false;
    }
    if (last != NULL)
        film_faces_forward(s, last, small);
    return (s->instant_us != LF_NO_TIME && frame->t_us - s->instant_us < FILM_FACES_EVERY_US) ||
           film_faces_instant(s, error);
}

static void film_faces_tell(const FilmData *data, const LfFilmOptions *options, int64_t frames,
                            int64_t from_us, int64_t to_us, int64_t t_us)
{
    const double span_us = (double)(MIN(to_us, data->walk->end_us) - from_us);
    const LfFilmProgress progress = {
        .step = LF_FILM_FACES,
        .frames = frames,
        .frames_total =
            (int64_t)((double)data->walk->frames * span_us / (double)MAX(data->walk->end_us, 1)),
        .video_us = t_us - from_us,
    };
    if (options->progress != NULL)
        options->progress(&progress, options->data);
}

static bool film_faces_read(FilmSearch *s, const FilmData *data, LfVideo *video, int64_t from_us,
                            int64_t to_us, const LfFilmOptions *options, GError **error)
{
    int64_t frames = 0;

    while (options->cancel == NULL || !g_atomic_int_get(options->cancel)) {
        g_autoptr(GError) why = NULL;
        LfFrame frame;
        bool got;
        if (!lf_video_next(video, &frame, &got, &why)) {
            /* Where the video breaks off, so does the film; it tells. */
            if (frames > 0 && g_error_matches(why, LF_ERROR, LF_ERROR_INPUT))
                break;
            g_propagate_error(error, g_steal_pointer(&why));
            return false;
        }
        if (!got || frame.t_us >= to_us)
            break;
        if (!film_faces_add(s, &frame, error))
            return false;
        film_faces_tell(data, options, ++frames, from_us, to_us, frame.t_us);
    }
    if (s->now->len > 0 && !film_faces_instant(s, error))
        return false;
    film_faces_settle(s, s->before);
    return true;
}

FilmFaces *film_faces_find(const FilmData *data, int64_t from_us, int64_t to_us,
                           const LfFilmOptions *options, GError **error)
{
    g_autoptr(FilmFaces) faces = g_new0(FilmFaces, 1);
    const double shrink = fmax(1, (double)data->walk->width_px / FILM_FACES_WIDTH);
    FilmSearch s = {.faces = faces,
                    .width = (int)lround(data->walk->width_px / shrink),
                    .height = MAX(1, (int)lround(data->walk->height_px / shrink)),
                    .shrink = shrink,
                    .instant_us = LF_NO_TIME};

    faces->boxes = g_array_new(FALSE, FALSE, sizeof(FilmFacesBox));
    s.before = g_ptr_array_new_with_free_func(film_faces_frame_free);
    s.now = g_ptr_array_new_with_free_func(film_faces_frame_free);
    s.active = g_array_new(FALSE, FALSE, sizeof(FilmFace));
    s.detect = film_detect_new(data, shrink, options->threads, error);
    g_autoptr(LfVideo) video =
        s.detect != NULL ? film_source_open(data->walk->video, from_us, options->threads, error)
                         : NULL;
    const bool ok =
        video != NULL && film_faces_read(&s, data, video, from_us, to_us, options, error);
    film_detect_free(s.detect);
    g_ptr_array_unref(s.before);
    g_ptr_array_unref(s.now);
    g_array_unref(s.active);
    return ok ? g_steal_pointer(&faces) : NULL;
}

void film_faces_free(FilmFaces *faces)
{
    if (faces == NULL)
        return;
    g_clear_pointer(&faces->boxes, g_array_unref);
    g_free(faces);
}

/* Index of the first box of t_us or later. */
static guint film_faces_first(const FilmFaces *faces, int64_t t_us)
{
    guint low = 0, high = faces->boxes->len;
    while (low < high) {
        const guint middle = low + (high - low) / 2;
        if (g_array_index(faces->boxes, FilmFacesBox, middle).t_us < t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

bool film_faces_blur(const FilmFaces *faces, LfYuv *picture, int64_t t_us)
{
    bool any = false;

    for (guint i = film_faces_first(faces, t_us); i < faces->boxes->len; i++) {
        const FilmFacesBox *box = &g_array_index(faces->boxes, FilmFacesBox, i);
        if (box->t_us != t_us)
            break;
        film_blur_ellipse(picture, box->box.x, box->box.y, box->box.w, box->box.h);
        any = true;
    }
    return any;
}
