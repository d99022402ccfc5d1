/* Files a command reads as a whole. */
#ifndef LF_CLI_IN_H
#define LF_CLI_IN_H

#include <stdbool.h>

#include <glib.h>

/* Larger ones are no tables or drawings of areas or marks. */
#define CLI_IN_MOST (64 << 20)

/* *text is owned by the caller. LF_ERROR_INPUT where there is no such file or it is too large. */
bool cli_in_read(const char *path, char **text, gsize *length, GError **error);

#endif
