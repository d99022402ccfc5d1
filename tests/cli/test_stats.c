/* lookfall export stats, from gaze files to findings: who noticed, when, for how long, by group;
 * options, columns, dictionary; what is refused. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/statistics.h>

#include "study/bed.h"

enum { PEOPLE = 6, SECONDS = 9 };

static Bed *test_bed;

/* Rests at the left of the frame, and from 1.5 + i s on at the right, but for walk 0, which stays.
 */
static void test_gaze(Bed *bed, const char *name, int i)
{
    g_autoptr(GString) text = g_string_new("t_s,x_px,y_px\n");
    for (int k = 0; k < 100 * SECONDS; k++) {
        double t = k / 100.0;
        bool right = i > 0 && t >= 1.5 + i;
        g_string_append_printf(text, "%.2f,%.1f,%.1f\n", t, (right ? 440.0 : 40) + 0.2 * (k % 3),
                               180 + 0.2 * (k % 2));
    }
    bed_write(bed, name, text->str);
}

/* Two areas that hold all of the photo, in a group, and one that nobody looks at. */
static int test_set_up(void **state)
{
    (void)state;
    Bed *bed = test_bed = bed_new();
    bed_walk(bed);
    bed_expect(bed, 0, NULL, "new s.lookfall");
    bed_expect(bed, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    g_autoptr(GString) walks = g_string_new("name,video,gaze,participant,group\n");
    for (int i = 0; i < PEOPLE; i++) {
        g_autofree char *gaze = g_strdup_printf("g%d.csv", i);
        test_gaze(bed, gaze, i);
        g_string_append_printf(walks, "w%d,w.mp4,%s,p%d,%s\n", i, gaze, i, i % 2 ? "odd" : "even");
    }
    bed_write(bed, "walks.csv", walks->str);
    bed_write(bed, "areas.csv",
              "name,group,shape,points\n"
              "left,all,rect,\"0,0 400,0 400,500 0,500\"\n"
              "right,all,rect,\"400,0 800,0 800,500 400,500\"\n"
              "corner,,rect,\"797,497 799,497 799,499 797,499\"\n");
    bed_expect(bed, 0, NULL, "walk import s.lookfall walks.csv");
    bed_expect(bed, 0, NULL, "aoi import s.lookfall areas.csv");
    return 0;
}

static int test_tear_down(void **state)
{
    (void)state;
    bed_free(test_bed);
    return 0;
}

/* The cells of the one row of `csv` whose columns have these values ("area=left statistic=share").
 * Owned by the caller. */
static GHashTable *test_row(const char *csv, const char *wanted)
{
    g_auto(GStrv) lines = g_strsplit(csv, "\r\n", -1);
    g_auto(GStrv) names = g_strsplit(lines[0], ",", -1);
    g_auto(GStrv) pairs = g_strsplit(wanted, " ", -1);
    GHashTable *found = NULL;
    for (gsize i = 1; lines[i] && *lines[i]; i++) {
        g_auto(GStrv) cells = g_strsplit(lines[i], ",", (int)g_strv_length(names));
        GHashTable *row = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
        for (gsize k = 0; names[k]; k++)
            g_hash_table_insert(row, g_strdup(names[k]), g_strdup(cells[k]));
        bool fits = true;
        for (gsize k = 0; pairs[k]; k++) {
            g_auto(GStrv) pair = g_strsplit(pairs[k], "=", 2);
            fits = fits && g_strcmp0(g_hash_table_lookup(row, pair[0]), pair[1]) == 0;
        }
        if (fits && found)
            fail_msg("two rows with %s", wanted);
        if (fits)
            found = row;
        else
            g_hash_table_unref(row);
    }
    if (!found)
        fail_msg("no row with %s in\n%s", wanted, csv);
    return found;
}

static double test_cell(GHashTable *row, const char *column)
{
    const char *text = g_hash_table_lookup(row, column);
    assert_non_null(text);
    return *text ? g_ascii_strtod(text, NULL) : (double)NAN;
}

/* Before anything is cast or fixated: said, and nothing written. */
static void test_too_early(void **state)
{
    (void)state;
    g_auto(BedRun) run = bed_run(test_bed, "export s.lookfall stats");
    assert_int_equal(run.status, 3);
    assert_string_equal(run.out, "");
    assert_true(strstr(run.err, "fixate") || strstr(run.err, "cast"));
    bed_expect(test_bed, 0, NULL, "cast s.lookfall");
    bed_expect(test_bed, 0, NULL, "fixate s.lookfall");
}

/* They look right from 2.5 s, 3.5 s, ... 6.5 s on, as soon as the eye is there, and one of six
 * never does. Of the six 5/6, 4/6, 3/6 are left at the first three of these times: the curve is
 * level at one half from 4.5 s to 5.5 s, its median 5 s. All look there until the end. */
static void test_found_right(const char *csv)
{
    g_autoptr(GHashTable) share =
        test_row(csv, "area=right measure=noticed group= statistic=share");
    assert_true(fabs(test_cell(share, "value") - 5.0 / 6) < 1e-6);
    g_autoptr(GHashTable) median =
        test_row(csv, "area=right measure=first_seen_s group= statistic=median_time");
    assert_true(fabs(test_cell(median, "value") - 5) < 0.03);
    assert_true(test_cell(median, "n") == 6 && test_cell(median, "noticed") == 5);
    g_autoptr(GHashTable) mean = test_row(csv, "area=right measure=dwell_s group= statistic=mean");
    double dwell_s = (6.5 + 5.5 + 4.5 + 3.5 + 2.5) / 6;
    assert_true(fabs(test_cell(mean, "value") - dwell_s) < 0.03);
    assert_true(test_cell(mean, "low") < dwell_s && test_cell(mean, "high") > dwell_s);
    assert_true(test_cell(mean, "seed") == 1 && test_cell(mean, "resamples") == 200);
    g_autoptr(GHashTable) small =
        test_row(csv, "area=right measure=dwell_s group=odd statistic=mean");
    assert_true(fabs(test_cell(small, "value") - 4.5) < 0.03);
    assert_string_equal(g_hash_table_lookup(small, "reason"),
                        "too few values for an interval of this level");
    /* odd: 6.5, 4.5, 2.5; even: 0, 5.5, 3.5. Of the 20 deals of 3 and 3, 8 have a first sum nearer
     * to the half of all, 11.25, than 13.5 is: those of 10.5 to 12.5. */
    g_autoptr(GHashTable) test =
        test_row(csv, "area=right measure=dwell_s statistic=mean_difference");
    assert_string_equal(g_hash_table_lookup(test, "group"), "even");
    assert_true(fabs(test_cell(test, "value") + 1.5) < 0.03);
    assert_true(test_cell(test, "p_exact") == 1);
    assert_true(fabs(test_cell(test, "p") - 0.6) < 1e-6);
    g_autoptr(GHashTable) left =
        test_row(csv, "area=left measure=dwell_s statistic=mean_difference");
    double least = fmin(test_cell(test, "p"), test_cell(left, "p"));
    /* two areas of this level can be tested, the corner cannot */
    double holm = fmin(test_cell(test, "p_holm"), test_cell(left, "p_holm"));
    assert_true(fabs(holm - fmin(1, 2 * least)) < 1e-5);
}

static void test_found(void **state)
{
    (void)state;
    g_autofree char *csv =
        bed_output(test_bed, "export s.lookfall stats --by group --resamples 200");
    g_autoptr(GHashTable) photo =
        test_row(csv, "level=photo measure=noticed group= against= statistic=share");
    LfStatInterval wilson;
    assert_true(lf_stat_wilson(PEOPLE, PEOPLE, 0.95, &wilson, NULL));
    assert_true(test_cell(photo, "participants") == PEOPLE && test_cell(photo, "n") == PEOPLE);
    assert_true(test_cell(photo, "value") == 1 && test_cell(photo, "high") == 1);
    assert_true(fabs(test_cell(photo, "low") - wilson.low) < 1e-6);
    assert_string_equal(g_hash_table_lookup(photo, "reason"), "");

    /* Nobody can see the corner: no median, no test, and the reasons */
    g_autoptr(GHashTable) never =
        test_row(csv, "area=corner measure=first_seen_s group= statistic=median_time");
    assert_true(isnan(test_cell(never, "value")) && test_cell(never, "n") == PEOPLE);
    assert_string_equal(g_hash_table_lookup(never, "reason"),
                        "fewer than half looked while they were observed");
    g_autoptr(GHashTable) rank =
        test_row(csv, "area=corner measure=first_seen_s statistic=log_rank group=even against=odd");
    assert_true(isnan(test_cell(rank, "value")) && isnan(test_cell(rank, "p")));
    assert_string_equal(g_hash_table_lookup(rank, "reason"), "no event in any group");

    test_found_right(csv);
}

static void test_options(void **state)
{
    (void)state;
    g_autofree char *chosen =
        bed_output(test_bed, "export s.lookfall stats --level photo --measures noticed,dwell_s "
                             "--columns measure,statistic,n,value --resamples 200");
    assert_true(g_str_has_prefix(chosen, "measure,statistic,n,value\r\nnoticed,share,6,1.000000\r\n"
                                         "dwell_s,mean,6,"));
    g_auto(GStrv) lines = g_strsplit(chosen, "\r\n", -1);
    assert_int_equal(g_strv_length(lines), 1 + 3 + 1); /* share, mean, median */
    static const char common[] = "export s.lookfall stats --measures dwell_s --resamples 200 ";
    static const char *const more[] = {"--jobs 1", "--jobs 3", "--seed 2", "--bootstrap percentile",
                                       "--interval 0.9"};
    g_autofree char *first = NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(more); i++) {
        g_autofree char *line = g_strconcat(common, more[i], NULL);
        g_autofree char *csv = bed_output(test_bed, line);
        if (!first)
            first = g_strdup(csv);
        if ((strcmp(csv, first) == 0) != (i <= 1))
            fail_msg("%s", more[i]);
    }
    g_autofree char *words = bed_output(test_bed, "export s.lookfall stats --dictionary");
    assert_true(g_str_has_prefix(words, "column,unit,definition\r\n"));
    assert_non_null(strstr(words, "p_holm,0 to 1,"));
    assert_non_null(strstr(words, "Kaplan-Meier"));
}

static void test_refused(void **state)
{
    (void)state;
    static const struct {
        int status;
        const char *text, *arguments;
    } cases[] = {
        {2, "--by is group, not \"age\"", "--by age"},
        {2, "no measure \"dwel_s\"; did you mean dwell_s?", "--measures noticed,dwel_s"},
        {2, "--bootstrap is bca or percentile", "--bootstrap t"},
        {2, "--interval", "--interval 95"},
        {2, "--resamples", "--resamples 5"},
        {2, "--seed needs a whole number", "--seed 1.5"},
        {2, "--seed", "--seed -1"},
        {3, "nobody", "--walk nobody"},
        {2, "no column", "--columns mean"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *line = g_strconcat("export s.lookfall stats ", cases[i].arguments, NULL);
        g_auto(BedRun) run = bed_run(test_bed, line);
        if (run.status != cases[i].status || !strstr(run.err, cases[i].text) || run.out[0])
            fail_msg("lookfall %s: status %d\n%s%s", line, run.status, run.out, run.err);
    }
}

/* Without groups, and with one: the tests are blank, and say why. */
static void test_one_group(void **state)
{
    (void)state;
    g_autofree char *csv =
        bed_output(test_bed, "export s.lookfall stats --by group --walk w0 --walk w2 --level photo "
                             "--measures dwell_s --resamples 200");
    g_autoptr(GHashTable) row = test_row(csv, "statistic=mean_difference");
    assert_string_equal(g_hash_table_lookup(row, "reason"), "one group only");
    assert_true(isnan(test_cell(row, "value")) && isnan(test_cell(row, "p")));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_too_early), cmocka_unit_test(test_found),
        cmocka_unit_test(test_options),   cmocka_unit_test(test_refused),
        cmocka_unit_test(test_one_group),
    };
    return cmocka_run_group_tests(tests, test_set_up, test_tear_down);
}
