/* Pictures out of a study, from outside: what stands behind them is what the study holds, and bad
 * input gets a sentence and leaves no file. */
#include <math.h>
#include <string.h>
#include <sys/resource.h>

#include <glib/gstdio.h>

#include <lookfall/lookfall.h>

#include "draw/zones.h"
#include "geometry/check.h"
#include "study/bed.h"

/* w1 and w2: the same video and gaze that rests half a second at a time, of two people and groups.
 */
static void test_study_gaze(Bed *bed, const char *name)
{
    g_autoptr(GString) text = g_string_new("t_s,x_px,y_px\n");
    for (int i = 0; i < 5 * 50; i++) {
        int rest = i / 25;
        g_string_append_printf(text, "%.3f,%d,%d\n", i / 50.0, 140 + rest * 67 % 200,
                               110 + rest * 41 % 140);
    }
    bed_write(bed, name, text->str);
}

static int test_study_set_up(void **state)
{
    Bed *bed = bed_new();
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 5);
    test_study_gaze(bed, "w.csv");
    bed_write(
        bed, "walks.csv",
        "name,video,gaze,participant,group\nw1,w.mp4,w.csv,p1,left\nw2,w.mp4,w.csv,p2,right\n");
    bed_write(bed, "areas.csv",
              "name,group,shape,points\r\n"
              "west,half,rect,\"0,0 400,0 400,500 0,500\"\r\n"
              "east,half,rect,\"400,0 800,0 800,500 400,500\"\r\n");
    bed_write(bed, "marks.csv", "walk,name,from_s,to_s\r\nw1,near,1,4\r\nw1,turn,4.9,\r\n");
    bed_expect(bed, 0, NULL, "new s.study");
    bed_expect(bed, 0, NULL, "photo add s.study --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk import s.study walks.csv");
    bed_expect(bed, 0, NULL, "cast s.study");
    *state = bed;
    return 0;
}

static int test_study_tear_down(void **state)
{
    bed_free(*state);
    return 0;
}

/* Without fixations there is nothing to draw; with them, and areas, there is. */
static void test_study_before(void **state)
{
    Bed *bed = *state;
    bed_expect(bed, 3, "fixate", "draw heat s.study --out x.png");
    assert_false(g_file_test(bed_path(bed, "x.png"), G_FILE_TEST_EXISTS));
    bed_expect(bed, 0, NULL, "fixate s.study");
    bed_expect(bed, 3, "has no areas", "draw timeline s.study --out x.png");
    bed_expect(bed, 0, NULL, "aoi import s.study areas.csv");
    bed_expect(bed, 0, NULL, "mark import s.study marks.csv");
}

typedef struct {
    double look_s, within_s; /* settled fixations on the photo; inside of 1 to 4 s */
    int looks;
} TestStudySum;

static bool test_study_add(const LfStudyFixations *walk, void *data, GError **error)
{
    TestStudySum *sum = data;
    (void)error;
    for (gsize i = 0; i < walk->n; i++) {
        const LfFixation *f = &walk->fixations[i];
        if (!f->photo || (f->state != LF_STATE_SURE && f->state != LF_STATE_PLACED))
            continue;
        sum->looks++;
        sum->look_s += (double)(f->to_us - f->from_us) * 1e-6;
        sum->within_s +=
            fmax(0, (double)(MIN(f->to_us, 4000000) - MAX(f->from_us, 1000000)) * 1e-6);
    }
    return true;
}

static LfDrawReport test_study_report(LfStudy *study, LfDrawSettings settings)
{
    LfDrawReport report;
    GError *error = NULL;
    g_autoptr(GBytes) bytes = lf_draw_picture(study, &settings, LF_DRAW_PNG, &report, &error);
    if (!bytes)
        fail_msg("%s", error->message);
    return report;
}

static void test_study_numbers(void **state)
{
    Bed *bed = *state;
    static const char *const one[] = {"w1", NULL};
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "s.study"), LF_STUDY_READ, NULL);
    TestStudySum all = {0}, first = {0};
    assert_true(lf_study_fixations(study, NULL, test_study_add, &all, NULL, NULL));
    assert_true(lf_study_fixations(study, one, test_study_add, &first, NULL, NULL));
    assert_true(first.looks > 5);

    LfDrawSettings settings = lf_draw_settings_default(LF_DRAW_HEAT);
    settings.width_px = 500;
    LfDrawReport report = test_study_report(study, settings);
    assert_int_equal(report.people, 2);
    assert_int_equal(report.looks, all.looks);
    check_near(report.look_s, all.look_s, 1e-6);
    /* A frame of 480 px has 82 degrees across (no camera file), and shows the photo at about its
     * own scale. */
    check_near(report.px_per_deg, 480 / 82.0, 2);
    check_near(report.kernel_px, report.px_per_deg, 1e-9);

    settings.choice.walks = one;
    report = test_study_report(study, settings);
    check_near(report.look_s, first.look_s, 1e-6);
    check_near(report.gaze_s, 5, 0.05);
    settings.choice.span = "mark:near";
    report = test_study_report(study, settings);
    check_near(report.look_s, first.within_s, 1e-6);
    check_near(report.gaze_s, 3, 0.05);
    settings.choice.span = NULL;
    settings.choice.from_s = 1;
    settings.choice.to_s = 4;
    check_near(test_study_report(study, settings).look_s, first.within_s, 1e-6);
    /* Samples count all of the time on the photo. */
    settings.choice = lf_draw_settings_default(LF_DRAW_HEAT).choice;
    settings.samples = true;
    report = test_study_report(study, settings);
    g_autoptr(GPtrArray) walks = lf_study_walks(study, NULL, NULL);
    double sure_s = 0;
    for (guint i = 0; i < walks->len; i++)
        sure_s += 0.02 * (double)((const LfStudyWalk *)walks->pdata[i])->states[LF_STATE_SURE];
    check_near(report.look_s, sure_s, 0.05);
}

/* --- areas against the measures --------------------------------------------------------------- */

typedef struct {
    const Zones *zones;
    double total_s[2], noticed[2];
    GArray *first[2]; /* double */
} TestStudyMeasures;

static bool test_study_measure(const LfMeasureRow *row, void *data, GError **error)
{
    TestStudyMeasures *m = data;
    (void)error;
    for (guint i = 0; row->level == 0 && i < 2; i++) {
        const Zone *zone = m->zones->zones->pdata[i];
        if (strcmp(zone->name, row->target) != 0)
            continue;
        double first_s = row->values[LF_MEASURE_FIRST_SEEN].value;
        m->total_s[i] += row->values[LF_MEASURE_FIXATION_TOTAL].value;
        m->noticed[i] += row->values[LF_MEASURE_NOTICED].value;
        if (!isnan(first_s))
            g_array_append_val(m->first[i], first_s);
    }
    return true;
}

/* The table of the areas' picture has the numbers of the exported measures. */
static void test_study_measures(void **state)
{
    Bed *bed = *state;
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "s.study"), LF_STUDY_READ, NULL);
    LfDrawChoice choice = lf_draw_settings_default(LF_DRAW_AREAS).choice;
    g_autoptr(Material) material = material_new(study, &choice, false, false, NULL);
    material->areas = lf_study_areas(study, "shelf", NULL);
    g_autoptr(Zones) zones = zones_new(material, 0, NULL);
    TestStudyMeasures m = {.zones = zones};
    for (int i = 0; i < 2; i++)
        m.first[i] = g_array_new(FALSE, FALSE, sizeof(double));
    LfMeasureOptions options = {.settings = lf_measure_settings_default(), .jobs = 1};
    assert_true(lf_study_measures(study, &options, test_study_measure, &m, NULL, NULL));
    for (int i = 0; i < 2; i++) {
        const Zone *zone = zones->zones->pdata[i];
        assert_true(zone->looks > 0);
        check_near(zone->look_s, m.total_s[i], 1e-6);
        check_near((double)zone->people, m.noticed[i], 0);
        assert_int_equal(m.first[i]->len, 2); /* both walks, which are alike */
        check_near(zone->first_s, g_array_index(m.first[i], double, 0), 1e-6);
        g_array_unref(m.first[i]);
    }
}

/* All that is unsettled makes "unsettled" grow, and is drawn only when asked for. */
static void test_study_doubtful(void **state)
{
    Bed *bed = *state;
    bed_expect(bed, 0, NULL, "new d.study --sure-at 1");
    bed_expect(bed, 0, NULL, "photo add d.study --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add d.study --name w1 --video w.mp4 --gaze w.csv");
    bed_expect(bed, 0, NULL, "cast d.study");
    bed_expect(bed, 0, NULL, "fixate d.study");
    bed_expect(bed, 3, "settled", "draw heat d.study --out x.png");
    bed_expect(bed, 0, NULL, "draw heat d.study --out d.png --doubtful --width 400");
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "d.study"), LF_STUDY_READ, NULL);
    LfDrawSettings settings = lf_draw_settings_default(LF_DRAW_HEAT);
    settings.choice.doubtful = true;
    LfDrawReport report = test_study_report(study, settings);
    check_near(report.unsettled_s, report.gaze_s, 0.5);
}

/* --- time by state ---------------------------------------------------------------------------- */

typedef struct {
    int64_t from_us, to_us;
    LfStudyTime time;
} TestStudyTime;

static bool test_study_count(const LfStudySample *sample, void *data, GError **error)
{
    TestStudyTime *t = data;
    (void)error;
    if (sample->t_us < t->from_us || sample->t_us >= t->to_us)
        return true;
    if (sample->cast)
        t->time.states[sample->result.state]++;
    else
        t->time.uncast++;
    return true;
}

static void test_study_compare_time(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us)
{
    TestStudyTime counted = {.from_us = from_us, .to_us = to_us};
    LfStudyTime time;
    assert_true(lf_study_export_samples(study, NULL, test_study_count, &counted, NULL, NULL));
    assert_true(lf_study_time(study, walk, from_us, to_us, &time, NULL));
    for (int state = LF_STATE_LOST; state <= LF_STATE_PLACED; state++)
        assert_int_equal(time.states[state], counted.time.states[state]);
    assert_int_equal(time.uncast, counted.time.uncast);
}

/* Counted chunk by chunk is the same as counted sample by sample, with a placement on top too. */
static void test_study_time(void **state)
{
    Bed *bed = *state;
    static const int64_t spans[][2] = {
        {INT64_MIN, INT64_MAX}, {0, 5000000}, {1000001, 4700000}, {4100000, 4120000}, {5, 5}};
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "d.study"), LF_STUDY_WRITE, NULL);
    g_autoptr(GPtrArray) walks = lf_study_walks(study, NULL, NULL);
    const LfStudyWalk *walk = walks->pdata[0];
    assert_true(walk->chunks > 0);
    for (int placed = 0; placed < 2; placed++) {
        for (gsize i = 0; i < G_N_ELEMENTS(spans); i++)
            test_study_compare_time(study, walk->id, spans[i][0], spans[i][1]);
        if (placed)
            break;
        LfReviewer reviewer = {.name = "r"};
        int left = 1;
        while (left > 0)
            assert_true(lf_study_stretches_refresh(study, 1, &left, NULL));
        g_autoptr(GArray) stretches = lf_study_stretches(study, &reviewer, NULL);
        assert_true(stretches->len > 0);
        const LfStretch *stretch = &g_array_index(stretches, LfStretch, 0);
        LfDecision decision = {.stretch = stretch->id,
                               .version = stretch->version,
                               .kind = LF_DECIDE_BLOCKED,
                               .scope = LF_SCOPE_STRETCH};
        LfDecided decided;
        int64_t placement;
        assert_true(lf_study_decide(study, &reviewer, &decision, &decided, &placement, NULL));
        assert_int_equal(decided, LF_DECIDED);
    }
}

static void test_study_kinds(void **state)
{
    Bed *bed = *state;
    static const char *const kinds[] = {"heat",     "focus",       "scanpath", "areas",
                                        "timeline", "transitions", NULL};
    static const char *const endings[] = {"png", "svg", "pdf", "PNG"};
    for (gsize i = 0; kinds[i]; i++) {
        g_autofree char *name = g_strdup_printf("%s.%s", kinds[i], endings[i % 4]);
        g_autofree char *line =
            g_strdup_printf("draw %s s.study --out %s --width 400", kinds[i], name);
        bed_expect(bed, 0, NULL, line);
        g_autoptr(GBytes) bytes = bed_read(bed, name);
        assert_true(g_bytes_get_size(bytes) > 1000);
        bed_expect(bed, 3, "--force", line);
    }
    bed_expect(bed, 0, NULL, "draw areas s.study --out areas.png --level 1 --force --title Halves");
    g_autofree char *json =
        bed_output(bed, "draw heat s.study --out heat.png --force --json --kernel 25px --count");
    assert_non_null(strstr(json, "\"kernel_px\" : 25"));
    assert_non_null(strstr(json, "\"people\" : 2"));
}

static void test_study_bad_input(void **state)
{
    Bed *bed = *state;
    static const struct {
        int status;
        const char *text, *arguments;
    } cases[] = {
        {2, "what to draw is missing", "draw"},
        {2, "STUDY is missing", "draw heat"},
        {2, "--out is missing", "draw heat s.study"},
        {2, "did you mean heat?", "draw het s.study --out x.png"},
        {2, ".png, .svg or .pdf", "draw heat s.study --out x.gif"},
        {3, "no.study", "draw heat no.study --out x.png"},
        {3, "no walk", "draw heat s.study --walk w9 --out x.png"},
        {3, "groups there are: left, right", "draw heat s.study --group middle --out x.png"},
        {3, "no photo \"wall\"", "draw heat s.study --photo wall --out x.png"},
        {3, "marks there are: near, turn", "draw heat s.study --span mark:far --out x.png"},
        {3, "in this choice", "draw heat s.study --span mark:turn --out x.png"},
        {3, "in this choice", "draw heat s.study --from 20 --out x.png"},
        {2, "ends before it begins", "draw heat s.study --from 5 --to 4 --out x.png"},
        {2, "span", "draw heat s.study --span sometime --out x.png"},
        {3, "no folder nowhere", "draw heat s.study --out nowhere/x.png"},
        {2, "no length", "draw heat s.study --kernel 1 --out x.png"},
        {3, "--width-mm", "draw heat s.study --kernel 30mm --out x.png"},
        {2, "must lie between 2 and 400", "draw heat s.study --kernel 1px --out x.png"},
        {2, "must lie between 2 and 400", "draw heat s.study --kernel 500px --out x.png"},
        {2, "no background", "draw heat s.study --background blue --out x.png"},
        {2, "did you mean viridis", "draw heat s.study --colours viridi --out x.png"},
        {2, "no meaning for timeline", "draw timeline s.study --kernel 1deg --out x.png"},
        {2, "whole number", "draw areas s.study --level 1.5 --out x.png"},
        {3, "lower --level", "draw areas s.study --level 3 --out x.png"},
        {2, "--against", "draw difference s.study --group left --out x.png"},
        {2, "two groups", "draw difference s.study --group left --against left --out x.png"},
        {3, "two people or more",
         "draw difference s.study --group left --against right --out x.png"},
        {3, "middle", "draw difference s.study --group left --against middle --out x.png"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        bed_expect(bed, cases[i].status, cases[i].text, cases[i].arguments);
        assert_false(g_file_test(bed_path(bed, "x.png"), G_FILE_TEST_EXISTS));
    }
}

/* A limit on the size of files stands for the full disk. */
static void limit_files(gpointer data)
{
    const struct rlimit limit = {GPOINTER_TO_SIZE(data), GPOINTER_TO_SIZE(data)};
    setrlimit(RLIMIT_FSIZE, &limit);
}

/* One sentence, nothing left over, and the picture of before is still there. */
static void test_study_full_disk(void **state)
{
    static const char *const endings[] = {"png", "svg", "pdf"};
    static const gsize limits[] = {0, 4096};
    Bed *bed = *state;
    for (gsize i = 0; i < G_N_ELEMENTS(endings) * G_N_ELEMENTS(limits); i++) {
        const char *ending = endings[i / G_N_ELEMENTS(limits)];
        const gsize limit = limits[i % G_N_ELEMENTS(limits)];
        g_autofree char *name = g_strconcat("full.", ending, NULL);
        g_autofree char *line = g_strdup_printf("draw heat s.study --force --out %s", name);
        bed_write(bed, name, "of yesterday");
        g_auto(BedRun) run = bed_run_with(bed, line, limit_files, GSIZE_TO_POINTER(limit));
        if (run.status != 4 || !strstr(run.err, name))
            fail_msg("%s, limit %zu: status %d\n%s", line, (size_t)limit, run.status, run.err);
        g_autoptr(GBytes) kept = bed_read(bed, name);
        assert_int_equal(g_bytes_get_size(kept), 12);
        assert_memory_equal(g_bytes_get_data(kept, NULL), "of yesterday", 12);
        g_autoptr(GDir) dir = g_dir_open(bed->folder, 0, NULL);
        for (const char *other; (other = g_dir_read_name(dir));)
            if (g_str_has_prefix(other, name) && strcmp(other, name) != 0)
                fail_msg("%s is left over", other);
    }
}

/* The photo itself: gone, or another one in its place. */
static void test_study_photo(void **state)
{
    Bed *bed = *state;
    g_autoptr(GBytes) photo = bed_read(bed, "shelf.ppm");
    bed_write(bed, "shelf.ppm", "P6 4 2 255 123456789012345678901234");
    bed_expect(bed, 3, "4 x 2 px", "draw heat s.study --out x.png");
    assert_int_equal(g_unlink(bed_path(bed, "shelf.ppm")), 0);
    bed_expect(bed, 3, "plain background", "draw areas s.study --out x.png");
    assert_false(g_file_test(bed_path(bed, "x.png"), G_FILE_TEST_EXISTS));
    bed_expect(bed, 0, NULL, "draw areas s.study --out plain.png --background #ffffff");
    gsize n;
    const void *data = g_bytes_get_data(photo, &n);
    assert_true(g_file_set_contents(bed_path(bed, "shelf.ppm"), data, (gssize)n, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_study_before),    cmocka_unit_test(test_study_numbers),
        cmocka_unit_test(test_study_measures),  cmocka_unit_test(test_study_doubtful),
        cmocka_unit_test(test_study_time),      cmocka_unit_test(test_study_kinds),
        cmocka_unit_test(test_study_bad_input), cmocka_unit_test(test_study_full_disk),
        cmocka_unit_test(test_study_photo),
    };
    return cmocka_run_group_tests(tests, test_study_set_up, test_study_tear_down);
}
