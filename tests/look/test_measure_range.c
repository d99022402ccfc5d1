/* The ranges that positions allow, against trying out every choice. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "look/expect.h"
#include "look/measure_walk.h"

static void keep(double *low, double *high, double value)
{
    *low = fmin(*low, value);
    *high = fmax(*high, value);
}

/* Every choice of the possible ones, with all certain ones. */
static void test_ranges(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int round = 0; round < 300; round++) {
        LookStep steps[10];
        gsize n = (gsize)g_rand_int_range(rand, 1, 11);
        int64_t t_us = 0;
        guint possible = 0, certain = 0;
        for (gsize i = 0; i < n; i++) {
            int kind = g_rand_int_range(rand, 0, 4); /* none, maybe, in but unsure, certain */
            steps[i].before_us = i ? g_rand_int_range(rand, 1, 600) : 0;
            steps[i].bridged = i && steps[i].before_us <= 300;
            steps[i].from_us = t_us + steps[i].before_us;
            steps[i].to_us = t_us = steps[i].from_us + g_rand_int_range(rand, 50, 500);
            steps[i].flags = kind == 0   ? 0
                             : kind == 1 ? LOOK_POSSIBLE
                             : kind == 2 ? LOOK_POSSIBLE | LOOK_IN
                                         : LOOK_POSSIBLE | LOOK_IN | LOOK_CERTAIN;
            possible |= kind > 0 ? 1U << i : 0;
            certain |= kind == 3 ? 1U << i : 0;
        }
        double low[4], high[4]; /* visits, mean fixation, mean visit, mean glance */
        double first_low = HUGE_VAL, first_high = -HUGE_VAL;
        LookSum least = look_sum(steps, n, LOOK_CERTAIN), most = look_sum(steps, n, LOOK_POSSIBLE);
        for (int i = 0; i < 4; i++) {
            low[i] = HUGE_VAL;
            high[i] = -HUGE_VAL;
        }
        for (guint choice = 0; choice < 1U << n; choice++) {
            if ((choice & certain) != certain || (choice & ~possible))
                continue;
            LookStep tried[10];
            memcpy(tried, steps, sizeof tried);
            for (gsize i = 0; i < n; i++)
                tried[i].flags = choice >> i & 1 ? LOOK_IN : 0;
            LookSum sum = look_sum(tried, n, LOOK_IN);
            keep(&low[0], &high[0], (double)sum.visits);
            /* Sums never leave the two that measures take as their range. */
            assert_true(sum.dwell_us >= least.dwell_us && sum.dwell_us <= most.dwell_us);
            assert_true(sum.glance_us >= least.glance_us && sum.glance_us <= most.glance_us);
            assert_true(sum.longest_glance_us >= least.longest_glance_us &&
                        sum.longest_glance_us <= most.longest_glance_us);
            if (!choice)
                continue;
            keep(&low[1], &high[1], (double)sum.fixated_us / (double)sum.fixations);
            keep(&low[2], &high[2], (double)sum.dwell_us / (double)sum.visits);
            keep(&low[3], &high[3], (double)sum.glance_us / (double)sum.visits);
            keep(&first_low, &first_high,
                 (double)(steps[sum.first].to_us - steps[sum.first].from_us));
        }
        gsize fewest, mosts;
        double a, b;
        look_range_visits(steps, n, &fewest, &mosts);
        expect("fewest", (double)fewest, low[0]);
        expect("most", (double)mosts, high[0]);
        if (!possible)
            continue;
        look_range_fixation_mean(steps, n, &a, &b);
        expect("mean fixation, low", a, low[1]);
        expect("mean fixation, high", b, high[1]);
        look_range_visit_mean(steps, n, false, &a, &b);
        expect("mean visit, low", a, low[2]);
        expect("mean visit, high", b, high[2]);
        look_range_visit_mean(steps, n, true, &a, &b);
        expect("mean glance, low", a, low[3]);
        expect("mean glance, high", b, high[3]);
        look_range_first_fixation(steps, n, &a, &b);
        expect("first fixation, low", a, first_low);
        expect("first fixation, high", b, first_high);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_ranges)};
    return cmocka_run_group_tests_name("look/measure_range", tests, NULL, NULL);
}
