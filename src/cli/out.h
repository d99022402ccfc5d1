/* Where data goes: stdout, or a file that is there whole or not at all. */
#ifndef LF_CLI_OUT_H
#define LF_CLI_OUT_H

#include <stdbool.h>
#include <stdio.h>

#include <glib.h>
#include <lookfall/study.h>

typedef struct CliOut CliOut;

/* path NULL or "-": stdout. Otherwise a file of another name in the same folder, until cli_out_keep
 * gives it its own. An existing file is an error unless force, and where it is the study or one of
 * its inputs always. study: NULL where there is none. */
CliOut *cli_out_open(const char *path, bool force, LfStudy *study, GError **error);
FILE *cli_out_stream(CliOut *out);
/* A write to the stream failed: the error for it. Always false. */
bool cli_out_failed(CliOut *out, GError **error);
/* Everything is written: flushes, and gives the file its name. */
bool cli_out_keep(CliOut *out, GError **error);
/* Removes what was not kept. NULL is fine. */
void cli_out_free(CliOut *out);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CliOut, cli_out_free)

#endif
