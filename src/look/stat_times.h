/* Censored times, checked and in order. */
#ifndef LF_LOOK_STAT_TIMES_H
#define LF_LOOK_STAT_TIMES_H

#include <lookfall/statistics.h>

/* n >= 1, each finite and 0 or more. */
bool stat_check_times(const LfStatTime *times, gsize n, GError **error);
/* Ascending; owned by the caller. */
LfStatTime *stat_times_sorted(const LfStatTime *times, gsize n);

#endif
