/* What may be said about pictures on the command line: of one picture, or of those of a report. */
#ifndef LF_CLI_DRAW_OPTIONS_H
#define LF_CLI_DRAW_OPTIONS_H

#include "cli.h"

/* Text as it was given; NULL where it was not. */
typedef struct {
    char *photo, *span, *from, *to, *kernel, *radius, *level, *against, *permutations, *seed, *hold,
        *cell;
    char *colours, *opacity, *background, *width, *title;
    char **walks, **groups;
    gboolean doubtful, samples, count, pooled;
} DrawOptions;

void draw_options_clear(DrawOptions *options);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DrawOptions, draw_options_clear)

/* Options that every command has that draws: which looks, and how they are drawn. */
enum { DRAW_OPTIONS_SHARED = 14 };
/* A command's own n entries and behind them the shared ones, which fill `options`, and the end: as
 * many as `table` has to hold. */
void draw_options_table(DrawOptions *options, const GOptionEntry *own, gsize n,
                        GOptionEntry *table);
/* False, with the message written, where an option means nothing for this kind: a mistake somewhere
 * is not passed over. */
bool draw_options_fit(const CliCommand *command, const DrawOptions *options, LfDrawKind kind);
/* Settings of this kind with what was said; strings stay those of options. False, with the message
 * written, where something makes no sense. */
bool draw_options_settings(const CliCommand *command, const DrawOptions *options, LfDrawKind kind,
                           LfDrawSettings *settings);

#endif
