/* A study of many long walks that were never filmed: rows as a cast would leave them, for measuring
 * what comes after it.
 *
 *   look_load STUDY WALKS MINUTES AREAS
 *
 * 100 samples and 25 poses a second. The head drifts before a photo of 2,400 x 1,500 px; the eye
 * rests for 0.2 to 0.6 s, then jumps within 40 ms; one sample in 30 is lost (in blinks), one in 20
 * doubtful. Areas: a grid in groups of ten. The same numbers give the same study. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "study/study_recipe.h"

#include <lookfall/area.h>

#define LOAD_PHOTO_WIDTH 2400
#define LOAD_PHOTO_HEIGHT 1500
#define LOAD_FRAME_WIDTH 1280
#define LOAD_FRAME_HEIGHT 720
#define LOAD_SAMPLE_US 10000
#define LOAD_FRAME_US 40000

typedef struct {
    GRand *rand;
    double phase;
    LfPoint from, to; /* photo px, of the jump under way or done */
    int64_t jump_us;  /* when it began */
    int64_t rest_us;  /* how long the eye rests after it */
    int64_t lost_us;  /* lost until then */
    int64_t doubt_us; /* doubtful until then */
} LoadEye;

static void load_must(bool ok, GError *error)
{
    if (ok)
        return;
    fprintf(stderr, "look_load: %s\n", error ? error->message : "failed");
    exit(1);
}

/* Where the photo's origin lies in the frame: one frame px is one photo px. */
static LfPoint load_shift(const LoadEye *eye, int64_t t_us)
{
    double t_s = (double)t_us * 1e-6;
    return (LfPoint){560 + 500 * sin(0.05 * t_s + eye->phase) + 12 * sin(5 * t_s),
                     390 + 350 * sin(0.031 * t_s + 2 * eye->phase) + 9 * cos(6.1 * t_s)};
}

static LfPoint load_gaze(LoadEye *eye, int64_t t_us)
{
    if (t_us >= eye->jump_us + 40000 + eye->rest_us) {
        LfPoint shift = load_shift(eye, t_us);
        eye->from = eye->to;
        eye->to = (LfPoint){shift.x + g_rand_double_range(eye->rand, 100, LOAD_FRAME_WIDTH - 100),
                            shift.y + g_rand_double_range(eye->rand, 80, LOAD_FRAME_HEIGHT - 80)};
        eye->jump_us = t_us;
        eye->rest_us = g_rand_int_range(eye->rand, 200000, 600000);
        if (g_rand_int_range(eye->rand, 0, 9) == 0)
            eye->lost_us = t_us + 140000;
        if (g_rand_int_range(eye->rand, 0, 20) == 0)
            eye->doubt_us = t_us + 450000;
    }
    double done = fmin((double)(t_us - eye->jump_us) / 40000, 1);
    double share = done * done * (3 - 2 * done);
    return (LfPoint){eye->from.x + share * (eye->to.x - eye->from.x),
                     eye->from.y + share * (eye->to.y - eye->from.y)};
}

static void load_photo(LfStudy *study, int areas)
{
    GError *error = NULL;
    g_autofree char *photo = g_strdup_printf(
        "INSERT INTO file VALUES(1, '/none', 'none', '', 0, 0);"
        "INSERT INTO photo VALUES(1, 'shelf', 1, %d, %d, 2400, 2000, 1, 0, 1, '', x'')",
        LOAD_PHOTO_WIDTH, LOAD_PHOTO_HEIGHT);
    load_must(sqlite3_exec(study->db, photo, NULL, NULL, NULL) == SQLITE_OK, NULL);
    g_autoptr(GPtrArray) list = lf_area_list_new();
    int columns = (int)ceil(sqrt(areas * (double)LOAD_PHOTO_WIDTH / LOAD_PHOTO_HEIGHT));
    int rows = (areas + columns - 1) / columns;
    double w = (double)LOAD_PHOTO_WIDTH / columns, h = (double)LOAD_PHOTO_HEIGHT / rows;
    for (int i = 0; i < areas; i++) {
        double x = i % columns * w, y = i / columns * h;
        g_autofree char *name = g_strdup_printf("pack %d", i);
        g_autofree char *group = g_strdup_printf("shelf %d/brand %d", i / columns, i / 10);
        g_autofree char *points = g_strdup_printf("%.2f,%.2f %.2f,%.2f %.2f,%.2f %.2f,%.2f", x, y,
                                                  x + w - 1, y, x + w - 1, y + h - 1, x, y + h - 1);
        g_ptr_array_add(list, lf_area_new("shelf", name, group, LF_AREA_RECT, points, NULL));
    }
    load_must(lf_study_area_put(study, list, NULL, &error), error);
}

static int64_t load_walk_row(LfStudy *study, int number, int64_t end_us, int64_t *recipe)
{
    GError *error = NULL;
    g_autofree char *row = g_strdup_printf(
        "INSERT INTO walk(name, participant, group_name, video, gaze, clock_shift_ms, clock,"
        " width_px, height_px, rotation_deg, codec, frame_rate, stamp_zero_us, frames, first_us,"
        " end_us, cut_off, lens_calibrated, lens_fx_px, lens_fy_px, lens_cx_px, lens_cy_px,"
        " lens_distortion, time_decimals, samples, lost, outside, interval_us)"
        " VALUES('w%03d', 'p%03d', '%s', 1, 1, 0, 'start', %d, %d, 0, 'h264', 25, 0, %d, 0, %d, 0,"
        " 1, 900, 900, 640, 360, '', 4, %d, 0, 0, %d)",
        number, number, number % 2 ? "old" : "new", LOAD_FRAME_WIDTH, LOAD_FRAME_HEIGHT,
        (int)(end_us / LOAD_FRAME_US), (int)end_us, (int)(end_us / LOAD_SAMPLE_US), LOAD_SAMPLE_US);
    load_must(sqlite3_exec(study->db, row, NULL, NULL, NULL) == SQLITE_OK, NULL);
    int64_t id = sqlite3_last_insert_rowid(study->db);
    g_autofree char *head = study_recipe_head(study, &error);
    g_autoptr(StudyWalk) walk = study_walk_load(study, id, &error);
    load_must(head && walk && study_recipe_put(study, head, walk, recipe, &error), error);
    return id;
}

static void load_sample(LoadEye *eye, sqlite3_stmt *gaze, sqlite3_stmt *cast, int64_t id,
                        int64_t t_us)
{
    LfPoint at = load_gaze(eye, t_us), shift = load_shift(eye, t_us);
    double noise_x = g_rand_double_range(eye->rand, -3, 3);
    double noise_y = g_rand_double_range(eye->rand, -3, 3);
    bool lost = t_us < eye->lost_us, doubtful = t_us < eye->doubt_us;
    double x = lost ? (double)NAN : at.x + noise_x, y = lost ? (double)NAN : at.y + noise_y;
    study_db_bind(gaze, "iidd", id, t_us, x - shift.x, y - shift.y);
    study_db_bind(cast, "iiiidddd", id, t_us, (int64_t)1,
                  (int64_t)(lost       ? LF_STATE_LOST
                            : doubtful ? LF_STATE_DOUBTFUL
                                       : LF_STATE_SURE),
                  x, y,
                  lost       ? (double)NAN
                  : doubtful ? 0.5
                             : 0.97,
                  lost ? (double)NAN : 1.5);
    if (lost)
        sqlite3_bind_null(cast, 3);
    sqlite3_step(gaze);
    sqlite3_reset(gaze);
    sqlite3_step(cast);
    sqlite3_reset(cast);
}

static void load_walk(LfStudy *study, int number, int64_t end_us)
{
    GError *error = NULL;
    int64_t recipe, run;
    LoadEye eye = {.rand = g_rand_new_with_seed((guint32)number), .phase = number, .jump_us = -1};
    load_must(study_db_begin(study, &error) && study_db_log(study, "cast", "made", &run, &error),
              error);
    int64_t id = load_walk_row(study, number, end_us, &recipe);
    load_must(study_db_run(study, &error,
                           "INSERT INTO chunk(walk, number, key_us, from_us, to_us, frames_due,"
                           " recipe, run, frames, damaged, lost, away, blocked, doubtful, sure)"
                           " VALUES(?, 0, 0, ?, ?, 0, ?, ?, 0, 0, 0, 0, 0, 0, 0)",
                           "iiiii", id, INT64_MIN, INT64_MAX, recipe, run),
              error);
    g_autoptr(sqlite3_stmt) gaze =
        study_db_prepare(study, &error, "INSERT INTO gaze VALUES(?, ?, ?, ?)");
    g_autoptr(sqlite3_stmt) cast = study_db_prepare(
        study, &error,
        "INSERT INTO cast_sample(walk, t_us, photo, state, x_px, y_px, confidence, radius_px)"
        " VALUES(?, ?, ?, ?, ?, ?, ?, ?)");
    g_autoptr(sqlite3_stmt) pose = study_db_prepare(
        study, &error, "INSERT INTO pose VALUES(?, ?, 1, 0.97, 1, 0, ?, 0, 1, ?, 0, 0, 1)");
    load_must(gaze && cast && pose, error);
    for (int64_t t_us = 0; t_us < end_us; t_us += LOAD_SAMPLE_US) {
        load_sample(&eye, gaze, cast, id, t_us);
        if (t_us % LOAD_FRAME_US)
            continue;
        LfPoint shift = load_shift(&eye, t_us);
        study_db_bind(pose, "iidd", id, t_us, shift.x, shift.y);
        load_must(study_db_finish(study, pose, &error), error);
    }
    load_must(study_db_end(study, true, &error), error);
    g_rand_free(eye.rand);
}

int main(int argc, char **argv)
{
    GError *error = NULL;
    if (argc != 5) {
        fprintf(stderr, "Usage: look_load STUDY WALKS MINUTES AREAS\n");
        return 2;
    }
    int walks = atoi(argv[2]), areas = atoi(argv[4]);
    int64_t end_us = atoi(argv[3]) * INT64_C(60000000);
    LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(LfStudy) study = lf_study_create(argv[1], &settings, &error);
    load_must(study != NULL, error);
    load_photo(study, areas);
    for (int i = 1; i <= walks; i++)
        load_walk(study, i, end_us);
    return 0;
}
