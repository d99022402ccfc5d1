/* Inputs of a walk that changed since they were read.
 *
 * Only a file whose size or time of change differs is read at all, and only other bytes count as a
 * change. The gaze file and the camera file may be gone: the study holds what was in them. The
 * video must be there. */
#include "study/study_walk.h"

static void study_refresh_note(StudyWalk *walk, const char *what, StudyFileState state)
{
    if (state == STUDY_FILE_CHANGED)
        g_ptr_array_add(walk->notes, g_strdup_printf("its %s has changed and is read again", what));
    if (state == STUDY_FILE_MISSING)
        g_ptr_array_add(walk->notes,
                        g_strdup_printf("its %s is missing; the study's own copy is used", what));
}

/* Another video brings another frame size or start, on which gaze and lens hang. */
static bool study_refresh_video(StudyWalk *walk, StudyFileState gaze, StudyFileState camera,
                                GError **error)
{
    g_autofree char *path = g_strdup(walk->video.path);
    LfVideoInfo old = walk->info;
    if (!walk_read_video(walk, path, error))
        return false;
    if (old.width == walk->info.width && old.height == walk->info.height &&
        old.stamp_zero_us == walk->info.stamp_zero_us)
        return true;
    if (gaze == STUDY_FILE_MISSING || camera == STUDY_FILE_MISSING) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "its video has changed in size or start, so its %s is needed again, but that "
                    "is missing: %s",
                    gaze == STUDY_FILE_MISSING ? "gaze file" : "camera file",
                    gaze == STUDY_FILE_MISSING ? walk->gaze.path : walk->camera.path);
        return false;
    }
    return true;
}

/* Reads what has to be read, in the order in which one depends on the other. */
static bool study_refresh_reread(StudyWalk *walk, StudyFileState video, StudyFileState gaze,
                                 StudyFileState camera, GError **error)
{
    g_autofree char *gaze_path = g_strdup(walk->gaze.path);
    g_autofree char *camera_path = g_strdup(walk->camera.path);
    bool anew = video == STUDY_FILE_CHANGED;
    if (anew && !study_refresh_video(walk, gaze, camera, error))
        return false;
    if (!walk->camera.path) {
        if (anew && !walk_read_camera(walk, NULL, error))
            return false;
    } else if ((anew && camera != STUDY_FILE_MISSING) || camera == STUDY_FILE_CHANGED) {
        if (!walk_read_camera(walk, camera_path, error))
            return false;
    }
    if ((anew && gaze != STUDY_FILE_MISSING) || gaze == STUDY_FILE_CHANGED)
        return walk_read_gaze(walk, gaze_path, error);
    return true;
}

/* The kept samples of a walk whose video changed: how many lie outside now. */
static bool study_refresh_outside(LfStudy *study, StudyWalk *walk, GError **error)
{
    return study_db_get(study, error, 0, &walk->n_outside,
                        "SELECT count(*) FROM gaze WHERE walk = ? AND (t_us < ? OR t_us >= ?)",
                        "iii", walk->id, walk->first_us, walk->end_us);
}

bool study_refresh_read(LfStudy *study, StudyWalk *walk, StudyRefresh *refresh, GError **error)
{
    StudyFileState video, gaze, camera = STUDY_FILE_SAME;

    if (!study_file_check(study, walk->video.id, &walk->video, &video, error) ||
        !study_file_check(study, walk->gaze.id, &walk->gaze, &gaze, error) ||
        (walk->camera.id &&
         !study_file_check(study, walk->camera.id, &walk->camera, &camera, error)))
        return false;
    if (video == STUDY_FILE_MISSING) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "its video is missing: %s. Put it back there, or at the same place beside the "
                    "study",
                    walk->video.path);
        return false;
    }
    study_refresh_note(walk, "video", video);
    study_refresh_note(walk, "gaze file", gaze);
    study_refresh_note(walk, "camera file", camera);
    *refresh = STUDY_REFRESH_NOTHING;
    if (video == STUDY_FILE_TOUCHED || gaze == STUDY_FILE_TOUCHED || camera == STUDY_FILE_TOUCHED)
        *refresh = STUDY_REFRESH_FILES;
    if (video == STUDY_FILE_CHANGED || gaze == STUDY_FILE_CHANGED || camera == STUDY_FILE_CHANGED)
        *refresh = STUDY_REFRESH_WALK;
    return study_refresh_reread(walk, video, gaze, camera, error);
}

bool study_refresh_write(LfStudy *study, StudyWalk *walk, StudyRefresh refresh, GError **error)
{
    if (refresh == STUDY_REFRESH_NOTHING)
        return true;
    if (!study_db_begin(study, error))
        return false;
    bool ok = refresh == STUDY_REFRESH_FILES
                  ? study_walk_write_files(study, walk, error)
                  : (walk->samples || study_refresh_outside(study, walk, error)) &&
                        study_walk_update(study, walk, error);
    return study_db_end(study, ok, error);
}
