/* The way back for areas and marks: what was drawn, noted, changed or removed can be undone and
 * redone, each person their own, also after a restart.
 *
 * A change that is given an LfEdit is noted in the study, in the change's own transaction: what it
 * touched, before and after. Undoing puts the first back, and does so only while what was touched
 * still is what the change left; so nobody takes back what somebody else has done since. */
#ifndef LOOKFALL_EDIT_H
#define LOOKFALL_EDIT_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/study.h>

G_BEGIN_DECLS

typedef struct {
    const char *who;  /* whose way back it is on; not NULL */
    const char *what; /* in words, the end of a sentence: "drawing Morrow oats" */
} LfEdit;

typedef enum {
    LF_EDIT_AREAS, /* of a photo */
    LF_EDIT_MARKS, /* of a walk */
} LfEditKind;

typedef enum {
    LF_EDITED,
    LF_EDIT_NONE,    /* there was nothing to undo, or redo */
    LF_EDIT_CHANGED, /* somebody has changed it since: nothing was done, and it is off the way */
} LfEdited;

/* What would be undone and redone next, in words; NULL where there is nothing. place: name of the
 * photo or walk. Owned by the caller. */
LF_API bool lf_study_edit_steps(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                                char **undo, char **redo, GError **error);
/* Undoes the newest change of this person on this photo or walk, or redoes the one undone last. */
LF_API bool lf_study_edit_go(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                             bool back, LfEdited *edited, GError **error);

G_END_DECLS

#endif
