/* Pictures made by formula for the tests of the engine: exact textures, invented photos, views of
 * them from known places. Luma planes of packed rows, pixel centres at integers. */
#ifndef LOOKFALL_TESTS_CAST_SCENE_H
#define LOOKFALL_TESTS_CAST_SCENE_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cast/plane.h"

/* Fails for NaN too. */
#define check_near(value, expected, tolerance)                                                     \
    do {                                                                                           \
        double check_v = (value), check_e = (expected), check_t = (tolerance);                     \
        if (!(fabs(check_v - check_e) <= check_t)) {                                               \
            fail_msg("%s = %.17g, expected %.17g within %g", #value, check_v, check_e, check_t);   \
        }                                                                                          \
    } while (0)

/* cmocka's exit status of a program in which a test was skipped for want of outside data. */
#define SCENE_SKIPPED 77

/* A sum of plane waves: known at every real point, so that shifting it takes no interpolation. */
#define SCENE_WAVES 12
typedef struct {
    double fx[SCENE_WAVES], fy[SCENE_WAVES], phase[SCENE_WAVES], amplitude[SCENE_WAVES];
} SceneWaves;

/* Wavelengths of min_px to max_px in all directions; about +-60 grey levels. */
SceneWaves scene_waves(guint32 seed, double min_px, double max_px);
/* Grey level before rounding, around 0. */
double scene_waves_at(const SceneWaves *waves, double x, double y);
/* The same smeared evenly over the segment of `blur` around (x, y), by the integral. */
double scene_waves_smeared(const SceneWaves *waves, double x, double y, LfPoint blur);

/* To a pixel: rounded and clamped. */
uint8_t scene_pixel(double grey);
double scene_gauss(GRand *rand);

/* An invented photo: no part looks like another. Freed with lf_plane_clear. */
LfPlane scene_photo(guint32 seed, int width, int height);
/* One drawing of tile x tile px, over and over. */
LfPlane scene_tiles(guint32 seed, int width, int height, int tile);

/* Where and how somebody looks at the photo, degrees. distance: in photo widths. */
typedef struct {
    double yaw, pitch, roll, distance;
} SceneView;
/* image_from_photo of a camera with this lens (undistorted) whose picture's middle shows the
 * photo's middle. */
LfMat3 scene_view(const SceneView *view, const LfPlane *photo, const LfLens *lens);
/* The same, tilted by so many degrees about an axis that lies in the photo, `direction` degrees
 * from its upright. */
LfMat3 scene_view_aslant(const LfPlane *photo, const LfLens *lens, double tilt, double direction,
                         double roll, double distance);
/* The photo as the camera sees it, lens included; 2 x 2 samples a pixel from a photo blurred for
 * the scale; `fill` around it. */
LfPlane scene_render(const LfPlane *photo, const LfMat3 *frame_from_photo, const LfLens *lens,
                     uint8_t fill);

/* The frame as the engine works on it; freed with lf_frame_pyramid_clear. */
LfFramePyramid scene_pyramid(const LfPlane *frame);

/* A new file in `folder`; the path is owned by the caller. */
char *scene_write_pgm(const char *folder, const char *name, const LfPlane *plane);
/* A new folder for one test program; scene_folder_remove deletes it with its files. */
char *scene_folder_new(void);
void scene_folder_remove(char *folder);

#endif
