/* The world of textured rectangles; see world.h. */
#include "world.h"

LrWorld *lr_world_new(void)
{
    LrWorld *world = g_new0(LrWorld, 1);
    world->quads = g_array_new(FALSE, FALSE, sizeof(LrQuad));
    world->textures = g_ptr_array_new_with_free_func((GDestroyNotify)lr_texture_free);
    return world;
}

void lr_world_free(LrWorld *world)
{
    if (!world)
        return;
    g_array_unref(world->quads);
    g_ptr_array_unref(world->textures);
    g_free(world);
}

LrTexture *lr_world_own(LrWorld *world, LrTexture *texture)
{
    g_ptr_array_add(world->textures, texture);
    return texture;
}

void lr_world_add(LrWorld *world, LrQuad quad)
{
    g_array_append_val(world->quads, quad);
}

bool lr_quad_plane_hit(const LrQuad *quad, LrVec from, LrVec direction, double *distance)
{
    LrVec normal = lr_vec_cross(quad->u, quad->v);
    double along = lr_vec_dot(normal, direction);
    if (fabs(along) < 1e-12)
        return false;
    *distance = lr_vec_dot(normal, lr_vec_sub(quad->corner, from)) / along;
    return *distance > 0;
}

bool lr_world_cast(const LrQuad *quads, gsize n, LrVec from, LrVec direction, LrHit *hit)
{
    bool found = false;
    for (gsize i = 0; i < n; i++) {
        const LrQuad *quad = &quads[i];
        double distance;
        if (!lr_quad_plane_hit(quad, from, direction, &distance) ||
            (found && distance >= hit->distance))
            continue;
        LrVec point = lr_vec_along(from, direction, distance);
        LrVec inside = lr_vec_sub(point, quad->corner);
        double u = lr_vec_dot(inside, quad->u), v = lr_vec_dot(inside, quad->v);
        if (u < 0 || v < 0 || u > quad->width || v > quad->height)
            continue;
        const LrLevel *base = &quad->texture->level[0];
        if (!quad->texture->opaque && lr_texture_alpha(quad->texture, u / quad->width * base->width,
                                                       v / quad->height * base->height) <= 0.5)
            continue;
        *hit = (LrHit){quad, distance, point};
        found = true;
    }
    return found;
}
