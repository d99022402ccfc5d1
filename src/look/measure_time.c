/* Known and unknown time of a walk: runs of samples of one kind, with sums from the start, so that
 * any span is answered by two searches. */
#include "look/measure_time.h"

typedef struct {
    int64_t from_us;
    LookTimeKind kind;
    int64_t before_us[LOOK_TIME_KINDS]; /* time of each kind before from_us, once closed */
} LookTimeRun;

struct LookTime {
    int64_t interval_us;
    int64_t last_us; /* of the last sample */
    bool any;
    GArray *runs; /* LookTimeRun; the first begins with the first sample */
};

LookTime *look_time_new(int64_t interval_us)
{
    LookTime *time = g_new0(LookTime, 1);
    time->interval_us = MAX(interval_us, 1);
    time->runs = g_array_new(FALSE, FALSE, sizeof(LookTimeRun));
    return time;
}

void look_time_free(LookTime *time)
{
    if (!time)
        return;
    g_array_unref(time->runs);
    g_free(time);
}

LookTimeKind look_time_kind(LfState state)
{
    switch (state) {
    case LF_STATE_SURE:
    case LF_STATE_PLACED:
        return LOOK_TIME_ON_PHOTO;
    case LF_STATE_BLOCKED:
        return LOOK_TIME_BLOCKED;
    case LF_STATE_AWAY:
        return LOOK_TIME_AWAY;
    case LF_STATE_DOUBTFUL:
        return LOOK_TIME_DOUBTFUL;
    case LF_STATE_LOST:
        break;
    }
    return LOOK_TIME_LOST;
}

static void look_time_run(LookTime *time, int64_t from_us, LookTimeKind kind)
{
    guint n = time->runs->len;
    if (n > 0 && g_array_index(time->runs, LookTimeRun, n - 1).kind == kind)
        return;
    LookTimeRun run = {.from_us = from_us, .kind = kind};
    g_array_append_val(time->runs, run);
}

void look_time_add(LookTime *time, int64_t t_us, LookTimeKind kind)
{
    int64_t most_us = 2 * time->interval_us;
    if (time->any && t_us - time->last_us > most_us)
        look_time_run(time, time->last_us + most_us, LOOK_TIME_LOST);
    look_time_run(time, t_us, kind);
    time->last_us = t_us;
    time->any = true;
}

void look_time_close(LookTime *time)
{
    if (time->any)
        look_time_run(time, time->last_us + time->interval_us, LOOK_TIME_LOST);
    for (guint i = 1; i < time->runs->len; i++) {
        const LookTimeRun *before = &g_array_index(time->runs, LookTimeRun, i - 1);
        LookTimeRun *run = &g_array_index(time->runs, LookTimeRun, i);
        for (int k = 0; k < LOOK_TIME_KINDS; k++)
            run->before_us[k] = before->before_us[k];
        run->before_us[before->kind] += run->from_us - before->from_us;
    }
}

/* Time of each kind before t_us, counted from the first sample (negative lost time before it). */
static void look_time_until(const LookTime *time, int64_t t_us, int64_t us[LOOK_TIME_KINDS])
{
    guint low = 0, high = time->runs->len;
    for (int k = 0; k < LOOK_TIME_KINDS; k++)
        us[k] = 0;
    if (high == 0) {
        us[LOOK_TIME_LOST] = t_us;
        return;
    }
    while (high - low > 1) {
        guint middle = low + (high - low) / 2;
        if (g_array_index(time->runs, LookTimeRun, middle).from_us <= t_us)
            low = middle;
        else
            high = middle;
    }
    const LookTimeRun *run = &g_array_index(time->runs, LookTimeRun, low);
    for (int k = 0; k < LOOK_TIME_KINDS; k++)
        us[k] = run->before_us[k];
    us[t_us < run->from_us ? LOOK_TIME_LOST : run->kind] += t_us - run->from_us;
}

static bool look_time_is_known(int kind)
{
    return kind == LOOK_TIME_ON_PHOTO || kind == LOOK_TIME_BLOCKED;
}

int64_t look_time_unknown_us(const LookTime *time, int64_t from_us, int64_t to_us)
{
    int64_t from[LOOK_TIME_KINDS], to[LOOK_TIME_KINDS], unknown = 0;
    look_time_until(time, from_us, from);
    look_time_until(time, to_us, to);
    for (int k = 0; k < LOOK_TIME_KINDS; k++)
        unknown += look_time_is_known(k) ? 0 : to[k] - from[k];
    return unknown;
}

/* End of the last known time before to_us, or from_us where there is none after it. */
static int64_t look_time_known_until(const LookTime *time, int64_t from_us, int64_t to_us)
{
    int64_t end_us = to_us;
    for (guint i = time->runs->len; i-- > 0;) {
        const LookTimeRun *run = &g_array_index(time->runs, LookTimeRun, i);
        if (end_us <= from_us)
            break;
        if (run->from_us < end_us && look_time_is_known(run->kind))
            return end_us;
        end_us = MIN(end_us, run->from_us);
    }
    return from_us;
}

LfKnownTime look_time_between(const LookTime *time, int64_t from_us, int64_t to_us)
{
    int64_t from[LOOK_TIME_KINDS], to[LOOK_TIME_KINDS], us[LOOK_TIME_KINDS], known = 0;
    look_time_until(time, from_us, from);
    look_time_until(time, to_us, to);
    for (int k = 0; k < LOOK_TIME_KINDS; k++) {
        us[k] = to[k] - from[k];
        known += look_time_is_known(k) ? us[k] : 0;
    }
    return (LfKnownTime){
        .span_s = (double)(to_us - from_us) * 1e-6,
        .on_photo_s = (double)us[LOOK_TIME_ON_PHOTO] * 1e-6,
        .blocked_s = (double)us[LOOK_TIME_BLOCKED] * 1e-6,
        .away_s = (double)us[LOOK_TIME_AWAY] * 1e-6,
        .doubtful_s = (double)us[LOOK_TIME_DOUBTFUL] * 1e-6,
        .lost_s = (double)us[LOOK_TIME_LOST] * 1e-6,
        .uncast_s = (double)us[LOOK_TIME_UNCAST] * 1e-6,
        .known_s = (double)known * 1e-6,
        .unknown_s = (double)(to_us - from_us - known) * 1e-6,
        .known_until_s = (double)(look_time_known_until(time, from_us, to_us) - from_us) * 1e-6,
    };
}
