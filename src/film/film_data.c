/* Reading what a film is drawn from. */
#include "film/film_data.h"

#include <math.h>
#include <string.h>

static int film_data_photo(const FilmData *d, const char *name)
{
    for (int i = 0; name != NULL && i < d->n_photos; i++)
        if (strcmp(d->photos[i].name, name) == 0)
            return i;
    return -1;
}

static bool film_data_photos(FilmData *d, LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) photos = lf_study_photos(study, error);

    if (photos == NULL)
        return false;
    d->photos = g_new0(FilmPhoto, photos->len);
    for (guint i = 0; i < photos->len; i++) {
        const LfStudyPhoto *photo = photos->pdata[i];
        d->photos[d->n_photos++] = (FilmPhoto){.name = g_strdup(photo->name),
                                               .path = g_strdup(photo->path),
                                               .width = photo->report.width,
                                               .height = photo->report.height};
    }
    return true;
}

typedef struct {
    FilmData *film;
    GArray *rows;
} FilmDataSink;

static bool film_data_add_sample(const LfStudySample *sample, void *data,
                                 G_GNUC_UNUSED GError **error)
{
    FilmDataSink *sink = data;
    FilmSample row = {.t_us = sample->t_us,
                      .gaze_px = sample->gaze_px,
                      .cast = sample->cast,
                      .photo = film_data_photo(sink->film, sample->photo)};
    if (sample->cast) {
        row.state = sample->result.state;
        row.at_px = (LfPoint){sample->result.x, sample->result.y};
        row.confidence = sample->result.confidence;
        row.radius_px = sample->result.radius_px;
    }
    g_array_append_val(sink->rows, row);
    return true;
}

static bool film_data_add_pose(const LfStudyPose *pose, void *data, G_GNUC_UNUSED GError **error)
{
    FilmDataSink *sink = data;
    FilmPose row = {.t_us = pose->pose.t_us, .photo = film_data_photo(sink->film, pose->photo)};

    if (row.photo >= 0 && lf_mat3_invert(&pose->pose.photo_from_frame, &row.frame_from_photo))
        g_array_append_val(sink->rows, row);
    return true;
}

static bool film_data_add_fixations(const LfStudyFixations *walk, void *data,
                                    G_GNUC_UNUSED GError **error)
{
    FilmDataSink *sink = data;

    for (gsize i = 0; i < walk->n; i++) {
        const LfFixation *f = &walk->fixations[i];
        FilmFixation row = {f->from_us,
                            f->to_us,
                            film_data_photo(sink->film, f->photo),
                            {f->x_px, f->y_px},
                            (int)sink->rows->len + 1};
        if (row.photo >= 0 && isfinite(f->x_px) && isfinite(f->y_px))
            g_array_append_val(sink->rows, row);
    }
    return true;
}

/* A walk without fixations makes a film without them; any other error is one. */
static bool film_data_fixations(FilmData *d, LfStudy *study, const char *const *names,
                                GError **error)
{
    g_autoptr(GPtrArray) undone = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GError) why = NULL;
    FilmDataSink sink = {d, g_array_new(FALSE, FALSE, sizeof(FilmFixation))};
    bool ok = lf_study_fixations(study, names, film_data_add_fixations, &sink, undone, &why);

    d->fixated = ok && undone->len == 0;
    d->fixations = (FilmFixation *)(gpointer)g_array_steal(sink.rows, &d->n_fixations);
    g_array_unref(sink.rows);
    if (ok || g_error_matches(why, LF_ERROR, LF_ERROR_INPUT))
        return true;
    g_propagate_error(error, g_steal_pointer(&why));
    return false;
}

FilmData *film_data_load(LfStudy *study, const char *walk, GError **error)
{
    const char *const names[] = {walk, NULL};
    g_autoptr(FilmData) d = g_new0(FilmData, 1);
    FilmDataSink samples = {d, NULL}, poses = {d, NULL};

    d->walks = lf_study_walks(study, names, error);
    if (d->walks == NULL)
        return NULL;
    d->walk = d->walks->pdata[0];
    if (!lf_study_settings(study, &d->settings, error) || !film_data_photos(d, study, error))
        return NULL;
    samples.rows = g_array_new(FALSE, FALSE, sizeof(FilmSample));
    bool ok = lf_study_export_samples(study, names, film_data_add_sample, &samples, NULL, error);
    d->samples = (FilmSample *)(gpointer)g_array_steal(samples.rows, &d->n_samples);
    g_array_unref(samples.rows);
    if (!ok)
        return NULL;
    poses.rows = g_array_new(FALSE, FALSE, sizeof(FilmPose));
    ok = lf_study_export_poses(study, names, film_data_add_pose, &poses, NULL, error);
    d->poses = (FilmPose *)(gpointer)g_array_steal(poses.rows, &d->n_poses);
    g_array_unref(poses.rows);
    if (!ok || !film_data_fixations(d, study, names, error))
        return NULL;
    d->marks = lf_study_marks(study, names, error);
    return d->marks != NULL ? g_steal_pointer(&d) : NULL;
}

void film_data_free(FilmData *d)
{
    if (d == NULL)
        return;
    for (int i = 0; i < d->n_photos; i++) {
        g_free(d->photos[i].name);
        g_free(d->photos[i].path);
    }
    g_free(d->photos);
    g_free(d->samples);
    g_free(d->poses);
    g_free(d->fixations);
    g_clear_pointer(&d->marks, g_ptr_array_unref);
    g_clear_pointer(&d->walks, g_ptr_array_unref);
    g_free(d);
}

/* --- by time --- */

/* Index of the first of n rows whose time, the first thing in it, is at t_us or later. */
static gsize film_data_first(const void *rows, gsize n, gsize size, int64_t t_us)
{
    gsize low = 0, high = n;

    while (low < high) {
        const gsize middle = low + (high - low) / 2;
        int64_t t;
        memcpy(&t, (const char *)rows + middle * size, sizeof t);
        if (t < t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

gsize film_data_first_sample(const FilmData *d, int64_t t_us)
{
    return film_data_first(d->samples, d->n_samples, sizeof *d->samples, t_us);
}

const FilmSample *film_data_sample(const FilmData *d, int64_t t_us, int64_t frame_us)
{
    const gsize after = film_data_first_sample(d, t_us);
    const int64_t reach_us = MAX(frame_us / 2, d->walk->interval_us * 3 / 2);
    const FilmSample *best = NULL;

    for (gsize i = after > 0 ? after - 1 : 0; i < MIN(after + 1, d->n_samples); i++) {
        const FilmSample *s = &d->samples[i];
        if (ABS(s->t_us - t_us) <= reach_us &&
            (best == NULL || ABS(s->t_us - t_us) < ABS(best->t_us - t_us)))
            best = s;
    }
    return best;
}

const LfMat3 *film_data_pose(const FilmData *d, int64_t t_us, int photo)
{
    for (gsize i = film_data_first(d->poses, d->n_poses, sizeof *d->poses, t_us);
         i < d->n_poses && d->poses[i].t_us == t_us; i++)
        if (d->poses[i].photo == photo)
            return &d->poses[i].frame_from_photo;
    return NULL;
}

gsize film_data_fixations_until(const FilmData *d, int64_t t_us)
{
    return film_data_first(d->fixations, d->n_fixations, sizeof *d->fixations, t_us + 1);
}
