/* A table of walks. */
#ifndef LF_CLI_MANIFEST_H
#define LF_CLI_MANIFEST_H

#include "walk_options.h"

typedef struct {
    WalkOptions options; /* paths made absolute from the manifest's folder */
    gsize row;           /* as a spreadsheet counts: the header row is 1 */
    char *fault;         /* why the row makes no sense by itself; NULL: none */
} ManifestRow;

/* ManifestRow of each row that is not blank. LF_ERROR_INPUT where the table as a whole cannot be
 * read; the faults of single rows are in the rows. */
GPtrArray *manifest_read(const char *path, GError **error);

#endif
