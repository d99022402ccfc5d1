/* The views a survey is made from: frames, spread over all walks, in which photos were found. They
 * are kept, so that what is learnt from them can be looked at anew with what was learnt. */
#ifndef LF_CAST_SURVEY_VIEWS_H
#define LF_CAST_SURVEY_VIEWS_H

#include "cast/survey_camera.h"
#include "cast/survey_constancy.h"
#include "cast/window.h"

typedef struct {
    gsize chunk; /* in the order they are looked through; views are sorted by it, then by time */
    int64_t t_us;
    int n_photos;
    const LfLens *lens;
    LfFramePyramid pyramid;
    LfMat3 *frame_from_photo; /* one per photo */
    double *share_good;       /* one per photo; 0 where it was not found */
    LfCameraSums *camera;     /* one per photo: what it says of where that was taken from */
    /* One per photo, by cell (survey_constancy.h); may be NULL. */
    LfConstancyLight *light;
    uint8_t **unlike;
    uint8_t **behind; /* the same, were it part of the back */
} LfSurveyView;

/* Two photos in one of the frames between those that are kept. */
typedef struct {
    gsize chunk;
    int64_t t_us;
    int photo[2];
    LfMat3 frame_from_photo[2];
    double share_good[2];
    const LfLens *lens;
} LfSurveyPair;

typedef struct LfSurveyLook LfSurveyLook; /* a chunk that is looked through */

typedef struct {
    LfPhoto *const *photos;
    int n_photos;
    const LfCastWalk *walks;
    gsize n_chunks;      /* of all walks */
    gsize n_looks;       /* how many of them are looked through */
    int frames_each;     /* frames of each in which a photo is to be seen */
    LfSurveyLook *looks; /* n_looks */
    GPtrArray *views;    /* LfSurveyView */
    GArray *pairs;       /* LfSurveyPair, sorted as views are */
    const int *cancel;
} LfSurveyViews;

/* photos, walks and cancel are borrowed. */
LfSurveyViews *lf_survey_views_new(LfPhoto *const *photos, int n_photos, const LfCastWalk *walks,
                                   gsize n_walks, const int *cancel);
void lf_survey_views_free(LfSurveyViews *views);
bool lf_survey_views_cancelled(const LfSurveyViews *views);
/* Looks through the first n of n_looks chunks until frames of each have been seen, frames_each at
 * the most, going on where the last call has stopped; with the photos' reliefs as they were when
 * the chunk was begun with. The same views for any number of jobs. A video that cannot be decoded
 * is passed over: it fails when it is cast, with its walk named. LF_ERROR_MACHINE. */
bool lf_survey_views_add(LfSurveyViews *views, gsize n, int frames, int jobs, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfSurveyViews, lf_survey_views_free)

#endif
