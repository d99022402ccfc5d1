/* Scenes by name: one table that says what each is like, and the world built from it. */
#ifndef LOOKFALL_DEMO_SCENE_H
#define LOOKFALL_DEMO_SCENE_H

#include "expose.h"
#include "fixture.h"
#include "lens.h"
#include "occluder.h"
#include "path.h"
#include "world.h"

#define LR_PHOTOS_MAX 3

/* What a scene is like; one row of the table in scene.c. */
typedef struct {
    const char *name, *about;
    LrHabit habit;
    LrTraffic traffic;
    double set_back;      /* packs stand 0 to this far behind the shelf's edge, mm */
    double change;        /* share of the products that changed since the photo */
    int shelves;          /* photographed shelves side by side: 1 or 2 */
    bool sign;            /* a sign beside the shelf, photographed too */
    double texels_per_mm; /* of shelves and signs; the room's follow */
    int width, height;
    double fps, seconds;
    double field_deg, k[5];
    LrSensor sensor;
    double light;      /* gain of the walk's pictures */
    double exposure_s; /* of a frame */
} LrSceneSpec;

/* A photo: a still camera and the fixture it is of. */
typedef struct {
    const char *name;
    int part;
    LrPose pose;
    LrLens lens;
    LrVec plane, normal; /* the fixture's front: a point and the unit normal */
    GArray *packs;       /* LrPackPlace, as it was when photographed; empty for a sign */
} LrPhoto;

typedef struct {
    const LrSceneSpec *spec;
    uint64_t seed;
    LrWorld *world;       /* as the walkers see it */
    LrWorld *photo_world; /* as it was when photographed; the same as world, or its own */
    LrPhoto photos[LR_PHOTOS_MAX];
    int n_photos;
    GArray *targets; /* LrVec: what is worth looking at */
} LrScene;

const LrSceneSpec *lr_scene_specs(gsize *n);
/* NULL where there is no scene of that name. */
const LrSceneSpec *lr_scene_find(const char *name);
/* photo_width: of the shelf's photo, px. */
LrScene *lr_scene_new(const LrSceneSpec *spec, uint64_t seed, int photo_width);
void lr_scene_free(LrScene *scene);

/* Packed RGB of one photo; owned by the caller. */
uint8_t *lr_scene_photo_render(const LrScene *scene, int photo, int jobs);

/* World point to photo px; false behind the camera. */
bool lr_photo_project(const LrPhoto *photo, LrVec point, double *x, double *y);
/* Is the point inside the picture, centres of the outer pixels included? */
bool lr_photo_contains(const LrPhoto *photo, double x, double y);

#endif
