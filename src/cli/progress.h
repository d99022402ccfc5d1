/* How far a cast is: a line that rewrites itself on a terminal, one line at the end elsewhere. */
#ifndef LF_CLI_PROGRESS_H
#define LF_CLI_PROGRESS_H

#include <lookfall/study.h>

typedef struct {
    gboolean terminal;
    gint64 start_us; /* monotonic clock */
    gint64 shown_us;
    gboolean drawn;
} CliProgress;

void cli_progress_start(CliProgress *progress);
void cli_progress_show(CliProgress *progress, const LfStudyProgress *now);
/* A step that counts things ("reading 3 of 40"); on a terminal only. */
void cli_progress_count(CliProgress *progress, const char *doing, gsize done, gsize total);
/* Takes the line away, so that a message may be written; it comes back with the next show. */
void cli_progress_clear(CliProgress *progress);
double cli_progress_seconds(const CliProgress *progress);
/* "1:02:03" or "2:03". Owned by the caller. */
char *cli_progress_clock(double seconds);

#endif
