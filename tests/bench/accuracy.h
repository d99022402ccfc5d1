/* The accuracy bench: the engine's samples on rendered scenes against their exact truth.
 *
 * It works on the engine's inside (src/cast) rather than on exports, because it also reports and
 * dumps the evidence behind each confidence. */
#ifndef LF_BENCH_ACCURACY_H
#define LF_BENCH_ACCURACY_H

#include "cast/chunk.h"

typedef enum {
    TRUTH_LOST,
    TRUTH_AWAY,
    TRUTH_BLOCKED,
    TRUTH_VISIBLE,
    TRUTH_HIDDEN,
    TRUTH_BESIDE, /* floor or wall around what the photo is of */
    TRUTH_STATES,
} TruthState;
extern const char *const ACCURACY_TRUTH_STATES[TRUTH_STATES];

typedef struct {
    int photo; /* index by name among the scene's photos, -1 for none */
    double x, y, px_per_degree;
} TruthPlace;

typedef struct {
    TruthState state;
    TruthPlace at, also; /* the second one on another photo that shows the same */
} Truth;

/* docs/scenes.md describes the file. photo_names: n names in the order of the photos. NULL and a
 * message on stderr where it cannot be read. Owned by the caller. */
GArray *accuracy_truth_read(const char *path, char *const *photo_names, int n);

/* The packs that the renderer's areas name, of one photo; none where there is no such file. Owned
 * by the caller. */
GArray *accuracy_facings_read(const char *dir, const char *photo);
/* Whether the cast is as far from its true place as another facing of the product there is from the
 * one there, and in that direction: by chance some of the points are whose depth is wrong. */
bool accuracy_shifted(const GArray *facings, LfPoint cast, const TruthPlace *truth,
                      double tolerance_deg);

/* One sample with its truth, kept for pooled numbers. */
typedef struct {
    LfPlaced placed;
    Truth truth;
    double error_px; /* NaN where there is no truth or no point on the same photo */
    double error_deg;
    bool shifted; /* wrong, as if one facing had been taken for another */
    bool judged;  /* false where no cast can be right or wrong: hidden, and beside where it is right
                   */
} Scored;

/* facings: by photo (GArray); NULL where nobody asks for `shifted`. */
Scored accuracy_score(const LfPlaced *placed, const Truth *truth, const GPtrArray *facings,
                      double tolerance_deg);

void accuracy_table_head(void);
/* One row of the table for these samples (GArray of Scored). */
void accuracy_table_row(const char *name, const GArray *scored, double tolerance_deg);
/* How much is sent to a person at several thresholds, and how much of the rest is wrong; points on
 * something in front of a photo are wrong too. */
void accuracy_thresholds(const GArray *scored, double tolerance_deg);

#endif
