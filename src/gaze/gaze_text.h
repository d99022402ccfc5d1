/* The bytes of a gaze file as UTF-8 text, block by block. Internal to src/gaze. */
#ifndef LOOKFALL_GAZE_GAZE_TEXT_H
#define LOOKFALL_GAZE_GAZE_TEXT_H

#include <lookfall/error.h>

#include <stdbool.h>

typedef struct LfGazeText LfGazeText;

/* Plain or gzip (known by its first bytes, whatever the name says). */
LfGazeText *lf_gaze_text_open(const char *path, GError **error);
/* The same from memory, which is borrowed; name is for messages. Cannot fail. */
LfGazeText *lf_gaze_text_from_memory(const void *data, gsize n, const char *name);
void lf_gaze_text_free(LfGazeText *text);

/* The file's name for messages; lives as long as text. */
const char *lf_gaze_text_name(const LfGazeText *text);

/* The next block, without a byte order mark; *n = 0 at the end. *data lives until the next call. No
 * block holds a zero byte. */
bool lf_gaze_text_next(LfGazeText *text, const char **data, gsize *n, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfGazeText, lf_gaze_text_free)

#endif
