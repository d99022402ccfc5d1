/* Fixations in a study: what they are made of, when they are up to date, and how often they are
 * computed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/fixation.h>

#include "study/study_cast_fixture.h"
#include "study/study_db.h"

/* --- runs ------------------------------------------------------------------------------------- */

static LfStudyFixateOptions fixations_options(void)
{
    return (LfStudyFixateOptions){.settings = lf_fixation_settings_default(), .jobs = 2};
}

/* Demands how many walks were computed, and how many have fixations now. */
static int64_t fixations_run(CastFixture *f, const LfStudyFixateOptions *options, gsize fresh,
                             gsize done)
{
    LfStudyFixateReport report;
    g_autoptr(GError) error = NULL;
    if (!lf_study_fixate(f->study, options, &report, &error))
        fail_msg("%s", error->message);
    assert_int_equal(report.walks_new, fresh);
    assert_int_equal(report.walks_done, done);
    assert_int_equal(report.uncast->len, report.walks - done);
    assert_int_equal(report.failed->len, 0);
    assert_false(report.interrupted);
    int64_t n = report.fixations;
    lf_study_fixate_report_clear(&report);
    return n;
}

typedef struct {
    GString *text; /* all of it, exactly */
    GArray *fixations;
    GPtrArray *walks; /* of each fixation; borrowed names are copied */
    char *settings, *used;
} FixationsSeen;

static bool fixations_take(const LfStudyFixations *walk, void *data, G_GNUC_UNUSED GError **error)
{
    FixationsSeen *seen = data;
    g_string_append_printf(seen->text, "%s %s %s\n", walk->walk, walk->settings, walk->used);
    g_free(seen->settings);
    g_free(seen->used);
    seen->settings = g_strdup(walk->settings);
    seen->used = g_strdup(walk->used);
    for (gsize i = 0; i < walk->n; i++) {
        const LfFixation *x = &walk->fixations[i];
        assert_true(x->to_us > x->from_us);
        assert_true(i == 0 || x->from_us >= walk->fixations[i - 1].to_us);
        assert_int_equal(x->photo == NULL, x->photo_id == 0);
        assert_int_equal(x->photo == NULL, isnan(x->x_px));
        if (x->photo)
            assert_string_equal(x->photo, "shelf");
        g_string_append_printf(seen->text, "%ld %ld %ld %d %.17g %.17g %.17g %zu\n",
                               (long)x->from_us, (long)x->to_us, (long)x->photo_id, (int)x->state,
                               x->x_px, x->y_px, x->radius_px, x->samples);
        g_array_append_val(seen->fixations, *x);
        g_ptr_array_add(seen->walks, g_strdup(walk->walk));
    }
    return true;
}

static void fixations_seen_clear(FixationsSeen *seen)
{
    g_string_free(seen->text, TRUE);
    g_array_unref(seen->fixations);
    g_ptr_array_unref(seen->walks);
    g_free(seen->settings);
    g_free(seen->used);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(FixationsSeen, fixations_seen_clear)

/* undone: names of walks without up to date fixations, blank-separated. */
static FixationsSeen fixations_see(CastFixture *f, const char *undone)
{
    FixationsSeen seen = {g_string_new(NULL), g_array_new(FALSE, FALSE, sizeof(LfFixation)),
                          g_ptr_array_new_with_free_func(g_free), NULL, NULL};
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GError) error = NULL;
    if (!lf_study_fixations(f->study, NULL, fixations_take, &seen, names, &error))
        fail_msg("%s", error->message);
    g_ptr_array_add(names, NULL);
    g_autofree char *found = g_strjoinv(" ", (char **)names->pdata);
    assert_string_equal(found, undone);
    return seen;
}

static void fixations_expect_undone(CastFixture *f, const char *undone)
{
    g_auto(FixationsSeen) seen = fixations_see(f, undone);
    assert_true(seen.fixations->len > 0);
}

static void fixations_expect_none(CastFixture *f)
{
    FixationsSeen seen = {g_string_new(NULL), g_array_new(FALSE, FALSE, sizeof(LfFixation)),
                          g_ptr_array_new_with_free_func(g_free), NULL, NULL};
    g_autoptr(GError) error = NULL;
    assert_false(lf_study_fixations(f->study, NULL, fixations_take, &seen, NULL, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_non_null(strstr(error->message, "lookfall fixate"));
    assert_int_equal(seen.fixations->len, 0);
    fixations_seen_clear(&seen);
}

/* --- tests ------------------------------------------------------------------------------------ */

typedef struct {
    const FixationsSeen *seen;
    GArray *counts; /* samples with gaze by fixation */
    GArray *sums;   /* LfPoint of those that make its position */
    GArray *ns;
} FixationsCheck;

/* Adds a sample to the fixation it lies in. */
static bool fixations_count(const LfStudySample *sample, void *data, G_GNUC_UNUSED GError **error)
{
    FixationsCheck *check = data;
    for (guint i = 0; i < check->seen->fixations->len; i++) {
        const LfFixation *x = &g_array_index(check->seen->fixations, LfFixation, i);
        if (strcmp(check->seen->walks->pdata[i], sample->walk) != 0 || sample->t_us < x->from_us ||
            sample->t_us >= x->to_us || sample->result.state == LF_STATE_LOST)
            continue;
        g_array_index(check->counts, gsize, i)++;
        if (sample->result.state == x->state && sample->photo) {
            g_array_index(check->sums, LfPoint, i).x += sample->result.x;
            g_array_index(check->sums, LfPoint, i).y += sample->result.y;
            g_array_index(check->ns, gsize, i)++;
        }
    }
    return true;
}

static void test_made_of(void **state)
{
    CastFixture *f = *state;
    const LfStudyFixateOptions options = fixations_options();
    int64_t n = fixations_run(f, &options, 2, 2);
    g_auto(FixationsSeen) seen = fixations_see(f, "");
    assert_int_equal(seen.fixations->len, n);
    assert_true(n >= 2);
    assert_true(g_str_has_prefix(seen.settings, "version 1\nmethod velocity\nnoise_factor 7.5\n"));
    assert_true(g_str_has_prefix(seen.used, "interval_us 20000\nsmooth_ms "));

    FixationsCheck check = {&seen, g_array_new(FALSE, TRUE, sizeof(gsize)),
                            g_array_new(FALSE, TRUE, sizeof(LfPoint)),
                            g_array_new(FALSE, TRUE, sizeof(gsize))};
    g_array_set_size(check.counts, (guint)n);
    g_array_set_size(check.sums, (guint)n);
    g_array_set_size(check.ns, (guint)n);
    assert_true(lf_study_export_samples(f->study, NULL, fixations_count, &check, NULL, NULL));
    gsize on_photo = 0;
    for (guint i = 0; i < seen.fixations->len; i++) {
        const LfFixation *x = &g_array_index(seen.fixations, LfFixation, i);
        gsize used = g_array_index(check.ns, gsize, i);
        assert_int_equal(x->samples, g_array_index(check.counts, gsize, i));
        if (!x->photo)
            continue;
        on_photo++;
        assert_true(used > 0 && used <= x->samples);
        LfPoint sum = g_array_index(check.sums, LfPoint, i);
        assert_true(fabs(sum.x / (double)used - x->x_px) < 1e-6);
        assert_true(fabs(sum.y / (double)used - x->y_px) < 1e-6);
        assert_true(x->radius_px > 0);
    }
    assert_true(on_photo > 0);
    g_array_unref(check.counts);
    g_array_unref(check.sums);
    g_array_unref(check.ns);
}

/* Walks whose fixations are not comparable with those of a run with these options. */
static void fixations_expect_otherwise(CastFixture *f, const LfStudyFixateOptions *options, gsize n)
{
    LfStudyFixateReport report;
    assert_true(lf_study_fixate(f->study, options, &report, NULL));
    assert_int_equal(report.otherwise, n);
    lf_study_fixate_report_clear(&report);
}

/* Computed once; again for other settings; the number of workers changes nothing. */
static void test_up_to_date(void **state)
{
    CastFixture *f = *state;
    LfStudyFixateOptions options = fixations_options();
    static const char *const only_b[] = {"b", NULL};
    fixations_expect_none(f);
    options.walks = only_b;
    fixations_run(f, &options, 1, 1);
    fixations_expect_undone(f, "a");
    options.walks = NULL;
    int64_t n = fixations_run(f, &options, 1, 2);
    g_auto(FixationsSeen) first = fixations_see(f, "");
    assert_int_equal(fixations_run(f, &options, 0, 2), n);

    options.settings.min_fixation_ms = 300;
    options.walks = only_b;
    fixations_expect_otherwise(f, &options, 1);
    options.walks = NULL;
    fixations_expect_otherwise(f, &options, 0);
    fixations_run(f, &options, 0, 2);
    g_auto(FixationsSeen) longer = fixations_see(f, "");
    assert_string_not_equal(first.text->str, longer.text->str);
    options.settings = lf_fixation_settings_default();
    options.jobs = 1;
    assert_int_equal(fixations_run(f, &options, 2, 2), n);
    g_auto(FixationsSeen) again = fixations_see(f, "");
    assert_string_equal(first.text->str, again.text->str);
}

static void fixations_sql(CastFixture *f, const char *sql)
{
    g_autoptr(GError) error = NULL;
    if (!study_db_run(f->study, &error, sql, ""))
        fail_msg("%s", error->message);
}

/* What a person placed, and what is cast anew, makes fixations out of date. */
static void test_stale(void **state)
{
    CastFixture *f = *state;
    const LfStudyFixateOptions options = fixations_options();
    fixations_run(f, &options, 2, 2);
    g_auto(FixationsSeen) before = fixations_see(f, "");

    fixations_sql(
        f, "INSERT INTO placement(walk, from_us, to_us, kind, detail, who, at, program, inputs)"
           " SELECT walk.id, 0, 3000000, 'away', '{}', 'Ana', '2026-01-01T00:00:00Z', '',"
           " v.sha256 || ' ' || g.sha256 FROM walk JOIN file v ON v.id = video"
           " JOIN file g ON g.id = gaze WHERE name = 'a'");
    fixations_sql(f, "INSERT INTO placed_sample(placement, t_us, state)"
                     " SELECT placement.id, t_us, 1 FROM placement JOIN gaze USING (walk)"
                     " WHERE t_us < 3000000 AND x_px IS NOT NULL");
    fixations_expect_undone(f, "a");
    fixations_run(f, &options, 1, 2);
    g_auto(FixationsSeen) placed = fixations_see(f, "");
    assert_string_not_equal(placed.text->str, before.text->str);
    for (guint i = 0; i < placed.fixations->len; i++) {
        const LfFixation *x = &g_array_index(placed.fixations, LfFixation, i);
        if (strcmp(placed.walks->pdata[i], "a") == 0 && x->to_us < 3000000)
            assert_int_equal(x->state, LF_STATE_AWAY);
    }
    /* A blind opinion changes nothing; lifting the placement brings back what was. */
    fixations_sql(
        f, "INSERT INTO placement(walk, from_us, to_us, kind, detail, who, at, program,"
           " inputs, blind) SELECT walk, from_us, to_us, kind, detail, who, at, program, inputs, 1"
           " FROM placement");
    fixations_run(f, &options, 0, 2);
    fixations_sql(f, "UPDATE placement SET lifted = 1");
    fixations_run(f, &options, 1, 2);
    g_auto(FixationsSeen) lifted = fixations_see(f, "");
    assert_string_equal(lifted.text->str, before.text->str);

    const LfCastSettings settings = {2, 0.5};
    assert_true(lf_study_set_settings(f->study, &settings, NULL));
    fixations_expect_none(f);
    fixations_run(f, &options, 0, 0);
    cast_fixture_cast(f, NULL);
    fixations_run(f, &options, 2, 2);
}

/* One walk is not cast: it has none, and the other has. One is half cast: it has those of the half.
 */
static void test_not_cast(void **state)
{
    CastFixture *f = *state;
    const LfStudyFixateOptions options = fixations_options();
    static const char *const only_b[] = {"b", NULL}, *const nobody[] = {"x", NULL};
    fixations_run(f, &options, 0, 0);
    cast_fixture_cast(f, only_b);
    LfStudyFixateReport report;
    assert_true(lf_study_fixate(f->study, &options, &report, NULL));
    assert_int_equal(report.walks_new, 1);
    assert_int_equal(report.failed->len, 0);
    assert_int_equal(report.uncast->len, 1);
    assert_string_equal(report.uncast->pdata[0], "a");
    assert_int_equal(report.partly->len, 0);
    lf_study_fixate_report_clear(&report);

    cast_fixture_cast(f, NULL);
    fixations_sql(f, "UPDATE chunk SET recipe = NULL WHERE number > 0 AND walk ="
                     " (SELECT id FROM walk WHERE name = 'a')");
    assert_true(lf_study_fixate(f->study, &options, &report, NULL));
    assert_int_equal(report.walks_new, 1);
    assert_int_equal(report.partly->len, 1);
    assert_string_equal(report.partly->pdata[0], "a");
    lf_study_fixate_report_clear(&report);
    int64_t cut_us = 0;
    assert_true(study_db_get(f->study, NULL, 0, &cut_us,
                             "SELECT to_us FROM chunk WHERE number = 0 AND walk ="
                             " (SELECT id FROM walk WHERE name = 'a')",
                             ""));
    g_auto(FixationsSeen) half = fixations_see(f, "");
    for (guint i = 0; i < half.fixations->len; i++)
        if (strcmp(half.walks->pdata[i], "a") == 0)
            assert_true(g_array_index(half.fixations, LfFixation, i).from_us < cut_us);

    LfStudyFixateOptions wrong = options;
    g_autoptr(GError) error = NULL;
    wrong.walks = nobody;
    assert_false(lf_study_fixate(f->study, &wrong, &report, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    lf_study_fixate_report_clear(&report);
    g_autoptr(GError) range = NULL;
    wrong = options;
    wrong.settings.smooth_ms = -1;
    assert_false(lf_study_fixate(f->study, &wrong, &report, &range));
    assert_int_equal(range->code, LF_ERROR_USAGE);
    lf_study_fixate_report_clear(&report);
    const int cancel = 1;
    wrong = options;
    wrong.settings.smooth_ms = 20;
    wrong.cancel = &cancel;
    assert_true(lf_study_fixate(f->study, &wrong, &report, NULL));
    assert_true(report.interrupted);
    assert_int_equal(report.walks_new, 0);
    lf_study_fixate_report_clear(&report);
}

int main(void)
{
#define CAST_TEST(f)                                                                               \
    cmocka_unit_test_setup_teardown(f, cast_fixture_cast_set_up, cast_fixture_tear_down)
    const struct CMUnitTest tests[] = {
        CAST_TEST(test_made_of),
        CAST_TEST(test_up_to_date),
        CAST_TEST(test_stale),
        cmocka_unit_test_setup_teardown(test_not_cast, cast_fixture_new_set_up,
                                        cast_fixture_tear_down),
    };
    return cmocka_run_group_tests(tests, cast_fixture_group_set_up, cast_fixture_group_tear_down);
}
