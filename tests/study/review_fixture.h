/* A study with results of its own making, so that what there is to review is known to the sample:
 * photo shelf (800 x 500 px); walk a, 9 s of video at 25 frames per second (480 x 360 px, no lens,
 * so that a degree is 480 / 82 px), gaze every 20 ms, every tenth lost; the mapping of every frame
 * is a shift by (REVIEW_DX, REVIEW_DY). Sure but for 1 s to 2 s       doubtful, alike: a rival 50
 * px to the right in every frame 4 s to 4.5 s     doubtful, blur 6 s to 6.4 s     blocked 7 s
 * to 7.6 s     away, with no pose in any frame Fixations: 1.1 s to 1.3 s, 1.4 s to 1.8 s. */
#ifndef LF_TEST_STUDY_REVIEW_FIXTURE_H
#define LF_TEST_STUDY_REVIEW_FIXTURE_H

#include <lookfall/placement.h>

#include "study/bed.h"

#define REVIEW_DX 100
#define REVIEW_DY 60
#define REVIEW_RIVAL 50

/* Makes "r.lookfall" in the bed, with its files, and opens it; owned by the caller. */
LfStudy *review_make(Bed *bed);
/* The same results written again, as another run of the cast: other is added to every x of walk a
 * in doubt. */
void review_cast_again(LfStudy *study, double other);
/* The stretch that holds t_us; demands that there is one. */
LfStretch review_stretch(LfStudy *study, const LfReviewer *reviewer, int64_t t_us);
/* Decides and demands the outcome; gives the placement. */
int64_t review_decide(LfStudy *study, const LfReviewer *reviewer, const LfDecision *decision,
                      LfDecided outcome);
/* Runs SQL on the study behind its back. */
void review_sql(LfStudy *study, const char *sql);

#endif
