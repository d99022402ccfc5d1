/* Gaze files that are understood. */
#include "gaze/check.h"

#include <locale.h>

#define MAX_SAMPLES 4
#define LOST NAN, NAN

typedef struct {
    const char *what;
    const char *text;
    LfGazeFormat format;
    int decimals;
    int n;
    struct {
        int64_t t_us;
        double x, y; /* NaN: lost */
    } sample[MAX_SAMPLES];
} TestRead;

static const TestRead test_read_cases[] = {
    {"the default",
     "t_s,x_px,y_px\n0.0,1.5,2\n0.02,3,4\n",
     {0},
     4,
     2,
     {{0, 1.5, 2}, {20000, 3, 4}}},
    {"no line end at the end",
     "t_s,x_px,y_px\n0.0,1.5,2\n0.02,3,4",
     {0},
     4,
     2,
     {{0, 1.5, 2}, {20000, 3, 4}}},
    {"CR LF",
     "t_s,x_px,y_px\r\n0.0,1.5,2\r\n0.02,3,4\r\n",
     {0},
     4,
     2,
     {{0, 1.5, 2}, {20000, 3, 4}}},
    {"byte order mark", "\xef\xbb\xbft_s,x_px,y_px\n0.5,1,2\n", {0}, 4, 1, {{500000, 1, 2}}},
    {"empty lines and blank rows",
     "\n\n,,\nt_s,x_px,y_px\n\n0.5,1,2\n\n,,\n  \n1,2,3\n\n",
     {0},
     4,
     2,
     {{500000, 1, 2}, {1000000, 2, 3}}},
    {"other columns, other order",
     "id,y_px,note,t_s,x_px\na,2,\"u, \"\"v\"\"\",0.5,1\n",
     {0},
     4,
     1,
     {{500000, 1, 2}}},
    {"quoted names and numbers",
     "\"t_s\",\"x_px\",\"y_px\"\n\"0.5\",\"1\",\"2\"\n",
     {0},
     4,
     1,
     {{500000, 1, 2}}},
    {"a line break in quotes",
     "t_s,x_px,y_px,note\n0.5,1,2,\"a\nb\"\n1,2,3,c\n",
     {0},
     4,
     2,
     {{500000, 1, 2}, {1000000, 2, 3}}},
    {"blanks around", " t_s , x_px,y_px \n 0.5 , 1 , 2 \n", {0}, 4, 1, {{500000, 1, 2}}},
    {"tabs", "t_s\tx_px\ty_px\n0.5\t1\t2\n", {0}, 4, 1, {{500000, 1, 2}}},
    {"tabs, with blanks between them",
     "t_s\tx_px\ty_px\n0.5\t\t2\n1\t2\t3\n",
     {0},
     4,
     2,
     {{500000, LOST}, {1000000, 2, 3}}},
    {"tabs and decimal comma", "t_s\tx_px\ty_px\n0,5\t1,25\t2\n", {0}, 4, 1, {{500000, 1.25, 2}}},
    {"semicolons and decimal comma",
     "t_s;x_px;y_px\n0,5;1,25;2,5\n",
     {0},
     4,
     1,
     {{500000, 1.25, 2.5}}},
    {"semicolons and decimal point",
     "t_s;x_px;y_px\n0.5;1.25;2.5\n",
     {0},
     4,
     1,
     {{500000, 1.25, 2.5}}},
    {"a semicolon inside quotes does not separate",
     "t_s,x_px,y_px,\"a;b\"\n0.5,1,2,3\n",
     {0},
     4,
     1,
     {{500000, 1, 2}}},
    {"no header, semicolons seen in the data",
     "0,5;1,25;2,5\n1;2;3\n",
     {.time = "1:s", .x = "2:px", .y = "3:px"},
     4,
     2,
     {{500000, 1.25, 2.5}, {1000000, 2, 3}}},
    {"numbers with a header",
     "time,gx,gy\n0.5,1,2\n",
     {.time = "1", .x = "2", .y = "3"},
     4,
     1,
     {{500000, 1, 2}}},
    {"numbers without a header",
     "7,0.5,1,2\n8,1,2,3\n",
     {.time = "2", .x = "3", .y = "4"},
     4,
     2,
     {{500000, 1, 2}, {1000000, 2, 3}}},
    {"no header, first sample lost",
     "0.5,nan,\n1,2,3\n",
     {.time = "1", .x = "2", .y = "3"},
     4,
     2,
     {{500000, LOST}, {1000000, 2, 3}}},
    {"a name and numbers", "t_s,gx,gy\n0.5,1,2\n", {.x = "2", .y = "3"}, 4, 1, {{500000, 1, 2}}},
    {"colons in names",
     "gaze:t,gaze:x,gaze:y\n500,1,2\n",
     {.time = "gaze:t:ms", .x = "gaze:x:px", .y = "gaze:y:px"},
     4,
     1,
     {{500000, 1, 2}}},
    {"milliseconds", "t,x_px,y_px\n33.3667,1,2\n", {.time = "t:ms"}, 4, 1, {{33367, 1, 2}}},
    {"microseconds", "t,x_px,y_px\n33366.6,1,2\n", {.time = "t:us"}, 4, 1, {{33367, 1, 2}}},
    {"nanoseconds of 19 digits lose nothing",
     "t,x_px,y_px\n1700000000123456789,1,2\n1700000000123457789,3,4\n",
     {.time = "t:ns"},
     6,
     2,
     {{1700000000123457, 1, 2}, {1700000000123458, 3, 4}}},
    {"norm: edges at 0 and 1, pixel centres half a pixel inside",
     "t_s,x,y\n0,0,0\n1,1,1\n2,0.5,0.25\n3,-0.5,2\n",
     {.x = "x:norm", .y = "y:norm"},
     4,
     4,
     {{0, -0.5, -0.5},
      {1000000, 1919.5, 1079.5},
      {2000000, 959.5, 269.5},
      {3000000, -960.5, 2159.5}}},
    {"lost: blank, nan, cut short",
     "t_s,x_px,y_px\n0,1,\n1,NaN,2\n2,1\n3,1,2\n",
     {0},
     4,
     4,
     {{0, LOST}, {1000000, LOST}, {2000000, LOST}, {3000000, 1, 2}}},
    {"blank columns too many are nothing",
     "t_s,x_px,y_px\n0,1,2,\n1,1,2,,\n",
     {0},
     4,
     2,
     {{0, 1, 2}, {1000000, 1, 2}}},
    {"valid by text",
     "t_s,x_px,y_px,v\n0,1,2,yes\n1,1,2,no\n2,3,4,\n",
     {.valid = "v:yes"},
     4,
     3,
     {{0, 1, 2}, {1000000, LOST}, {2000000, LOST}}},
    {"valid by number",
     "t_s,x_px,y_px,v\n0,1,2,1\n1,1,2,0\n2,3,4,1.0\n",
     {.valid = "v:1"},
     4,
     3,
     {{0, 1, 2}, {1000000, LOST}, {2000000, 3, 4}}},
    {"valid by column number, without a header",
     "0,1,2,1\n1,1,2,0\n",
     {.time = "1", .x = "2", .y = "3", .valid = "4:1"},
     4,
     2,
     {{0, 1, 2}, {1000000, LOST}}},
    {"the position of an invalid sample may be anything",
     "t_s,x_px,y_px,v\n0,-,-,0\n1,1,2,1\n",
     {.valid = "v:1"},
     4,
     2,
     {{0, LOST}, {1000000, 1, 2}}},
    {"clock shift",
     "t_s,x_px,y_px\n0.5,1,2\n1,3,4\n",
     {.clock_shift_ms = -620.25},
     4,
     2,
     {{-120250, 1, 2}, {379750, 3, 4}}},
    {"five decimals tell apart",
     "t_s,x_px,y_px\n0.00002,1,2\n0.00004,1,2\n",
     {0},
     5,
     2,
     {{20, 1, 2}, {40, 1, 2}}},
    {"six decimals tell apart",
     "t_s,x_px,y_px\n0.000002,1,2\n0.000004,1,2\n",
     {0},
     6,
     2,
     {{2, 1, 2}, {4, 1, 2}}},
    {"four tell apart across a rounding limit",
     "t_s,x_px,y_px\n0.000149,1,2\n0.000150,1,2\n",
     {0},
     4,
     2,
     {{149, 1, 2}, {150, 1, 2}}},
    {"negative times",
     "t_s,x_px,y_px\n-0.5,1,2\n-0.25,3,4\n",
     {0},
     4,
     2,
     {{-500000, 1, 2}, {-250000, 3, 4}}},
    {"positions out of the frame stay",
     "t_s,x_px,y_px\n0,-300,5000\n",
     {0},
     4,
     1,
     {{0, -300, 5000}}},
    {"CR alone ends lines",
     "t_s,x_px,y_px\r0,1,2\r1,3,4\r",
     {0},
     4,
     2,
     {{0, 1, 2}, {1000000, 3, 4}}},
};

static void test_read_one(const TestRead *t)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(LfGaze) gaze = check_read(t->text, &t->format, &error);
    if (!gaze) {
        fail_msg("%s: %s", t->what, error->message);
        return;
    }
    gsize n_lost = 0;
    bool same = gaze->n_samples == (gsize)t->n && gaze->time_decimals == t->decimals;
    for (gsize i = 0; same && i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        bool lost = isnan(t->sample[i].x);
        n_lost += lost;
        same =
            s->t_us == t->sample[i].t_us && s->lost == lost &&
            (lost ? isnan(s->x) && isnan(s->y) : s->x == t->sample[i].x && s->y == t->sample[i].y);
        if (!same) {
            fail_msg("%s: sample %zu is %" G_GINT64_FORMAT " us, %g, %g, lost %d", t->what, i,
                     s->t_us, s->x, s->y, s->lost);
        }
    }
    if (!same || gaze->n_lost != n_lost) {
        fail_msg("%s: %zu samples, %zu lost, %d decimals", t->what, gaze->n_samples, gaze->n_lost,
                 gaze->time_decimals);
    }
}

static void test_read_table(void **state)
{
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(test_read_cases); i++) {
        test_read_one(&test_read_cases[i]);
    }
}

/* Rows, fields and line counts across the limits of the blocks in which files are read. */
static void test_read_many(void **state)
{
    (void)state;
    enum { N = 200000 };
    g_autoptr(GError) error = NULL;
    GString *text = g_string_new("t_s,note,x_px,y_px\r\n");
    for (int i = 0; i < N; i++) {
        g_string_append_printf(text, "%d.%03d,\"n, %d\",%d.25,%d\r\n", i / 1000, i % 1000, i,
                               i % 1920, i % 1080);
    }
    g_string_append(text, "oops,a,1,2\r\n");
    g_autoptr(LfGaze) none = check_read(text->str, NULL, &error);
    assert_null(none);
    assert_non_null(strstr(error->message, "line 200002:"));

    g_string_truncate(text, text->len - strlen("oops,a,1,2\r\n"));
    g_autoptr(LfGaze) gaze = check_read(text->str, NULL, NULL);
    g_string_free(text, TRUE);
    assert_non_null(gaze);
    assert_int_equal(gaze->n_samples, N);
    assert_int_equal(gaze->n_lost, 0);
    for (int i = 0; i < N; i++) {
        assert_int_equal(gaze->samples[i].t_us, 1000 * i);
        assert_true(gaze->samples[i].x == i % 1920 + 0.25);
        assert_true(gaze->samples[i].y == i % 1080);
    }
}

/* With --locale, the same where the user's language writes a decimal comma: files must mean the
 * same. Exit status 77, skipped, where no such language is installed. */
int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read_table),
        cmocka_unit_test(test_read_many),
    };
    static const char *const comma[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "fr_FR"};
    if (argc > 1 && strcmp(argv[1], "--locale") == 0) {
        gsize i = 0;
        while (i < G_N_ELEMENTS(comma) && !setlocale(LC_ALL, comma[i])) {
            i++;
        }
        if (i == G_N_ELEMENTS(comma)) {
            print_message("skipped: no language with a decimal comma is installed\n");
            return 77;
        }
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
