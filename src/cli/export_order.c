/* Exports of the order of looking: sequences, transitions, entropies. */
#include "export_head.h"

static bool export_order_wants(const ExportOptions *options, int level)
{
    return options->level == EXPORT_ALL_LEVELS || options->level == level;
}

typedef struct {
    const ExportOptions *options;
    ExportOut *out;
} ExportOrder;

static void export_order_level(GString *cell, int level)
{
    g_autofree char *name = lf_area_level_name(level);
    csv_line_text(cell, name);
}

static const char export_order_undone[] =
    "not wholly cast, or changed since \"lookfall fixate\", so that rows are missing";

/* --- sequences ----------------------------------------------------------------------------------
 */

enum { SEQUENCE_NUMBER, SEQUENCE_FIXATIONS, SEQUENCE_UNKNOWN, SEQUENCE_FROM, SEQUENCE_TO };
enum { SEQUENCE_LEVEL, SEQUENCE_PHOTO, SEQUENCE_AREA };

static void export_sequence_number(GString *cell, const void *data, int which)
{
    const LfSequenceRow *row = data;
    const double values[] = {
        [SEQUENCE_NUMBER] = row->number,
        [SEQUENCE_FIXATIONS] = (double)row->fixations,
        [SEQUENCE_UNKNOWN] = row->after_unknown,
        [SEQUENCE_FROM] = (double)row->element_from_us * 1e-6,
        [SEQUENCE_TO] = (double)row->element_to_us * 1e-6,
    };
    csv_line_fixed(cell, values[which], which <= SEQUENCE_UNKNOWN ? 0 : 6);
}

static void export_sequence_text(GString *cell, const void *data, int which)
{
    const LfSequenceRow *row = data;
    if (which == SEQUENCE_LEVEL)
        export_order_level(cell, row->level);
    else
        csv_line_text(cell, which == SEQUENCE_PHOTO ? row->photo : row->target);
}

static const ExportColumn *export_sequence_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        EXPORT_HEAD_COLUMNS,
        {"level", "", "area, group 1 (outermost), group 2, ...", export_sequence_text,
         SEQUENCE_LEVEL},
        {"number", "count", "place in the sequence, from 1", export_sequence_number,
         SEQUENCE_NUMBER},
        {"photo", "", "name of the photo", export_sequence_text, SEQUENCE_PHOTO},
        {"area", "", "name of the area or path of the group that was visited", export_sequence_text,
         SEQUENCE_AREA},
        {"from_s", "s", "start of the visit, from the start of the walk", export_sequence_number,
         SEQUENCE_FROM},
        {"to_s", "s", "end of the visit", export_sequence_number, SEQUENCE_TO},
        {"fixations", "count", "number of fixations in it", export_sequence_number,
         SEQUENCE_FIXATIONS},
        {"after_unknown", "0 or 1",
         "1 where it is not known what was looked at between this visit and the one before",
         export_sequence_number, SEQUENCE_UNKNOWN},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_sequence_row(const LfSequenceRow *row, void *data, GError **error)
{
    const ExportOrder *export = data;
    return !export_order_wants(export->options, row->level) ||
           export_out_row(export->out, row, error);
}

static bool export_sequences_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                 GPtrArray *undone, GError **error)
{
    ExportOrder export = {options, out};
    return lf_study_sequences(study, &options->measure, export_sequence_row, &export, undone,
                              error);
}

const ExportKind export_sequences = {"sequences", "a visit, in the order of the walk",
                                     export_sequence_columns, export_sequences_run,
                                     export_order_undone};

/* --- transitions --------------------------------------------------------------------------------
 */

enum {
    TRANSITION_LEVEL,
    TRANSITION_FROM_PHOTO,
    TRANSITION_FROM,
    TRANSITION_TO_PHOTO,
    TRANSITION_TO
};
enum { TRANSITION_COUNT, TRANSITION_CERTAIN };

static void export_transition_text(GString *cell, const void *data, int which)
{
    const LfTransitionRow *row = data;
    const char *const texts[] = {
        [TRANSITION_FROM_PHOTO] = row->from_photo,
        [TRANSITION_FROM] = row->from,
        [TRANSITION_TO_PHOTO] = row->to_photo,
        [TRANSITION_TO] = row->to,
    };
    if (which == TRANSITION_LEVEL)
        export_order_level(cell, row->level);
    else
        csv_line_text(cell, texts[which]);
}

static void export_transition_count(GString *cell, const void *data, int which)
{
    const LfTransitionRow *row = data;
    csv_line_fixed(cell, (double)(which == TRANSITION_COUNT ? row->count : row->certain), 0);
}

static void export_transition_probability(GString *cell, const void *data, G_GNUC_UNUSED int which)
{
    csv_line_fixed(cell, ((const LfTransitionRow *)data)->probability, 6);
}

static const ExportColumn *export_transition_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        EXPORT_HEAD_COLUMNS,
        {"level", "", "area, group 1 (outermost), group 2, ...", export_transition_text,
         TRANSITION_LEVEL},
        {"from_photo", "", "photo the gaze came from", export_transition_text,
         TRANSITION_FROM_PHOTO},
        {"from_area", "", "area or group the gaze came from", export_transition_text,
         TRANSITION_FROM},
        {"to_photo", "", "photo the gaze went to", export_transition_text, TRANSITION_TO_PHOTO},
        {"to_area", "", "area or group the gaze went to", export_transition_text, TRANSITION_TO},
        {"count", "count", "number of these transitions; pairs that are not listed have none",
         export_transition_count, TRANSITION_COUNT},
        {"count_certain", "count",
         "of these, between fixations whose uncertainty leaves no doubt about either area",
         export_transition_count, TRANSITION_CERTAIN},
        {"probability", "0 to 1", "count over that of all transitions from from_area",
         export_transition_probability, 0},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_transition_row(const LfTransitionRow *row, void *data, GError **error)
{
    const ExportOrder *export = data;
    return !export_order_wants(export->options, row->level) ||
           export_out_row(export->out, row, error);
}

static bool export_transitions_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                   GPtrArray *undone, GError **error)
{
    ExportOrder export = {options, out};
    return lf_study_transitions(study, &options->measure, export_transition_row, &export, undone,
                                error);
}

const ExportKind export_transitions = {"transitions", "a pair of areas between which gaze moved",
                                       export_transition_columns, export_transitions_run,
                                       export_order_undone};

/* --- entropies ----------------------------------------------------------------------------------
 */

enum { ENTROPY_STATES, ENTROPY_TRANSITIONS, ENTROPY_BROKEN, ENTROPY_FILLED };
enum {
    ENTROPY_STATIONARY,
    ENTROPY_STATIONARY_SHARE,
    ENTROPY_TRANSITION,
    ENTROPY_TRANSITION_SHARE,
    ENTROPY_VISITED,
    ENTROPY_VISITED_SHARE
};

static void export_entropy_count(GString *cell, const void *data, int which)
{
    const LfEntropyRow *row = data;
    const gsize values[] = {
        [ENTROPY_STATES] = row->states,
        [ENTROPY_TRANSITIONS] = row->transitions,
        [ENTROPY_BROKEN] = row->broken,
        [ENTROPY_FILLED] = row->filled,
    };
    csv_line_fixed(cell, (double)values[which], 0);
}

static void export_entropy_value(GString *cell, const void *data, int which)
{
    const LfEntropyRow *row = data;
    const double values[] = {
        [ENTROPY_STATIONARY] = row->stationary_bit,
        [ENTROPY_STATIONARY_SHARE] = row->stationary_share,
        [ENTROPY_TRANSITION] = row->transition_bit,
        [ENTROPY_TRANSITION_SHARE] = row->transition_share,
        [ENTROPY_VISITED] = row->visited_bit,
        [ENTROPY_VISITED_SHARE] = row->visited_share,
    };
    csv_line_fixed(cell, values[which], 6);
}

static void export_entropy_level(GString *cell, const void *data, G_GNUC_UNUSED int which)
{
    export_order_level(cell, ((const LfEntropyRow *)data)->level);
}

static const ExportColumn *export_entropy_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        EXPORT_HEAD_COLUMNS,
        {"level", "", "area, group 1 (outermost), group 2, ...", export_entropy_level, 0},
        {"areas", "count", "areas or groups looked at: the states of the chain",
         export_entropy_count, ENTROPY_STATES},
        {"transitions", "count", "transitions counted", export_entropy_count, ENTROPY_TRANSITIONS},
        {"broken", "count", "transitions not counted, because it is not known what came between",
         export_entropy_count, ENTROPY_BROKEN},
        {"never_left", "count",
         "areas from which no transition was seen; taken to lead anywhere equally often",
         export_entropy_count, ENTROPY_FILLED},
        {"stationary_entropy_bit", "bit",
         "entropy of the chain's stationary distribution; blank where there is not one alone",
         export_entropy_value, ENTROPY_STATIONARY},
        {"stationary_entropy_share", "0 to 1", "the same over log2 of areas", export_entropy_value,
         ENTROPY_STATIONARY_SHARE},
        {"transition_entropy_bit", "bit",
         "entropy of where gaze goes next, weighted by the stationary distribution",
         export_entropy_value, ENTROPY_TRANSITION},
        {"transition_entropy_share", "0 to 1", "the same over log2 of areas", export_entropy_value,
         ENTROPY_TRANSITION_SHARE},
        {"visited_entropy_bit", "bit", "entropy of the shares in which areas were met",
         export_entropy_value, ENTROPY_VISITED},
        {"visited_entropy_share", "0 to 1", "the same over log2 of areas", export_entropy_value,
         ENTROPY_VISITED_SHARE},
        EXPORT_TIME_COLUMNS,
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_entropy_row(const LfEntropyRow *row, void *data, GError **error)
{
    const ExportOrder *export = data;
    return !export_order_wants(export->options, row->level) ||
           export_out_row(export->out, row, error);
}

static bool export_entropies_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                 GPtrArray *undone, GError **error)
{
    ExportOrder export = {options, out};
    return lf_study_entropies(study, &options->measure, export_entropy_row, &export, undone, error);
}

const ExportKind export_entropies = {"entropies", "a walk, a span of it, and a level of areas",
                                     export_entropy_columns, export_entropies_run,
                                     export_order_undone};
