/* Taking the still photo of a fixture; see scene.h. */
#include "crew.h"
#include "scene.h"

/* Rays per pixel of a photo. */
#define STILL_SHOTS 9

uint8_t *lr_scene_photo_render(const LrScene *scene, int photo, int jobs)
{
    /* Another camera than the walkers': its own white, its own noise. */
    static const LrSensor sensor = {{1.02, 1.0, 0.97}, 0.06, 0.9, 0.5};
    const LrPhoto *p = &scene->photos[photo];
    const LrQuad *quads = (const LrQuad *)(const void *)scene->photo_world->quads->data;
    gsize n = scene->photo_world->quads->len;
    LrShot shots[STILL_SHOTS] = {{0}};
    for (int i = 0; i < STILL_SHOTS; i++)
        lr_shot_prepare(&shots[i], &p->pose, &quads, &n, 1, (i % 3 - 1) / 3.0 / p->lens.fx,
                        (i / 3 - 1) / 3.0 / p->lens.fy, 1);
    LrRays *rays = lr_rays_new(&p->lens);
    uint8_t *rgb = g_malloc((gsize)p->lens.width * (gsize)p->lens.height * 3);
    LrPicture picture = {.rays = rays,
                         .exposure = {.calm = shots, .n_calm = STILL_SHOTS},
                         .sensor = &sensor,
                         .gain = 1,
                         .noise_key = lr_rng_mix(scene->seed, 4000 + (uint64_t)photo),
                         .rgb = rgb};
    LrCrew *crew = lr_crew_new(jobs);
    lr_crew_start(crew, &picture);
    lr_crew_wait(crew);
    lr_crew_free(crew);
    lr_rays_free(rays);
    for (int i = 0; i < STILL_SHOTS; i++)
        lr_shot_clear(&shots[i]);
    return rgb;
}
