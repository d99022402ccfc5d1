/* The end of the last known time of a span: where those who never looked are censored. */
#include "geometry/check.h"

#include "look/measure_time.h"

/* 10 samples a second: on a photo to 2 s, lost to 3 s, blocked to 4 s, away to 6 s, doubtful to 7
 * s.
 */
static LookTime *test_time(void)
{
    LookTime *time = look_time_new(100000);
    for (int i = 0; i < 70; i++)
        look_time_add(time, i * INT64_C(100000),
                      i < 20   ? LOOK_TIME_ON_PHOTO
                      : i < 30 ? LOOK_TIME_LOST
                      : i < 40 ? LOOK_TIME_BLOCKED
                      : i < 60 ? LOOK_TIME_AWAY
                               : LOOK_TIME_DOUBTFUL);
    look_time_close(time);
    return time;
}

static void test_known_until(void **state)
{
    (void)state;
    static const struct {
        double from_s, to_s, until_s;
    } cases[] = {
        {0, 7, 4},     /* blocked is known, away and doubtful are not */
        {0, 20, 4},    /* beyond the last sample */
        {0, 3.5, 3.5}, /* the span ends within known time */
        {0, 3, 2},     /* ends with a gap */
        {2, 3, 0},     /* nothing is known */
        {2.5, 5, 1.5}, /* counted from the span's start */
        {1, 1.5, 0.5}, /* all of it known */
        {1.5, 3, 0.5}, /* its beginning */
        {4, 7, 0},     /* known time ends where it begins */
        {-5, -1, 0},   /* before the first sample */
        {-1, 1, 2},
    };
    g_autoptr(LookTime) time = test_time();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfKnownTime known =
            look_time_between(time, llround(cases[i].from_s * 1e6), llround(cases[i].to_s * 1e6));
        check_near(known.known_until_s, cases[i].until_s, 1e-9);
        assert_true(known.known_until_s >= known.known_s - 1e-9);
        assert_true((known.known_s > 0) == (known.known_until_s > 0));
    }
    g_autoptr(LookTime) none = look_time_new(100000);
    look_time_close(none);
    check_near(look_time_between(none, 0, 1000000).known_until_s, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_known_until)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
