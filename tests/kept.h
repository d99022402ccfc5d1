/* Files that take long to make and are the same for every program of the tests: kept in the build
 * folder under a checksum of all they are made from, so that each is made once. Nobody writes to
 * them. */
#ifndef LF_TEST_KEPT_H
#define LF_TEST_KEPT_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
    char *path; /* where it is, once it is there */
    char *part; /* where the caller makes it; for this process alone */
    bool there;
} Kept;

/* A file with that name's ending, made from `key`; the folder is made where it is missing. */
Kept kept_look(const char *folder, const char *key, const char *name);
/* What was made at `part` is whole: it comes to `path` at once, whoever else makes it too. */
void kept_put(Kept *kept);
void kept_clear(Kept *kept);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Kept, kept_clear)

#endif
