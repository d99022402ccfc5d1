/* The survey: what many views of a photo tell of its relief, before any of them is cast.
 *
 * A chunk that starts beside a deep shelf cannot be placed well until it has seen the packs shift
 * against the edge, so all chunks start with the relief that the walks together have shown. Views
 * spread over all walks are found by following and kept. What two chunks show at first is asked
 * whether the photos are flat, which is soon told. Where one is not, or where there are several,
 * the rest is looked through. The views tell how the photos stand to each other, from where each
 * was taken and then, in two rounds, how deep it is: poses rest on a plane alone at first and are
 * off, so for the second round they are fitted anew with the relief of the first.
 */
#include <lookfall/cast.h>

#include <math.h>

#include "cast/follow.h"
#include "cast/relief_cells.h"
#include "cast/survey_back.h"
#include "cast/survey_neighbours.h"
#include "cast/survey_views.h"
#include "cast/sweep.h"

/* Chunks looked at to find out whether the photos are flat, and frames of them together. */
#define SURVEY_FIRST_LOOKS 2
#define SURVEY_FIRST_FRAMES 48
/* A view counts where so many of the patches agree. */
#define SURVEY_FIRM 0.5
/* Of the cells, along and across, every so-manieth is swept to find out whether the photo is flat
 * and where it was taken from, and in the first round; in the second all are. */
#define SURVEY_STRIDE_FLAT 3
#define SURVEY_STRIDE_CAMERA 5
#define SURVEY_STRIDE_FIRST 3
/* The distance to begin with is asked of every so-manieth view. */
#define SURVEY_STRIDE_VIEWS 2
/* In the second round every so-manieth view tells which depths are out of the question; the others
 * try the rest. */
#define SURVEY_FEELER 4
/* Cells trusted less than this may be part of the back. */
#define SURVEY_TRUSTED 0.8

/* Poses and cameras are fitted so often in turns. */
#define SURVEY_TURNS 4

/* Distances a photo's camera is begun with, in its longer sides: fields of view of 80 to 22
 * degrees. */
static const double SURVEY_CAMERA[] = {0.6, 0.8, 1.05, 1.4, 1.9, 2.6};
#define SURVEY_CAMERAS ((int)G_N_ELEMENTS(SURVEY_CAMERA))

typedef struct {
    LfSurveyViews *views;
    int jobs;
} Survey;

static LfRelief *survey_relief(const Survey *survey, int photo)
{
    return survey->views->photos[photo]->relief;
}

/* --- something done with each view, by several threads --- */

typedef struct SurveyEach SurveyEach;
struct SurveyEach {
    const Survey *survey;
    void (*visit)(const SurveyEach *each, LfSurveyView *view, LfFollower *follower);
    LfSweep *const *sweeps; /* per photo `per_photo` of them; NULL where none is wanted */
    int per_photo;
    guint step;       /* of the views, every step-th ... */
    bool others;      /* ... or all others */
    double *const *z; /* by photo and cell, where they are looked for; may be NULL */
    gint *next;
};

static bool survey_each_wants(const SurveyEach *each, guint i)
{
    return (i % each->step == 0) != each->others;
}

static gpointer survey_each_worker(gpointer data)
{
    const SurveyEach *each = data;
    const GPtrArray *views = each->survey->views->views;
    g_autoptr(LfFollower) follower = lf_follower_new();
    guint i;
    while ((i = (guint)g_atomic_int_add(each->next, 1)) < views->len &&
           !lf_survey_views_cancelled(each->survey->views))
        if (survey_each_wants(each, i))
            each->visit(each, g_ptr_array_index(views, i), follower);
    return NULL;
}

static void survey_each(const SurveyEach *each)
{
    const int jobs = CLAMP(each->survey->jobs, 1, (int)MAX(each->survey->views->views->len, 1));
    g_autofree GThread **threads = g_new0(GThread *, jobs);
    gint next = 0;
    SurveyEach shared = *each;
    shared.next = &next;
    for (int i = 0; i < jobs; i++)
        threads[i] = g_thread_new("survey", survey_each_worker, &shared);
    for (int i = 0; i < jobs; i++)
        g_thread_join(threads[i]);
}

static void survey_visit_sweep(const SurveyEach *each, LfSurveyView *view, LfFollower *follower)
{
    (void)follower;
    for (int p = 0; p < each->survey->views->n_photos; p++)
        if (each->sweeps[p * each->per_photo] && view->share_good[p] >= SURVEY_FIRM)
            lf_sweep_add(each->sweeps + p * each->per_photo, each->per_photo,
                         &view->frame_from_photo[p], view->lens, &view->pyramid);
}

static LfFollowTask survey_task(const Survey *survey, const LfSurveyView *view, int photo)
{
    return (LfFollowTask){.photo = survey->views->photos[photo],
                          .photo_index = photo,
                          .lens = view->lens,
                          .frame = &view->pyramid,
                          .predicted = view->frame_from_photo[photo],
                          .relief = survey_relief(survey, photo)};
}

static void survey_visit_fit(const SurveyEach *each, LfSurveyView *view, LfFollower *follower)
{
    const Survey *survey = each->survey;
    for (int p = 0; p < survey->views->n_photos; p++) {
        const LfFollowTask task = survey_task(survey, view, p);
        g_autofree LfPose *pose = g_new(LfPose, 1);
        view->camera[p] = (LfCameraSums){0};
        if (!(view->share_good[p] > 0) || lf_relief_flat(task.relief) ||
            !lf_follow(follower, &task, true, pose))
            continue;
        if (pose->share_good >= SURVEY_FIRM)
            lf_camera_sums_add(&view->camera[p], task.relief, pose, view->lens);
        view->frame_from_photo[p] = pose->frame_from_photo;
        view->share_good[p] = pose->share_good;
    }
}

/* Photos that were not found, or not well, where their neighbours have them. */
static void survey_visit_fill(const SurveyEach *each, LfSurveyView *view, LfFollower *follower)
{
    const Survey *survey = each->survey;
    for (int p = 0; p < survey->views->n_photos; p++) {
        LfFollowTask task = survey_task(survey, view, p);
        if (view->share_good[p] >= SURVEY_FIRM ||
            !lf_survey_foretell(survey->views, view, p, SURVEY_FIRM, &task.predicted))
            continue;
        g_autofree LfPose *pose = g_new(LfPose, 1);
        if (!lf_follow(follower, &task, true, pose) || pose->share_good <= view->share_good[p])
            continue;
        view->frame_from_photo[p] = pose->frame_from_photo;
        view->share_good[p] = pose->share_good;
    }
}

/* Poses of photos that are not flat anew, with what is known of the relief by now. */
static void survey_fit_all(const Survey *survey)
{
    const SurveyEach each = {.survey = survey, .visit = survey_visit_fit, .step = 1};
    survey_each(&each);
}

/* The camera that all views together speak for, added up in their order. */
static void survey_solve_camera(const Survey *survey, int photo)
{
    const GPtrArray *views = survey->views->views;
    const LfPhotoReport *report = &survey->views->photos[photo]->report;
    LfRelief *relief = survey_relief(survey, photo);
    LfCameraSums sums = {0};
    for (guint i = 0; i < views->len; i++)
        lf_camera_sums_join(&sums, &((const LfSurveyView *)views->pdata[i])->camera[photo]);
    lf_relief_set_camera(relief, lf_camera_sums_solve(&sums, *lf_relief_camera(relief),
                                                      MAX(report->width, report->height)));
}

/* Fits poses and, by what they leave, the photos' cameras in turns. */
static void survey_adjust(const Survey *survey)
{
    for (int turn = 0; turn < SURVEY_TURNS; turn++) {
        survey_fit_all(survey);
        for (int p = 0; p < survey->views->n_photos; p++)
            if (lf_relief_known(survey_relief(survey, p)) &&
                !lf_survey_views_cancelled(survey->views))
                survey_solve_camera(survey, p);
    }
}

/* --- flat or not --- */

static void survey_free_sweeps(LfSweep **sweeps, int n)
{
    for (int i = 0; i < n; i++)
        lf_sweep_free(sweeps[i]);
    g_free(sweeps);
}

static bool survey_flat(const Survey *survey)
{
    for (int p = 0; p < survey->views->n_photos; p++)
        if (!lf_relief_flat(survey_relief(survey, p)))
            return false;
    return true;
}

/* Teaches each photo that is not known to be flat by a sweep of its own. */
static void survey_round(const Survey *survey, int stride, bool feel)
{
    LfSweep **sweeps = g_new0(LfSweep *, survey->views->n_photos + 1);
    for (int p = 0; p < survey->views->n_photos; p++)
        if (!lf_relief_flat(survey_relief(survey, p)))
            sweeps[p] = lf_sweep_new(survey->views->photos[p],
                                     *lf_relief_camera(survey_relief(survey, p)), stride);
    /* Sweeps add up whole numbers, so the order in which threads finish does not matter. */
    SurveyEach each = {.survey = survey,
                       .visit = survey_visit_sweep,
                       .sweeps = sweeps,
                       .per_photo = 1,
                       .step = feel ? SURVEY_FEELER : 1};
    survey_each(&each);
    if (feel) {
        for (int p = 0; p < survey->views->n_photos; p++)
            if (sweeps[p])
                lf_sweep_narrow(sweeps[p]);
        each.others = true;
        survey_each(&each);
    }
    for (int p = 0; p < survey->views->n_photos; p++)
        if (sweeps[p] && !lf_survey_views_cancelled(survey->views))
            lf_sweep_teach(sweeps[p], survey_relief(survey, p));
    survey_free_sweeps(sweeps, survey->views->n_photos);
}

/* --- where the photos were taken from --- */

static LfReliefCamera survey_camera(const LfPhoto *photo, int c)
{
    LfReliefCamera camera = *lf_relief_camera(photo->relief);
    camera.distance = SURVEY_CAMERA[c] * MAX(photo->report.width, photo->report.height);
    return camera;
}

/* The distance under which the views agree best. */
static void survey_choose_camera(LfPhoto *photo, LfSweep *const *probes)
{
    double best = 0;
    for (int c = 0; c < SURVEY_CAMERAS; c++) {
        const double agreement = lf_sweep_agreement(probes[c]);
        if (agreement > best)
            lf_relief_set_camera(photo->relief, survey_camera(photo, c));
        best = MAX(best, agreement);
    }
}

static void survey_choose_cameras(const Survey *survey)
{
    const int n = survey->views->n_photos * SURVEY_CAMERAS;
    LfSweep **probes = g_new0(LfSweep *, n + 1);
    for (int p = 0; p < survey->views->n_photos; p++)
        for (int c = 0; c < SURVEY_CAMERAS && !lf_relief_flat(survey_relief(survey, p)); c++)
            probes[p * SURVEY_CAMERAS + c] =
                lf_sweep_new(survey->views->photos[p], survey_camera(survey->views->photos[p], c),
                             SURVEY_STRIDE_CAMERA);
    const SurveyEach each = {.survey = survey,
                             .visit = survey_visit_sweep,
                             .sweeps = probes,
                             .per_photo = SURVEY_CAMERAS,
                             .step = SURVEY_STRIDE_VIEWS};
    survey_each(&each);
    for (int p = 0; p < survey->views->n_photos; p++)
        if (probes[p * SURVEY_CAMERAS] && !lf_survey_views_cancelled(survey->views))
            survey_choose_camera(survey->views->photos[p], probes + p * SURVEY_CAMERAS);
    survey_free_sweeps(probes, n);
}

/* --- what the cells look like --- */

static void survey_visit_constancy(const SurveyEach *each, LfSurveyView *view, LfFollower *follower)
{
    (void)follower;
    for (int p = 0; p < each->survey->views->n_photos; p++) {
        const LfPhoto *photo = each->survey->views->photos[p];
        const LfConstancyView look = {view->lens, &view->pyramid, &view->frame_from_photo[p]};
        if (!each->z) {
            if (view->share_good[p] >= SURVEY_FIRM && lf_relief_known(photo->relief))
                view->unlike[p] = lf_constancy_look(photo, &look, &view->light[p]);
        } else if (each->z[p] && view->unlike[p]) {
            view->behind[p] = lf_constancy_look_behind(photo, &look, &view->light[p], each->z[p]);
        }
    }
}

/* What the views say of a photo's cells; in their order. */
static uint8_t **survey_rows(const Survey *survey, int photo, bool behind)
{
    const GPtrArray *views = survey->views->views;
    uint8_t **rows = g_new(uint8_t *, views->len);
    for (guint i = 0; i < views->len; i++) {
        const LfSurveyView *view = g_ptr_array_index(views, i);
        rows[i] = behind ? view->behind[photo] : view->unlike[photo];
    }
    return rows;
}

/* Where each cell that is not well trusted would stand were it part of the back; NAN for the
 * others. NULL where no back is found. */
static double *survey_behind(const LfRelief *relief)
{
    LfReliefBack back;
    if (!lf_relief_known(relief) || !lf_survey_back(relief, &back))
        return NULL;
    const int n = relief->columns * relief->rows;
    double *z = g_new(double, n);
    for (int i = 0; i < n; i++)
        z[i] = relief->cells[i].trust < SURVEY_TRUSTED ? lf_survey_back_at(relief, &back, i) : NAN;
    return z;
}

/* How far each cell is to be trusted, and which are part of the back instead. */
static void survey_vouch(const Survey *survey)
{
    SurveyEach each = {.survey = survey, .visit = survey_visit_constancy, .step = 1};
    const int n = (int)survey->views->views->len, n_photos = survey->views->n_photos;
    double **z = g_new0(double *, n_photos + 1), **unlike = g_new0(double *, n_photos + 1);
    survey_each(&each);
    for (int p = 0; p < n_photos && !lf_survey_views_cancelled(survey->views); p++) {
        g_autofree uint8_t **rows = survey_rows(survey, p, false);
        if (!lf_relief_known(survey_relief(survey, p)))
            continue;
        unlike[p] = lf_constancy_vouch(survey->views->photos[p], rows, n);
        z[p] = survey_behind(survey_relief(survey, p));
    }
    each.z = (double *const *)z;
    survey_each(&each);
    for (int p = 0; p < n_photos; p++) {
        const LfPhoto *photo = survey->views->photos[p];
        const LfReliefGrid grid = lf_relief_grid(photo->relief);
        g_autofree uint8_t **rows = survey_rows(survey, p, true);
        g_autofree bool *moved = g_new0(bool, grid.columns *grid.rows);
        if (z[p] && !lf_survey_views_cancelled(survey->views))
            lf_constancy_compare(photo, z[p], unlike[p], rows, n, moved);
        if (unlike[p])
            lf_constancy_company(photo, unlike[p], moved);
        g_free(z[p]);
        g_free(unlike[p]);
    }
    g_free(z);
    g_free(unlike);
}

/* --- all of it --- */

/* How the photos stand to each other; one that is then found in more views tells that better. Views
 * are filled once more where depths are still to be found in them. */
static void survey_neighbours(const Survey *survey, bool flat)
{
    const SurveyEach each = {.survey = survey, .visit = survey_visit_fill, .step = 1};
    if (survey->views->n_photos == 1)
        return;
    lf_survey_neighbours(survey->views, SURVEY_FIRM);
    survey_each(&each);
    lf_survey_neighbours(survey->views, SURVEY_FIRM);
    if (!flat)
        survey_each(&each);
}

static bool survey_look(const Survey *survey, GError **error)
{
    LfSurveyViews *views = survey->views;
    const gsize first = MIN(views->n_looks, SURVEY_FIRST_LOOKS);
    if (!lf_survey_views_add(views, first, SURVEY_FIRST_FRAMES / (int)first, survey->jobs, error))
        return false;
    survey_round(survey, SURVEY_STRIDE_FLAT, false);
    const bool flat = survey_flat(survey);
    if (flat && views->n_photos == 1)
        return true;
    if (!lf_survey_views_add(views, views->n_looks, views->frames_each, survey->jobs, error))
        return false;
    survey_neighbours(survey, flat);
    if (flat)
        return true;
    survey_choose_cameras(survey);
    survey_round(survey, SURVEY_STRIDE_FIRST, false);
    survey_adjust(survey);
    survey_round(survey, 1, true);
    survey_vouch(survey);
    lf_survey_neighbours(views, SURVEY_FIRM);
    return true;
}

/* What is kept is rounded; what is used now must be the same. */
static void survey_round_off(LfPhoto *photo)
{
    g_autoptr(GBytes) bytes = lf_photo_relief(photo);
    lf_photo_set_relief(photo, bytes, NULL);
}

bool lf_cast_survey(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks, gsize n_walks,
                    int jobs, const int *cancel, GError **error)
{
    g_autoptr(LfSurveyViews) views =
        lf_survey_views_new(photos, (int)n_photos, walks, n_walks, cancel);
    const Survey survey = {.views = views, .jobs = jobs};
    if (views->n_chunks == 0)
        return true;
    for (gsize p = 0; p < n_photos; p++)
        photos[p]->n_neighbours = 0; /* of a survey before this one */
    const bool ok = survey_look(&survey, error);
    for (gsize p = 0; p < n_photos; p++)
        survey_round_off(photos[p]);
    return ok;
}
