/* oblique [--views N] [--size WxH] [--file] PICTURE...: how often a photo is located when it is
 * looked at aslant.
 *
 * Every picture is taken for a photo. Views of it are made by homographies: from straight ahead to
 * 70 degrees aside, in every direction, from near and far, the head rolled by up to 30 degrees,
 * with other light and sensor noise. A view counts as located where the median distance, over the
 * places of the photo in view, of the place told from the true one is under 5 px of the photo.
 * --file searches at leisure, as "lookfall locate" does, rather than as a cast does. Same views
 * each time. */
#include <stdio.h>
#include <stdlib.h>

#include "cast/scene.h"

#include "cast/locate.h"

/* As the tracker has them. */
#define OBLIQUE_FEATURES 900
#define OBLIQUE_MIN_SHARE 0.3
#define OBLIQUE_RIGHT_PX 5.0

static const double OBLIQUE_TILTS[] = {0, 20, 40, 50, 60, 65, 70};
enum { OBLIQUE_N = G_N_ELEMENTS(OBLIQUE_TILTS) };

typedef struct {
    int views, located, wrong; /* wrong: told, but elsewhere */
} ObliqueCount;

static int oblique_order(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median distance, photo px; -1 where next to nothing of the photo is in view. */
static double oblique_error(const LfPlane *photo, const LfLens *lens, const LfMat3 *truth,
                            const LfMat3 *told)
{
    double distance[441];
    LfMat3 back;
    int n = 0;
    if (told && !lf_mat3_invert(told, &back))
        return HUGE_VAL;
    for (int i = 0; i < 441; i++) {
        const LfPoint p = {(photo->width - 1) * (i % 21) / 20.0,
                           (photo->height - 1) * (i / 21) / 20.0};
        LfPoint at, q;
        if (!lf_mat3_apply(truth, p, &at) || at.x < 0 || at.y < 0 || at.x > lens->width - 1 ||
            at.y > lens->height - 1)
            continue;
        distance[n++] =
            told && lf_mat3_apply(&back, at, &q) ? hypot(p.x - q.x, p.y - q.y) : HUGE_VAL;
    }
    if (n < 20)
        return -1;
    qsort(distance, (gsize)n, sizeof *distance, oblique_order);
    return distance[n / 2];
}

static bool oblique_cast(LfFollower *follower, const LfPhoto *photo, const LfLens *lens,
                         const LfPlane *frame, LfPose *pose)
{
    LfFramePyramid pyramid = scene_pyramid(frame);
    LfFrameFeatures features = {0};
    const LfFollowTask task = {.photo = photo, .lens = lens, .frame = &pyramid};
    const bool found =
        lf_frame_features_find(&features, &pyramid, NULL, lens, LF_SHIM_ORB, OBLIQUE_FEATURES) &&
        lf_locate(follower, &task, &photo->features, &features, pose) &&
        pose->share_good >= OBLIQUE_MIN_SHARE;
    lf_frame_features_clear(&features);
    lf_frame_pyramid_clear(&pyramid);
    return found;
}

static bool oblique_file(const char *path, const char *folder, const LfPlane *frame, LfMat3 *told)
{
    g_autofree char *image = scene_write_pgm(folder, "view.pgm", frame);
    LfLocated located;
    if (!lf_locate_file(path, image, &located, NULL) || !located.found)
        return false;
    *told = located.photo_to_image;
    return true;
}

typedef struct {
    const char *path;
    LfPhoto *photo;
    LfLens lens;
    LfFollower *follower;
    const char *folder; /* --file: for the views; NULL otherwise */
} ObliqueTask;

static void oblique_one(const ObliqueTask *task, GRand *rand, double tilt, ObliqueCount *count)
{
    const LfPlane *plane = &task->photo->level[0];
    const double direction = g_rand_double_range(rand, 0, 360);
    const double roll = g_rand_double_range(rand, -30, 30);
    const double distance = g_rand_double_range(rand, 0.6, 1.6);
    const double gain = g_rand_double_range(rand, 0.5, 1.1);
    const double offset = g_rand_double_range(rand, 0, 25);
    const LfMat3 truth = scene_view_aslant(plane, &task->lens, tilt, direction, roll, distance);
    if (oblique_error(plane, &task->lens, &truth, NULL) < 0)
        return;
    LfPlane frame = scene_render(plane, &truth, &task->lens, 110);
    for (int p = 0; p < frame.width * frame.height; p++)
        frame.data[p] = scene_pixel(gain * frame.data[p] + offset + 4 * scene_gauss(rand));
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    LfMat3 told;
    bool found = false;
    if (task->folder) {
        found = oblique_file(task->path, task->folder, &frame, &told);
    } else if ((found = oblique_cast(task->follower, task->photo, &task->lens, &frame, pose))) {
        told = pose->frame_from_photo;
    }
    count->views++;
    if (found) {
        const bool right = oblique_error(plane, &task->lens, &truth, &told) < OBLIQUE_RIGHT_PX;
        count->located += right;
        count->wrong += !right;
    }
    lf_plane_clear(&frame);
}

static void oblique_row(const char *name, const ObliqueCount count[OBLIQUE_N])
{
    ObliqueCount all = {0};
    printf("%-18.18s", name);
    for (int t = 0; t < OBLIQUE_N; t++) {
        printf(count[t].views ? "%7.0f%%" : "      -",
               100.0 * count[t].located / MAX(count[t].views, 1));
        all.views += count[t].views;
        all.located += count[t].located;
        all.wrong += count[t].wrong;
    }
    printf("%7.1f%%%7.1f%%%7d\n", 100.0 * all.located / MAX(all.views, 1),
           100.0 * all.wrong / MAX(all.views, 1), all.views);
    fflush(stdout);
}

int main(int argc, char **argv)
{
    int views = 4;
    gboolean by_file = FALSE;
    g_autofree char *size = NULL;
    g_auto(GStrv) paths = NULL;
    const GOptionEntry entries[] = {
        {"views", 0, 0, G_OPTION_ARG_INT, &views, "views for each picture and tilt (4)", "N"},
        {"size", 0, 0, G_OPTION_ARG_STRING, &size, "of the frames (1920x1080)", "WxH"},
        {"file", 0, 0, G_OPTION_ARG_NONE, &by_file, "search at leisure", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &paths, NULL, "PICTURE..."},
        G_OPTION_ENTRY_NULL,
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("- locating photos seen aslant");
    int width = 1920, height = 1080;
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error) || !paths ||
        (size && sscanf(size, "%dx%d", &width, &height) != 2)) {
        fprintf(stderr, "%s\n", error ? error->message : "oblique PICTURE...; see --help");
        return 2;
    }
    ObliqueCount all[OBLIQUE_N] = {{0, 0, 0}};
    char *folder = by_file ? scene_folder_new() : NULL;
    g_autoptr(LfFollower) follower = lf_follower_new();
    printf("%-18s", "tilt, degrees");
    for (int t = 0; t < OBLIQUE_N; t++)
        printf("%8.0f", OBLIQUE_TILTS[t]);
    printf("%8s%8s%7s\n", "all", "wrong", "views");
    for (int i = 0; paths[i]; i++) {
        g_autoptr(LfPhoto) photo = lf_photo_load(paths[i], NULL, &error);
        if (!photo) {
            fprintf(stderr, "%s\n", error->message);
            return 3;
        }
        const ObliqueTask task = {paths[i], photo, lf_lens_plain(width, height), follower, folder};
        g_autoptr(GRand) rand = g_rand_new_with_seed(7 + (guint32)i);
        ObliqueCount count[OBLIQUE_N] = {{0, 0, 0}};
        for (int t = 0; t < OBLIQUE_N; t++)
            for (int v = 0; v < views; v++)
                oblique_one(&task, rand, OBLIQUE_TILTS[t], &count[t]);
        for (int t = 0; t < OBLIQUE_N; t++) {
            all[t].views += count[t].views;
            all[t].located += count[t].located;
            all[t].wrong += count[t].wrong;
        }
        g_autofree char *name = g_path_get_basename(paths[i]);
        oblique_row(name, count);
    }
    oblique_row("all", all);
    if (folder)
        scene_folder_remove(folder);
    return 0;
}
