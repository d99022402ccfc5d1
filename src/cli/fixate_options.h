/* The settings of fixation detection as options, for a study and for a bare gaze file. */
#ifndef LF_CLI_FIXATE_OPTIONS_H
#define LF_CLI_FIXATE_OPTIONS_H

#include "cli.h"

#define FIXATE_OPTIONS 11

typedef struct {
    char *method;
    char *numbers[FIXATE_OPTIONS];
    char *help[FIXATE_OPTIONS];
} FixateOptions;

/* Appends to entries (GOptionEntry); they point into options, which must stay where it is. */
void fixate_options_add(FixateOptions *options, GArray *entries);
/* False, with the message written, where an option makes no sense. */
bool fixate_options_read(const CliCommand *command, const FixateOptions *options,
                         LfFixationSettings *settings);
void fixate_options_clear(FixateOptions *options);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(FixateOptions, fixate_options_clear)

#endif
