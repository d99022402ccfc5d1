/* The progress line. */
#include "progress.h"

#include <math.h>
#include <stdio.h>
#include <unistd.h>

#define CLI_PROGRESS_EVERY_US 200000
#define CLI_PROGRESS_BAR 24

void cli_progress_start(CliProgress *progress)
{
    *progress =
        (CliProgress){.terminal = isatty(STDERR_FILENO), .start_us = g_get_monotonic_time()};
}

double cli_progress_seconds(const CliProgress *progress)
{
    return (double)(g_get_monotonic_time() - progress->start_us) / 1e6;
}

char *cli_progress_clock(double seconds)
{
    gint64 s = (gint64)llround(seconds);
    return s >= 3600
               ? g_strdup_printf("%d:%02d:%02d", (int)(s / 3600), (int)(s / 60 % 60), (int)(s % 60))
               : g_strdup_printf("%d:%02d", (int)(s / 60), (int)(s % 60));
}

void cli_progress_clear(CliProgress *progress)
{
    if (progress->drawn)
        fputs("\r\033[K", stderr);
    progress->drawn = FALSE;
}

static gboolean cli_progress_due(CliProgress *progress)
{
    gint64 now_us = g_get_monotonic_time();
    if (!progress->terminal || now_us - progress->shown_us < CLI_PROGRESS_EVERY_US)
        return FALSE;
    progress->shown_us = now_us;
    return TRUE;
}

void cli_progress_show(CliProgress *progress, const LfStudyProgress *now)
{
    if (now->frames_total <= 0 || !cli_progress_due(progress))
        return;
    double seconds = MAX(cli_progress_seconds(progress), 1e-3);
    double share = MIN((double)now->frames / (double)now->frames_total, 1.0);
    char bar[CLI_PROGRESS_BAR + 1] = {0};
    for (int i = 0; i < CLI_PROGRESS_BAR; i++)
        bar[i] = i < share * CLI_PROGRESS_BAR ? '#' : '.';
    g_autofree char *left =
        share > 0 ? cli_progress_clock(seconds / share - seconds) : g_strdup("?");
    fprintf(stderr, "\r\033[K[%s] %3.0f%%  %.0f frames/s  %.1f times real time  %s left", bar,
            100 * share, (double)now->frames / seconds, (double)now->video_us / 1e6 / seconds,
            left);
    fflush(stderr);
    progress->drawn = TRUE;
}

void cli_progress_count(CliProgress *progress, const char *doing, gsize done, gsize total)
{
    if (!cli_progress_due(progress))
        return;
    fprintf(stderr, "\r\033[K%s %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT, doing, done, total);
    fflush(stderr);
    progress->drawn = TRUE;
}
