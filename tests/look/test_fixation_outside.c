/* Fixations against two people who marked them by hand: LOOKFALL_DATA/gaze-labels, seven recordings
 * of R. Andersson, L. Larsson, K. Holmqvist, M. Stridh, M. Nystrom, "One algorithm to rule them
 * all? An evaluation and discussion of ten eye movement event-detection algorithms", Behavior
 * Research Methods 49 (2017) 616-637, every sample labelled: 1 is a fixation, all else is none. The
 * measure is Cohen's kappa (J. Cohen, "A coefficient of agreement for nominal scales", Educational
 * and Psychological Measurement 20, 1960), over the samples of all recordings, with the settings
 * every user gets. Exit status 77, skipped, where the folder is missing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/lookfall.h>

#define SKIPPED 77
#define N_FILES 7
#define N_SAMPLES 31923

/* Screen of 0.38 m x 0.30 m, 1024 x 768 px, 0.67 m away: px in a degree at its middle. */
#define PX_PER_DEG_X (1024 / 0.38 * 0.67 * 0.017455064928217585) /* tan 1 degree */
#define PX_PER_DEG_Y (768 / 0.30 * 0.67 * 0.017455064928217585)

/* Counts of samples: [found to be a fixation][labelled as one]. */
typedef struct {
    double n[2][2];
} Agreement;

static double outside_kappa(const Agreement *a)
{
    double all = a->n[0][0] + a->n[0][1] + a->n[1][0] + a->n[1][1];
    double found = (a->n[1][0] + a->n[1][1]) / all, labelled = (a->n[0][1] + a->n[1][1]) / all;
    double chance = found * labelled + (1 - found) * (1 - labelled);
    return ((a->n[0][0] + a->n[1][1]) / all - chance) / (1 - chance);
}

typedef struct {
    Agreement with[2]; /* coder a, coder b */
    Agreement coders;  /* a with b */
} OutsideScore;

static void outside_add(Agreement *to, const Agreement *more)
{
    for (int i = 0; i < 4; i++)
        to->n[i / 2][i % 2] += more->n[i / 2][i % 2];
}

static void outside_score(const char *path, OutsideScore *score)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = NULL;
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_autoptr(LfGaze) gaze = lf_gaze_read(path, NULL, 1024, 768, &error);
    assert_non_null(gaze);
    g_auto(GStrv) lines = g_strsplit(g_strchomp(text), "\n", -1);
    assert_int_equal(g_strv_length(lines) - 1, gaze->n_samples);

    g_autofree LfDirection *directions = g_new0(LfDirection, gaze->n_samples);
    for (gsize i = 0; i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        directions[i] =
            (LfDirection){s->t_us, s->x / PX_PER_DEG_X, s->y / PX_PER_DEG_Y, s->lost, false};
    }
    const LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found =
        lf_fixations_find(directions, gaze->n_samples, &settings, &error);
    assert_non_null(found);
    for (gsize i = 0; i < gaze->n_samples; i++) {
        g_auto(GStrv) field = g_strsplit(lines[i + 1], ",", -1);
        assert_int_equal(g_strv_length(field), 5);
        int fixation = found->events[i] == LF_EVENT_FIXATION;
        int a = strcmp(field[3], "1") == 0, b = strcmp(g_strchomp(field[4]), "1") == 0;
        score->with[0].n[fixation][a]++;
        score->with[1].n[fixation][b]++;
        score->coders.n[a][b]++;
    }
}

static void test_outside_coders(void **state)
{
    g_autoptr(GDir) folder = g_dir_open(*state, 0, NULL);
    OutsideScore all = {0};
    int n = 0;
    assert_non_null(folder);
    for (const char *name; (name = g_dir_read_name(folder)); n++) {
        g_autofree char *path = g_build_filename(*state, name, NULL);
        OutsideScore one = {0};
        outside_score(path, &one);
        print_message("%s: a %.3f, b %.3f; a with b %.3f\n", name, outside_kappa(&one.with[0]),
                      outside_kappa(&one.with[1]), outside_kappa(&one.coders));
        /* A recording that is much worse than the rest would be a fault of its own. */
        assert_true(outside_kappa(&one.with[0]) > 0.7);
        for (int i = 0; i < 2; i++)
            outside_add(&all.with[i], &one.with[i]);
        outside_add(&all.coders, &one.coders);
    }
    assert_int_equal(n, N_FILES);
    const Agreement *a = &all.with[0];
    assert_int_equal(a->n[0][0] + a->n[0][1] + a->n[1][0] + a->n[1][1], N_SAMPLES);
    double with_a = outside_kappa(&all.with[0]), with_b = outside_kappa(&all.with[1]);
    print_message("all: a %.4f, b %.4f; a with b %.4f\n", with_a, with_b,
                  outside_kappa(&all.coders));
    /* The coders agree with each other to 0.877 in these files, counted independently of this code.
     */
    assert_true(fabs(outside_kappa(&all.coders) - 0.877) < 0.0005);
    assert_true(with_a >= 0.86);
    assert_true(with_b >= 0.82);
}

int main(void)
{
    const char *data = g_getenv("LOOKFALL_DATA");
    g_autofree char *path = g_build_filename(data ? data : "", "gaze-labels", NULL);
    if (!data || !g_file_test(path, G_FILE_TEST_IS_DIR)) {
        print_message("skipped: LOOKFALL_DATA names no folder with gaze-labels in it\n");
        return SKIPPED;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(test_outside_coders, path),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
