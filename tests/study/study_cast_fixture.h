/* A study of one photo and two walks, a and b, that are ready to be cast, or cast. */
#ifndef LF_TEST_STUDY_CAST_FIXTURE_H
#define LF_TEST_STUDY_CAST_FIXTURE_H

#include <lookfall/study.h>

#include "study/bed.h"

typedef struct {
    Bed *bed;
    LfStudy *study;
    GString *notes;           /* of the last cast, a line each */
    LfStudyCastReport report; /* of the last cast */
} CastFixture;

/* For cmocka: of the whole program, and of a test that begins before or after the cast. */
int cast_fixture_group_set_up(void **state);
int cast_fixture_group_tear_down(void **state);
int cast_fixture_new_set_up(void **state);
int cast_fixture_cast_set_up(void **state);
int cast_fixture_tear_down(void **state);

/* Casts (walks: NULL for all) and keeps the report; demands that the call succeeds. */
void cast_fixture_cast(CastFixture *f, const char *const *walks);
/* The same and demands how many chunks were due and walks failed. */
void cast_fixture_expect(CastFixture *f, gsize due, guint failed);
/* Chunks of one walk, and how many are current. */
gsize cast_fixture_chunks(CastFixture *f, const char *walk, gsize *current);
void cast_fixture_expect_note(const CastFixture *f, const char *text);

#endif
