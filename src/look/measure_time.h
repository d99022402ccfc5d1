/* What is known of a walk's time: which part of any span is settled, and which is not. */
#ifndef LF_LOOK_MEASURE_TIME_H
#define LF_LOOK_MEASURE_TIME_H

#include <lookfall/measure.h>

typedef enum {
    LOOK_TIME_ON_PHOTO, /* sure or placed */
    LOOK_TIME_BLOCKED,
    LOOK_TIME_AWAY,
    LOOK_TIME_DOUBTFUL,
    LOOK_TIME_LOST,
    LOOK_TIME_UNCAST,
    LOOK_TIME_KINDS
} LookTimeKind;

typedef struct LookTime LookTime;

/* interval_us: median time between samples. A sample stands for the time up to the next one, but
 * for two intervals at most; what is left of a longer gap, and what lies before the first sample
 * and after the last, is lost. */
LookTime *look_time_new(int64_t interval_us);
void look_time_free(LookTime *time);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LookTime, look_time_free)

/* In the order of time. */
void look_time_add(LookTime *time, int64_t t_us, LookTimeKind kind);
/* After the last sample, before any question. */
void look_time_close(LookTime *time);

/* How from_us <= t < to_us divides. */
LfKnownTime look_time_between(const LookTime *time, int64_t from_us, int64_t to_us);
/* Unknown time in it, us. */
int64_t look_time_unknown_us(const LookTime *time, int64_t from_us, int64_t to_us);

LookTimeKind look_time_kind(LfState state);

#endif
