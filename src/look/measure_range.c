/* Extremes of visits and means over all choices of the fixations that may or may not be on target.
 *
 * Number of visits: a path through two states (on target or not) step by step, so the work grows
 * with the number of fixations, not with that of choices. Means of visits are a ratio of two sums:
 * Dinkelbach's method (W. Dinkelbach, "On nonlinear fractional programming", Management Science 13
 * (1967) 492-498, doi:10.1287/mnsc.13.7.492) finds the extreme of sum / number by searching, again
 * and again, that of sum - m number with the m found before; it ends at the exact extreme. */
#include "look/measure_range.h"

#include <math.h>
#include <stdlib.h>

#include "look/measure_hit.h"

static int64_t range_us(const LookStep *step)
{
    return step->to_us - step->from_us;
}

LookSum look_sum(const LookStep *steps, gsize n, guint8 flag)
{
    LookSum sum = {.first = -1};
    int64_t glance_us = 0;
    bool on = false;
    for (gsize i = 0; i < n; i++) {
        const LookStep *step = &steps[i];
        if (!(step->flags & flag)) {
            on = false;
            continue;
        }
        bool goes_on = on && step->bridged;
        int64_t move_us = step->bridged ? step->before_us : 0;
        sum.first = sum.first < 0 ? (int64_t)i : sum.first;
        sum.fixations++;
        sum.visits += !goes_on;
        sum.fixated_us += range_us(step);
        sum.dwell_us += range_us(step) + (goes_on ? move_us : 0);
        sum.glance_us += range_us(step) + move_us;
        glance_us = (goes_on ? glance_us : 0) + range_us(step) + move_us;
        sum.longest_glance_us = MAX(sum.longest_glance_us, glance_us);
        on = true;
    }
    return sum;
}

/* --- paths --------------------------------------------------------------------------------------
 */

/* A choice up to some step, by what it is worth. */
typedef struct {
    bool open; /* reachable */
    double worth;
    int64_t us;
    gsize visits;
} RangePath;

typedef struct {
    double time_worth;  /* of a microsecond */
    double visit_worth; /* of a visit */
    bool glances, needs_one;
} RangeAim;

static void range_keep(RangePath *best, RangePath path)
{
    if (path.open && (!best->open || path.worth > best->worth))
        *best = path;
}

static RangePath range_extend(const RangeAim *aim, RangePath path, const LookStep *step, bool on)
{
    bool goes_on = on && step->bridged;
    int64_t move_us = (goes_on || aim->glances) && step->bridged ? step->before_us : 0;
    path.us += range_us(step) + move_us;
    path.visits += !goes_on;
    path.worth = aim->time_worth * (double)path.us + aim->visit_worth * (double)path.visits;
    return path;
}

/* The choice of most worth; closed where needs_one cannot be met. */
static RangePath range_best(const LookStep *steps, gsize n, const RangeAim *aim)
{
    RangePath untouched = {.open = true}, on = {0}, off = {0};
    for (gsize i = 0; i < n; i++) {
        const LookStep *step = &steps[i];
        RangePath next_on = {0}, next_off = {0};
        if (step->flags & LOOK_POSSIBLE) {
            range_keep(&next_on, range_extend(aim, untouched, step, false));
            range_keep(&next_on, range_extend(aim, off, step, false));
            range_keep(&next_on, range_extend(aim, on, step, true));
        }
        if (!(step->flags & LOOK_CERTAIN)) {
            range_keep(&next_off, off);
            range_keep(&next_off, on);
        } else {
            untouched.open = false;
        }
        on = next_on;
        off = next_off;
    }
    RangePath best = {0};
    range_keep(&best, on);
    range_keep(&best, off);
    if (!aim->needs_one)
        range_keep(&best, untouched);
    return best;
}

void look_range_visits(const LookStep *steps, gsize n, gsize *least, gsize *most)
{
    *least = range_best(steps, n, &(RangeAim){.visit_worth = -1}).visits;
    *most = range_best(steps, n, &(RangeAim){.visit_worth = 1}).visits;
}

static double range_visit_extreme(const LookStep *steps, gsize n, bool glances, double sign)
{
    double mean = 0;
    RangeAim aim = {.time_worth = sign, .glances = glances, .needs_one = true};
    /* Each round comes strictly nearer, and there are finitely many means; a handful suffices. */
    for (int round = 0; round < 64; round++) {
        aim.visit_worth = -sign * mean;
        RangePath best = range_best(steps, n, &aim);
        if (!best.open)
            return (double)NAN;
        double next = (double)best.us / (double)best.visits;
        if (round > 0 && !(sign * (next - mean) > 0))
            return mean;
        mean = next;
    }
    return mean;
}

void look_range_visit_mean(const LookStep *steps, gsize n, bool glances, double *low_us,
                           double *high_us)
{
    *low_us = range_visit_extreme(steps, n, glances, -1);
    *high_us = range_visit_extreme(steps, n, glances, 1);
}

/* --- fixations ----------------------------------------------------------------------------------
 */

static int range_compare(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* The mean is largest with all certain fixations and those of the rest that are longer than it. */
void look_range_fixation_mean(const LookStep *steps, gsize n, double *low_us, double *high_us)
{
    g_autoptr(GArray) open = g_array_new(FALSE, FALSE, sizeof(int64_t));
    int64_t sum = 0;
    gsize count = 0;
    for (gsize i = 0; i < n; i++) {
        int64_t us = range_us(&steps[i]);
        if (steps[i].flags & LOOK_CERTAIN) {
            sum += us;
            count++;
        } else if (steps[i].flags & LOOK_POSSIBLE) {
            g_array_append_val(open, us);
        }
    }
    g_array_sort(open, range_compare);
    double *const ends[] = {low_us, high_us};
    for (int high = 0; high < 2; high++) {
        double total = (double)sum, number = (double)count;
        for (guint i = 0; i < open->len; i++) {
            double us = (double)g_array_index(open, int64_t, high ? open->len - 1 - i : i);
            if (number > 0 && (high ? us * number <= total : us * number >= total))
                break;
            total += us;
            number++;
        }
        *ends[high] = number > 0 ? total / number : (double)NAN;
    }
}

void look_range_first_fixation(const LookStep *steps, gsize n, double *low_us, double *high_us)
{
    *low_us = *high_us = (double)NAN;
    for (gsize i = 0; i < n; i++) {
        if (!(steps[i].flags & LOOK_POSSIBLE))
            continue;
        double us = (double)range_us(&steps[i]);
        *low_us = fmin(us, *low_us); /* fmin passes over a NaN */
        *high_us = fmax(us, *high_us);
        if (steps[i].flags & LOOK_CERTAIN)
            break;
    }
}
