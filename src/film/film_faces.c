/* Faces, frame by frame.
 *
 * Detectors are asked at instants 0.4 s apart. From each find the box is followed by its content
 * forward, and where it is new, backward through what was read since the instant before the last
 * one: a face that turns away or is hidden for a moment stays blurred. What was found once, by one
 * vote, is followed one instant each way; what has more votes, or was found at two instants, two.
 * Two stretches of small frames are kept in memory, whatever the walk's length. */
#include "film/film_faces.h"

#include <math.h>
#include <string.h>

#include "film/film_blur.h"
#include "film/film_detect.h"
#include "film/film_source.h"

enum {
    FILM_FACES_EVERY_US = 400000,
    FILM_FACES_WIDTH = 1280, /* px of the frames in which faces are looked for */
    FILM_FACES_SHRINK = 2,   /* of those to the small ones in which they are followed */
    FILM_FACES_REACH = 16,   /* px of the small frames that a face moves against the picture */
    FILM_FACES_SURE = 3,     /* votes from which a find is followed farther */
    FILM_FACES_MISSED = 2,   /* instants that such a one is followed without being found again */
};
/* Correlation under which a box is not where its content was sought: it moves on as the picture
 * does, and grows, up to so many times the width of the find. */
static const double FILM_FACES_LOST = 0.5, FILM_FACES_GROW = 1.12, FILM_FACES_MOST = 2;
/* What is blurred, in boxes of the detector, which reach from brows to chin and are not exact. */
static const double FILM_FACES_WIDE = 1.9, FILM_FACES_HIGH = 2.2;

typedef struct {
    LfShimBox box; /* px of the small frames */
    float found_w; /* of the box when it was found */
    bool sure;
    int missed;
} FilmFace;

/* A small frame, and what is to be blurred in it. */
typedef struct {
    int64_t t_us;
    uint8_t *luma;
    GArray *boxes;       /* LfShimBox */
    bool shift_known;    /* worked out where a face has to be followed */
    double dx_px, dy_px; /* of the whole picture against the frame before */
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
    uint8_t *full; /* the newest frame as it was, without room between its rows */
    uint8_t *fine; /* it, as the detectors get it */
    int full_width, full_height;
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

/* How the whole picture moved from the frame before to this one, px of the small frames. */
static void film_faces_shift(const FilmSearch *s, const FilmFacesFrame *from, FilmFacesFrame *to)
{
    const int w = MAX(16, s->width / 4), h = MAX(16, s->height / 4);
    const LfShimImage a = film_faces_image(s, from), b = film_faces_image(s, to);
    g_autofree uint8_t *small = g_malloc(2 * (gsize)w * (gsize)h);
    const LfShimImage sa = {small, w, h, w}, sb = {small + w * h, w, h, w};
    double dx = 0, dy = 0, response = 0;

    if (to->shift_known)
        return;
    to->shift_known = true;
    if (lf_shim_shrink(&a, small, w, h, NULL) != LF_SHIM_OK ||
        lf_shim_shrink(&b, small + w * h, w, h, NULL) != LF_SHIM_OK ||
        lf_shim_phase_shift(&sa, &sb, &dx, &dy, &response, NULL) != LF_SHIM_OK || response < 0.05)
        return;
    to->dx_px = dx * (double)s->width / w;
    to->dy_px = dy * (double)s->height / h;
}

static void film_faces_grow(LfShimBox *box, double factor)
{
    const float w = (float)(box->w * factor), h = (float)(box->h * factor);
    box->x -= (w - box->w) / 2;
    box->y -= (h - box->h) / 2;
    box->w = w;
    box->h = h;
}

/* Moves the face to where its content is in the next frame; false where it has left the picture. */
static bool film_faces_follow(const FilmSearch *s, const FilmFacesFrame *from,
                              const FilmFacesFrame *to, double dx, double dy, FilmFace *face)
{
    const LfShimImage a = film_faces_image(s, from), b = film_faces_image(s, to);
    const LfShimBox *box = &face->box;
    LfShimBox moved = {box->x + (float)dx, box->y + (float)dy, box->w, box->h};
    const LfShimBox guess = moved;
    double score = -1;

    if (lf_shim_follow_box(&a, &b, box, FILM_FACES_REACH, &moved, &score, NULL) != LF_SHIM_OK ||
        score < FILM_FACES_LOST) {
        moved = guess;
        if (moved.w < FILM_FACES_MOST * face->found_w)
            film_faces_grow(&moved, FILM_FACES_GROW);
    }
    face->box = moved;
    return moved.x + moved.w > 0 && moved.y + moved.h > 0 && moved.x < (float)s->width &&
           moved.y < (float)s->height && moved.w < (float)s->width;
}

static void film_faces_forward(FilmSearch *s, const FilmFacesFrame *from, FilmFacesFrame *to)
{
    if (s->active->len == 0)
        return;
    film_faces_shift(s, from, to);
    for (guint i = s->active->len; i-- > 0;) {
        FilmFace *face = &g_array_index(s->active, FilmFace, i);
        if (film_faces_follow(s, from, to, to->dx_px, to->dy_px, face))
            g_array_append_val(to->boxes, face->box);
        else
            g_array_remove_index(s->active, i);
    }
}

/* From the last frame of `now` back to its first, or for a sure face to the first of `before`. */
static void film_faces_backward(FilmSearch *s, FilmFace face)
{
    const guint before = s->before->len, first = face.sure ? 0 : before;

    for (guint i = s->now->len + before - 1; i-- > first;) {
        FilmFacesFrame *from =
            i + 1 < before ? s->before->pdata[i + 1] : s->now->pdata[i + 1 - before];
        FilmFacesFrame *to = i < before ? s->before->pdata[i] : s->now->pdata[i - before];
        film_faces_shift(s, to, from);
        if (!film_faces_follow(s, from, to, -from->dx_px, -from->dy_px, &face))
            return;
        g_array_append_val(to->boxes, face.box);
    }
}

/* --- instants --- */

/* The face among those followed that was found again as `box`; NULL for none. */
static const FilmFace *film_faces_known(const GArray *faces, const LfShimBox *box)
{
    for (guint i = 0; i < faces->len; i++)
        if (film_detect_overlap(&g_array_index(faces, FilmFace, i).box, box) > 0.4)
            return &g_array_index(faces, FilmFace, i);
    return NULL;
}

/* What is followed and not found again goes on for a while if it is sure. */
static void film_faces_keep(const FilmSearch *s, GArray *active)
{
    const guint found = active->len;

    for (guint i = 0; i < s->active->len; i++) {
        FilmFace face = g_array_index(s->active, FilmFace, i);
        bool again = false;
        for (guint k = 0; k < found && !again; k++)
            again = film_detect_overlap(&face.box, &g_array_index(active, FilmFace, k).box) > 0.4;
        if (!again && face.sure && face.missed++ < FILM_FACES_MISSED)
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

static bool film_faces_ask(FilmSearch *s, int64_t t_us, GArray *found, GError **error)
{
    const LfShimImage full = {s->full, s->full_width, s->full_height, s->full_width};
    const LfShimImage fine = {s->fine, s->width * FILM_FACES_SHRINK, s->height * FILM_FACES_SHRINK,
                              s->width * FILM_FACES_SHRINK};
    char why[LF_SHIM_MESSAGE] = "";

    if (lf_shim_shrink(&full, s->fine, fine.width, fine.height, why) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Faces cannot be looked for: %s.", why);
        return false;
    }
    return film_detect_find(s->detect, &fine, t_us, found, error);
}

/* Asks the detectors about the newest frame. */
static bool film_faces_instant(FilmSearch *s, GError **error)
{
    FilmFacesFrame *frame = s->now->pdata[s->now->len - 1];
    g_autoptr(GArray) found = g_array_new(FALSE, FALSE, sizeof(LfShimFace));
    g_autoptr(GArray) active = g_array_new(FALSE, FALSE, sizeof(FilmFace));

    if (!film_faces_ask(s, frame->t_us, found, error))
        return false;
    for (guint i = 0; i < found->len; i++) {
        const LfShimFace *find = &g_array_index(found, LfShimFace, i);
        const LfShimBox box = {find->box.x / FILM_FACES_SHRINK, find->box.y / FILM_FACES_SHRINK,
                               find->box.w / FILM_FACES_SHRINK, find->box.h / FILM_FACES_SHRINK};
        const FilmFace *known = film_faces_known(s->active, &box);
        const FilmFace face = {box, box.w, known != NULL || find->votes >= FILM_FACES_SURE, 0};
        g_array_append_val(active, face);
        g_array_append_val(frame->boxes, face.box);
        if (known == NULL || !known->sure)
            film_faces_backward(s, face);
    }
    film_faces_keep(s, active);
    g_array_unref(s->active);
    s->active = g_steal_pointer(&active);
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

/* Which frame is the last one is known only when there is no next: each may be asked about. */
static void film_faces_hold(FilmSearch *s, const LfFrame *frame)
{
    if (s->full == NULL || frame->width != s->full_width || frame->height != s->full_height) {
        g_free(s->full);
        s->full = g_malloc((gsize)frame->width * (gsize)frame->height);
        s->full_width = frame->width;
        s->full_height = frame->height;
    }
    for (int y = 0; y < frame->height; y++)
        memcpy(s->full + (gsize)y * (gsize)frame->width, frame->luma + y * frame->stride,
               (gsize)frame->width);
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
    film_faces_hold(s, frame);
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
    const double shrink =
        FILM_FACES_SHRINK * fmax(1, (double)data->walk->width_px / FILM_FACES_WIDTH);
    FilmSearch s = {.faces = faces,
                    .width = MAX(1, (int)lround(data->walk->width_px / shrink)),
                    .height = MAX(1, (int)lround(data->walk->height_px / shrink)),
                    .shrink = shrink,
                    .instant_us = LF_NO_TIME};

    faces->boxes = g_array_new(FALSE, FALSE, sizeof(FilmFacesBox));
    s.before = g_ptr_array_new_with_free_func(film_faces_frame_free);
    s.now = g_ptr_array_new_with_free_func(film_faces_frame_free);
    s.active = g_array_new(FALSE, FALSE, sizeof(FilmFace));
    s.fine = g_malloc((gsize)s.width * (gsize)s.height * FILM_FACES_SHRINK * FILM_FACES_SHRINK);
    s.detect = film_detect_new(data, shrink / FILM_FACES_SHRINK, options->threads, error);
    g_autoptr(LfVideo) video =
        s.detect != NULL ? film_source_open(data->walk->video, from_us, options->threads, error)
                         : NULL;
    const bool ok =
        video != NULL && film_faces_read(&s, data, video, from_us, to_us, options, error);
    film_detect_free(s.detect);
    g_ptr_array_unref(s.before);
    g_ptr_array_unref(s.now);
    g_array_unref(s.active);
    g_free(s.full);
    g_free(s.fine);
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
