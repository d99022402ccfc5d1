/* What may be said about a picture on the command line. */
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

/* Settings of this kind with what was said; strings stay those of options. False, with the message
 * written, where something makes no sense or does not go with the kind. */
bool draw_options_settings(const CliCommand *command, const DrawOptions *options, LfDrawKind kind,
                           LfDrawSettings *settings);

#endif
