/* The renderer's lens against the library's: two codes written apart for one model (OpenCV 4.6
 * calib3d documentation, "Detailed Description"). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>

#include <lookfall/geometry.h>

#include "lens.h"
#include "rng.h"
#include "scene.h"

static void lenses_agree(void **state)
{
    (void)state;
    gsize n;
    const LrSceneSpec *specs = lr_scene_specs(&n);
    LrRng rng = lr_rng_new(1, "lens test");
    for (gsize s = 0; s < n; s++) {
        LrLens lens = lr_lens_new(specs[s].width, specs[s].height, specs[s].field_deg, specs[s].k);
        LfLens other = {.width = lens.width,
                        .height = lens.height,
                        .fx = lens.fx,
                        .fy = lens.fy,
                        .cx = lens.cx,
                        .cy = lens.cy,
                        .n_k = 5,
                        .calibrated = true};
        for (int i = 0; i < 5; i++)
            other.k[i] = lens.k[i];
        for (int i = 0; i < 500; i++) {
            double px = lr_rng_uniform(&rng, 0, lens.width - 1), x, y, bx, by;
            double py = lr_rng_uniform(&rng, 0, lens.height - 1);
            assert_true(lr_lens_ray(&lens, px, py, &x, &y));
            lr_lens_project(&lens, x, y, &bx, &by);
            assert_true(hypot(bx - px, by - py) < 1e-8);
            LfPoint d =
                lf_lens_distort(&other, (LfPoint){x * lens.fx + lens.cx, y * lens.fy + lens.cy});
            assert_true(hypot(d.x - px, d.y - py) < 1e-6);
        }
    }
}

static void field_is_as_asked(void **state)
{
    (void)state;
    const double none[5] = {0};
    LrLens lens = lr_lens_new(1920, 1080, 82, none);
    double x, y;
    assert_true(lr_lens_ray(&lens, -0.5, lens.cy, &x, &y));
    assert_true(fabs(atan(-x) * 180 / G_PI - 41) < 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lenses_agree),
        cmocka_unit_test(field_is_as_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
