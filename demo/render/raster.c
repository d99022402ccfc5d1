/* From a world and a camera to a picture; see raster.h. */
#include "raster.h"

#include <math.h>
#include <string.h>

#define TILE_PIXELS (LR_TILE * LR_TILE)
/* Rectangles that one tile may show in one shot; those further back are left out. */
#define RASTER_MOST 48
/* Texels inside a picture's opaque core where coarser levels still mix in what is transparent. */
#define RASTER_RIM 12
/* How deep the eye looks through transparent texels. */
#define RASTER_LAYERS 6

LrRays *lr_rays_new(const LrLens *lens)
{
    LrRays *rays = g_new0(LrRays, 1);
    rays->width = lens->width;
    rays->height = lens->height;
    rays->tiles_x = (lens->width + LR_TILE - 1) / LR_TILE;
    rays->tiles_y = (lens->height + LR_TILE - 1) / LR_TILE;
    gsize n_tiles = (gsize)rays->tiles_x * (gsize)rays->tiles_y;
    rays->x = g_new(float, n_tiles *TILE_PIXELS);
    rays->y = g_new(float, n_tiles *TILE_PIXELS);
    rays->bounds = g_new(float, n_tiles * 4);
    double reach = lens->reach;
    for (gsize tile = 0; tile < n_tiles; tile++) {
        int left = (int)(tile % (gsize)rays->tiles_x) * LR_TILE;
        int top = (int)(tile / (gsize)rays->tiles_x) * LR_TILE;
        float *b = rays->bounds + 4 * tile;
        b[0] = b[2] = INFINITY;
        b[1] = b[3] = -INFINITY;
        for (int i = 0; i < TILE_PIXELS; i++) {
            double x, y, px = left + i % LR_TILE, py = top + i / LR_TILE;
            if (!lr_lens_ray(lens, px, py, &x, &y)) {
                /* Beyond the lens's reach (a corner of a strong lens): repeat its rim. */
                double dx = px - lens->cx, dy = py - lens->cy, r = hypot(dx, dy);
                x = dx / r * reach;
                y = dy / r * reach;
            }
            float fx = (float)x, fy = (float)y;
            rays->x[tile * TILE_PIXELS + (gsize)i] = fx;
            rays->y[tile * TILE_PIXELS + (gsize)i] = fy;
            b[0] = MIN(b[0], fx);
            b[1] = MAX(b[1], fx);
            b[2] = MIN(b[2], fy);
            b[3] = MAX(b[3], fy);
        }
    }
    return rays;
}

void lr_rays_free(LrRays *rays)
{
    if (!rays)
        return;
    g_free(rays->x);
    g_free(rays->y);
    g_free(rays->bounds);
    g_free(rays);
}

static void raster_set(float out[3], LrVec camera, double scale, double dx, double dy)
{
    out[0] = (float)(camera.x * scale);
    out[1] = (float)(camera.y * scale);
    out[2] = (float)((camera.z + camera.x * dx + camera.y * dy) * scale);
}

/* The plane through the quad: with d the ray of unit depth and c the camera, the depth t at which
 * the ray meets it has 1/t = n . d / n . (corner - c); the texel u = U . (c + t d - corner) s is
 * (s (U . (c - corner)) / t + s U . d) / (1/t), linear over linear in d. */
static bool raster_prepare_quad(const LrPose *pose, const LrQuad *quad, double dx, double dy,
                                LrShotQuad *out)
{
    LrVec offset = lr_vec_sub(quad->corner, pose->at), normal = lr_vec_cross(quad->u, quad->v);
    double range = lr_vec_dot(normal, offset);
    if (fabs(range) < 1e-6)
        return false; /* seen edge on */

    out->x0 = out->y0 = INFINITY;
    out->x1 = out->y1 = -INFINITY;
    int behind = 0;
    for (int i = 0; i < 4; i++) {
        LrVec corner = lr_vec_along(quad->corner, quad->u, i & 1 ? quad->width : 0);
        corner = lr_pose_to_camera(pose, lr_vec_along(corner, quad->v, i & 2 ? quad->height : 0));
        if (corner.z < 1) {
            behind++;
            continue;
        }
        float x = (float)(corner.x / corner.z - dx), y = (float)(corner.y / corner.z - dy);
        out->x0 = MIN(out->x0, x);
        out->x1 = MAX(out->x1, x);
        out->y0 = MIN(out->y0, y);
        out->y1 = MAX(out->y1, y);
    }
    if (behind == 4)
        return false;
    if (behind > 0) {
        out->x0 = out->y0 = -INFINITY;
        out->x1 = out->y1 = INFINITY;
    }

    LrPose turn = *pose;
    turn.at = lr_vec(0, 0, 0);
    LrVec n = lr_vec_scale(lr_pose_to_camera(&turn, normal), 1 / range);
    LrVec u = lr_pose_to_camera(&turn, quad->u), v = lr_pose_to_camera(&turn, quad->v);
    const LrLevel *base = &quad->texture->level[0];
    double su = base->width / quad->width, sv = base->height / quad->height;
    u = lr_vec_along(u, n, -lr_vec_dot(quad->u, offset));
    v = lr_vec_along(v, n, -lr_vec_dot(quad->v, offset));
    raster_set(out->q, n, 1, dx, dy);
    raster_set(out->u, u, su, dx, dy);
    raster_set(out->v, v, sv, dx, dy);
    out->width = (float)base->width;
    out->height = (float)base->height;
    out->texture = quad->texture;
    const int *core = quad->texture->core;
    int rim = quad->texture->opaque ? 0 : RASTER_RIM;
    for (int i = 0; i < 4; i++)
        out->core[i] = (float)(core[i] + (i % 2 ? -rim : rim));
    return true;
}

void lr_shot_prepare(LrShot *shot, const LrPose *pose, const LrQuad *const *sets,
                     const gsize *set_sizes, int n_sets, double dx, double dy, double soft)
{
    gsize n = 0;
    for (int s = 0; s < n_sets; s++)
        n += set_sizes[s];
    shot->quads = g_renew(LrShotQuad, shot->quads, n);
    shot->n_quads = shot->n_fixed = 0;
    shot->soft = (float)soft;
    for (int s = 0; s < n_sets; s++)
        for (gsize i = 0; i < set_sizes[s]; i++)
            if (raster_prepare_quad(pose, &sets[s][i], dx, dy, &shot->quads[shot->n_quads])) {
                shot->n_quads++;
                shot->n_fixed += sets[s][i].part >= LR_PART_ROOM;
            }
}

void lr_shot_clear(LrShot *shot)
{
    g_clear_pointer(&shot->quads, g_free);
    shot->n_quads = shot->n_fixed = 0;
}

/* A rectangle in one tile. */
typedef struct {
    const LrShotQuad *quad;
    const LrLevel *level;
    float nearest, farthest; /* largest and smallest 1/depth at the tile's corners */
    bool whole;              /* covers the tile, and nothing shines through */
} TileQuad;

static inline float raster_at(const float c[3], float x, float y)
{
    return c[0] * x + c[1] * y + c[2];
}

/* Level whose texels are closest to, and a little finer than, a pixel: geometric mean of the
 * footprint's sides, but never finer than half its long side. */
static const LrLevel *raster_level(const LrShotQuad *quad, float x, float y, float pitch)
{
    float q = raster_at(quad->q, x, y);
    if (q <= 0)
        return &quad->texture->level[quad->texture->n_levels - 1];
    float u = raster_at(quad->u, x, y) / q, v = raster_at(quad->v, x, y) / q, s = pitch / q;
    float ux = (quad->u[0] - u * quad->q[0]) * s, uy = (quad->u[1] - u * quad->q[1]) * s;
    float vx = (quad->v[0] - v * quad->q[0]) * s, vy = (quad->v[1] - v * quad->q[1]) * s;
    float area = fabsf(ux * vy - uy * vx), side = MAX(hypotf(ux, vx), hypotf(uy, vy));
    float footprint = MAX(sqrtf(area), side * 0.5f);
    int k = (int)lrintf(2 * log2f(MAX(footprint * 0.9f, 1.0f)));
    return &quad->texture->level[MIN(k, quad->texture->n_levels - 1)];
}

/* All the tests are on functions linear in (x, y), so the four corners speak for the tile. */
static bool raster_tile_quad(const LrShotQuad *quad, const float b[4], TileQuad *out)
{
    int behind = 0, left = 0, right = 0, above = 0, below = 0, inside = 0;
    out->nearest = -INFINITY;
    out->farthest = INFINITY;
    for (int i = 0; i < 4; i++) {
        float x = b[i & 1], y = b[2 + (i >> 1)];
        float q = raster_at(quad->q, x, y);
        float u = raster_at(quad->u, x, y), v = raster_at(quad->v, x, y);
        behind += q <= 0;
        left += u < 0;
        right += u > q * quad->width;
        above += v < 0;
        below += v > q * quad->height;
        inside += q > 0 && u >= q * quad->core[0] && u <= q * quad->core[1] &&
                  v >= q * quad->core[2] && v <= q * quad->core[3];
        out->nearest = MAX(out->nearest, q);
        out->farthest = MIN(out->farthest, q);
    }
    if (behind == 4 || left == 4 || right == 4 || above == 4 || below == 4)
        return false;
    out->quad = quad;
    out->whole = inside == 4;
    return true;
}

static bool raster_apart(const LrShotQuad *quad, const float b[4])
{
    return quad->x0 > b[1] || quad->x1 < b[0] || quad->y0 > b[3] || quad->y1 < b[2];
}

static void raster_row_shots(LrRasterRow *row, int first, const LrShot *shots, int n_shots,
                             const float b[4])
{
    for (int s = 0; s < n_shots; s++) {
        int *some = row->quads[first + s] = g_new(int, shots[s].n_quads), n = 0;
        for (int i = 0; i < shots[s].n_quads; i++)
            if (!raster_apart(&shots[s].quads[i], b))
                some[n++] = i;
        row->n_quads[first + s] = n;
    }
}

void lr_raster_row_start(LrRasterRow *row, const LrRays *rays, int tile_row,
                         const LrExposure *exposure)
{
    float b[4] = {INFINITY, -INFINITY, INFINITY, -INFINITY};
    for (int i = 0; i < rays->tiles_x; i++) {
        const float *t = rays->bounds + 4 * ((gsize)tile_row * (gsize)rays->tiles_x + (gsize)i);
        b[0] = MIN(b[0], t[0]);
        b[1] = MAX(b[1], t[1]);
        b[2] = MIN(b[2], t[2]);
        b[3] = MAX(b[3], t[3]);
    }
    raster_row_shots(row, 0, exposure->calm, exposure->n_calm, b);
    raster_row_shots(row, exposure->n_calm, exposure->busy, exposure->n_busy, b);
}

void lr_raster_row_clear(LrRasterRow *row)
{
    for (int s = 0; s < 2 * LR_SHOTS_MAX; s++)
        g_clear_pointer(&row->quads[s], g_free);
}

static int raster_gather(const LrShotQuad *quads, const int *some, int n_some, const float b[4],
                         float pitch, TileQuad *list)
{
    int n = 0;
    float cover = 0; /* nothing farther than this (in 1/depth) shows */
    for (int i = 0; i < n_some; i++) {
        const LrShotQuad *quad = &quads[some[i]];
        TileQuad tq;
        if (raster_apart(quad, b) || !raster_tile_quad(quad, b, &tq) || tq.nearest < cover)
            continue;
        if (tq.whole)
            cover = MAX(cover, tq.farthest);
        int at = MIN(n, RASTER_MOST - 1);
        while (at > 0 && list[at - 1].nearest < tq.nearest) {
            if (at < RASTER_MOST)
                list[at] = list[at - 1];
            at--;
        }
        list[at] = tq;
        n = MIN(n + 1, RASTER_MOST);
    }
    while (n > 0 && list[n - 1].nearest < cover)
        n--;
    float x = (b[0] + b[1]) / 2, y = (b[2] + b[3]) / 2;
    for (int i = 0; i < n; i++)
        list[i].level = raster_level(list[i].quad, x, y, pitch);
    return n;
}

static inline void raster_add(uint32_t sum[3][TILE_PIXELS], int i, uint64_t lanes)
{
    for (int c = 0; c < 3; c++) {
        uint32_t value = (uint32_t)(lanes >> (16 * c)) & 0xffff;
        value >>= 2;
        sum[c][i] += value * value;
    }
}

static inline uint64_t raster_texel(const TileQuad *tq, float u, float v)
{
    const LrLevel *level = tq->level;
    float x = u * level->per_base - 0.5f, y = v * level->per_base - 0.5f;
    x = MIN(MAX(x, -1.0f), (float)level->width);
    y = MIN(MAX(y, -1.0f), (float)level->height);
    return lr_texture_sample(level, x, y);
}

/* One opaque rectangle fills the tile. Texels lie inside it, so nothing is clamped. */
static void raster_whole(const TileQuad *tq, const float *rx, const float *ry,
                         uint32_t sum[3][TILE_PIXELS])
{
    const LrShotQuad *quad = tq->quad;
    float scale = tq->level->per_base * 256;
    for (int row = 0; row < TILE_PIXELS; row += LR_TILE) {
        int u[LR_TILE], v[LR_TILE];
        for (int i = 0; i < LR_TILE; i++) {
            float x = rx[row + i], y = ry[row + i], depth = scale / raster_at(quad->q, x, y);
            u[i] = (int)(raster_at(quad->u, x, y) * depth + 128);
            v[i] = (int)(raster_at(quad->v, x, y) * depth + 128);
        }
        for (int i = 0; i < LR_TILE; i++)
            raster_add(sum, row + i, lr_texture_at(tq->level, u[i], v[i]));
    }
}

/* What lies behind pixel i at less than 1/depth `limit`: index into list, or -1. */
static int raster_next(const TileQuad *list, int n, float x, float y, float limit, float *depth_inv)
{
    int best = -1;
    float best_q = 0;
    for (int k = 0; k < n; k++) {
        const LrShotQuad *quad = list[k].quad;
        float q = raster_at(quad->q, x, y);
        if (q <= best_q || q >= limit)
            continue;
        float u = raster_at(quad->u, x, y), v = raster_at(quad->v, x, y);
        if (u < 0 || v < 0 || u > q * quad->width || v > q * quad->height)
            continue;
        best = k;
        best_q = q;
    }
    *depth_inv = best_q;
    return best;
}

/* lanes + (1 - alpha) * under, alpha the top lane of lanes, all 8.8. */
static uint64_t raster_over(uint64_t lanes, uint64_t under)
{
    uint64_t rest = 256 - ((lanes >> 48) + 128) / 255; /* 0..256 */
    uint64_t low = ((under & 0x0000ffff0000ffffu) * rest >> 8) & 0x0000ffff0000ffffu;
    uint64_t high = ((under >> 16) & 0x0000ffff0000ffffu) * rest >> 8 & 0x0000ffff0000ffffu;
    return lanes + (low | high << 16);
}

static uint64_t raster_pixel(const TileQuad *list, int n, float x, float y, int first, float q)
{
    uint64_t layers[RASTER_LAYERS];
    int n_layers = 0;
    while (first >= 0 && n_layers < RASTER_LAYERS) {
        const TileQuad *tq = &list[first];
        uint64_t lanes =
            raster_texel(tq, raster_at(tq->quad->u, x, y) / q, raster_at(tq->quad->v, x, y) / q);
        layers[n_layers++] = lanes;
        if (tq->quad->texture->opaque || lanes >> 48 >= 65000)
            break;
        first = raster_next(list, n, x, y, q, &q);
    }
    uint64_t out = 0;
    while (n_layers > 0)
        out = raster_over(layers[--n_layers], out);
    return out;
}

/* Several rectangles: the nearest for a row of pixels at once, then what shows through. */
static void raster_mixed(const TileQuad *list, int n, const float *rx, const float *ry,
                         uint32_t sum[3][TILE_PIXELS])
{
    for (int row = 0; row < TILE_PIXELS; row += LR_TILE) {
        float best[LR_TILE] = {0};
        int which[LR_TILE];
        memset(which, 0xff, sizeof which);
        for (int k = 0; k < n; k++) {
            const LrShotQuad *quad = list[k].quad;
            float w = quad->width, h = quad->height;
            for (int i = 0; i < LR_TILE; i++) {
                float x = rx[row + i], y = ry[row + i], q = raster_at(quad->q, x, y);
                float u = raster_at(quad->u, x, y), v = raster_at(quad->v, x, y);
                int take = (q > best[i]) & (u >= 0) & (v >= 0) & (u <= q * w) & (v <= q * h);
                best[i] = take ? q : best[i];
                which[i] = take ? k : which[i];
            }
        }
        for (int i = 0; i < LR_TILE; i++)
            if (which[i] >= 0)
                raster_add(sum, row + i,
                           raster_pixel(list, n, rx[row + i], ry[row + i], which[i], best[i]));
    }
}

static bool raster_is_busy(const LrExposure *exposure, const float b[4])
{
    for (int s = 0; s < exposure->n_busy; s++)
        for (int i = exposure->busy[s].n_fixed; i < exposure->busy[s].n_quads; i++)
            if (!raster_apart(&exposure->busy[s].quads[i], b))
                return true;
    return false;
}

void lr_raster_tile(const LrRays *rays, int tile, const LrExposure *exposure,
                    const LrRasterRow *row, float out[3][TILE_PIXELS])
{
    const float *rx = rays->x + (gsize)tile * TILE_PIXELS,
                *ry = rays->y + (gsize)tile * TILE_PIXELS;
    const float *b = rays->bounds + 4 * (gsize)tile;
    float pixel = (b[1] - b[0]) / (LR_TILE - 1);
    bool busy = raster_is_busy(exposure, b);
    const LrShot *shots = busy ? exposure->busy : exposure->calm;
    int n_shots = busy ? exposure->n_busy : exposure->n_calm;
    int first = busy ? exposure->n_calm : 0;
    uint32_t sum[3][TILE_PIXELS];
    memset(sum, 0, sizeof sum);
    for (int s = 0; s < n_shots; s++) {
        TileQuad list[RASTER_MOST];
        int n = raster_gather(shots[s].quads, row->quads[first + s], row->n_quads[first + s], b,
                              pixel * shots[s].soft, list);
        if (n == 1 && list[0].whole)
            raster_whole(&list[0], rx, ry, sum);
        else if (n > 0)
            raster_mixed(list, n, rx, ry, sum);
    }
    float scale = 1 / (16320.0f * 16320.0f * (float)n_shots);
    for (int c = 0; c < 3; c++)
        for (int i = 0; i < TILE_PIXELS; i++)
            out[c][i] = (float)sum[c][i] * scale;
}
