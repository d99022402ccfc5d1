/* From videos to gaze on the photo through the command line, against exact truth.
 *
 * lookfall-render makes a study nobody has tuned on, lookfall casts it, lookfall-compare (which
 * demands a result for every sample and none more) scores it. Fixations are compared with when and
 * where the walkers' eyes rested. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <json-glib/json-glib.h>

#include "e2e/job.h"

/* What the project promises of walks past a flat shelf, of video eye trackers' usual size, as
 * shares and px of a photo 2,000 px wide (README.md, docs/engine.md). */
typedef struct {
    double median_px, p95_px; /* at most */
    double wrong;             /* share of sure samples, less than */
    double sure;              /* share of visible samples, at least */
    double away_sure;         /* share of samples on no photo, less than */
} AccuracyBounds;

typedef struct {
    JobRender render;
    AccuracyBounds bounds;
} AccuracyCase;

static const AccuracyCase ACCURACY_CASES[] = {
    {{"small", "411", "3", "10"}, {1.0, 2.5, 0.003, 0.95, 0.005}},
    {{"sign", "402", "1", "10"}, {1.0, 2.5, 0.003, 0.95, 0.005}},
};

#define RUN(...) g_free(job_run(folder, (const char *[]){__VA_ARGS__, NULL}))

static double accuracy_number(JsonObject *object, const char *name)
{
    if (!json_object_has_member(object, name) ||
        JSON_NODE_HOLDS_NULL(json_object_get_member(object, name)))
        return NAN;
    return json_object_get_double_member(object, name);
}

static void accuracy_check(const AccuracyCase *c, JsonObject *score)
{
    double median = accuracy_number(score, "median_px"), p95 = accuracy_number(score, "p95_px");
    double wrong = accuracy_number(score, "share_wrong");
    double sure = accuracy_number(score, "share_sure");
    /* The score counts what is behind something in front of the photo as off the photo too. */
    double blocked = accuracy_number(score, "blocked");
    double away = accuracy_number(score, "off_photo") - blocked;
    double away_sure = (accuracy_number(score, "off_photo_sure") -
                        blocked * accuracy_number(score, "share_blocked_sure")) /
                       away;
    print_message("%s: %.0f samples, median %.2f px, 95%% %.2f px, wrong %.2f%%, sure %.2f%%; sure "
                  "of those on no photo %.2f%%, of those behind something %.2f%%\n",
                  c->render.scene, accuracy_number(score, "samples"), median, p95, 100 * wrong,
                  100 * sure, 100 * away_sure, 100 * accuracy_number(score, "share_blocked_sure"));
    assert_true(accuracy_number(score, "visible") >= 400);
    assert_true(away >= 50);
    /* written so that NaN fails */
    if (!(median <= c->bounds.median_px && p95 <= c->bounds.p95_px && wrong < c->bounds.wrong &&
          sure >= c->bounds.sure && away_sure < c->bounds.away_sure))
        fail_msg("%s, seed %s: out of bounds", c->render.scene, c->render.seed);
}

/* --- fixations -------------------------------------------------------------------------------- */

typedef struct {
    double from_s, to_s;
    bool on_photo;
    double x_px, y_px;
} AccuracyRest;

/* Rows of a CSV file with these columns; walk: only those of this walk, or NULL where the file is
 * of one walk. */
static GArray *accuracy_rests(const char *folder, const char *name, const char *walk,
                              const char *state)
{
    g_autofree char *path = g_build_filename(folder, name, NULL), *text = NULL;
    GArray *rests = g_array_new(FALSE, FALSE, sizeof(AccuracyRest));
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_auto(GStrv) head = g_strsplit(g_strchomp(lines[0]), ",", -1);
    int from = -1, to = -1, at = -1, x = -1, y = -1, of = -1;
    for (int i = 0; head[i]; i++) {
        from = strcmp(head[i], "from_s") == 0 ? i : from;
        to = strcmp(head[i], "to_s") == 0 ? i : to;
        at = strcmp(head[i], "state") == 0 ? i : at;
        x = strcmp(head[i], "x_px") == 0 ? i : x;
        y = strcmp(head[i], "y_px") == 0 ? i : y;
        of = strcmp(head[i], "walk") == 0 ? i : of;
    }
    assert_true(from >= 0 && to >= 0 && at >= 0 && x >= 0 && y >= 0 && (!walk || of >= 0));
    for (int i = 1; lines[i] && lines[i][0]; i++) {
        g_auto(GStrv) cell = g_strsplit(g_strchomp(lines[i]), ",", -1);
        if (walk && strcmp(cell[of], walk) != 0)
            continue;
        const AccuracyRest rest = {g_ascii_strtod(cell[from], NULL), g_ascii_strtod(cell[to], NULL),
                                   strcmp(cell[at], state) == 0, g_ascii_strtod(cell[x], NULL),
                                   g_ascii_strtod(cell[y], NULL)};
        g_array_append_val(rests, rest);
    }
    return rests;
}

/* Fixations of the cast gaze against when and where the walkers' eyes rested on a photo. A blink
 * may take a rest away, so not all can be there. */
static void accuracy_fixations(const char *render, const char *folder, int walks)
{
    gsize n = 0, found = 0, in_time = 0, in_place = 0;
    for (int w = 1; w <= walks; w++) {
        g_autofree char *walk = g_strdup_printf("w%02d", w);
        g_autofree char *truth_name = g_strdup_printf("%s_truth_fixations.csv", walk);
        g_autoptr(GArray) truth = accuracy_rests(render, truth_name, NULL, "visible");
        g_autoptr(GArray) seen = accuracy_rests(folder, "fixations.csv", walk, "sure");
        for (guint i = 0; i < truth->len; i++) {
            const AccuracyRest *rest = &g_array_index(truth, AccuracyRest, i);
            n += rest->on_photo;
            for (guint k = 0; rest->on_photo && k < seen->len; k++) {
                const AccuracyRest *f = &g_array_index(seen, AccuracyRest, k);
                double both_s = MIN(f->to_s, rest->to_s) - MAX(f->from_s, rest->from_s);
                if (both_s < 0.5 * (rest->to_s - rest->from_s) || !f->on_photo)
                    continue;
                found++;
                in_time += fabs(f->from_s - rest->from_s) <= 0.04;
                in_place += hypot(f->x_px - rest->x_px, f->y_px - rest->y_px) <= 30;
            }
        }
    }
    print_message("%zu rests on a photo, %zu found, %zu begin within 40 ms, %zu lie within 30 px\n",
                  n, found, in_time, in_place);
    assert_true(n >= 20);
    assert_true(found <= n);
    assert_true((double)found >= 0.9 * (double)n);
    /* There are few in one scene: one more that is late must not decide. */
    assert_true((double)in_time >= 0.9 * (double)found);
    assert_true((double)in_place >= 0.95 * (double)found);
}

static void test_accuracy(void **state)
{
    const AccuracyCase *c = *state;
    const int walks = atoi(c->render.walks);
    g_autofree char *render = job_render(&c->render);
    char *folder = job_study(render);
    RUN(LOOKFALL, "export", "w.study", "samples", "--out", "samples.csv");
    RUN(LOOKFALL, "fixate", "w.study");
    RUN(LOOKFALL, "export", "w.study", "fixations", "--out", "fixations.csv");

    g_autoptr(GPtrArray) arguments = g_ptr_array_new_with_free_func(g_free);
    static const char *const compare[] = {LOOKFALL_COMPARE, "--json", "--samples", "samples.csv"};
    for (gsize i = 0; i < G_N_ELEMENTS(compare); i++)
        g_ptr_array_add(arguments, g_strdup(compare[i]));
    for (int i = 1; i <= walks; i++)
        g_ptr_array_add(arguments, g_strdup_printf("%s/w%02d_truth.csv", render, i));
    g_ptr_array_add(arguments, NULL);
    g_autofree char *json = job_run(folder, (const char *const *)(const void *)arguments->pdata);
    g_autoptr(JsonParser) parser = json_parser_new();
    assert_true(json_parser_load_from_data(parser, json, -1, NULL));
    JsonObject *root = json_node_get_object(json_parser_get_root(parser));
    accuracy_check(c, json_object_get_object_member(root, "pooled"));
    accuracy_fixations(render, folder, walks);
    job_remove(folder);
}

int main(void)
{
    struct CMUnitTest tests[G_N_ELEMENTS(ACCURACY_CASES)];
    for (gsize i = 0; i < G_N_ELEMENTS(ACCURACY_CASES); i++)
        tests[i] = (struct CMUnitTest){.name = ACCURACY_CASES[i].render.scene,
                                       .test_func = test_accuracy,
                                       .initial_state = (void *)(uintptr_t)&ACCURACY_CASES[i]};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
