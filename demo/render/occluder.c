/* What comes between the walker and the shelf; see occluder.h. */
#include "occluder.h"

#include <string.h>

#define OCCLUDER_LOOKS 4
#define DEG (G_PI / 180)
#define PASSER_ROOM_MM 470
#define PASSER_SHELF_MM 230
#define HAND_FAR_MM 460 /* from the eyes to the outstretched fingertips */

typedef struct {
    int look;
    double start_s, end_s;
    double x0, speed, z;          /* mm, mm/s */
    double stop_s, stop_length_s; /* stands still from stop_s on */
    double gait;                  /* phase */
} Passer;

typedef struct {
    double start_s, arrive_s, leave_s, end_s;
    double side;
    LrPose turn; /* how the head is turned while the hand reaches */
    LrVec tip;   /* outstretched fingertips, from the head, in the world's directions */
} Reach;

struct LrOccluders {
    LrWorld *pictures;
    LrPersonLook looks[OCCLUDER_LOOKS];
    LrTexture *hand;
    GArray *passers, *reaches;
    const LrPath *path;
};

const char *lr_occluder_name(int part)
{
    return part == LR_PART_HAND ? "hand" : part == LR_PART_CART ? "trolley" : "person";
}

static void occluder_plan_passers(LrOccluders *o, const LrTraffic *traffic, LrRng *rng,
                                  double seconds)
{
    if (traffic->persons_per_min <= 0)
        return;
    double mean = 60 / traffic->persons_per_min;
    double t = lr_rng_uniform(rng, 0.3, 1) * MIN(mean, 6) - 2;
    while (t < seconds) {
        double side = lr_rng_side(rng), speed = lr_rng_uniform(rng, 850, 1350);
        LrVec at = lr_path_pose(o->path, MAX(t + 2, 0)).at;
        /* About half way to the shelf. */
        double z = at.z * lr_rng_uniform(rng, 0.35, 0.55);
        Passer p = {.look = lr_rng_int(rng, 0, OCCLUDER_LOOKS - 1),
                    .start_s = t,
                    .x0 = -side * 3400,
                    .speed = side * speed,
                    .z = z,
                    .gait = lr_rng_uniform(rng, 0, 2 * G_PI)};
        p.stop_s = t + (3400 + lr_rng_uniform(rng, -500, 500)) / speed;
        if (lr_rng_chance(rng, traffic->stop))
            p.stop_length_s = lr_rng_uniform(rng, 0.8, 2.5);
        p.end_s = t + 6800 / speed + p.stop_length_s;
        g_array_append_val(o->passers, p);
        t += mean * lr_rng_uniform(rng, 0.5, 1.5);
    }
}

static void occluder_plan_reaches(LrOccluders *o, const LrTraffic *traffic, LrRng *rng)
{
    gsize n;
    const LrEpisode *episodes = lr_path_episodes(o->path, &n);
    double mean = traffic->hands_per_min > 0 ? 60 / traffic->hands_per_min : INFINITY, last = -mean;
    for (gsize i = 0; i < n; i++) {
        const LrEpisode *e = &episodes[i];
        double wait = mean * lr_rng_uniform(rng, 0.4, 1.2);
        if (e->deed != LR_DO_BROWSE || e->start_s < last + wait)
            continue;
        Reach r = {.start_s = e->start_s + 0.2, .side = lr_rng_chance(rng, 0.75) ? 1 : -1};
        r.arrive_s = r.start_s + lr_rng_uniform(rng, 0.45, 0.8);
        r.leave_s = r.arrive_s + lr_rng_uniform(rng, 0.4, 1.4);
        r.end_s = r.leave_s + lr_rng_uniform(rng, 0.4, 0.7);
        r.turn = lr_path_pose(o->path, (r.arrive_s + r.leave_s) / 2);
        LrVec look = lr_vec_unit(lr_vec_sub(e->aim, r.turn.at));
        look = lr_vec_along(look, r.turn.right, lr_rng_normal(rng) * 0.1);
        look = lr_vec_along(look, r.turn.down, lr_rng_uniform(rng, -0.05, 0.15));
        r.tip = lr_vec_scale(lr_vec_unit(look), HAND_FAR_MM);
        g_array_append_val(o->reaches, r);
        last = e->start_s;
    }
}

LrOccluders *lr_occluders_new(uint64_t seed, const LrTraffic *traffic, const LrPath *path,
                              double seconds)
{
    LrRng rng = lr_rng_new(seed, "traffic");
    LrOccluders *o = g_new0(LrOccluders, 1);
    o->pictures = lr_world_new();
    o->passers = g_array_new(FALSE, FALSE, sizeof(Passer));
    o->reaches = g_array_new(FALSE, FALSE, sizeof(Reach));
    o->path = path;
    bool cart[OCCLUDER_LOOKS];
    for (int i = 0; i < OCCLUDER_LOOKS; i++)
        cart[i] = lr_rng_chance(&rng, traffic->cart);
    if (traffic->persons_per_min > 0)
        for (int i = 0; i < OCCLUDER_LOOKS; i++)
            o->looks[i] = lr_person_draw(o->pictures, lr_rng_mix(seed, 50 + (uint64_t)i), cart[i]);
    if (traffic->hands_per_min > 0)
        o->hand = lr_hand_draw(o->pictures, lr_rng_mix(seed, 49));
    occluder_plan_passers(o, traffic, &rng, seconds);
    occluder_plan_reaches(o, traffic, &rng);
    return o;
}

void lr_occluders_free(LrOccluders *o)
{
    if (!o)
        return;
    lr_world_free(o->pictures);
    g_array_unref(o->passers);
    g_array_unref(o->reaches);
    g_free(o);
}

/* A picture turned by `angle` in the upright plane along `across` about its point (px, py), which
 * lies at `pivot`; mirrored where `way` is -1, so that it looks the other way. */
static LrQuad occluder_quad(const LrTexture *texture, LrVec pivot, LrVec across, double angle,
                            double way, double px, double py, double w, double h, double scale,
                            int part)
{
    LrVec u = lr_vec_scale(across, way * cos(angle)), v = lr_vec_scale(across, -sin(angle));
    u.y = way * sin(angle);
    v.y = cos(angle);
    LrVec corner = lr_vec_along(lr_vec_along(pivot, u, -px * scale), v, -py * scale);
    return (LrQuad){corner, u, v, w * scale, h * scale, texture, part};
}

/* Pictures of people stand upright and face the walker; a trolley keeps to its way. */
static gsize occluder_passer_quads(const LrOccluders *o, const Passer *p, double t, LrQuad *out)
{
    const LrPersonLook *look = &o->looks[p->look];
    double standing = CLAMP(t - p->stop_s, 0, p->stop_length_s);
    bool still = standing > 0 && standing < p->stop_length_s;
    double walked = t - p->start_s - standing, s = look->scale;
    double beat = p->gait + walked * 2 * G_PI * 0.95, swing = still ? 0.15 : sin(beat);
    double way = p->speed > 0 ? 1 : -1;
    LrVec walker = lr_path_pose(o->path, t).at;
    /* Keeps an arm's length from the walker, and off the shelf. */
    double z = MIN(MAX(p->z, walker.z + PASSER_ROOM_MM), -PASSER_SHELF_MM);
    LrVec hip = {p->x0 + p->speed * walked, -LR_LEG_H * s, z};
    hip.y += still ? 0 : 14 * fabs(sin(beat));
    LrVec near = lr_vec_unit(lr_vec(walker.x - hip.x, 0, walker.z - hip.z));
    LrVec across = {-near.z, 0, near.x};
    gsize n = 0;
    for (int i = 0; i < 2; i++) /* the far leg, then the near one */
        out[n++] = occluder_quad(look->leg, lr_vec_along(hip, near, i ? -10 : -40), across,
                                 (i ? swing : -swing) * 22 * DEG, way, LR_LEG_W * 0.43, 30,
                                 LR_LEG_W, LR_LEG_H + 30, s, LR_PART_PERSON);
    out[n++] = occluder_quad(look->body, hip, across, way * 2 * DEG, way, LR_BODY_W / 2,
                             LR_BODY_H - 40, LR_BODY_W, LR_BODY_H, s, LR_PART_PERSON);
    double arm = look->cart ? -way * 48 * DEG : swing * -26 * DEG;
    LrVec shoulder = lr_vec_along(lr_vec_along(hip, near, 30), across, -way * 10);
    shoulder.y -= 590 * s;
    out[n++] = occluder_quad(look->arm, shoulder, across, arm, way, LR_ARM_W / 2, 40, LR_ARM_W,
                             LR_ARM_H, s, LR_PART_PERSON);
    if (look->cart)
        out[n++] =
            occluder_quad(look->cart, lr_vec(hip.x + way * 420, -LR_CART_H, hip.z - 60),
                          lr_vec(1, 0, 0), 0, way, 0, 0, LR_CART_W, LR_CART_H, 1, LR_PART_CART);
    return n;
}

static double occluder_ease(double u)
{
    u = CLAMP(u, 0, 1);
    return u * u * (3 - 2 * u);
}

static LrQuad occluder_hand_quad(const LrOccluders *o, const Reach *r, double t)
{
    LrVec head = lr_path_pose(o->path, t).at;
    double out = occluder_ease((t - r->start_s) / (r->arrive_s - r->start_s)) *
                 (1 - occluder_ease((t - r->leave_s) / (r->end_s - r->leave_s)));
    LrVec rest = lr_vec_scale(r->turn.right, r->side * 250);
    rest = lr_vec_along(lr_vec_along(rest, r->turn.down, 560), r->turn.forward, 300);
    LrVec elbow = lr_vec_scale(r->turn.right, r->side * 240);
    elbow = lr_vec_along(lr_vec_along(elbow, r->turn.down, 470), r->turn.forward, 190);
    LrVec tip = lr_vec_along(lr_vec_scale(rest, 1 - out), r->tip, out);
    LrVec v = lr_vec_unit(lr_vec_sub(elbow, tip));
    LrVec u = lr_vec_unit(lr_vec_cross(v, lr_vec_unit(tip)));
    if (lr_vec_dot(u, r->turn.right) < 0)
        u = lr_vec_scale(u, -1);
    u = lr_vec_scale(u, r->side); /* the drawing is a right hand */
    LrVec corner = lr_vec_add(head, lr_vec_along(tip, u, -LR_HAND_W * 0.42));
    return (LrQuad){corner, u, v, LR_HAND_W, LR_HAND_H, o->hand, LR_PART_HAND};
}

gsize lr_occluders_at(const LrOccluders *o, double t, LrQuad out[LR_OCCLUDERS_MAX],
                      int ids[LR_OCCLUDERS_MAX])
{
    gsize n = 0;
    for (guint i = 0; i < o->passers->len && n + 5 <= LR_OCCLUDERS_MAX; i++) {
        const Passer *p = &g_array_index(o->passers, Passer, i);
        if (t < p->start_s || t > p->end_s)
            continue;
        gsize added = occluder_passer_quads(o, p, t, out + n);
        for (gsize k = 0; ids && k < added; k++)
            ids[n + k] = (int)(i * 8 + k);
        n += added;
    }
    for (guint i = 0; i < o->reaches->len && n < LR_OCCLUDERS_MAX; i++) {
        const Reach *r = &g_array_index(o->reaches, Reach, i);
        if (t < r->start_s || t > r->end_s)
            continue;
        if (ids)
            ids[n] = (int)(1000000 + i);
        out[n++] = occluder_hand_quad(o, r, t);
    }
    return n;
}
