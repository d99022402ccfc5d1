/* Options of "export stats". */
#ifndef LF_CLI_EXPORT_STATS_H
#define LF_CLI_EXPORT_STATS_H

#include "cli.h"

/* As typed; NULL where not given. */
typedef struct {
    char *by, *measures, *interval, *bootstrap, *resamples, *seed;
} ExportStatsWords;

void export_stats_words_clear(ExportStatsWords *words);
/* What the words mean; false with the message written. */
bool export_stats_options(const CliCommand *command, const ExportStatsWords *words,
                          LfFindingSettings *settings);

#endif
