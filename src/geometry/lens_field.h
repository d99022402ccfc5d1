/* How far out a lens model holds. Internal to src/geometry. */
#ifndef LOOKFALL_GEOMETRY_LENS_FIELD_H
#define LOOKFALL_GEOMETRY_LENS_FIELD_H

#include <lookfall/geometry.h>

/* True where the radial part r R(r^2) of the model rises all the way from the centre to
 * r = sqrt(r2); r in units of the focal length. Beyond the first turning point or pole the model
 * folds back over the picture and means nothing. */
bool lf_lens_field_holds(const LfLens *lens, double r2);

#endif
