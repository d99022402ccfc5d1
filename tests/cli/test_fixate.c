/* lookfall fixate on a bare gaze file: what it writes, and what it refuses. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "study/bed.h"

#define SCALE "--px-per-degree 30,25"

/* 250 Hz: rests at (100, 100) and, from 1 s on, at (400, 100) px, a saccade of 40 ms between them,
 * 200 ms lost at 1.5 s, times that begin at 7 s. */
static void fixate_gaze(Bed *bed, const char *name)
{
    g_autoptr(GString) text = g_string_new("t_s,x_px,y_px\n");
    for (int i = 0; i < 500; i++) {
        double t = i / 250.0, u = CLAMP((t - 0.96) / 0.04, 0, 1);
        double x = 100 + 300 * u * u * u * (10 - u * (15 - 6 * u)) + 0.1 * (i % 3);
        if (i >= 375 && i < 425)
            g_string_append_printf(text, "%.3f,,\n", 7 + t);
        else
            g_string_append_printf(text, "%.3f,%.2f,100\n", 7 + t, x);
    }
    bed_write(bed, name, text->str);
}

static char *fixate_text(Bed *bed, const char *name)
{
    g_autoptr(GBytes) bytes = bed_read(bed, name);
    return g_strndup(g_bytes_get_data(bytes, NULL), g_bytes_get_size(bytes));
}

static void test_written(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    fixate_gaze(bed, "g.csv");
    bed_expect(bed, 0, "3 fixations in 500 samples",
               "fixate --gaze g.csv " SCALE " --out e.csv --fixations f.csv");
    g_autofree char *events = fixate_text(bed, "e.csv");
    g_auto(GStrv) lines = g_strsplit(events, "\r\n", -1);
    assert_int_equal(g_strv_length(lines), 500 + 2); /* header, and nothing after the last */
    assert_string_equal(lines[0], "t_s,event");
    assert_string_equal(lines[1], "7.0000,fixation");
    assert_string_equal(lines[1 + 245], "7.9800,saccade");
    assert_string_equal(lines[1 + 380], "8.5200,lost");
    assert_string_equal(lines[500], "8.9960,fixation");

    g_autofree char *list = fixate_text(bed, "f.csv");
    g_auto(GStrv) rows = g_strsplit(list, "\r\n", -1);
    assert_int_equal(g_strv_length(rows), 3 + 2);
    assert_string_equal(rows[0], "from_s,to_s,duration_s,x_px,y_px,samples");
    static const double expected[][4] = {
        {7, 7.96, 100.1, 240}, {8, 8.5, 400.1, 125}, {8.7, 9, 400.1, 75}};
    for (int i = 0; i < 3; i++) {
        g_auto(GStrv) cell = g_strsplit(rows[i + 1], ",", -1);
        assert_int_equal(g_strv_length(cell), 6);
        double from = g_ascii_strtod(cell[0], NULL), to = g_ascii_strtod(cell[1], NULL);
        if (fabs(from - expected[i][0]) > 0.012 || fabs(to - expected[i][1]) > 0.012)
            fail_msg("%s", rows[i + 1]);
        assert_true(fabs(to - from - g_ascii_strtod(cell[2], NULL)) < 1e-9);
        assert_true(fabs(g_ascii_strtod(cell[3], NULL) - expected[i][2]) < 1);
        assert_true(fabs(g_ascii_strtod(cell[4], NULL) - 100) < 1e-9);
        assert_true(fabs(g_ascii_strtod(cell[5], NULL) - expected[i][3]) <= 3);
    }

    /* The same to stdout, and by other columns. */
    g_autofree char *out = bed_output(bed, "fixate --gaze g.csv " SCALE);
    assert_string_equal(out, events);
    g_autofree char *columns =
        bed_output(bed, "fixate --gaze g.csv --time 1:s --x 2 --y y_px:px " SCALE);
    assert_string_equal(columns, events);
    /* A setting that changes the result. */
    g_autofree char *longer =
        bed_output(bed, "fixate --gaze g.csv " SCALE " --min-fixation-ms 400");
    assert_non_null(strstr(longer, "8.9960,other"));
}

static void test_refused(void **state)
{
    (void)state;
    static const struct {
        int status;
        const char *text, *arguments;
    } cases[] = {
        {2, "STUDY is missing", "--jobs 1"},
        {2, "--px-per-degree is missing", "--gaze g.csv"},
        {2, "needs two numbers, X,Y", "--gaze g.csv --px-per-degree 1,2,3"},
        {2, "--px-per-degree must lie between", "--gaze g.csv --px-per-degree 0,25"},
        {2, "--px-per-degree needs a number", "--gaze g.csv --px-per-degree wide"},
        {2, "no frame for \"norm\"", "--gaze g.csv --x x_px:norm " SCALE},
        {2, "do not know what to do with \"s\"", "s --gaze g.csv " SCALE},
        {2, "--walk and --jobs are for studies", "--gaze g.csv --walk a " SCALE},
        {2, "belong to --gaze", "s.lookfall --out e.csv"},
        {2, "the methods are velocity and dispersion", "s.lookfall --method area"},
        {2, "edge_share must lie between 0.05 and 1", "s.lookfall --edge-share 2"},
        {2, "--noise-factor needs a number", "s.lookfall --noise-factor high"},
        {2, "--jobs needs a whole number", "s.lookfall --jobs 1.5"},
        {2, "did you mean --min-fixation-ms", "s.lookfall --min-fixation-m 100"},
        {3, "no such", "--gaze none.csv " SCALE},
        {3, "no such study", "none.lookfall"},
        {3, "line 3", "--gaze unsorted.csv " SCALE},
        {3, "line 3", "--gaze text.csv " SCALE},
        {3, "lost", "--gaze lost.csv " SCALE},
        {3, "exists already", "--gaze g.csv --out g.csv " SCALE},
        {3, "exists already", "--gaze g.csv --out e.csv --fixations g.csv " SCALE},
    };
    g_autoptr(Bed) bed = bed_new();
    fixate_gaze(bed, "g.csv");
    bed_write(bed, "unsorted.csv", "t_s,x_px,y_px\n0.1,1,1\n0.05,1,1\n");
    bed_write(bed, "text.csv", "t_s,x_px,y_px\n0.1,1,1\n0.2,here,1\n");
    bed_write(bed, "lost.csv", "t_s,x_px,y_px\n0.1,,\n0.2,,\n");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *line = g_strconcat("fixate ", cases[i].arguments, NULL);
        g_auto(BedRun) run = bed_run(bed, line);
        if (run.status != cases[i].status || !strstr(run.err, cases[i].text) || run.out[0])
            fail_msg("lookfall %s: status %d\n%s%s", line, run.status, run.out, run.err);
    }
    /* Neither of two files where one cannot be made. */
    assert_false(g_file_test(bed_path(bed, "e.csv"), G_FILE_TEST_EXISTS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_written),
        cmocka_unit_test(test_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
