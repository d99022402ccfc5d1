/* Scenes by name; see scene.h. To add one, add a row. */
#include "scene.h"

#include <string.h>

#include "room.h"

#define SHELF_WIDE_MM 2000.0
#define SHELF_HIGH_MM 2050.0
#define PHOTO_MARGIN_MM 40.0
#define CALM_LENS                                                                                  \
    {                                                                                              \
        -0.06, 0.01, 0.0003, -0.0002, 0                                                            \
    }
#define STRONG_LENS                                                                                \
    {                                                                                              \
        -0.24, 0.07, 0.0007, -0.0005, -0.009                                                       \
    }
#define USUAL_SENSOR                                                                               \
    {                                                                                              \
        {1, 1, 1}, 0.10, 1.6, 1.2                                                                  \
    }

/* start, near, far, reach from and to, aim from and to, along, away, step, oblique, roll, turn */
#define USUAL_HABIT                                                                                \
    {                                                                                              \
        -3000, -1000, -1700, -600, 600, -800, 800, 0.10, 0.13, 0.30, 0, 2, 190                     \
    }

static const LrSceneSpec scene_specs[] = {
    {.name = "flat",
     .about = "flat shelf; hands, passers-by, turns away",
     .habit = USUAL_HABIT,
     .traffic = {4, 6, 0.2, 0},
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "depth",
     .about = "packs stand up to 12 cm behind the edge",
     .habit = USUAL_HABIT,
     .traffic = {4, 6, 0.2, 0},
     .set_back = 120,
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "dim",
     .about = "dark aisle: a third of the light, noise, strong lens, longer exposure",
     .habit = USUAL_HABIT,
     .traffic = {3, 5, 0.2, 0},
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = STRONG_LENS,
     .sensor = {{1.06, 1, 0.82}, 0.22, 4.5, 5},
     .light = 0.35,
     .exposure_s = 0.014},
    {.name = "sign",
     .about = "a shelf and a sign, two photos; the walk passes both",
     .habit = {-3000, -1100, -1900, -600, 1600, -850, 2000, 0.08, 0.10, 0.42, 0, 2, 190},
     .traffic = {3, 4, 0.2, 0},
     .shelves = 1,
     .sign = true,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "oblique",
     .about = "seen from beside the shelf, from near and far, the head rolled",
     .habit = {-3600, -600, -2600, -1000, 1000, -850, 850, 0.25, 0.08, 0.45, 0.6, 12, 170},
     .traffic = {2, 4, 0.2, 0},
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "changed",
     .about = "photo of another day: facings gone or swapped, other light",
     .habit = USUAL_HABIT,
     .traffic = {4, 6, 0.2, 0},
     .set_back = 60,
     .change = 0.28,
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = {{1.08, 1, 0.9}, 0.12, 1.8, 1.4},
     .light = 0.8,
     .exposure_s = 0.008},
    {.name = "crowd",
     .about = "many passers-by who stop, with trolleys; packs stand back",
     .habit = {-3000, -1200, -2000, -600, 600, -800, 800, 0.08, 0.10, 0.30, 0, 2, 190},
     .traffic = {16, 6, 0.5, 0.4},
     .set_back = 80,
     .shelves = 1,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "pair",
     .about = "two shelves side by side and a sign, three photos",
     .habit = {-3000, -1100, -1900, -1600, 2600, -1900, 3000, 0.10, 0.10, 0.40, 0, 2, 190},
     .traffic = {4, 5, 0.2, 0.1},
     .set_back = 100,
     .shelves = 2,
     .sign = true,
     .texels_per_mm = 2,
     .width = 1920,
     .height = 1080,
     .fps = 25,
     .seconds = 20,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
    {.name = "small",
     .about = "the flat scene small and short, for tests",
     .habit = {-2200, -1000, -1500, -500, 500, -700, 700, 0.05, 0.12, 0.25, 0, 2, 170},
     .traffic = {6, 8, 0.2, 0},
     .shelves = 1,
     .texels_per_mm = 1,
     .width = 640,
     .height = 360,
     .fps = 25,
     .seconds = 8,
     .field_deg = 82,
     .k = CALM_LENS,
     .sensor = USUAL_SENSOR,
     .light = 0.95,
     .exposure_s = 0.008},
};

const LrSceneSpec *lr_scene_specs(gsize *n)
{
    *n = G_N_ELEMENTS(scene_specs);
    return scene_specs;
}

const LrSceneSpec *lr_scene_find(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(scene_specs); i++)
        if (strcmp(scene_specs[i].name, name) == 0)
            return &scene_specs[i];
    return NULL;
}

/* A still camera in front of a rectangle, nearly square to it, as one holds it by hand. */
static LrPhoto scene_photo(const char *name, int part, LrVec centre, LrVec right, double wide,
                           double high, int width_px, double away, LrRng *rng)
{
    static const double none[5] = {0};
    LrVec normal = lr_vec_cross(right, lr_vec(0, 1, 0)); /* into the fixture */
    double yaw = atan2(normal.x, normal.z);
    double turn = lr_rng_uniform(rng, -0.012, 0.012), tilt = lr_rng_uniform(rng, -0.012, 0.012);
    LrVec at = lr_vec_along(centre, normal, -away);
    LrPhoto photo = {.name = name, .part = part, .plane = centre, .normal = normal};
    /* Aims at the centre from where it stands, a little off to the side. */
    at = lr_vec_along(at, right, -turn * away);
    at.y += tilt * away;
    photo.pose = lr_pose_make(at, yaw + turn, tilt, lr_rng_uniform(rng, -0.004, 0.004));
    int height_px = (int)lrint(width_px * high / wide);
    photo.lens = lr_lens_new(width_px, height_px, 60, none);
    photo.lens.fx = photo.lens.fy = width_px * away / wide;
    return photo;
}

static LrShelfSpec scene_shelf(const LrScene *scene, int number)
{
    static const char *const titles[] = {"The Breakfast Table", "The Evening Pantry"};
    const LrSceneSpec *spec = scene->spec;
    double left = spec->shelves == 2 ? -SHELF_WIDE_MM : -SHELF_WIDE_MM / 2;
    uint64_t seed = lr_rng_mix(scene->seed, 1000 + (uint64_t)number);
    return (LrShelfSpec){.foot = {left + number * SHELF_WIDE_MM, 0, 0},
                         .right = {1, 0, 0},
                         .depth = {0, 0, 1},
                         .width = SHELF_WIDE_MM,
                         .height = SHELF_HIGH_MM,
                         .boards = 5 + (int)(seed % 2),
                         .texels_per_mm = spec->texels_per_mm,
                         .set_back = spec->set_back,
                         .seed = seed,
                         .part = LR_PART_FIXTURE + number,
                         .title = titles[number]};
}

static void scene_build_shelves(LrScene *scene, LrRng *rng, int photo_width)
{
    static const char *const names[] = {"shelf", "shelf2"};
    for (int i = 0; i < scene->spec->shelves; i++) {
        LrShelfSpec shelf = scene_shelf(scene, i);
        if (scene->photo_world != scene->world)
            lr_shelf_add(scene->photo_world, &shelf);
        GArray *packs = g_array_new(FALSE, FALSE, sizeof(LrPackPlace));
        lr_shelf_places(&shelf, packs);
        shelf.change = scene->spec->change;
        lr_shelf_add(scene->world, &shelf);
        lr_shelf_targets(&shelf, scene->targets);
        LrVec centre = lr_vec_along(shelf.foot, shelf.right, shelf.width / 2);
        centre.y = -SHELF_HIGH_MM / 2;
        LrPhoto *photo = &scene->photos[scene->n_photos++];
        *photo = scene_photo(names[i], shelf.part, centre, shelf.right,
                             shelf.width + 2 * PHOTO_MARGIN_MM, shelf.height + 2 * PHOTO_MARGIN_MM,
                             photo_width, 3200, rng);
        photo->packs = packs;
    }
}

static void scene_build_sign(LrScene *scene, LrRng *rng, int photo_width)
{
    double x = scene->spec->shelves * SHELF_WIDE_MM / 2 + 260, turn = 0.14;
    LrSignSpec sign = {.foot = {x, 0, -330},
                       .right = {cos(turn), 0, -sin(turn)},
                       .bottom = 620,
                       .width = 860,
                       .height = 1240,
                       .texels_per_mm = scene->spec->texels_per_mm,
                       .seed = lr_rng_mix(scene->seed, 900),
                       .part = LR_PART_FIXTURE + scene->spec->shelves};
    lr_sign_add(scene->world, &sign);
    LrVec centre = lr_vec_along(sign.foot, sign.right, sign.width / 2);
    centre.y = -sign.bottom - sign.height / 2;
    for (int i = 0; i < 40; i++) {
        LrVec at = lr_vec_along(centre, sign.right, lr_rng_uniform(rng, -350, 350));
        at.y += lr_rng_uniform(rng, -500, 500);
        g_array_append_val(scene->targets, at);
    }
    double wide = sign.width + 24, high = sign.height + 24;
    LrPhoto *photo = &scene->photos[scene->n_photos++];
    *photo = scene_photo("sign", sign.part, centre, sign.right, wide, high, photo_width * 7 / 10,
                         2200, rng);
    photo->packs = g_array_new(FALSE, FALSE, sizeof(LrPackPlace));
}

LrScene *lr_scene_new(const LrSceneSpec *spec, uint64_t seed, int photo_width)
{
    LrRng rng = lr_rng_new(seed, "scene");
    LrScene *scene = g_new0(LrScene, 1);
    scene->spec = spec;
    scene->seed = seed;
    scene->world = lr_world_new();
    scene->photo_world = spec->change > 0 ? lr_world_new() : scene->world;
    scene->targets = g_array_new(FALSE, FALSE, sizeof(LrVec));
    double half = spec->shelves * SHELF_WIDE_MM / 2;
    lr_room_add(scene->world, lr_rng_mix(seed, 77), -half, half, SHELF_HIGH_MM,
                spec->texels_per_mm);
    if (scene->photo_world != scene->world)
        g_array_append_vals(scene->photo_world->quads, scene->world->quads->data,
                            scene->world->quads->len);
    scene_build_shelves(scene, &rng, photo_width);
    if (spec->sign)
        scene_build_sign(scene, &rng, photo_width);
    return scene;
}

void lr_scene_free(LrScene *scene)
{
    if (!scene)
        return;
    if (scene->photo_world != scene->world)
        lr_world_free(scene->photo_world);
    lr_world_free(scene->world);
    for (int i = 0; i < scene->n_photos; i++)
        g_array_unref(scene->photos[i].packs);
    g_array_unref(scene->targets);
    g_free(scene);
}

bool lr_photo_project(const LrPhoto *photo, LrVec point, double *x, double *y)
{
    LrVec c = lr_pose_to_camera(&photo->pose, point);
    if (c.z < 1)
        return false;
    lr_lens_project(&photo->lens, c.x / c.z, c.y / c.z, x, y);
    return true;
}

bool lr_photo_contains(const LrPhoto *photo, double x, double y)
{
    return x >= 0 && y >= 0 && x <= photo->lens.width - 1 && y <= photo->lens.height - 1;
}
