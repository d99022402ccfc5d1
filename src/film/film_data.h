/* What a film is drawn from, read from the study once and then looked up by time.
 *
 * Times are microseconds of the walk's clock; everything is sorted by time. */
#ifndef LF_FILM_DATA_H
#define LF_FILM_DATA_H

#include <lookfall/film.h>
#include <lookfall/fixation.h>
#include <lookfall/mark.h>

typedef struct {
    int64_t t_us;
    LfPoint gaze_px; /* on the frame; NaN where lost */
    bool cast;       /* the rest is known */
    LfState state;
    int photo;     /* -1: on none */
    LfPoint at_px; /* on the photo */
    double confidence, radius_px;
} FilmSample;

typedef struct {
    int64_t t_us; /* of the frame */
    int photo;
    LfMat3 frame_from_photo; /* to undistorted frame px */
} FilmPose;

typedef struct {
    int64_t from_us, to_us;
    int photo;
    LfPoint at_px;
    int number; /* from 1, of those on photos */
} FilmFixation;

typedef struct {
    char *name, *path;
    int width, height; /* px */
} FilmPhoto;

typedef struct {
    GPtrArray *walks;  /* holds the one below */
    LfStudyWalk *walk; /* of walks */
    LfCastSettings settings;
    FilmPhoto *photos;
    int n_photos;
    FilmSample *samples;
    gsize n_samples;
    FilmPose *poses;
    gsize n_poses;
    FilmFixation *fixations;
    gsize n_fixations;
    bool fixated;     /* up to date fixations are there, or there are none to be had */
    GPtrArray *marks; /* LfMark */
} FilmData;

FilmData *film_data_load(LfStudy *study, const char *walk, GError **error);
void film_data_free(FilmData *data);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmData, film_data_free)

/* The sample nearest to t_us that is not further than half a frame or one and a half sample
 * intervals, whichever is longer; NULL where there is none. */
const FilmSample *film_data_sample(const FilmData *data, int64_t t_us, int64_t frame_us);
/* Index of the first sample at t_us or later. */
gsize film_data_first_sample(const FilmData *data, int64_t t_us);
/* The mapping of a photo into the frame of t_us; NULL where it was not found in it. */
const LfMat3 *film_data_pose(const FilmData *data, int64_t t_us, int photo);
/* Index after the last fixation that has begun by t_us. */
gsize film_data_fixations_until(const FilmData *data, int64_t t_us);

#endif
