/* Text of others inside our sentences. */
#ifndef LF_LOOK_SHOWN_H
#define LF_LOOK_SHOWN_H

#include <glib.h>

/* The text as one short line of valid UTF-8: at most 60 characters, then "..."; blanks instead of
 * control characters. NULL is "". Owned by the caller. */
char *look_shown(const char *text);

#endif
