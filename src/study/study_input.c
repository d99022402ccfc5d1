/* Files that are never written to: the study and what it was made from. */
#include <lookfall/study.h>

#include <glib/gstdio.h>

#include "study/study_db.h"

static bool study_input_same(const GStatBuf *a, const char *path)
{
    GStatBuf b;
    return path != NULL && g_stat(path, &b) == 0 && a->st_dev == b.st_dev && a->st_ino == b.st_ino;
}

static char *study_input_photo(LfStudy *study, const GStatBuf *file, GError **error)
{
    g_autoptr(GPtrArray) photos = lf_study_photos(study, error);

    for (guint i = 0; photos != NULL && i < photos->len; i++) {
        const LfStudyPhoto *photo = photos->pdata[i];
        if (study_input_same(file, photo->path))
            return g_strdup_printf("the picture of the photo %s", photo->name);
    }
    return NULL;
}

static char *study_input_walk(LfStudy *study, const GStatBuf *file, GError **error)
{
    g_autoptr(GPtrArray) walks = lf_study_walks(study, NULL, error);

    for (guint i = 0; walks != NULL && i < walks->len; i++) {
        const LfStudyWalk *walk = walks->pdata[i];
        if (study_input_same(file, walk->video))
            return g_strdup_printf("the video of the walk %s", walk->name);
        if (study_input_same(file, walk->gaze) || study_input_same(file, walk->camera))
            return g_strdup_printf("an input of the walk %s", walk->name);
    }
    return NULL;
}

bool lf_study_spares(LfStudy *study, const char *path, GError **error)
{
    g_autoptr(GError) why = NULL;
    g_autofree char *what = NULL;
    GStatBuf file;

    if (g_stat(path, &file) != 0)
        return true;
    if (study_input_same(&file, study->path))
        what = g_strdup("the study");
    if (what == NULL)
        what = study_input_photo(study, &file, &why);
    if (what == NULL && why == NULL)
        what = study_input_walk(study, &file, &why);
    if (why != NULL) {
        g_propagate_error(error, g_steal_pointer(&why));
        return false;
    }
    if (what != NULL)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: is %s, which is never written to; give what is made another name", path,
                    what);
    return what == NULL;
}
