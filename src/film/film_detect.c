/* Faces in one picture.
 *
 * Cascades find most faces turned to the camera and some in profile, and take bits of shelves for
 * faces. A find needs no second one beside it, so that rather too much is found than too little;
 * one whose content agrees with the reference photo is the shelf itself and dropped. */
#include "film/film_detect.h"

#include <math.h>

enum { FILM_DETECT_MOST = 128 };
/* Grid on which a find is compared with the photo, and the correlation from which it is the photo.
 */
enum { FILM_DETECT_GRID = 20 };
static const double FILM_DETECT_ALIKE = 0.6;
/* The photo in gray, no larger than this: about as fine as the small picture. */
enum { FILM_DETECT_PHOTO_PX = 1200 };

/* One find makes a face. Faces from the front are looked for as small as the cascade knows them, 30
 * px of 1080p: 16 cm at 5 m at 20 px a degree gives 36. Profiles cost as much and are mistaken for
 * far more often, so they are sought in a picture half as fine, and to each side at every other
 * instant. Steps: 1.2 finds little more than 1.25 and costs a quarter more (tests/bench/faces.c).
 */
static const struct {
    const char *file;
    int least_px;
    double step;
    int mirrored, shrink;
    int turn; /* of the instants, or -1 for each of them */
} FILM_DETECT_CASCADES[] = {
    {"haarcascade_frontalface_alt2.xml", 20, 1.25, 0, 1, -1},
    {"haarcascade_profileface.xml", 20, 1.2, 0, 2, 0},
    {"haarcascade_profileface.xml", 20, 1.2, 1, 2, 1},
};
enum { FILM_DETECT_N = G_N_ELEMENTS(FILM_DETECT_CASCADES), FILM_DETECT_TURNS = 2 };

typedef struct {
    uint8_t *luma;
    int width, height;
} FilmDetectPhoto;

/* What one detector is asked, and its answer. */
typedef struct {
    LfShimFaces *faces;
    int which; /* of the cascades */
    const LfShimImage *picture;
    LfShimFace found[FILM_DETECT_MOST];
    int n, status;
    char message[LF_SHIM_MESSAGE];
} FilmDetectTask;

struct FilmDetect {
    const FilmData *data;
    double shrink;
    FilmDetectTask tasks[FILM_DETECT_N];
    FilmDetectPhoto *photos;
    GThreadPool *pool;
    GAsyncQueue *done;
    int instant; /* counts the pictures */
};

/* Where the detectors' files are: the folder in LOOKFALL_CASCADES, where they were when the program
 * was built, or where Debian's opencv-data puts them. Owned by the caller; NULL where nowhere. */
static char *film_detect_folder(void)
{
    const char *const folders[] = {g_getenv("LOOKFALL_CASCADES"), LOOKFALL_CASCADE_FOLDER,
                                   "/usr/share/opencv4/haarcascades",
                                   "/usr/local/share/opencv4/haarcascades"};
    for (gsize i = 0; i < G_N_ELEMENTS(folders); i++) {
        g_autofree char *first =
            folders[i] != NULL ? g_build_filename(folders[i], FILM_DETECT_CASCADES[0].file, NULL)
                               : NULL;
        if (first != NULL && g_file_test(first, G_FILE_TEST_EXISTS))
            return g_strdup(folders[i]);
    }
    return NULL;
}

/* The picture for one cascade, and where its finds are in the picture as it is. */
static void film_detect_ask(FilmDetectTask *task)
{
    const int shrink = FILM_DETECT_CASCADES[task->which].shrink;
    const int width = MAX(1, task->picture->width / shrink);
    const int height = MAX(1, task->picture->height / shrink);
    g_autofree uint8_t *luma = shrink > 1 ? g_malloc((gsize)width * (gsize)height) : NULL;
    const LfShimImage small = {luma, width, height, width};

    if (luma != NULL) {
        task->status = lf_shim_shrink(task->picture, luma, width, height, task->message);
        if (task->status != LF_SHIM_OK)
            return;
    }
    task->status = lf_shim_faces_find(task->faces, luma != NULL ? &small : task->picture,
                                      FILM_DETECT_CASCADES[task->which].mirrored,
                                      FILM_DETECT_CASCADES[task->which].least_px,
                                      FILM_DETECT_CASCADES[task->which].step, 1, task->found,
                                      FILM_DETECT_MOST, &task->n, task->message);
    const float to_picture = (float)task->picture->width / (float)width;
    for (int i = 0; task->status == LF_SHIM_OK && i < task->n; i++) {
        LfShimBox *box = &task->found[i].box;
        box->x *= to_picture;
        box->y *= to_picture;
        box->w *= to_picture;
        box->h *= to_picture;
    }
}

static void film_detect_work(gpointer data, gpointer user)
{
    FilmDetect *detect = user;

    film_detect_ask(data);
    g_async_queue_push(detect->done, data);
}

static bool film_detect_load(FilmDetect *d, GError **error)
{
    g_autofree char *folder = film_detect_folder();

    if (folder == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "Faces cannot be blurred: OpenCV's face detectors are not on this machine. "
                    "Install Debian's package opencv-data, or name the folder of %s in the "
                    "environment variable LOOKFALL_CASCADES.",
                    FILM_DETECT_CASCADES[0].file);
        return false;
    }
    for (int i = 0; i < FILM_DETECT_N; i++) {
        g_autofree char *path = g_build_filename(folder, FILM_DETECT_CASCADES[i].file, NULL);
        char why[LF_SHIM_MESSAGE] = "";
        d->tasks[i].which = i;
        if (lf_shim_faces_new(path, &d->tasks[i].faces, why) != LF_SHIM_OK) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s: %s.", path, why);
            return false;
        }
    }
    return true;
}

/* A photo that cannot be read is told by whoever draws it; without it nothing is left out. */
static void film_detect_read_photos(FilmDetect *d)
{
    d->photos = g_new0(FilmDetectPhoto, MAX(1, d->data->n_photos));
    for (int i = 0; i < d->data->n_photos; i++) {
        FilmDetectPhoto *p = &d->photos[i];
        uint8_t *luma = NULL;
        int width = 0, height = 0;
        if (lf_shim_read_gray(d->data->photos[i].path, &luma, &width, &height, NULL) != LF_SHIM_OK)
            continue;
        const double scale = fmin(1, (double)FILM_DETECT_PHOTO_PX / MAX(width, height));
        const LfShimImage full = {luma, width, height, width};
        p->width = MAX(1, (int)lround(width * scale));
        p->height = MAX(1, (int)lround(height * scale));
        p->luma = g_malloc((gsize)p->width * (gsize)p->height);
        if (lf_shim_shrink(&full, p->luma, p->width, p->height, NULL) != LF_SHIM_OK)
            g_clear_pointer(&p->luma, g_free);
        lf_shim_free(luma);
    }
}

FilmDetect *film_detect_new(const FilmData *data, double shrink, int threads, GError **error)
{
    g_autoptr(FilmDetect) d = g_new0(FilmDetect, 1);

    d->data = data;
    d->shrink = shrink;
    if (!film_detect_load(d, error))
        return NULL;
    film_detect_read_photos(d);
    d->done = g_async_queue_new();
    d->pool = g_thread_pool_new(film_detect_work, d, CLAMP(threads, 1, FILM_DETECT_N), FALSE, NULL);
    return g_steal_pointer(&d);
}

void film_detect_free(FilmDetect *d)
{
    if (d == NULL)
        return;
    if (d->pool != NULL)
        g_thread_pool_free(d->pool, FALSE, TRUE);
    g_clear_pointer(&d->done, g_async_queue_unref);
    for (int i = 0; i < FILM_DETECT_N; i++)
        lf_shim_faces_free(d->tasks[i].faces);
    for (int i = 0; d->photos != NULL && i < d->data->n_photos; i++)
        g_free(d->photos[i].luma);
    g_free(d->photos);
    g_free(d);
}

/* --- is it the photo itself? --- */

/* Mean of the 3 x 3 px about a place, or -1 outside. */
static double film_detect_value(const uint8_t *luma, int width, int height, ptrdiff_t stride,
                                LfPoint at)
{
    const int x = (int)lround(at.x), y = (int)lround(at.y);
    int sum = 0;

    if (!(at.x >= 1 && at.y >= 1 && at.x <= width - 2 && at.y <= height - 2))
        return -1;
    for (int v = y - 1; v <= y + 1; v++)
        for (int u = x - 1; u <= x + 1; u++)
            sum += luma[v * stride + u];
    return sum / 9.0;
}

/* Correlation of the box's content with what the photo has in its place; -1 where less than three
 * quarters of the box lie on the photo. */
static double film_detect_agreement(const FilmDetect *d, const LfShimImage *picture, int photo,
                                    const LfMat3 *photo_from_frame, const LfShimBox *box)
{
    const FilmDetectPhoto *p = &d->photos[photo];
    const double to_small = (double)p->width / d->data->photos[photo].width;
    double n = 0, a1 = 0, b1 = 0, aa = 0, bb = 0, ab = 0;

    for (int i = 0; i < FILM_DETECT_GRID * FILM_DETECT_GRID; i++) {
        const LfPoint at = {box->x + (i % FILM_DETECT_GRID + 0.5) * box->w / FILM_DETECT_GRID,
                            box->y + (i / FILM_DETECT_GRID + 0.5) * box->h / FILM_DETECT_GRID};
        const LfPoint in_frame = {at.x * d->shrink, at.y * d->shrink};
        LfPoint straight, on_photo;
        if (!lf_lens_undistort(&d->data->walk->lens, in_frame, &straight) ||
            !lf_mat3_apply(photo_from_frame, straight, &on_photo))
            continue;
        const LfPoint small = {on_photo.x * to_small, on_photo.y * to_small};
        const double a =
            film_detect_value(picture->data, picture->width, picture->height, picture->stride, at);
        const double b = film_detect_value(p->luma, p->width, p->height, p->width, small);
        if (a < 0 || b < 0)
            continue;
        n++;
        a1 += a;
        b1 += b;
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    if (n < 0.75 * FILM_DETECT_GRID * FILM_DETECT_GRID)
        return -1;
    const double va = aa - a1 * a1 / n, vb = bb - b1 * b1 / n;
    return va > 0 && vb > 0 ? (ab - a1 * b1 / n) / sqrt(va * vb) : -1;
}

static bool film_detect_is_photo(const FilmDetect *d, const LfShimImage *picture, int64_t t_us,
                                 const LfShimBox *box)
{
    for (int i = 0; i < d->data->n_photos; i++) {
        const LfMat3 *pose = film_data_pose(d->data, t_us, i);
        LfMat3 photo_from_frame;
        if (pose != NULL && d->photos[i].luma != NULL && lf_mat3_invert(pose, &photo_from_frame) &&
            film_detect_agreement(d, picture, i, &photo_from_frame, box) >= FILM_DETECT_ALIKE)
            return true;
    }
    return false;
}

/* --- finding --- */

double film_detect_overlap(const LfShimBox *a, const LfShimBox *b)
{
    const double w = fmin(a->x + a->w, b->x + b->w) - fmax(a->x, b->x);
    const double h = fmin(a->y + a->h, b->y + b->h) - fmax(a->y, b->y);
    return w > 0 && h > 0 ? w * h / fmin((double)a->w * a->h, (double)b->w * b->h) : 0;
}

/* Adds a find, or widens one that it overlaps: two detectors rarely agree on the edges. */
static void film_detect_add(GArray *finds, guint first, const LfShimFace *find)
{
    const LfShimBox *box = &find->box;

    for (guint i = first; i < finds->len; i++) {
        LfShimFace *face = &g_array_index(finds, LfShimFace, i);
        LfShimBox *other = &face->box;
        if (film_detect_overlap(other, box) < 0.5)
            continue;
        const float x = fminf(other->x, box->x), y = fminf(other->y, box->y);
        other->w = fmaxf(other->x + other->w, box->x + box->w) - x;
        other->h = fmaxf(other->y + other->h, box->y + box->h) - y;
        other->x = x;
        other->y = y;
        face->votes += find->votes;
        return;
    }
    g_array_append_val(finds, *find);
}

static bool film_detect_asked(const FilmDetect *d, int which)
{
    const int turn = FILM_DETECT_CASCADES[which].turn;
    return turn < 0 || d->instant % FILM_DETECT_TURNS == turn;
}

bool film_detect_find(FilmDetect *d, const LfShimImage *picture, int64_t t_us, GArray *finds,
                      GError **error)
{
    const guint first = finds->len;
    bool ok = true;

    for (int i = 0; i < FILM_DETECT_N; i++)
        if (film_detect_asked(d, i)) {
            d->tasks[i].picture = picture;
            g_thread_pool_push(d->pool, &d->tasks[i], NULL);
        }
    for (int i = 0; i < FILM_DETECT_N; i++)
        if (film_detect_asked(d, i))
            g_async_queue_pop(d->done);
    for (int i = 0; i < FILM_DETECT_N && ok; i++) { /* in their order, whoever was done first */
        const FilmDetectTask *task = &d->tasks[i];
        if (!film_detect_asked(d, i))
            continue;
        ok = task->status == LF_SHIM_OK;
        if (!ok)
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Faces cannot be looked for: %s.",
                        task->message);
        for (int k = 0; ok && k < task->n; k++)
            if (!film_detect_is_photo(d, picture, t_us, &task->found[k].box))
                film_detect_add(finds, first, &task->found[k]);
    }
    d->instant++;
    return ok;
}
