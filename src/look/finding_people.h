/* What each participant's spans come to, target by target: one value for each measure. */
#ifndef LF_LOOK_FINDING_PEOPLE_H
#define LF_LOOK_FINDING_PEOPLE_H

#include <lookfall/finding.h>

/* A target in one kind of span. */
typedef struct {
    char *photo, *name, *span;
    int level;
} LookTopic;

/* One participant, or a participant's part in one group. */
typedef struct {
    char *group; /* NULL: none told, or everything of the participant is in here */
} LookPerson;

/* A person's value of a measure; NaN where there is none. */
typedef struct {
    double values[LF_MEASURES]; /* but for first seen */
    LfStatTime first_seen;      /* t NaN where nothing is known */
    bool known;                 /* a span of theirs has values */
    double span_s, unknown_s;
} LookPart;

typedef struct LookPeople LookPeople;

/* by_group: a participant whose walks are of several groups is one person in each of them. */
LookPeople *look_people_new(bool by_group);
void look_people_free(LookPeople *people);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LookPeople, look_people_free)

void look_people_add(LookPeople *people, const LfMeasureRow *row);

/* LookTopic and LookPerson, in the order they came in; borrowed. */
const GPtrArray *look_people_topics(const LookPeople *people);
const GPtrArray *look_people_persons(const LookPeople *people);
/* Whether somebody is a person in more than one group. */
bool look_people_shared(const LookPeople *people);
/* False where the person has no row for the topic. */
bool look_people_part(const LookPeople *people, guint topic, guint person, LookPart *part);

#endif
