/* accuracy [--jobs N] [--dump FILE] [--per-walk] [--tolerance DEG] [--thresholds] DIR...: casts
 * every walk of rendered scenes and prints one table.
 *
 * A DIR is what the renderer of demo/ writes: photos.csv, wNN.mp4 with wNN_gaze.csv and
 * wNN_truth.csv (and those of further gazes, wNNb_...), camera.yml. --dump writes one line per cast
 * point: scene, walk, whether it is right, how far off (degrees), and the features of the
 * confidence model, for training. */
#include "accuracy.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    char *dir;
    GPtrArray *photo_names;
    GPtrArray *photos;
    GPtrArray *facings; /* GArray, one per photo */
    GPtrArray *walk_names;
} Scene;

typedef struct {
    const Scene *scene;
    const char *name;
    char *video_path;
    bool own_video; /* else it is that of the walk's first gaze */
    LfGaze *gaze;
    GArray *truth;
    LfChunkSpan *chunks;
    LfCastWalk walk;
    double tolerance_deg;
    GArray *scored; /* out */
    bool failed;
} Job;

static int scene_order(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* photos.csv: name,image, one row per photo. */
static bool scene_photos(Scene *scene)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *list = g_build_filename(scene->dir, "photos.csv", NULL);
    g_autofree char *text = NULL;
    if (!g_file_get_contents(list, &text, NULL, &error)) {
        fprintf(stderr, "%s\n", error->message);
        return false;
    }
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 1; lines[i]; i++) {
        g_auto(GStrv) cell = g_strsplit(g_strchomp(lines[i]), ",", 2);
        if (g_strv_length(cell) < 2)
            continue;
        g_autofree char *file = g_build_filename(scene->dir, cell[1], NULL);
        LfPhoto *photo = lf_photo_load(file, NULL, &error);
        if (!photo) {
            fprintf(stderr, "%s\n", error->message);
            return false;
        }
        g_ptr_array_add(scene->photo_names, g_strdup(cell[0]));
        g_ptr_array_add(scene->photos, photo);
        g_ptr_array_add(scene->facings, accuracy_facings_read(scene->dir, cell[0]));
    }
    return true;
}

static Scene *scene_open(const char *path)
{
    Scene *scene = g_new0(Scene, 1);
    scene->dir = g_strdup(path);
    scene->photo_names = g_ptr_array_new_with_free_func(g_free);
    scene->photos = g_ptr_array_new_with_free_func((GDestroyNotify)lf_photo_free);
    scene->facings = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref);
    scene->walk_names = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GDir) dir = g_dir_open(path, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir)))
        if (g_str_has_suffix(name, "_truth.csv"))
            g_ptr_array_add(scene->walk_names,
                            g_strndup(name, strlen(name) - strlen("_truth.csv")));
    qsort(scene->walk_names->pdata, scene->walk_names->len, sizeof(char *), scene_order);
    return scene_photos(scene) ? scene : NULL;
}

static void scene_close(Scene *scene)
{
    g_ptr_array_unref(scene->photo_names);
    g_ptr_array_unref(scene->photos);
    g_ptr_array_unref(scene->facings);
    g_ptr_array_unref(scene->walk_names);
    g_free(scene->dir);
    g_free(scene);
}

/* Reads all of the walk but its frames. */
static bool job_open(Job *job, GError **error)
{
    const Scene *scene = job->scene;
    g_autofree char *base = g_strdup_printf("%s/%s", scene->dir, job->name);
    g_autofree char *gaze_path = g_strconcat(base, "_gaze.csv", NULL);
    g_autofree char *truth_path = g_strconcat(base, "_truth.csv", NULL);
    g_autofree char *camera_path = g_strconcat(scene->dir, "/camera.yml", NULL);
    const gsize n = strlen(base);
    job->own_video = !g_ascii_isalpha(base[n - 1]);
    g_autofree char *video = g_strndup(base, job->own_video ? n : n - 1);
    job->video_path = g_strconcat(video, ".mp4", NULL);
    job->walk.video_path = job->video_path;
    g_autoptr(LfVideoIndex) index = lf_video_index_new(job->video_path, error);
    if (!index)
        return false;
    job->walk.lens = lf_lens_plain(index->info.width, index->info.height);
    if (g_file_test(camera_path, G_FILE_TEST_EXISTS) &&
        !lf_camera_read(camera_path, index->info.width, index->info.height, &job->walk.lens, error))
        return false;
    LfGazeFormat format = {0};
    job->gaze = lf_gaze_read(gaze_path, &format, index->info.width, index->info.height, error);
    if (!job->gaze)
        return false;
    job->truth = accuracy_truth_read(truth_path, (char **)scene->photo_names->pdata,
                                     (int)scene->photo_names->len);
    if (!job->truth)
        return false;
    if (job->truth->len != job->gaze->n_samples) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s has %u rows for %zu samples", truth_path,
                    job->truth->len, job->gaze->n_samples);
        return false;
    }
    job->walk.samples = job->gaze->samples;
    job->walk.n_samples = job->gaze->n_samples;
    job->chunks = lf_chunks_plan(index, LF_CHUNK_MIN_US, &job->walk.n_chunks);
    job->walk.chunks = job->chunks;
    return true;
}

static void job_free(gpointer data)
{
    Job *job = data;
    g_free(job->video_path);
    lf_gaze_free(job->gaze);
    g_clear_pointer(&job->truth, g_array_unref);
    g_free(job->chunks);
    g_clear_pointer(&job->scored, g_array_unref);
    g_free(job);
}

static bool job_cast(Job *job, GError **error)
{
    const Scene *scene = job->scene;
    g_autoptr(LfTracker) tracker =
        lf_tracker_new((LfPhoto *const *)scene->photos->pdata, (int)scene->photos->len);
    g_autoptr(LfWindow) window = NULL;
    g_autoptr(LfVideo) video = lf_video_open(job->video_path, 1, error);
    if (!video)
        return false;
    LfCastSettings settings = lf_cast_settings_default();
    settings.tolerance_deg = job->tolerance_deg;
    for (gsize c = 0; c < job->walk.n_chunks; c++) {
        LfChunkOutput output;
        LfChunkTask task = {.photos = (LfPhoto *const *)scene->photos->pdata,
                            .n_photos = (int)scene->photos->len,
                            .tracker = tracker,
                            .window = &window,
                            .video = video,
                            .walk = &job->walk,
                            .span = &job->chunks[c],
                            .settings = &settings};
        lf_chunk_output_init(&output);
        bool good = lf_chunk_cast(&task, &output, error);
        for (guint i = 0; good && i < output.placed->len; i++) {
            const LfPlaced *placed = &g_array_index(output.placed, LfPlaced, i);
            Scored s =
                accuracy_score(placed, &g_array_index(job->truth, Truth, placed->cast.sample),
                               scene->facings, job->tolerance_deg);
            g_array_append_val(job->scored, s);
        }
        lf_chunk_output_clear(&output);
        if (!good)
            return false;
    }
    if (job->scored->len != job->gaze->n_samples) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%u samples came out of %zu", job->scored->len,
                    job->gaze->n_samples);
        return false;
    }
    return true;
}

/* Opens the walks of a scene and surveys them, each video once. */
static bool scene_survey(const Scene *scene, double tolerance_deg, GPtrArray *jobs, GError **error)
{
    g_autofree LfCastWalk *walks = g_new0(LfCastWalk, scene->walk_names->len);
    gsize n = 0;
    for (guint w = 0; w < scene->walk_names->len; w++) {
        Job *job = g_new0(Job, 1);
        g_ptr_array_add(jobs, job);
        job->scene = scene;
        job->name = scene->walk_names->pdata[w];
        job->tolerance_deg = tolerance_deg;
        job->scored = g_array_new(FALSE, FALSE, sizeof(Scored));
        if (!job_open(job, error))
            return false;
        if (job->own_video)
            walks[n++] = job->walk;
    }
    return lf_cast_survey((LfPhoto *const *)scene->photos->pdata, scene->photos->len, walks, n, 1,
                          NULL, error);
}

static void job_run(gpointer data, gpointer unused)
{
    Job *job = data;
    g_autoptr(GError) error = NULL;
    (void)unused;
    if (!job_cast(job, &error)) {
        fprintf(stderr, "%s/%s: %s\n", job->scene->dir, job->name,
                error ? error->message : "failed");
        job->failed = true;
    }
}

static void dump_head(FILE *out)
{
    fprintf(out, "scene,walk,sample,state,doubt,truth,right,error_deg,confidence");
    for (int i = 0; i < LF_CONFIDENCE_FEATURES; i++)
        fprintf(out, ",%s", lf_confidence_feature_name(i));
    fprintf(out, "\n");
}

static void dump_job(FILE *out, const Job *job)
{
    for (guint i = 0; i < job->scored->len; i++) {
        const Scored *s = &g_array_index(job->scored, Scored, i);
        double x[LF_CONFIDENCE_FEATURES];
        if (s->placed.cast.photo < 0 || !s->judged)
            continue;
        lf_confidence_features(&s->placed.evidence, job->tolerance_deg, x);
        fprintf(out, "%s,%s,%zu,%s,%s,%s,%d,%.4f,%.5f", job->scene->dir, job->name,
                s->placed.cast.sample, lf_state_name(s->placed.cast.state),
                lf_doubt_name(s->placed.cast.doubt), ACCURACY_TRUTH_STATES[s->truth.state],
                s->error_deg <= job->tolerance_deg, s->error_deg, s->placed.cast.confidence);
        for (int f = 0; f < LF_CONFIDENCE_FEATURES; f++)
            fprintf(out, ",%.5f", x[f]);
        fprintf(out, "\n");
    }
}

int main(int argc, char **argv)
{
    int jobs = 2;
    gboolean per_walk = FALSE, thresholds = FALSE;
    double tolerance_deg = 1;
    g_autofree char *dump = NULL;
    g_auto(GStrv) dirs = NULL;
    const GOptionEntry entries[] = {
        {"jobs", 'j', 0, G_OPTION_ARG_INT, &jobs, "walks at a time", "N"},
        {"dump", 0, 0, G_OPTION_ARG_FILENAME, &dump, "write features and outcomes", "FILE"},
        {"per-walk", 0, 0, G_OPTION_ARG_NONE, &per_walk, "a row for every walk", NULL},
        {"tolerance", 0, 0, G_OPTION_ARG_DOUBLE, &tolerance_deg, "of cast and table", "DEG"},
        {"thresholds", 0, 0, G_OPTION_ARG_NONE, &thresholds, "what each threshold leaves", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &dirs, NULL, "DIR..."},
        {NULL, 0, 0, 0, NULL, NULL, NULL}};
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("- accuracy on rendered scenes");
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error) || !dirs) {
        fprintf(stderr, "%s\n", error ? error->message : "give at least one scene folder");
        return 2;
    }
    g_autoptr(GPtrArray) scenes = g_ptr_array_new_with_free_func((GDestroyNotify)scene_close);
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(job_free);
    GThreadPool *pool = g_thread_pool_new(job_run, NULL, jobs, TRUE, NULL);
    for (int i = 0; dirs[i]; i++) {
        Scene *scene = scene_open(dirs[i]);
        if (!scene)
            return 3;
        g_ptr_array_add(scenes, scene);
        guint before = all->len;
        if (!scene_survey(scene, tolerance_deg, all, &error)) {
            fprintf(stderr, "%s: %s\n", scene->dir, error->message);
            return 3;
        }
        for (guint j = before; j < all->len; j++)
            g_thread_pool_push(pool, all->pdata[j], NULL);
    }
    g_thread_pool_free(pool, FALSE, TRUE);

    FILE *out = dump ? fopen(dump, "w") : NULL;
    if (out)
        dump_head(out);
    g_autoptr(GArray) pooled = g_array_new(FALSE, FALSE, sizeof(Scored));
    bool failed = false;
    accuracy_table_head();
    for (guint s = 0; s < scenes->len; s++) {
        g_autoptr(GArray) mine = g_array_new(FALSE, FALSE, sizeof(Scored));
        const Scene *scene = scenes->pdata[s];
        g_autofree char *name = g_path_get_basename(scene->dir);
        for (guint j = 0; j < all->len; j++) {
            const Job *job = all->pdata[j];
            if (job->scene != scene)
                continue;
            failed |= job->failed;
            g_array_append_vals(mine, job->scored->data, job->scored->len);
            if (per_walk) {
                g_autofree char *row = g_strdup_printf("%s/%s", name, job->name);
                accuracy_table_row(row, job->scored, tolerance_deg);
            }
            if (out)
                dump_job(out, job);
        }
        accuracy_table_row(name, mine, tolerance_deg);
        g_array_append_vals(pooled, mine->data, mine->len);
    }
    if (scenes->len > 1)
        accuracy_table_row("all", pooled, tolerance_deg);
    if (thresholds)
        accuracy_thresholds(pooled, tolerance_deg);
    if (out && fclose(out) != 0)
        failed = true;
    return failed ? 1 : 0;
}
