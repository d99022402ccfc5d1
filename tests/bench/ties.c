/* ties [--seconds S] DIR...: how far one tied point settles a stretch.
 *
 * DIR as for accuracy, with wNN_truth_poses.csv. Every walk is cut into stretches. In each, one
 * true point near its middle is tied, once with the engine's poses wrong by a facing and once with
 * none; and four points with none. Printed is the share of visible samples within a degree of the
 * truth. */
#include "accuracy.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <lookfall/tie.h>

/* Photo px: about a facing of the rendered shelves. */
#define TIES_FACING 110.0

typedef struct {
    LfPhoto *photo;
    LfCastWalk walk;
    const LfGaze *gaze;
    const GArray *truth; /* Truth */
    GArray *poses;       /* LfPoseCast, true, of photo 0 */
} TiesWalk;

typedef struct {
    int stretches, settled; /* settled: 97 of 100 visible samples right */
    int visible, right, sure, sure_wrong;
    double work_s;
} TiesCount;

/* t_s,photo,visible_share,h0,...,h8 */
static GArray *ties_poses(const char *path, const char *photo)
{
    g_autofree char *text = NULL;
    GArray *poses = g_array_new(FALSE, FALSE, sizeof(LfPoseCast));
    if (!g_file_get_contents(path, &text, NULL, NULL))
        return poses;
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 1; lines[i]; i++) {
        g_auto(GStrv) cell = g_strsplit(lines[i], ",", -1);
        if (g_strv_length(cell) < 12 || strcmp(cell[1], photo) != 0 ||
            g_ascii_strtod(cell[2], NULL) < 0.25)
            continue;
        LfPoseCast pose = {.t_us = llround(1e6 * g_ascii_strtod(cell[0], NULL))};
        for (int k = 0; k < 9; k++)
            pose.photo_from_frame.m[k] = g_ascii_strtod(cell[3 + k], NULL);
        g_array_append_val(poses, pose);
    }
    return poses;
}

/* The visible sample at a frame's own time that is nearest to the middle; -1 for none. */
static gssize ties_pick(const TiesWalk *w, int64_t from_us, int64_t to_us)
{
    gssize best = -1;
    for (guint p = 0; p < w->poses->len; p++) {
        const int64_t t_us = g_array_index(w->poses, LfPoseCast, p).t_us;
        const gsize i = lf_gaze_first_at(w->gaze->samples, w->gaze->n_samples, t_us);
        if (t_us < from_us || t_us >= to_us || i >= w->gaze->n_samples ||
            w->gaze->samples[i].t_us != t_us ||
            g_array_index(w->truth, Truth, i).state != TRUTH_VISIBLE ||
            g_array_index(w->truth, Truth, i).at.photo != 0)
            continue;
        const int64_t middle = (from_us + to_us) / 2;
        if (best < 0 || llabs(t_us - middle) < llabs(w->gaze->samples[best].t_us - middle))
            best = (gssize)i;
    }
    return best;
}

static int ties_four(const TiesWalk *w, int64_t t_us, LfTie ties[4])
{
    const LfLens *lens = &w->walk.lens;
    const LfPhotoReport photo = lf_photo_report(w->photo);
    int n = 0;
    for (guint p = 0; p < w->poses->len; p++) {
        const LfPoseCast *pose = &g_array_index(w->poses, LfPoseCast, p);
        if (pose->t_us != t_us)
            continue;
        for (int k = 0; k < 4; k++) {
            LfPoint u;
            ties[n] = (LfTie){.t_us = t_us,
                              .frame = {lens->width * (k % 2 ? 0.75 : 0.25),
                                        lens->height * (k / 2 ? 0.75 : 0.25)}};
            if (lf_lens_undistort(lens, ties[n].frame, &u) &&
                lf_mat3_apply(&pose->photo_from_frame, u, &ties[n].photo) && ties[n].photo.x > 0 &&
                ties[n].photo.y > 0 && ties[n].photo.x < photo.width - 1 &&
                ties[n].photo.y < photo.height - 1)
                n++;
        }
    }
    return n;
}

static void ties_run(const TiesWalk *w, int64_t from_us, int64_t to_us, const LfTie *ties, int n,
                     const GArray *priors, TiesCount *count)
{
    const LfCastSettings settings = lf_cast_settings_default();
    const LfTieTask task = {.photo = w->photo,
                            .walk = &w->walk,
                            .settings = &settings,
                            .from_us = from_us,
                            .to_us = to_us,
                            .ties = ties,
                            .n_ties = (gsize)n,
                            .priors = (const LfPoseCast *)(const void *)priors->data,
                            .n_priors = priors->len,
                            .threads = 1};
    LfTied tied;
    g_autoptr(GError) error = NULL;
    const gint64 start = g_get_monotonic_time();
    int visible = 0, right = 0;
    count->stretches++;
    if (!lf_cast_tied(&task, &tied, &error))
        fprintf(stderr, "%s\n", error->message);
    count->work_s += (double)(g_get_monotonic_time() - start) / 1e6;
    for (gsize i = 0; i < tied.n_samples; i++) {
        const LfPlaced placed = {.cast = tied.samples[i]};
        const Scored s =
            accuracy_score(&placed, &g_array_index(w->truth, Truth, placed.cast.sample), NULL,
                           settings.tolerance_deg);
        if (s.truth.state != TRUTH_VISIBLE || s.truth.at.photo != 0)
            continue;
        visible++;
        right += s.error_deg <= 1;
        count->sure += placed.cast.state == LF_STATE_SURE;
        count->sure_wrong += placed.cast.state == LF_STATE_SURE && !(s.error_deg <= 1);
    }
    count->visible += visible;
    count->right += right;
    count->settled += right >= 0.97 * visible && tied.n_samples > 0;
    lf_tied_clear(&tied);
}

static void ties_walk(const TiesWalk *w, int64_t length_us, TiesCount count[3])
{
    g_autoptr(GArray) none = g_array_new(FALSE, FALSE, sizeof(LfPoseCast));
    g_autoptr(GArray) wrong = g_array_new(FALSE, FALSE, sizeof(LfPoseCast));
    const LfMat3 move = lf_mat3_translation(TIES_FACING, 0);
    for (guint p = 0; p < w->poses->len; p++) {
        LfPoseCast pose = g_array_index(w->poses, LfPoseCast, p);
        pose.photo_from_frame = lf_mat3_mul(&move, &pose.photo_from_frame);
        g_array_append_val(wrong, pose);
    }
    const int64_t end_us = w->gaze->samples[w->gaze->n_samples - 1].t_us;
    for (int64_t from_us = 0; from_us + length_us <= end_us; from_us += length_us) {
        const gssize i = ties_pick(w, from_us, from_us + length_us);
        if (i < 0)
            continue;
        const LfGazeSample *g = &w->gaze->samples[i];
        const Truth *t = &g_array_index(w->truth, Truth, i);
        const LfTie tie = {g->t_us, {g->x, g->y}, {t->at.x, t->at.y}};
        LfTie four[4];
        ties_run(w, from_us, from_us + length_us, &tie, 1, wrong, &count[0]);
        ties_run(w, from_us, from_us + length_us, &tie, 1, none, &count[1]);
        if (ties_four(w, g->t_us, four) == 4)
            ties_run(w, from_us, from_us + length_us, four, 4, none, &count[2]);
    }
}

static bool ties_scene(const char *dir, int64_t length_us)
{
    TiesCount count[3] = {{0}};
    g_autoptr(GError) error = NULL;
    g_autofree char *picture = g_build_filename(dir, "shelf.png", NULL);
    g_autofree char *camera = g_build_filename(dir, "camera.yml", NULL);
    g_autoptr(LfPhoto) photo = lf_photo_load(picture, NULL, &error);
    for (int number = 1; photo; number++) {
        char *name = (char *)"shelf";
        g_autofree char *video = g_strdup_printf("%s/w%02d.mp4", dir, number);
        g_autofree char *gaze_path = g_strdup_printf("%s/w%02d_gaze.csv", dir, number);
        g_autofree char *truth_path = g_strdup_printf("%s/w%02d_truth.csv", dir, number);
        g_autofree char *poses_path = g_strdup_printf("%s/w%02d_truth_poses.csv", dir, number);
        if (!g_file_test(video, G_FILE_TEST_EXISTS))
            break;
        g_autoptr(LfVideoIndex) index = lf_video_index_new(video, &error);
        LfGazeFormat format = {0};
        g_autoptr(LfGaze) gaze =
            index ? lf_gaze_read(gaze_path, &format, index->info.width, index->info.height, &error)
                  : NULL;
        g_autoptr(GArray) truth = accuracy_truth_read(truth_path, &name, 1);
        g_autoptr(GArray) poses = ties_poses(poses_path, name);
        if (!gaze || !truth)
            break;
        TiesWalk w = {.photo = photo, .gaze = gaze, .truth = truth, .poses = poses};
        w.walk = (LfCastWalk){.video_path = video,
                              .lens = lf_lens_plain(index->info.width, index->info.height),
                              .samples = gaze->samples,
                              .n_samples = gaze->n_samples};
        if (g_file_test(camera, G_FILE_TEST_EXISTS) &&
            !lf_camera_read(camera, index->info.width, index->info.height, &w.walk.lens, &error))
            break;
        g_autofree LfChunkSpan *chunks = lf_chunks_plan(index, LF_CHUNK_MIN_US, &w.walk.n_chunks);
        w.walk.chunks = chunks;
        /* As in a study, but by this walk alone. */
        if (!lf_cast_survey(&photo, 1, &w.walk, 1, 1, NULL, &error))
            break;
        ties_walk(&w, length_us, count);
    }
    if (error)
        fprintf(stderr, "%s: %s\n", dir, error->message);
    static const char *const names[] = {"one tie, wrong by a facing", "one tie, lost",
                                        "four ties, lost"};
    g_autofree char *scene = g_path_get_basename(dir);
    for (int i = 0; i < 3; i++)
        printf("%-14s %-27s %9d %8d %8d %7.2f%% %7.2f%% %8.2f%% %7.2f\n", scene, names[i],
               count[i].stretches, count[i].settled, count[i].visible,
               100.0 * count[i].right / MAX(count[i].visible, 1),
               100.0 * count[i].sure / MAX(count[i].visible, 1),
               100.0 * count[i].sure_wrong / MAX(count[i].sure, 1),
               count[i].work_s / MAX(count[i].stretches, 1));
    fflush(stdout);
    return !error;
}

int main(int argc, char **argv)
{
    double seconds = 3;
    g_auto(GStrv) dirs = NULL;
    const GOptionEntry entries[] = {
        {"seconds", 0, 0, G_OPTION_ARG_DOUBLE, &seconds, "length of a stretch (3)", "S"},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &dirs, NULL, "DIR..."},
        G_OPTION_ENTRY_NULL,
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("- stretches settled by ties");
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error) || !dirs) {
        fprintf(stderr, "%s\n", error ? error->message : "ties DIR...; see --help");
        return 2;
    }
    printf("%-14s %-27s %9s %8s %8s %8s %8s %9s %7s\n", "scene", "", "stretches", "settled",
           "visible", "right", "sure", "of these", "seconds");
    printf("%-14s %-27s %9s %8s %8s %8s %8s %9s %7s\n", "", "", "", "", "samples", "", "", "wrong",
           "each");
    bool good = true;
    for (int i = 0; dirs[i]; i++)
        good = ties_scene(dirs[i], (int64_t)(seconds * 1e6)) && good;
    return good ? 0 : 1;
}
