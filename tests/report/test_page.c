/* The report as a whole: what is in it against the exports, valid HTML, contrast, nothing from
 * outside, and what it refuses. */
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "study/bed.h"

static Bed *shared; /* a study with areas and a second walk of the same person, cast and fixated */

static int set_up(void **state)
{
    (void)state;
    shared = bed_new();
    bed_walk(shared);
    bed_write(shared, "areas.csv",
              "name,group,shape,points\n"
              "left & <low>,halves,rect,\"0,0 400,0 400,500 0,500\"\n"
              "right,halves,rect,\"400,0 800,0 800,500 400,500\"\n"
              "corner,,rect,\"0,0 3,0 3,3 0,3\"\n");
    bed_expect(shared, 0, NULL, "new s.lookfall");
    bed_expect(shared, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    bed_expect(shared, 0, NULL,
               "walk add s.lookfall --name w --video w.mp4 --gaze w.csv --participant p --group a");
    bed_expect(shared, 0, NULL,
               "walk add s.lookfall --name x --video w.mp4 --gaze w.csv --participant p --group b");
    bed_expect(shared, 0, NULL, "cast s.lookfall --jobs 2");
    bed_expect(shared, 0, NULL, "aoi import s.lookfall areas.csv --photo shelf");
    bed_expect(shared, 0, NULL, "fixate s.lookfall --method dispersion --dispersion-deg 6");
    bed_expect(shared, 0, "look at every still", "report s.lookfall --out parts --stills 1");
    bed_expect(shared, 0, "1 file written",
               "report s.lookfall --out r.html --stills 0 --title A&B");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    bed_free(shared);
    return 0;
}

static char *text_of(const char *name)
{
    g_autoptr(GBytes) bytes = bed_read(shared, name);
    gsize n;
    const char *text = g_bytes_get_data(bytes, &n);
    return g_strndup(text, n);
}

/* A line of CSV; commas within quotes part nothing. Owned by the caller. */
static char **split(const char *line)
{
    GPtrArray *fields = g_ptr_array_new();
    GString *field = g_string_new(NULL);
    bool quoted = false;
    for (const char *c = line; *c; c++) {
        if (*c == '"')
            quoted = !quoted;
        else if (*c == ',' && !quoted)
            g_ptr_array_add(fields, g_string_free(g_steal_pointer(&field), FALSE));
        else
            g_string_append_c(field, *c);
        if (field == NULL)
            field = g_string_new(NULL);
    }
    g_ptr_array_add(fields, g_string_free(field, FALSE));
    g_ptr_array_add(fields, NULL);
    return (char **)g_ptr_array_free(fields, FALSE);
}

/* The field of a column in the first row whose first fields are these. */
static char *field(const char *csv, const char *const *firsts, const char *column)
{
    g_auto(GStrv) lines = g_strsplit(csv, "\r\n", -1);
    g_auto(GStrv) names = split(lines[0]);
    int at = 0;
    while (names[at] && strcmp(names[at], column) != 0)
        at++;
    assert_non_null(names[at]);
    for (int i = 1; lines[i] && *lines[i]; i++) {
        g_auto(GStrv) fields = split(lines[i]);
        bool same = true;
        for (int k = 0; firsts[k] && same; k++)
            same = g_strcmp0(fields[k], firsts[k]) == 0;
        if (same)
            return g_strdup(fields[at]);
    }
    fail_msg("no such row in\n%s", csv);
    return NULL;
}

static double number(const char *csv, const char *first, const char *column)
{
    const char *const firsts[] = {first, NULL};
    g_autofree char *text = field(csv, firsts, column);
    return *text ? g_ascii_strtod(text, NULL) : NAN;
}

/* Counts of states and of confidence are those of the export. */
static void test_counts(void **state)
{
    (void)state;
    g_autofree char *samples = bed_output(shared, "export s.lookfall samples");
    g_autofree char *states = text_of("parts/tables/states.csv");
    g_autofree char *bands = text_of("parts/tables/confidence.csv");
    g_autofree char *quality = text_of("parts/tables/quality.csv");
    static const char *const names[] = {"sure", "placed", "doubtful", "blocked", "away", "lost"};
    g_auto(GStrv) lines = g_strsplit(samples, "\r\n", -1);
    int counts[6] = {0}, high = 0, over = 0, all = 0, lost_w = 0, w = 0;

    for (int i = 1; lines[i] && *lines[i]; i++, all++) {
        g_auto(GStrv) f = g_strsplit(lines[i], ",", -1);
        for (int s = 0; s < 6; s++)
            counts[s] += strcmp(f[6], names[s]) == 0;
        const bool cast = strcmp(f[6], "sure") == 0 || strcmp(f[6], "doubtful") == 0;
        high += cast && g_ascii_strtod(f[5], NULL) >= 0.99;
        over += cast && g_ascii_strtod(f[5], NULL) > 0.99;
        w += strcmp(f[0], "w") == 0;
        lost_w += strcmp(f[0], "w") == 0 && strcmp(f[6], "lost") == 0;
    }
    assert_int_equal(all, 900);
    for (int s = 0; s < 6; s++) {
        assert_true(number(states, names[s], "samples") == counts[s]);
        assert_true(fabs(number(states, names[s], "share") - counts[s] / 900.0) < 1e-9);
        assert_true(fabs(number(states, names[s], "time_s") - counts[s] * 0.02) < 1e-6);
    }
    /* The export rounds confidences: those it puts at the edge may be on either side. */
    const double band = number(bands, "0.99 to 1.00", "samples");
    if (!(band >= over && band <= high))
        fail_msg("%g samples from 0.99 on, %d to %d by the export", band, over, high);
    assert_true(fabs(number(quality, "w", "lost_share") - (double)lost_w / w) < 1e-9);
    assert_true(fabs(number(quality, "w", "rate_hz") - 50) < 1e-6);
    assert_true(fabs(number(quality, "w", "length_s") - 9) < 1e-6);
}

/* One person with two walks counts once, in each group and in all. Wilson, 1 of 1: 1 / (1 + z^2) =
 * 0.2065 with z = 1.96 (E. B. Wilson, 1927, equation for the limits). */
static void test_people(void **state)
{
    (void)state;
    g_autofree char *noticed = text_of("parts/tables/noticed.csv");
    static const char *const groups[] = {"all", "a", "b"};
    for (int g = 0; g < 3; g++) {
        const char *const right[] = {"shelf", "right", "area", groups[g], NULL};
        const char *const corner[] = {"shelf", "corner", "area", groups[g], NULL};
        g_autofree char *people = field(noticed, right, "people");
        g_autofree char *by = field(noticed, right, "noticed_by");
        g_autofree char *low = field(noticed, right, "noticed_share_low");
        g_autofree char *none = field(noticed, corner, "noticed_by");
        g_autofree char *first = field(noticed, corner, "first_seen_median_s");
        assert_string_equal(people, "1");
        assert_string_equal(by, "1");
        assert_true(fabs(g_ascii_strtod(low, NULL) - 0.2065) < 5e-4);
        assert_string_equal(none, "0");
        assert_string_equal(first, "");
    }
    /* Two equal walks of one person: the mean is that of one (docs/statistics.md). */
    const char *const all[] = {"shelf", "right", "area", "all", NULL};
    const char *const one[] = {"shelf", "right", "area", "a", NULL};
    g_autofree char *two = field(noticed, all, "dwell_mean_s");
    g_autofree char *single = field(noticed, one, "dwell_mean_s");
    assert_true(g_ascii_strtod(single, NULL) > 0);
    assert_true(fabs(g_ascii_strtod(two, NULL) - g_ascii_strtod(single, NULL)) < 1e-6);
}

static void test_parts(void **state)
{
    static const char *const files[] = {"report.html",
                                        "tables/states.csv",
                                        "tables/confidence.csv",
                                        "tables/noticed.csv",
                                        "tables/quality.csv",
                                        "tables/inputs.csv",
                                        "tables/log.csv",
                                        "pictures/heat-shelf.png",
                                        "pictures/focus-shelf.png",
                                        "pictures/areas-shelf.png",
                                        "pictures/timeline-shelf.png",
                                        "pictures/still-w.jpg"};
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autofree char *name = g_build_filename("parts", files[i], NULL);
        if (!g_file_test(bed_path(shared, name), G_FILE_TEST_IS_REGULAR))
            fail_msg("%s is not there", files[i]);
    }
    /* The checksum of an input, by another program. */
    g_autofree char *inputs = text_of("parts/tables/inputs.csv");
    g_autoptr(GBytes) video = bed_read(shared, "w.mp4");
    g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, video);
    assert_non_null(strstr(inputs, sha256));
    assert_null(strstr(inputs, shared->folder)); /* names only */
}

/* A group and some seconds, chosen by time and by a mark: both give the same table, which is that
 * of the export, and the page tells what it is of. */
static void test_choice(void **state)
{
    (void)state;
    bed_write(shared, "marks.csv", "walk,name,from_s,to_s\nw,part,2,6\nx,part,2,6\n");
    bed_expect(shared, 0, "2 marks added", "mark import s.lookfall marks.csv");
    bed_expect(shared, 0, NULL,
               "report s.lookfall --out timed --stills 1 --group a --photo shelf --from 2 --to 6 "
               "--kernel 30px --pooled");
    bed_expect(shared, 0, NULL,
               "report s.lookfall --out marked --stills 0 --walk w --span mark:part --count");
    g_autofree char *noticed = text_of("timed/tables/noticed.csv");
    g_autofree char *same = text_of("marked/tables/noticed.csv");
    g_autofree char *everything = text_of("parts/tables/noticed.csv");
    assert_string_equal(noticed, same);
    g_autofree char *stats = bed_output(
        shared, "export s.lookfall stats --walk w --span mark:part --measures dwell_s,first_seen_s "
                "--columns area,level,measure,statistic,value");
    static const struct {
        const char *column, *measure, *statistic;
    } pairs[] = {{"dwell_mean_s", "dwell_s", "mean"},
                 {"first_seen_median_s", "first_seen_s", "median_time"}};
    const char *const here[] = {"shelf", "right", "area", NULL};
    for (gsize i = 0; i < G_N_ELEMENTS(pairs); i++) {
        const char *const there[] = {"right", "area", pairs[i].measure, pairs[i].statistic, NULL};
        g_autofree char *a = field(noticed, here, pairs[i].column);
        g_autofree char *b = field(stats, there, "value");
        assert_true(*a && *b);
        assert_true(fabs(g_ascii_strtod(a, NULL) - g_ascii_strtod(b, NULL)) < 1e-5);
    }
    const char *const whole[] = {"shelf", "right", "area", "a", NULL};
    g_autofree char *less = field(noticed, here, "dwell_mean_s");
    g_autofree char *more = field(everything, whole, "dwell_mean_s");
    assert_true(g_ascii_strtod(less, NULL) < g_ascii_strtod(more, NULL));
    /* What was done is of the walk in whole. */
    g_autofree char *quality = text_of("timed/tables/quality.csv");
    assert_null(strstr(quality, "\nx,"));
    assert_true(number(quality, "w", "samples") == 450);
    g_autofree char *page = text_of("timed/report.html");
    static const char *const told[] = {
        "This report is of a choice: group a; photo shelf; seconds 2 to 6 of each walk.",
        "The analysis was confined to: group a; photo shelf; seconds 2 to 6 of each walk.",
        "a Gaussian kernel of 30 px of the photograph",
        "weighted by duration, pooled over participants"};
    for (gsize i = 0; i < G_N_ELEMENTS(told); i++)
        if (strstr(page, told[i]) == NULL)
            fail_msg("\"%s\" is not in the page", told[i]);
    g_autofree char *other = text_of("marked/report.html");
    assert_non_null(strstr(other, "walk w; parts of walks by the rule mark:part."));
    assert_non_null(strstr(other, "weighted by number, every participant with the same weight"));
    g_autofree char *all = text_of("parts/report.html");
    assert_null(strstr(all, "is of a choice"));
    assert_null(strstr(all, "was confined to"));
    /* The still is out of the time chosen. */
    const char *still = strstr(page, "<figcaption>w at ");
    assert_non_null(still);
    const double at_s = g_ascii_strtod(still + strlen("<figcaption>w at "), NULL);
    assert_true(at_s >= 2 && at_s <= 6.1);
}

static void test_choice_refused(void **state)
{
    static const struct {
        int status;
        const char *text, *options;
    } cases[] = {
        {3, "no walk", "--walk v"},
        {3, "groups there are: a, b", "--group c"},
        {3, "no photo \"wall\"", "--photo wall"},
        {3, "no mark \"gone\"", "--span mark:gone"},
        {3, "no walk has any time in this choice", "--from 100"},
        {2, "is no span", "--span sometime"},
        {2, "ends before it begins", "--from 5 --to 4"},
        {2, "report: --kernel", "--kernel wide"},
        {2, "whole number", "--level 0.5"},
    };
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *line =
            g_strdup_printf("report s.lookfall --out n.html %s", cases[i].options);
        bed_expect(shared, cases[i].status, cases[i].text, line);
        assert_false(g_file_test(bed_path(shared, "n.html"), G_FILE_TEST_EXISTS));
    }
}

/* Debian's tidy (HTML Tidy 5) has nothing to say. */
static void test_valid(void **state)
{
    static const char *const pages[] = {"r.html", "parts/report.html", "timed/report.html"};
    (void)state;
    g_autofree char *tidy = g_find_program_in_path("tidy");
    if (tidy == NULL) {
        print_message("tidy is not installed\n");
        skip();
    }
    for (gsize i = 0; i < G_N_ELEMENTS(pages); i++) {
        const char *argv[] = {tidy, "-q", "-e", bed_path(shared, pages[i]), NULL};
        g_autofree char *told = NULL;
        int status = -1;
        assert_true(g_spawn_sync(NULL, (char **)(gpointer)argv, NULL, G_SPAWN_DEFAULT, NULL, NULL,
                                 NULL, &told, &status, NULL));
        if (status != 0 || *told)
            fail_msg("%s: %s", pages[i], told);
    }
}

/* The page asks nobody for anything, and names of areas cannot become tags. */
static void test_alone(void **state)
{
    (void)state;
    g_autofree char *page = text_of("parts/report.html");
    static const char *const outside[] = {"src=\"http", "href=\"http", "url(",   "@import",
                                          "<link",      "<low>",       "fetch(", "XMLHttp"};
    for (gsize i = 0; i < G_N_ELEMENTS(outside); i++)
        if (strstr(page, outside[i]))
            fail_msg("%s is in the page", outside[i]);
    assert_non_null(strstr(page, "left &amp; &lt;low&gt;"));
    assert_non_null(strstr(page, "data:image/png;base64,"));
    assert_non_null(strstr(page, "data:image/jpeg;base64,"));
    for (const char *img = page; (img = strstr(img, "<img")); img++)
        assert_true(g_str_has_prefix(img, "<img alt=\"") && img[10] != '"');
    g_autofree char *titled = text_of("r.html");
    assert_non_null(strstr(titled, "<title>A&amp;B</title>"));
}

/* WCAG 2.2, success criterion 1.4.3, and "relative luminance" as defined there. */
static double luminance(const char *hex)
{
    const long value = strtol(hex, NULL, 16);
    const double weights[3] = {0.2126, 0.7152, 0.0722};
    double sum = 0;
    for (int i = 0; i < 3; i++) {
        const double c = (double)(value >> (16 - 8 * i) & 255) / 255;
        sum += weights[i] * (c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4));
    }
    return sum;
}

static void test_contrast(void **state)
{
    static const char *const inks[] = {"--ink: #", "--soft: #", "--accent: #"};
    (void)state;
    g_autofree char *page = text_of("r.html");
    const char *wash = strstr(page, "--wash: #");
    assert_non_null(wash);
    for (gsize i = 0; i < G_N_ELEMENTS(inks); i++) {
        const char *ink = strstr(page, inks[i]);
        assert_non_null(ink);
        g_autofree char *a = g_strndup(ink + strlen(inks[i]), 6), *b = g_strndup(wash + 9, 6);
        const double on_white = 1.05 / (luminance(a) + 0.05);
        const double on_wash = (luminance(b) + 0.05) / (luminance(a) + 0.05);
        if (on_white < 4.5 || on_wash < 4.5)
            fail_msg("%s%s: %.2f and %.2f", inks[i], a, on_white, on_wash);
    }
}

static void limit_files(gpointer data)
{
    const struct rlimit limit = {GPOINTER_TO_SIZE(data), GPOINTER_TO_SIZE(data)};
    signal(SIGXFSZ, SIG_IGN);
    setrlimit(RLIMIT_FSIZE, &limit);
}

static void test_refused(void **state)
{
    (void)state;
    bed_expect(shared, 2, "--out is missing", "report s.lookfall");
    bed_expect(shared, 2, "--stills needs a number", "report s.lookfall --out n.html --stills few");
    bed_expect(shared, 3, "there is no folder nowhere", "report s.lookfall --out nowhere/r.html");
    bed_expect(shared, 3, "there is no folder nowhere", "report s.lookfall --out nowhere/parts");
    bed_expect(shared, 3, "--force replaces it", "report s.lookfall --out r.html");
    bed_expect(shared, 3, "--force replaces it", "report s.lookfall --out parts");
    bed_expect(shared, 3, "is a file", "report s.lookfall --out w.csv --force");
    bed_expect(shared, 0, "1 file written", "report s.lookfall --out r.html --stills 0 --force");
    g_auto(BedRun) full = bed_run_with(shared, "report s.lookfall --out full.html --stills 0",
                                       limit_files, GSIZE_TO_POINTER(50000));
    if (full.status != 4)
        fail_msg("status %d\n%s", full.status, full.err);
    g_auto(BedRun) parts = bed_run_with(shared, "report s.lookfall --out full --stills 0",
                                        limit_files, GSIZE_TO_POINTER(50000));
    assert_int_equal(parts.status, 4);
    assert_false(g_file_test(bed_path(shared, "full"), G_FILE_TEST_EXISTS));
    GDir *folder = g_dir_open(shared->folder, 0, NULL);
    for (const char *name; (name = g_dir_read_name(folder));)
        if (strstr(name, "full") || strstr(name, ".part"))
            fail_msg("%s was left", name);
    g_dir_close(folder);
}

/* A study without fixations, areas, or even a cast. */
static void test_little(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 3, "lookfall cast", "report s.lookfall --out r.html");
    bed_expect(bed, 0, NULL, "cast s.lookfall --jobs 2");
    bed_expect(bed, 0, "left out", "report s.lookfall --out r.html --stills 0");
    char *text = NULL;
    assert_true(g_file_get_contents(bed_path(bed, "r.html"), &text, NULL, NULL));
    assert_non_null(strstr(text, "There is no table of who noticed what"));
    assert_non_null(strstr(text, "Nothing can be drawn for this photo"));
    g_free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts),   cmocka_unit_test(test_people),
        cmocka_unit_test(test_parts),    cmocka_unit_test(test_choice),
        cmocka_unit_test(test_valid),    cmocka_unit_test(test_alone),
        cmocka_unit_test(test_contrast), cmocka_unit_test(test_refused),
        cmocka_unit_test(test_little),   cmocka_unit_test(test_choice_refused),
    };
    return cmocka_run_group_tests_name("report/page", tests, set_up, tear_down);
}
