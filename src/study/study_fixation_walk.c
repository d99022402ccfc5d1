/* The fixations of one walk, from its samples and poses. Everything is read before anything is
 * computed, and a walk is all that is held at a time. */
#include "study/study_fixation.h"

#include <math.h>
#include <string.h>

#include "look/steady.h"

typedef struct {
    GArray *samples;    /* LfSteadySample */
    GArray *poses;      /* LfSteadyPose */
    GPtrArray *photos;  /* char *: names by number */
    const char *latest; /* the name last asked for, and its number */
    int latest_number;
} FixationWalk;

void study_fixation_task_free(StudyFixationTask *task)
{
    if (!task)
        return;
    g_free(task->name);
    g_free(task->source);
    g_free(task->fixations);
    g_free(task->used);
    g_clear_pointer(&task->photos, g_ptr_array_unref);
    g_clear_error(&task->error);
    g_free(task);
}

/* Numbers in the order of appearance. Neighbours mostly share a photo, so its name is compared with
 * the latest first. */
static int study_fixation_photo(FixationWalk *walk, const char *name)
{
    if (!name)
        return -1;
    if (walk->latest && strcmp(name, walk->latest) == 0)
        return walk->latest_number;
    guint i = 0;
    while (i < walk->photos->len && strcmp(name, walk->photos->pdata[i]) != 0)
        i++;
    if (i == walk->photos->len)
        g_ptr_array_add(walk->photos, g_strdup(name));
    walk->latest = walk->photos->pdata[i];
    walk->latest_number = (int)i;
    return walk->latest_number;
}

/* A sample that is not cast yet is as good as lost: nothing is known of what it is on. */
static bool study_fixation_take_sample(const LfStudySample *sample, void *data,
                                       G_GNUC_UNUSED GError **error)
{
    FixationWalk *walk = data;
    LfSteadySample out = {.t_us = sample->t_us,
                          .gaze_px = {NAN, NAN},
                          .photo = -1,
                          .at_px = {NAN, NAN},
                          .radius_px = NAN};
    if (sample->cast) {
        out.gaze_px = sample->gaze_px;
        out.photo = study_fixation_photo(walk, sample->photo);
        out.state = sample->result.state;
        out.at_px = (LfPoint){sample->result.x, sample->result.y};
        out.radius_px = sample->result.radius_px;
    }
    g_array_append_val(walk->samples, out);
    return true;
}

static bool study_fixation_take_pose(const LfStudyPose *pose, void *data,
                                     G_GNUC_UNUSED GError **error)
{
    FixationWalk *walk = data;
    LfSteadyPose out = {pose->pose.t_us, study_fixation_photo(walk, pose->photo),
                        pose->pose.photo_from_frame};
    g_array_append_val(walk->poses, out);
    return true;
}

static bool study_fixation_read(LfStudy *study, const StudyFixationTask *task, FixationWalk *walk,
                                LfLens *lens, GError **error)
{
    const char *const names[] = {task->name, NULL};
    g_autoptr(GPtrArray) infos = lf_study_walks(study, names, error);
    if (!infos)
        return false;
    *lens = ((const LfStudyWalk *)infos->pdata[0])->lens;
    return lf_study_export_samples(study, names, study_fixation_take_sample, walk, NULL, error) &&
           lf_study_export_poses(study, names, study_fixation_take_pose, walk, NULL, error);
}

static void study_fixation_find(const FixationWalk *walk, const LfLens *lens,
                                const LfFixationSettings *settings, StudyFixationTask *task)
{
    const LfSteadySample *samples = (const LfSteadySample *)(void *)walk->samples->data;
    int n_photos = (int)walk->photos->len;
    g_autofree LfDirection *directions = lf_steady_directions(
        samples, walk->samples->len, (const LfSteadyPose *)(void *)walk->poses->data,
        walk->poses->len, n_photos, lens);
    g_autoptr(LfFixations) found =
        lf_fixations_find(directions, walk->samples->len, settings, &task->error);
    if (!found)
        return;
    task->used = lf_fixations_used_text(found);
    task->n = found->n_fixations;
    task->fixations = g_new(LfFixation, MAX(task->n, 1));
    for (gsize i = 0; i < task->n; i++)
        task->fixations[i] = lf_steady_fixation(samples, &found->fixations[i], n_photos);
}

void study_fixation_task_run(LfStudy *study, StudyFixationTask *task,
                             const LfFixationSettings *settings)
{
    g_autoptr(GArray) samples = g_array_new(FALSE, FALSE, sizeof(LfSteadySample));
    g_autoptr(GArray) poses = g_array_new(FALSE, FALSE, sizeof(LfSteadyPose));
    task->photos = g_ptr_array_new_with_free_func(g_free);
    FixationWalk walk = {.samples = samples, .poses = poses, .photos = task->photos};
    LfLens lens;
    if (study_fixation_read(study, task, &walk, &lens, &task->error))
        study_fixation_find(&walk, &lens, settings, task);
}
