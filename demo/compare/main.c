/* lookfall-compare: accuracy of exported samples against the truth of rendered walks.
 *
 * A truth file is named WALK_truth.csv after its walk. Every sample must have its truth and every
 * truth its sample, in the same order at the same times, or nothing is said at all. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include <json-glib/json-glib.h>

#include <lookfall/error.h>

#include "rows.h"
#include "score.h"

/* Times are written to a tenth of a millisecond. */
#define SAME_TIME_S 6e-5
#define TRUTH_ENDING "_truth.csv"

typedef struct {
    const LrRows *rows;
    guint walk, t, photo, x, y, confidence, state;
} SampleColumns;

typedef struct {
    guint photo, x, y, px_per_degree;
} TruthPlace;

typedef struct {
    const LrRows *rows;
    guint t, state;
    TruthPlace at, also; /* the second one on another photo that shows the same */
} TruthColumns;

static bool compare_sample_columns(const LrRows *rows, SampleColumns *c, GError **error)
{
    guint radius;
    c->rows = rows;
    return lr_rows_column(rows, "walk", &c->walk, error) &&
           lr_rows_column(rows, "t_s", &c->t, error) &&
           lr_rows_column(rows, "photo", &c->photo, error) &&
           lr_rows_column(rows, "x_px", &c->x, error) &&
           lr_rows_column(rows, "y_px", &c->y, error) &&
           lr_rows_column(rows, "confidence", &c->confidence, error) &&
           lr_rows_column(rows, "state", &c->state, error) &&
           lr_rows_column(rows, "radius_px", &radius, error);
}

static bool compare_truth_columns(const LrRows *rows, TruthColumns *c, GError **error)
{
    c->rows = rows;
    return lr_rows_column(rows, "t_s", &c->t, error) &&
           lr_rows_column(rows, "state", &c->state, error) &&
           lr_rows_column(rows, "photo", &c->at.photo, error) &&
           lr_rows_column(rows, "x_px", &c->at.x, error) &&
           lr_rows_column(rows, "y_px", &c->at.y, error) &&
           lr_rows_column(rows, "px_per_degree_photo", &c->at.px_per_degree, error) &&
           lr_rows_column(rows, "also_photo", &c->also.photo, error) &&
           lr_rows_column(rows, "also_x_px", &c->also.x, error) &&
           lr_rows_column(rows, "also_y_px", &c->also.y, error) &&
           lr_rows_column(rows, "also_px_per_degree_photo", &c->also.px_per_degree, error);
}

static bool compare_word(const LrRows *rows, guint row, guint column, const char *const *words,
                         int *index, GError **error)
{
    const char *text = lr_rows_text(rows, row, column);
    for (int i = 0; words[i]; i++)
        if (strcmp(words[i], text) == 0) {
            *index = i;
            return true;
        }
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s, line %u: \"%s\" is no state.", rows->path,
                row + 2, text);
    return false;
}

static bool compare_pair(const SampleColumns *s, guint sample, const TruthColumns *t, guint truth,
                         LrPairing *p, GError **error)
{
    static const char *const cast_words[] = {"lost", "away",   "blocked", "doubtful",
                                             "sure", "placed", NULL};
    static const char *const seen_words[] = {"lost",   "away",   "blocked", "visible",
                                             "hidden", "beside", NULL};
    double sample_t, truth_t, x, y, tx, ty;
    int cast, seen;
    const char *photo = lr_rows_text(s->rows, sample, s->photo);
    const char *also = lr_rows_text(t->rows, truth, t->also.photo);
    const TruthPlace *at = *also && strcmp(photo, also) == 0 ? &t->also : &t->at;
    if (!lr_rows_number(s->rows, sample, s->t, &sample_t, error) ||
        !lr_rows_number(t->rows, truth, t->t, &truth_t, error) ||
        !lr_rows_number(s->rows, sample, s->x, &x, error) ||
        !lr_rows_number(s->rows, sample, s->y, &y, error) ||
        !lr_rows_number(s->rows, sample, s->confidence, &p->confidence, error) ||
        !lr_rows_number(t->rows, truth, at->x, &tx, error) ||
        !lr_rows_number(t->rows, truth, at->y, &ty, error) ||
        !lr_rows_number(t->rows, truth, at->px_per_degree, &p->px_per_degree, error) ||
        !compare_word(s->rows, sample, s->state, cast_words, &cast, error) ||
        !compare_word(t->rows, truth, t->state, seen_words, &seen, error))
        return false;
    if (!(fabs(sample_t - truth_t) < SAME_TIME_S)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s, line %u: sample at %s s where the truth has one at %s s.", s->rows->path,
                    sample + 2, lr_rows_text(s->rows, sample, s->t),
                    lr_rows_text(t->rows, truth, t->t));
        return false;
    }
    if ((seen == LR_SEEN_LOST) != (cast == LR_CAST_LOST)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s, line %u: state %s where the recorded gaze is %s.", s->rows->path,
                    sample + 2, cast_words[cast], seen == LR_SEEN_LOST ? "lost" : "there");
        return false;
    }
    if (cast >= LR_CAST_SURE && (isnan(x) || isnan(y))) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s, line %u: state %s without a position.",
                    s->rows->path, sample + 2, cast_words[cast]);
        return false;
    }
    p->seen = (LrSeen)seen;
    p->cast = (LrCastState)MIN(cast, LR_CAST_SURE); /* placed comes after sure */
    p->same_photo = strcmp(photo, lr_rows_text(t->rows, truth, at->photo)) == 0;
    p->error_px = hypot(x - tx, y - ty);
    return true;
}

/* Rows of the samples that belong to one walk; GArray of guint. */
static GArray *compare_rows_of(const SampleColumns *s, const char *walk)
{
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(guint));
    for (guint i = 0; i < lr_rows_count(s->rows); i++)
        if (strcmp(lr_rows_text(s->rows, i, s->walk), walk) == 0)
            g_array_append_val(rows, i);
    return rows;
}

static char *compare_walk_name(const char *path, GError **error)
{
    char *name = g_path_get_basename(path);
    if (g_str_has_suffix(name, TRUTH_ENDING)) {
        name[strlen(name) - strlen(TRUTH_ENDING)] = '\0';
        return name;
    }
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s: a truth file is named WALK%s.", path,
                TRUTH_ENDING);
    g_free(name);
    return NULL;
}

/* Pairings of one walk. */
static GArray *compare_walk(const SampleColumns *s, const char *truth_path, const char *walk,
                            GError **error)
{
    g_autoptr(LrRows) truth = lr_rows_read(truth_path, error);
    TruthColumns t;
    if (!truth || !compare_truth_columns(truth, &t, error))
        return NULL;
    g_autoptr(GArray) rows = compare_rows_of(s, walk);
    if (rows->len != lr_rows_count(truth)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s has %u samples of walk %s; the truth has %u.", s->rows->path, rows->len,
                    walk, lr_rows_count(truth));
        return NULL;
    }
    g_autoptr(GArray) pairings = g_array_new(FALSE, FALSE, sizeof(LrPairing));
    for (guint i = 0; i < rows->len; i++) {
        LrPairing p = {0};
        if (!compare_pair(s, g_array_index(rows, guint, i), &t, i, &p, error))
            return NULL;
        g_array_append_val(pairings, p);
    }
    return g_steal_pointer(&pairings);
}

static void compare_print_share(guint part, guint whole)
{
    if (whole == 0)
        printf(" %9s", "-");
    else
        printf(" %8.2f%%", 100.0 * part / whole);
}

static void compare_print_px(double px)
{
    if (isnan(px))
        printf(" %8s", "-");
    else
        printf(" %8.2f", px);
}

static void compare_print(const char *name, const LrScore *s)
{
    printf("%-8s %8u %8u", name, s->samples, s->visible);
    compare_print_share(s->visible_sure, s->visible);
    compare_print_px(s->median_px);
    compare_print_px(s->p95_px);
    compare_print_share(s->wrong, s->visible_sure);
    compare_print_share(s->off_photo_sure, s->off_photo);
    compare_print_share(s->blocked_sure, s->blocked);
    printf("\n");
}

static void compare_print_head(double tolerance_deg)
{
    printf(
        "visible: gaze on a photo and nothing before it. sure: share of the visible. median, 95%%: "
        "error of these in photo px.\nwrong: of these, off by more than %g degree or on another "
        "photo. off, blocked: sure although on no photo; those\nof them behind a hand or a "
        "passer-by.\n\n",
        tolerance_deg);
    printf("%-8s %8s %8s %9s %8s %8s %9s %9s %9s\n", "walk", "samples", "visible", "sure", "median",
           "95%", "wrong", "off", "blocked");
}

static void compare_json_number(JsonBuilder *b, const char *name, double value)
{
    json_builder_set_member_name(b, name);
    if (isnan(value))
        json_builder_add_null_value(b);
    else
        json_builder_add_double_value(b, value);
}

static void compare_json_count(JsonBuilder *b, const char *name, guint value)
{
    json_builder_set_member_name(b, name);
    json_builder_add_int_value(b, value);
}

static double compare_share(guint part, guint whole)
{
    return whole ? (double)part / whole : NAN;
}

static void compare_json_score(JsonBuilder *b, const LrScore *s)
{
    json_builder_begin_object(b);
    compare_json_count(b, "samples", s->samples);
    compare_json_count(b, "visible", s->visible);
    compare_json_count(b, "off_photo", s->off_photo);
    compare_json_count(b, "blocked", s->blocked);
    compare_json_count(b, "visible_sure", s->visible_sure);
    compare_json_count(b, "wrong", s->wrong);
    compare_json_count(b, "off_photo_sure", s->off_photo_sure);
    compare_json_number(b, "share_sure", compare_share(s->visible_sure, s->visible));
    compare_json_number(b, "median_px", s->median_px);
    compare_json_number(b, "p95_px", s->p95_px);
    compare_json_number(b, "share_wrong", compare_share(s->wrong, s->visible_sure));
    compare_json_number(b, "share_off_photo_sure", compare_share(s->off_photo_sure, s->off_photo));
    compare_json_number(b, "share_blocked_sure", compare_share(s->blocked_sure, s->blocked));
    compare_json_number(b, "share_blocked_told", compare_share(s->blocked_told, s->blocked));
    compare_json_number(b, "share_visible_blocked", compare_share(s->visible_blocked, s->visible));
    compare_json_count(b, "judged", s->judged);
    compare_json_number(b, "brier", s->brier);
    compare_json_number(b, "calibration_error", s->calibration_error);
    compare_json_number(b, "auroc", s->auroc);
    json_builder_set_member_name(b, "reliability");
    json_builder_begin_array(b);
    for (int i = 0; i < LR_RELIABILITY_BINS; i++) {
        json_builder_begin_object(b);
        compare_json_count(b, "n", s->bin[i].n);
        compare_json_number(b, "confidence", s->bin[i].n ? s->bin[i].confidence : NAN);
        compare_json_number(b, "right", compare_share(s->bin[i].right, s->bin[i].n));
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
}

static void compare_print_json(char **names, const LrScore *scores, guint n, const LrScore *pooled,
                               double tolerance_deg)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    compare_json_number(b, "tolerance_deg", tolerance_deg);
    json_builder_set_member_name(b, "walks");
    json_builder_begin_object(b);
    for (guint i = 0; i < n; i++) {
        json_builder_set_member_name(b, names[i]);
        compare_json_score(b, &scores[i]);
    }
    json_builder_end_object(b);
    json_builder_set_member_name(b, "pooled");
    compare_json_score(b, pooled);
    json_builder_end_object(b);
    g_autoptr(JsonNode) root = json_builder_get_root(b);
    g_autofree char *text = json_to_string(root, TRUE);
    printf("%s\n", text);
}

static bool compare_run(char **truths, const char *samples_path, double tolerance_deg, bool json,
                        GError **error)
{
    guint n = g_strv_length(truths), paired = 0;
    g_autoptr(LrRows) samples = lr_rows_read(samples_path, error);
    SampleColumns columns;
    if (!samples || !compare_sample_columns(samples, &columns, error))
        return false;
    g_auto(GStrv) names = g_new0(char *, n + 1);
    g_autofree LrScore *scores = g_new0(LrScore, n);
    g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(LrPairing));
    for (guint i = 0; i < n; i++) {
        if (!(names[i] = compare_walk_name(truths[i], error)))
            return false;
        for (guint k = 0; k < i; k++)
            if (strcmp(names[k], names[i]) == 0) {
                g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "Two truth files for walk %s.",
                            names[i]);
                return false;
            }
        g_autoptr(GArray) pairings = compare_walk(&columns, truths[i], names[i], error);
        if (!pairings)
            return false;
        scores[i] = lr_score_make(pairings, tolerance_deg);
        paired += pairings->len;
        g_array_append_vals(all, pairings->data, pairings->len);
    }
    if (paired != lr_rows_count(samples)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s has %u samples of walks without a truth.",
                    samples_path, lr_rows_count(samples) - paired);
        return false;
    }
    LrScore pooled = lr_score_make(all, tolerance_deg);
    if (json) {
        compare_print_json(names, scores, n, &pooled, tolerance_deg);
        return true;
    }
    compare_print_head(tolerance_deg);
    for (guint i = 0; i < n; i++)
        compare_print(names[i], &scores[i]);
    compare_print("all", &pooled);
    return true;
}

int main(int argc, char **argv)
{
    g_autofree char *samples = NULL;
    g_auto(GStrv) truths = NULL;
    gboolean json = FALSE;
    double tolerance_deg = 1;
    const GOptionEntry entries[] = {
        {"samples", 0, 0, G_OPTION_ARG_FILENAME, &samples, "Exported samples", "FILE"},
        {"tolerance", 0, 0, G_OPTION_ARG_DOUBLE, &tolerance_deg, "Right within (1)", "DEGREES"},
        {"json", 0, 0, G_OPTION_ARG_NONE, &json, "For programs", NULL},
        {G_OPTION_REMAINING, 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &truths, NULL, "TRUTH.csv..."},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context = g_option_context_new("- accuracy of samples against truth");
    g_option_context_add_main_entries(context, entries, NULL);
    GError *error = NULL;
    int status = 0;
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        status = LF_ERROR_USAGE;
    } else if (!samples || !truths || !(tolerance_deg > 0)) {
        g_set_error(&error, LF_ERROR, LF_ERROR_USAGE,
                    "Truth files and --samples FILE are needed; see --help.");
        status = LF_ERROR_USAGE;
    } else if (!compare_run(truths, samples, tolerance_deg, json, &error)) {
        status = error->code;
    }
    if (error) {
        fprintf(stderr, "lookfall-compare: %s\n", error->message);
        g_error_free(error);
    }
    return status;
}
