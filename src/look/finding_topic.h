/* The findings on one target. */
#ifndef LF_LOOK_FINDING_TOPIC_H
#define LF_LOOK_FINDING_TOPIC_H

#include "look/finding_people.h"

/* LfFinding without adjusted p. grouped: NULL, or the same topics with persons by group; groups:
 * their names, at least as long as the result is used. Owned by the caller. */
GArray *look_topic_findings(const LookPeople *everybody, const LookPeople *grouped, guint topic,
                            const GPtrArray *groups, const LfFindingSettings *settings);

#endif
