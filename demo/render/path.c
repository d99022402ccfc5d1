/* How a walker's head moves; see path.h.
 *
 * Voluntary moves have the minimum-jerk course (T. Flash, N. Hogan, J. Neurosci. 5 (1985) 1688,
 * eq. 4a): s(u) = 10 u^3 - 15 u^4 + 6 u^5, whose peak speed is 1.875 times its mean. Sway is a sum
 * of sines between 0.2 and 2.3 Hz. */
#include "path.h"

#define PATH_SINES 5
#define DEG (G_PI / 180)
#define EYE_Y_MM (-1620.0)

typedef struct {
    double start_s, length_s, delta;
} PathMove;

typedef struct {
    double amplitude, frequency, phase;
} PathSine;

struct LrPath {
    double base[LR_MOVES];
    GArray *moves[LR_MOVES]; /* PathMove, ascending start */
    PathSine sines[LR_MOVES][PATH_SINES];
    GArray *episodes; /* LrEpisode */
    double step_phase;
};

static double path_course(double u)
{
    return u <= 0 ? 0 : u >= 1 ? 1 : u * u * u * (10 - u * (15 - 6 * u));
}

/* Value of one channel without sway. */
static double path_value(const LrPath *path, int channel, double t)
{
    double value = path->base[channel];
    const GArray *moves = path->moves[channel];
    for (guint i = 0; i < moves->len; i++) {
        const PathMove *m = &g_array_index(moves, PathMove, i);
        if (t <= m->start_s)
            break;
        value += m->delta * path_course((t - m->start_s) / m->length_s);
    }
    return value;
}

static void path_move_to(LrPath *path, int channel, double start, double length, double target)
{
    PathMove m = {start, length, target - path_value(path, channel, 1e9)};
    g_array_append_val(path->moves[channel], m);
}

static void path_sway(LrPath *path, LrRng *rng, int channel, double amplitude)
{
    for (int i = 0; i < PATH_SINES; i++) {
        double f = lr_rng_uniform(rng, 0.2, 0.7) * pow(1.45, i);
        path->sines[channel][i] =
            (PathSine){amplitude * lr_rng_uniform(rng, 0.4, 1) / (1 + 0.6 * i), f,
                       lr_rng_uniform(rng, 0, 2 * G_PI)};
    }
}

static double path_end(const LrPath *path, int channel)
{
    return path_value(path, channel, 1e9);
}

/* Turns the head at `start`; returns when it has arrived. */
static double path_turn(LrPath *path, LrRng *rng, double start, double yaw, double pitch,
                        double peak_deg_s)
{
    double angle = hypot(yaw - path_end(path, LR_MOVE_YAW), pitch - path_end(path, LR_MOVE_PITCH));
    double length = MAX(0.32, 1.875 * angle / (peak_deg_s * DEG));
    path_move_to(path, LR_MOVE_YAW, start, length, yaw);
    path_move_to(path, LR_MOVE_PITCH, start + lr_rng_uniform(rng, 0, 0.05), length, pitch);
    return start + length;
}

/* The turn that faces a point from where the walker will be. */
static double path_face(LrPath *path, LrRng *rng, double start, LrVec aim, double loose_deg,
                        double peak_deg_s)
{
    LrVec d = lr_vec_sub(aim, lr_vec(path_end(path, LR_MOVE_X), path_end(path, LR_MOVE_Y),
                                     path_end(path, LR_MOVE_Z)));
    double yaw = atan2(d.x, d.z) + lr_rng_normal(rng) * loose_deg * DEG;
    double pitch = atan2(-d.y, hypot(d.x, d.z)) + lr_rng_normal(rng) * loose_deg * DEG;
    return path_turn(path, rng, start, yaw, CLAMP(pitch, -38 * DEG, 20 * DEG), peak_deg_s);
}

static LrVec path_pick_aim(const LrHabit *habit, LrRng *rng)
{
    return lr_vec(lr_rng_uniform(rng, habit->aim_from, habit->aim_to),
                  lr_rng_uniform(rng, -1700, -550), 0);
}

static double path_take_step(LrPath *path, const LrHabit *habit, LrRng *rng, double start)
{
    double x = path_end(path, LR_MOVE_X), z = lr_rng_uniform(rng, habit->far_z, habit->near_z);
    if (lr_rng_chance(rng, habit->oblique)) {
        double beyond = lr_rng_uniform(rng, 150, 800);
        x = lr_rng_chance(rng, 0.5) ? habit->aim_from - beyond : habit->aim_to + beyond;
    } else {
        x = CLAMP(x + lr_rng_side(rng) * lr_rng_uniform(rng, 250, 800), habit->reach_from,
                  habit->reach_to);
    }
    double far = hypot(x - path_end(path, LR_MOVE_X), z - path_end(path, LR_MOVE_Z));
    double length = MAX(0.8, far / 650); /* mm/s: a shopper's stroll */
    path_move_to(path, LR_MOVE_X, start, length, x);
    path_move_to(path, LR_MOVE_Z, start, length, z);
    return start + length;
}

static double path_do(LrPath *path, const LrHabit *habit, LrRng *rng, LrDeed deed, double t)
{
    LrEpisode e = {deed, t, t, t, path_pick_aim(habit, rng)};
    double quick = lr_rng_uniform(rng, 0.6, 1) * habit->turn_deg_s;
    double dwell = lr_rng_uniform(rng, 0.9, 2.6);
    switch (deed) {
    case LR_DO_BROWSE:
        e.arrive_s = path_face(path, rng, t, e.aim, 4, lr_rng_uniform(rng, 40, 120));
        break;
    case LR_DO_STEP: {
        double there = path_take_step(path, habit, rng, t);
        e.arrive_s = path_face(path, rng, t + 0.1, e.aim, 4, lr_rng_uniform(rng, 30, 90));
        e.arrive_s = MAX(e.arrive_s, there);
        dwell *= 0.6;
        break;
    }
    case LR_DO_ALONG: {
        double side = path_end(path, LR_MOVE_X) > (habit->aim_from + habit->aim_to) / 2 ? -1 : 1;
        double yaw = side * lr_rng_uniform(rng, 35, 58) * DEG;
        e.arrive_s = path_turn(path, rng, t, yaw, lr_rng_uniform(rng, -18, 0) * DEG, quick);
        dwell *= 0.6;
        break;
    }
    case LR_DO_AWAY: {
        double yaw = lr_rng_side(rng) * lr_rng_uniform(rng, 95, 175) * DEG;
        e.arrive_s = path_turn(path, rng, t, yaw, lr_rng_uniform(rng, -25, 8) * DEG, quick);
        e.end_s = e.arrive_s + lr_rng_uniform(rng, 0.5, 1.9);
        e.arrive_s = path_face(path, rng, e.end_s, e.aim, 5, quick);
        dwell = 0.3;
        break;
    }
    }
    e.end_s = e.arrive_s + dwell;
    path_move_to(path, LR_MOVE_ROLL, t, MAX(0.5, e.arrive_s - t),
                 lr_rng_normal(rng) * habit->roll_deg * DEG);
    g_array_append_val(path->episodes, e);
    return e.end_s;
}

LrPath *lr_path_new(uint64_t seed, const LrHabit *habit, double seconds)
{
    LrRng rng = lr_rng_new(seed, "path");
    LrPath *path = g_new0(LrPath, 1);
    for (int c = 0; c < LR_MOVES; c++)
        path->moves[c] = g_array_new(FALSE, FALSE, sizeof(PathMove));
    path->episodes = g_array_new(FALSE, FALSE, sizeof(LrEpisode));
    path->base[LR_MOVE_X] = lr_rng_uniform(&rng, habit->reach_from, habit->reach_to);
    path->base[LR_MOVE_Y] = EYE_Y_MM + lr_rng_normal(&rng) * 60;
    path->base[LR_MOVE_Z] = habit->start_z;
    path->base[LR_MOVE_PITCH] = -8 * DEG;
    path->step_phase = lr_rng_uniform(&rng, 0, 2 * G_PI);
    path_sway(path, &rng, LR_MOVE_X, 6);
    path_sway(path, &rng, LR_MOVE_Y, 2);
    path_sway(path, &rng, LR_MOVE_Z, 6);
    path_sway(path, &rng, LR_MOVE_YAW, 0.55 * DEG);
    path_sway(path, &rng, LR_MOVE_PITCH, 0.4 * DEG);
    path_sway(path, &rng, LR_MOVE_ROLL, 0.35 * DEG);

    /* Walk up to the shelf, then browse. */
    double near = lr_rng_uniform(&rng, habit->far_z, habit->near_z);
    double walk = MAX(1.5, fabs(near - habit->start_z) / 620);
    path_move_to(path, LR_MOVE_Z, 0.4, walk, near);
    path_move_to(path, LR_MOVE_X, 0.4, walk,
                 lr_rng_uniform(&rng, habit->reach_from, habit->reach_to));
    double rate[] = {0, habit->step_rate, habit->along_rate, habit->away_rate}, credit[4] = {0};
    for (int d = LR_DO_STEP; d <= LR_DO_AWAY; d++)
        credit[d] = lr_rng_uniform(&rng, 0, 0.7);
    double t = 0.6 * walk;
    while (t < seconds + 1) {
        /* Each deed gathers credit at its rate and comes when it has enough, so that every walk
         * has its share of all. */
        LrDeed deed = LR_DO_BROWSE;
        for (int d = LR_DO_STEP; d <= LR_DO_AWAY; d++) {
            credit[d] += rate[d] * lr_rng_uniform(&rng, 0.5, 1.5);
            if (credit[d] >= 1 && (deed == LR_DO_BROWSE || credit[d] > credit[deed]))
                deed = (LrDeed)d;
        }
        credit[deed] -= 1;
        t = path_do(path, habit, &rng, deed, t);
    }
    return path;
}

void lr_path_free(LrPath *path)
{
    if (!path)
        return;
    for (int c = 0; c < LR_MOVES; c++)
        g_array_unref(path->moves[c]);
    g_array_unref(path->episodes);
    g_free(path);
}

const LrEpisode *lr_path_episodes(const LrPath *path, gsize *n)
{
    *n = path->episodes->len;
    return (const LrEpisode *)(const void *)path->episodes->data;
}

LrPose lr_path_pose(const LrPath *path, double t)
{
    double v[LR_MOVES];
    for (int c = 0; c < LR_MOVES; c++) {
        v[c] = path_value(path, c, t);
        for (int i = 0; i < PATH_SINES; i++) {
            const PathSine *s = &path->sines[c][i];
            v[c] += s->amplitude * sin(2 * G_PI * s->frequency * t + s->phase);
        }
    }
    /* Steps bob the head, the more the faster it walks. */
    const double h = 0.05;
    double vx = (path_value(path, LR_MOVE_X, t + h) - path_value(path, LR_MOVE_X, t - h)) / (2 * h);
    double vz = (path_value(path, LR_MOVE_Z, t + h) - path_value(path, LR_MOVE_Z, t - h)) / (2 * h);
    double gait = MIN(hypot(vx, vz) / 700, 1), beat = 2 * G_PI * 1.8 * t + path->step_phase;
    v[LR_MOVE_Y] += 14 * gait * sin(beat);
    v[LR_MOVE_X] += 11 * gait * sin(beat / 2);
    v[LR_MOVE_PITCH] += 0.7 * DEG * gait * sin(beat + 0.8);
    v[LR_MOVE_ROLL] += 0.6 * DEG * gait * sin(beat / 2 + 0.4);
    return lr_pose_make(lr_vec(v[LR_MOVE_X], v[LR_MOVE_Y], v[LR_MOVE_Z]), v[LR_MOVE_YAW],
                        v[LR_MOVE_PITCH], v[LR_MOVE_ROLL]);
}

double lr_pose_shift(const LrPose *a, const LrPose *b, double far_mm)
{
    double most = 0;
    for (int i = 0; i < 5; i++) {
        LrVec d = {i == 0 ? 0 : i & 1 ? 0.8 : -0.8, i == 0 ? 0 : i & 2 ? 0.45 : -0.45, 1};
        LrVec point = lr_vec_along(a->at, lr_pose_to_world(a, d), far_mm);
        LrVec seen = lr_pose_to_camera(b, point);
        if (seen.z > 1)
            most = MAX(most, hypot(seen.x / seen.z - d.x, seen.y / seen.z - d.y));
    }
    return most;
}
