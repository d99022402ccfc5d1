/* Patches against textures known at every real point. */
#include "cast/scene.h"

#include <string.h>

#include "cast/patch.h"

#define SIDE 120 /* px of source and frame */

static const double PATCH_SAME[4] = {1, 0, 0, 1};
static const LfPoint PATCH_STILL = {0, 0};
static const LfPoint PATCH_CENTRE = {58.3, 61.8};

/* The texture as `plane_from_source`-moved picture: frame(x, y) = gain t(a (x - at) + centre) +
 * offset. */
static LfPlane patch_picture(const SceneWaves *waves, LfPoint at, const double a[4], LfPoint blur,
                             double gain, double offset)
{
    LfPlane plane = {0};
    assert_true(lf_plane_init(&plane, SIDE, SIDE, 1, 1));
    LfPoint smear = {a[0] * blur.x + a[1] * blur.y, a[2] * blur.x + a[3] * blur.y};
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            double u = PATCH_CENTRE.x + a[0] * (x - at.x) + a[1] * (y - at.y);
            double v = PATCH_CENTRE.y + a[2] * (x - at.x) + a[3] * (y - at.y);
            plane.data[y * SIDE + x] =
                scene_pixel(gain * scene_waves_smeared(waves, u, v, smear) + offset);
        }
    return plane;
}

typedef struct {
    const char *name;
    double dx, dy; /* px, the shift to be found */
    double a[4];   /* source px per frame px */
    LfPoint blur;  /* frame px */
    double gain, offset;
    double tolerance_px;
} PatchShift;

static const PatchShift PATCH_SHIFTS[] = {
    {"nowhere", 0, 0, {1, 0, 0, 1}, {0, 0}, 1, 128, 0.05},
    {"a quarter", 0.25, -0.25, {1, 0, 0, 1}, {0, 0}, 1, 128, 0.05},
    {"half", 0.5, 0.5, {1, 0, 0, 1}, {0, 0}, 1, 128, 0.05},
    {"a third and more", -1.33, 0.71, {1, 0, 0, 1}, {0, 0}, 1, 128, 0.05},
    {"two px", 2.4, -1.9, {1, 0, 0, 1}, {0, 0}, 1, 128, 0.05},
    {"dim", 0.6, -1.1, {1, 0, 0, 1}, {0, 0}, 0.35, 60, 0.05},
    {"bright", 0.6, -1.1, {1, 0, 0, 1}, {0, 0}, 0.7, 160, 0.05},
    {"turned", 0.4, 1.2, {0.94, -0.34, 0.34, 0.94}, {0, 0}, 1, 128, 0.05},
    {"seen from aside", 0.8, -0.3, {1.3, 0.1, 0, 0.9}, {0, 0}, 1, 128, 0.05},
    {"moving", 0.7, -0.6, {1, 0, 0, 1}, {7, 3}, 1, 128, 0.1},
    {"moving fast", -0.5, 0.4, {1, 0, 0, 1}, {2, -12}, 1, 128, 0.1},
};

static void test_patch_shifts(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= 5; seed++) {
        SceneWaves waves = scene_waves(seed, 9, 30);
        LfPlane source = patch_picture(&waves, PATCH_CENTRE, PATCH_SAME, PATCH_STILL, 1, 128);
        for (gsize i = 0; i < G_N_ELEMENTS(PATCH_SHIFTS); i++) {
            const PatchShift *c = &PATCH_SHIFTS[i];
            LfPoint laid = {60.4, 57.9}, true_at = {laid.x + c->dx, laid.y + c->dy};
            LfPlane frame = patch_picture(&waves, true_at, c->a, c->blur, c->gain, c->offset);
            LfPatch patch;
            LfPatchFit fit;
            assert_true(lf_patch_make(&patch, &source, PATCH_CENTRE, c->a, c->blur));
            if (!lf_patch_align(&patch, &frame, laid, 8, &fit))
                fail_msg("%s, texture %u: not found", c->name, seed);
            double miss = hypot(fit.at.x - true_at.x, fit.at.y - true_at.y);
            if (!(miss < c->tolerance_px && fit.zncc > 0.97))
                fail_msg("%s, texture %u: %.3f px off, correlation %.3f", c->name, seed, miss,
                         fit.zncc);
            check_near(fit.moved_px, hypot(fit.at.x - laid.x, fit.at.y - laid.y), 1e-9);
            lf_plane_clear(&frame);
        }
        lf_plane_clear(&source);
    }
}

/* Knowing the motion must pay: the smeared patch agrees better with a smeared frame. */
static void test_patch_blur_helps(void **state)
{
    (void)state;
    const LfPoint blur = {9, 2};
    for (guint32 seed = 1; seed <= 5; seed++) {
        SceneWaves waves = scene_waves(seed, 9, 30);
        LfPlane source = patch_picture(&waves, PATCH_CENTRE, PATCH_SAME, PATCH_STILL, 1, 128);
        LfPlane frame = patch_picture(&waves, PATCH_CENTRE, PATCH_SAME, blur, 1, 128);
        LfPatch sharp, smeared;
        LfPatchFit a, b;
        assert_true(lf_patch_make(&sharp, &source, PATCH_CENTRE, PATCH_SAME, PATCH_STILL));
        assert_true(lf_patch_make(&smeared, &source, PATCH_CENTRE, PATCH_SAME, blur));
        assert_true(lf_patch_align(&sharp, &frame, PATCH_CENTRE, 8, &a));
        assert_true(lf_patch_align(&smeared, &frame, PATCH_CENTRE, 8, &b));
        if (!(1 - b.zncc < 0.5 * (1 - a.zncc)))
            fail_msg("texture %u: correlation %.4f, without knowing the motion %.4f", seed, b.zncc,
                     a.zncc);
        lf_plane_clear(&source);
        lf_plane_clear(&frame);
    }
}

/* Pictures a patch must not be made of. */
static double patch_flat(double x, double y)
{
    (void)x, (void)y;
    return 128;
}

static double patch_faint(double x, double y)
{
    return 128 + sin(x / 2) + sin(y / 3); /* contrast of one grey level */
}

static double patch_edge(double x, double y)
{
    return 128 + 80 * tanh((0.8 * x + 0.6 * y - 85) / 2);
}

static double patch_stripes(double x, double y)
{
    return 128 + 80 * sin((0.6 * x - 0.8 * y) / 2);
}

static double patch_corner(double x, double y)
{
    return 128 + 80 * tanh((x - 60) / 2) * tanh((y - 60) / 2);
}

static void test_patch_refuses(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double (*grey)(double x, double y);
        LfPoint centre;
        bool good;
    } cases[] = {
        {"flat", patch_flat, {60, 60}, false},
        {"faint", patch_faint, {60, 60}, false},
        {"an edge", patch_edge, {60, 60}, false},
        {"stripes", patch_stripes, {60, 60}, false},
        {"a corner", patch_corner, {60, 60}, true},
        {"at the left", patch_corner, {7, 60}, false},
        {"at the top", patch_corner, {60, 7}, false},
        {"at the right", patch_corner, {SIDE - 8, 60}, false},
        {"at the bottom", patch_corner, {60, SIDE - 8}, false},
        {"outside", patch_corner, {-500, 1e9}, false},
        {"nowhere", patch_corner, {NAN, 60}, false},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfPlane source = {0};
        LfPatch patch;
        assert_true(lf_plane_init(&source, SIDE, SIDE, 1, 1));
        for (int y = 0; y < SIDE; y++)
            for (int x = 0; x < SIDE; x++)
                source.data[y * SIDE + x] = scene_pixel(cases[i].grey(x, y));
        if (lf_patch_make(&patch, &source, cases[i].centre, PATCH_SAME, PATCH_STILL) !=
            cases[i].good)
            fail_msg("%s: %s", cases[i].name, cases[i].good ? "refused" : "taken");
        lf_plane_clear(&source);
    }
}

static void test_patch_leaves(void **state)
{
    (void)state;
    SceneWaves waves = scene_waves(3, 9, 30);
    LfPlane source = patch_picture(&waves, PATCH_CENTRE, PATCH_SAME, PATCH_STILL, 1, 128);
    LfPatch patch;
    LfPatchFit fit;
    static const LfPoint starts[] = {{5, 60},        {60, 5},    {SIDE - 5, 60},
                                     {60, SIDE - 5}, {-1e6, 60}, {60, NAN}};
    assert_true(lf_patch_make(&patch, &source, PATCH_CENTRE, PATCH_SAME, PATCH_STILL));
    for (gsize i = 0; i < G_N_ELEMENTS(starts); i++)
        assert_false(lf_patch_align(&patch, &source, starts[i], 8, &fit));
    /* further off than allowed */
    LfPoint far = {PATCH_CENTRE.x + 3, PATCH_CENTRE.y};
    assert_true(lf_patch_align(&patch, &source, far, 4, &fit));
    assert_false(lf_patch_align(&patch, &source, far, 2, &fit));
    /* a flat piece of frame */
    LfPlane flat = {0};
    assert_true(lf_plane_init(&flat, SIDE, SIDE, 1, 1));
    memset(flat.data, 77, SIDE * SIDE);
    assert_false(lf_patch_align(&patch, &flat, PATCH_CENTRE, 8, &fit));
    lf_plane_clear(&flat);
    lf_plane_clear(&source);
}

/* One standard error means one: over many noisy frames at random shifts, the root mean square error
 * per axis lies within 0.6 to 1.5 of the mean sigma told. */
static void test_patch_sigma(void **state)
{
    (void)state;
    static const double noises[] = {2, 6, 12}; /* grey levels */
    enum { TEXTURES = 30, TRIALS = 30 };
    g_autoptr(GRand) rand = g_rand_new_with_seed(40);
    double square[G_N_ELEMENTS(noises)] = {0}, told[G_N_ELEMENTS(noises)] = {0};
    int n[G_N_ELEMENTS(noises)] = {0};
    LfPlane noisy = {0};
    assert_true(lf_plane_init(&noisy, SIDE, SIDE, 1, 1));
    for (guint32 seed = 1; seed <= TEXTURES; seed++) {
        SceneWaves waves = scene_waves(seed, 9, 30);
        LfPlane source = patch_picture(&waves, PATCH_CENTRE, PATCH_SAME, PATCH_STILL, 1, 128);
        LfPoint at = {60 + g_rand_double_range(rand, -1, 1), 60 + g_rand_double_range(rand, -1, 1)};
        LfPlane frame = patch_picture(&waves, at, PATCH_SAME, PATCH_STILL, 1, 128);
        LfPatch patch;
        assert_true(lf_patch_make(&patch, &source, PATCH_CENTRE, PATCH_SAME, PATCH_STILL));
        for (gsize i = 0; i < TRIALS * G_N_ELEMENTS(noises); i++) {
            gsize k = i % G_N_ELEMENTS(noises);
            LfPatchFit fit;
            for (int j = 0; j < SIDE * SIDE; j++)
                noisy.data[j] = scene_pixel(frame.data[j] + noises[k] * scene_gauss(rand));
            if (!lf_patch_align(&patch, &noisy, (LfPoint){60, 60}, 8, &fit))
                continue;
            double dx = fit.at.x - at.x, dy = fit.at.y - at.y;
            square[k] += (dx * dx + dy * dy) / 2;
            told[k] += fit.sigma_px;
            n[k]++;
        }
        lf_plane_clear(&source);
        lf_plane_clear(&frame);
    }
    lf_plane_clear(&noisy);
    for (gsize k = 0; k < G_N_ELEMENTS(noises); k++) {
        assert_true(n[k] > 0.98 * TEXTURES * TRIALS);
        double error = sqrt(square[k] / n[k]), sigma = told[k] / n[k];
        print_message("noise of %.0f grey levels: error %.4f px, told %.4f px\n", noises[k], error,
                      sigma);
        if (!(error > 0.6 * sigma && error < 1.5 * sigma))
            fail_msg("noise of %.0f grey levels: error is %.2f of what is told", noises[k],
                     error / sigma);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_patch_shifts),  cmocka_unit_test(test_patch_blur_helps),
        cmocka_unit_test(test_patch_refuses), cmocka_unit_test(test_patch_leaves),
        cmocka_unit_test(test_patch_sigma),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
