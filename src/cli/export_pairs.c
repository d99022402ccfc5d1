/* Export of comparisons: the sequences of every two walks against each other, as rows of pairs or
 * as one matrix of walks x walks. */
#include <math.h>
#include <string.h>

#include "export_out.h"

/* The sequence of one walk, one span, one level. */
typedef struct {
    const char *walk, *participant, *span;
    int span_number, level;
    GArray *codes; /* int */
} PairSequence;

typedef struct {
    const PairSequence *a, *b;
    gsize distance;
    double score;
} Pair;

static void export_pair_free(gpointer data)
{
    PairSequence *sequence = data;
    g_array_unref(sequence->codes);
    g_free(sequence);
}

/* --- columns ------------------------------------------------------------------------------------
 */

enum { PAIR_SPAN, PAIR_LEVEL, PAIR_A, PAIR_PARTICIPANT_A, PAIR_B, PAIR_PARTICIPANT_B };
enum {
    PAIR_SPAN_NUMBER,
    PAIR_LENGTH_A,
    PAIR_LENGTH_B,
    PAIR_DISTANCE,
    PAIR_SCORE,
    PAIR_DISTANCE_SHARE,
    PAIR_SCORE_SHARE
};

static void export_pair_text(GString *cell, const void *data, int which)
{
    const Pair *pair = data;
    g_autofree char *level = lf_area_level_name(pair->a->level);
    const char *const texts[] = {
        [PAIR_SPAN] = pair->a->span, [PAIR_LEVEL] = level,
        [PAIR_A] = pair->a->walk,    [PAIR_PARTICIPANT_A] = pair->a->participant,
        [PAIR_B] = pair->b->walk,    [PAIR_PARTICIPANT_B] = pair->b->participant,
    };
    csv_line_text(cell, texts[which]);
}

/* Over the longer of both; NaN where both are empty. */
static double export_pair_share(const Pair *pair, double value)
{
    guint longer = MAX(pair->a->codes->len, pair->b->codes->len);
    return longer > 0 ? value / longer : (double)NAN;
}

static void export_pair_number(GString *cell, const void *data, int which)
{
    const Pair *pair = data;
    const double values[] = {
        [PAIR_SPAN_NUMBER] = pair->a->span_number,
        [PAIR_LENGTH_A] = pair->a->codes->len,
        [PAIR_LENGTH_B] = pair->b->codes->len,
        [PAIR_DISTANCE] = (double)pair->distance,
        [PAIR_SCORE] = pair->score,
        [PAIR_DISTANCE_SHARE] = export_pair_share(pair, (double)pair->distance),
        [PAIR_SCORE_SHARE] = export_pair_share(pair, pair->score),
    };
    csv_line_fixed(cell, values[which], which >= PAIR_DISTANCE_SHARE ? 6 : 0);
}

static const ExportColumn *export_pair_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        {"span", "", "part of the walks: walk for all of it, or the rule that cut it out",
         export_pair_text, PAIR_SPAN},
        {"span_number", "count", "of the spans this rule gave, from 1", export_pair_number,
         PAIR_SPAN_NUMBER},
        {"level", "", "area, group 1 (outermost), group 2, ...", export_pair_text, PAIR_LEVEL},
        {"walk_a", "", "name of one walk", export_pair_text, PAIR_A},
        {"participant_a", "", "who walked it", export_pair_text, PAIR_PARTICIPANT_A},
        {"walk_b", "", "name of the other walk", export_pair_text, PAIR_B},
        {"participant_b", "", "who walked it", export_pair_text, PAIR_PARTICIPANT_B},
        {"visits_a", "count", "length of the sequence of walk_a", export_pair_number,
         PAIR_LENGTH_A},
        {"visits_b", "count", "length of the sequence of walk_b", export_pair_number,
         PAIR_LENGTH_B},
        {"distance", "count",
         "least number of visits to insert, delete or change that makes them equal (Levenshtein)",
         export_pair_number, PAIR_DISTANCE},
        {"distance_share", "0 to 1", "distance over the length of the longer sequence",
         export_pair_number, PAIR_DISTANCE_SHARE},
        {"alignment", "score",
         "score of the best alignment (Needleman-Wunsch): 1 for equal visits, -1 for others and "
         "for "
         "each left out",
         export_pair_number, PAIR_SCORE},
        {"alignment_share", "-1 to 1", "alignment over the length of the longer sequence",
         export_pair_number, PAIR_SCORE_SHARE},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

/* --- sequences of all walks ----------------------------------------------------------------------
 */

typedef struct {
    const ExportOptions *options;
    GPtrArray *sequences;
    GPtrArray *walks; /* LfStudyWalk, whose names the sequences borrow */
} PairGather;

static const LfStudyWalk *export_pair_walk(const GPtrArray *walks, const char *name)
{
    guint i = 0;
    while (i + 1 < walks->len && strcmp(((const LfStudyWalk *)walks->pdata[i])->name, name) != 0)
        i++;
    return walks->pdata[i];
}

static bool export_pair_take(const LfSequenceRow *row, void *data, G_GNUC_UNUSED GError **error)
{
    PairGather *gather = data;
    const LfStudyWalk *walk = export_pair_walk(gather->walks, row->head.walk);
    PairSequence *last =
        gather->sequences->len ? gather->sequences->pdata[gather->sequences->len - 1] : NULL;
    if (gather->options->level != EXPORT_ALL_LEVELS && gather->options->level != row->level)
        return true;
    if (!last || last->walk != walk->name || strcmp(last->span, row->head.span) != 0 ||
        last->span_number != row->head.span_number || last->level != row->level) {
        last = g_new0(PairSequence, 1);
        last->walk = walk->name;
        last->participant = walk->participant;
        last->span = g_intern_string(row->head.span);
        last->span_number = row->head.span_number;
        last->level = row->level;
        last->codes = g_array_new(FALSE, FALSE, sizeof(int));
        g_ptr_array_add(gather->sequences, last);
    }
    g_array_append_val(last->codes, row->code);
    return true;
}

static bool export_pair_fit(const PairSequence *a, const PairSequence *b)
{
    return a->span == b->span && a->span_number == b->span_number && a->level == b->level;
}

static Pair export_pair(const PairSequence *a, const PairSequence *b)
{
    const int *codes_a = (const int *)(gpointer)a->codes->data;
    const int *codes_b = (const int *)(gpointer)b->codes->data;
    LfAlignScores scores = lf_align_scores_default();
    return (Pair){a, b, lf_sequence_distance(codes_a, a->codes->len, codes_b, b->codes->len),
                  lf_sequence_align(codes_a, a->codes->len, codes_b, b->codes->len, &scores)};
}

/* --- writing ------------------------------------------------------------------------------------
 */

static bool export_pair_rows(const GPtrArray *sequences, ExportOut *out, GError **error)
{
    for (guint i = 0; i < sequences->len; i++)
        for (guint j = i + 1; j < sequences->len; j++) {
            if (!export_pair_fit(sequences->pdata[i], sequences->pdata[j]))
                continue;
            Pair pair = export_pair(sequences->pdata[i], sequences->pdata[j]);
            if (!export_out_row(out, &pair, error))
                return false;
        }
    return true;
}

/* One matrix: the sequences of one span and one level. */
static bool export_pair_matrix(const GPtrArray *sequences, bool alignment, ExportOut *out,
                               GError **error)
{
    g_string_assign(out->line, "walk");
    for (guint i = 0; i < sequences->len; i++)
        csv_line_text(out->line, ((const PairSequence *)sequences->pdata[i])->walk);
    csv_line_end(out->line);
    for (guint i = 0; i < sequences->len; i++) {
        csv_line_text(out->line, ((const PairSequence *)sequences->pdata[i])->walk);
        for (guint j = 0; j < sequences->len; j++) {
            Pair pair = export_pair(sequences->pdata[i], sequences->pdata[j]);
            csv_line_fixed(out->line, alignment ? pair.score : (double)pair.distance, 0);
        }
        csv_line_end(out->line);
        if (!export_out_flush(out, error))
            return false;
    }
    return true;
}

static bool export_pair_check_matrix(const GPtrArray *sequences, GError **error)
{
    for (guint i = 1; i < sequences->len; i++) {
        if (export_pair_fit(sequences->pdata[0], sequences->pdata[i]))
            continue;
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "a matrix is of one level and one span, and there are several; choose a level "
                    "with --level, and one --span that each walk has once");
        return false;
    }
    return true;
}

static bool export_pairs_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                             GPtrArray *undone, GError **error)
{
    g_autoptr(GPtrArray) sequences = g_ptr_array_new_with_free_func(export_pair_free);
    g_autoptr(GPtrArray) walks = lf_study_walks(study, options->walks, error);
    PairGather gather = {options, sequences, walks};
    if (!walks ||
        !lf_study_sequences(study, &options->measure, export_pair_take, &gather, undone, error))
        return false;
    if (!options->matrix)
        return export_pair_rows(sequences, out, error);
    return export_pair_check_matrix(sequences, error) &&
           export_pair_matrix(sequences, options->alignment, out, error);
}

const ExportKind export_comparisons = {
    "comparisons", "two walks whose sequences of visits are compared", export_pair_columns,
    export_pairs_run,
    "not wholly cast, or changed since \"lookfall fixate\", so that they are left out"};
