/* Exports of fixations, visits and measures. */
#include <math.h>
#include <string.h>

#include "export_head.h"

/* --- the head that rows share -------------------------------------------------------------------
 */

void export_head_text(GString *cell, const void *row, int which)
{
    const LfMeasureHead *head = row;
    const char *const texts[] = {head->walk, head->participant, head->group, head->span};
    csv_line_text(cell, texts[which]);
}

void export_head_number(GString *cell, const void *row, int which)
{
    const LfMeasureHead *head = row;
    const LfKnownTime *time = &head->time;
    const double values[] = {
        [HEAD_SPAN_NUMBER] = head->span_number,
        [HEAD_FROM] = (double)head->from_us * 1e-6,
        [HEAD_TO] = (double)head->to_us * 1e-6,
        [HEAD_SPAN_S] = time->span_s,
        [HEAD_KNOWN] = time->known_s,
        [HEAD_ON_PHOTO] = time->on_photo_s,
        [HEAD_BLOCKED] = time->blocked_s,
        [HEAD_UNKNOWN] = time->unknown_s,
        [HEAD_DOUBTFUL] = time->doubtful_s,
        [HEAD_AWAY] = time->away_s,
        [HEAD_LOST] = time->lost_s,
        [HEAD_UNCAST] = time->uncast_s,
    };
    bool there = which == HEAD_SPAN_NUMBER || head->span_number > 0;
    csv_line_fixed(cell, there ? values[which] : (double)NAN, which == HEAD_SPAN_NUMBER ? 0 : 6);
}

static void export_level(GString *cell, int level)
{
    g_autofree char *name = lf_area_level_name(level);
    csv_line_text(cell, name);
}

/* --- fixations ----------------------------------------------------------------------------------
 */

typedef struct {
    LfMeasureHead head; /* walk, participant and group alone */
    int time_decimals;
    const LfFixation *fixation;
    const LfArea *area; /* the smallest that holds it; NULL: none */
} ExportFixation;

enum { FIXATION_FROM, FIXATION_TO, FIXATION_DURATION, FIXATION_X, FIXATION_Y, FIXATION_RADIUS };
enum { FIXATION_PHOTO, FIXATION_AREA, FIXATION_AREA_GROUP, FIXATION_STATE };

static void export_fixation_number(GString *cell, const void *data, int which)
{
    const ExportFixation *row = data;
    const LfFixation *fixation = row->fixation;
    if (which == FIXATION_FROM || which == FIXATION_TO)
        csv_line_seconds(cell, which == FIXATION_FROM ? fixation->from_us : fixation->to_us,
                         row->time_decimals);
    else if (which == FIXATION_DURATION)
        csv_line_seconds(cell, fixation->to_us - fixation->from_us, row->time_decimals);
    else
        csv_line_fixed(cell,
                       which == FIXATION_X   ? fixation->x_px
                       : which == FIXATION_Y ? fixation->y_px
                                             : fixation->radius_px,
                       EXPORT_PX_DECIMALS);
}

static void export_fixation_text(GString *cell, const void *data, int which)
{
    const ExportFixation *row = data;
    const char *const texts[] = {
        [FIXATION_PHOTO] = row->fixation->photo,
        [FIXATION_AREA] = row->area ? row->area->name : NULL,
        [FIXATION_AREA_GROUP] = row->area ? row->area->group_path : NULL,
        [FIXATION_STATE] = lf_state_name(row->fixation->state),
    };
    csv_line_text(cell, texts[which]);
}

static void export_fixation_samples(GString *cell, const void *data, G_GNUC_UNUSED int which)
{
    csv_line_fixed(cell, (double)((const ExportFixation *)data)->fixation->samples, 0);
}

static const ExportColumn *export_fixation_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        {"walk", "", "name of the walk", export_head_text, HEAD_WALK},
        {"participant", "", "who walked, as told when the walk was added", export_head_text,
         HEAD_PARTICIPANT},
        {"group", "", "group of participants, as told when the walk was added", export_head_text,
         HEAD_GROUP},
        {"from_s", "s", "start, from the start of the walk's video", export_fixation_number,
         FIXATION_FROM},
        {"to_s", "s", "end", export_fixation_number, FIXATION_TO},
        {"duration_s", "s", "to_s - from_s", export_fixation_number, FIXATION_DURATION},
        {"photo", "", "name of the photo it lies on; blank where it is on none",
         export_fixation_text, FIXATION_PHOTO},
        {"x_px", "px", "mean of its samples on the photo, to the right", export_fixation_number,
         FIXATION_X},
        {"y_px", "px", "mean of its samples on the photo, downwards", export_fixation_number,
         FIXATION_Y},
        {"radius_px", "px", "one standard error of that mean", export_fixation_number,
         FIXATION_RADIUS},
        {"state", "", "state of most of its samples: away, blocked, doubtful, sure or placed",
         export_fixation_text, FIXATION_STATE},
        {"samples", "count", "gaze samples in it", export_fixation_samples, 0},
        {"area", "", "the smallest area it lies on by its own position; blank where there is none",
         export_fixation_text, FIXATION_AREA},
        {"area_group", "", "the group of that area, outermost name first", export_fixation_text,
         FIXATION_AREA_GROUP},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

typedef struct {
    ExportOut *out;
    const GPtrArray *walks, *areas;
    const double *surface_px2; /* of areas */
} ExportFixations;

static const LfArea *export_fixation_area(const ExportFixations *export, const LfFixation *fixation)
{
    const LfArea *found = NULL;
    double least = HUGE_VAL;
    for (guint i = 0; fixation->photo && i < export->areas->len; i++) {
        const LfArea *area = export->areas->pdata[i];
        if (export->surface_px2[i] <= least && strcmp(area->photo, fixation->photo) == 0 &&
            lf_area_contains(area, (LfPoint){fixation->x_px, fixation->y_px})) {
            found = area;
            least = export->surface_px2[i];
        }
    }
    return found;
}

static bool export_fixation_walk(const LfStudyFixations *walk, void *data, GError **error)
{
    const ExportFixations *export = data;
    ExportFixation row = {.head.walk = walk->walk, .time_decimals = walk->time_decimals};
    for (guint i = 0; i < export->walks->len; i++) {
        const LfStudyWalk *info = export->walks->pdata[i];
        if (strcmp(info->name, walk->walk) == 0) {
            row.head.participant = info->participant;
            row.head.group = info->group;
        }
    }
    for (gsize i = 0; i < walk->n; i++) {
        row.fixation = &walk->fixations[i];
        row.area = export_fixation_area(export, row.fixation);
        if (!export_out_row(export->out, &row, error))
            return false;
    }
    return true;
}

static bool export_fixations_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                 GPtrArray *undone, GError **error)
{
    g_autoptr(GPtrArray) walks = lf_study_walks(study, options->walks, error);
    g_autoptr(GPtrArray) areas = walks ? lf_study_areas(study, NULL, error) : NULL;
    if (!areas)
        return false;
    g_autofree double *surface_px2 = g_new(double, MAX(areas->len, 1));
    for (guint i = 0; i < areas->len; i++)
        surface_px2[i] = lf_area_surface_px2(areas->pdata[i]);
    ExportFixations export = {out, walks, areas, surface_px2};
    return lf_study_fixations(study, options->walks, export_fixation_walk, &export, undone, error);
}

static const char export_look_undone[] =
    "not wholly cast, or changed since \"lookfall fixate\", so that rows are blank or missing";

const ExportKind export_fixations = {"fixations", "a fixation", export_fixation_columns,
                                     export_fixations_run, export_look_undone};

/* --- visits -------------------------------------------------------------------------------------
 */

enum { VISIT_NUMBER, VISIT_FIXATIONS, VISIT_CERTAIN, VISIT_FROM, VISIT_TO, VISIT_S, VISIT_GLANCE };
enum { TARGET_PHOTO, TARGET_NAME, TARGET_LEVEL };

static void export_visit_number(GString *cell, const void *data, int which)
{
    const LfVisitRow *row = data;
    const double values[] = {
        [VISIT_NUMBER] = row->number,
        [VISIT_FIXATIONS] = (double)row->fixations,
        [VISIT_CERTAIN] = row->certain,
        [VISIT_FROM] = (double)row->visit_from_us * 1e-6,
        [VISIT_TO] = (double)row->visit_to_us * 1e-6,
        [VISIT_S] = (double)(row->visit_to_us - row->visit_from_us) * 1e-6,
        [VISIT_GLANCE] = row->glance_s,
    };
    csv_line_fixed(cell, values[which], which <= VISIT_CERTAIN ? 0 : 6);
}

static void export_visit_target(GString *cell, const void *data, int which)
{
    const LfVisitRow *row = data;
    if (which == TARGET_LEVEL)
        export_level(cell, row->level);
    else
        csv_line_text(cell, which == TARGET_PHOTO ? row->photo : row->target);
}

static const ExportColumn *export_visit_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        EXPORT_HEAD_COLUMNS,
        {"photo", "", "name of the photo", export_visit_target, TARGET_PHOTO},
        {"level", "", "area, group 1 (outermost), group 2, ..., or photo", export_visit_target,
         TARGET_LEVEL},
        {"area", "", "name of the area, path of the group, or name of the photo",
         export_visit_target, TARGET_NAME},
        {"visit", "count", "number of the visit to it in the span, from 1", export_visit_number,
         VISIT_NUMBER},
        {"from_s", "s", "start of its first fixation, from the start of the walk",
         export_visit_number, VISIT_FROM},
        {"to_s", "s", "end of its last fixation", export_visit_number, VISIT_TO},
        {"visit_s", "s", "to_s - from_s", export_visit_number, VISIT_S},
        {"glance_s", "s", "visit_s with the move of the eye towards the target before it",
         export_visit_number, VISIT_GLANCE},
        {"fixations", "count", "number of fixations in it", export_visit_number, VISIT_FIXATIONS},
        {"certain", "0 or 1",
         "1 where all its fixations lie on the target wherever their uncertainty may put them",
         export_visit_number, VISIT_CERTAIN},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

/* The level asked for, or all. */
static bool export_wants(const ExportOptions *options, int level)
{
    return options->level == EXPORT_ALL_LEVELS || options->level == level;
}

typedef struct {
    const ExportOptions *options;
    ExportOut *out;
} ExportLook;

static bool export_visit_row(const LfVisitRow *row, void *data, GError **error)
{
    const ExportLook *export = data;
    return !export_wants(export->options, row->level) || export_out_row(export->out, row, error);
}

static bool export_visits_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                              GPtrArray *undone, GError **error)
{
    ExportLook export = {options, out};
    return lf_study_visits(study, &options->measure, export_visit_row, &export, undone, error);
}

const ExportKind export_visits = {"visits", "a visit to an area, a group or a photo",
                                  export_visit_columns, export_visits_run, export_look_undone};

/* --- measures -----------------------------------------------------------------------------------
 */

enum { MEASURED_VALUE, MEASURED_LOW, MEASURED_HIGH, MEASURED_ENDS };

/* Numbers of things and places in an order are written without decimals. */
static bool export_measure_is_whole(LfMeasure measure)
{
    const char *unit = lf_measure_info(measure)->unit;
    return strcmp(unit, "count") == 0 || strcmp(unit, "rank") == 0 || strcmp(unit, "0 or 1") == 0;
}

static void export_measure_value(GString *cell, const void *data, int which)
{
    const LfMeasureRow *row = data;
    LfMeasure measure = (LfMeasure)(which / MEASURED_ENDS);
    const LfMeasured *measured = &row->values[measure];
    const double values[] = {measured->value, measured->low, measured->high};
    csv_line_fixed(cell, values[which % MEASURED_ENDS], export_measure_is_whole(measure) ? 0 : 6);
}

static void export_measure_target(GString *cell, const void *data, int which)
{
    const LfMeasureRow *row = data;
    if (which == TARGET_LEVEL)
        export_level(cell, row->level);
    else
        csv_line_text(cell, which == TARGET_PHOTO ? row->photo : row->target);
}

static void export_measure_before(GString *cell, const void *data, G_GNUC_UNUSED int which)
{
    csv_line_fixed(cell, ((const LfMeasureRow *)data)->unknown_before_s, 6);
}

static void export_measure_blank(GString *cell, const void *data, G_GNUC_UNUSED int which)
{
    csv_line_text(cell, lf_blank_name(((const LfMeasureRow *)data)->blank));
}

static void export_measure_add(GArray *columns, LfMeasure measure)
{
    const LfMeasureInfo *info = lf_measure_info(measure);
    ExportColumn column = {info->name, info->unit, info->definition, export_measure_value,
                           (int)measure * MEASURED_ENDS};
    g_array_append_val(columns, column);
    column.name = g_strconcat(info->name, "_low", NULL); /* kept as long as the program runs */
    column.definition = "the least the uncertainty of positions allows";
    column.which++;
    g_array_append_val(columns, column);
    column.name = g_strconcat(info->name, "_high", NULL);
    column.definition = "the most the uncertainty of positions allows; blank where it may never "
                        "have been looked at";
    column.which++;
    g_array_append_val(columns, column);
}

static const ExportColumn *export_measure_columns(gsize *n)
{
    static const ExportColumn before[] = {
        EXPORT_HEAD_COLUMNS,
        {"photo", "", "name of the photo", export_measure_target, TARGET_PHOTO},
        {"level", "", "area, group 1 (outermost), group 2, ..., or photo", export_measure_target,
         TARGET_LEVEL},
        {"area", "", "name of the area, path of the group, or name of the photo",
         export_measure_target, TARGET_NAME},
    };
    static const ExportColumn after[] = {
        {"unknown_before_s", "s",
         "unknown time before the first fixation on it; of the whole span where there is none",
         export_measure_before, 0},
        {"blank", "", "why values are blank", export_measure_blank, 0},
        EXPORT_TIME_COLUMNS,
    };
    static GArray *columns;
    if (!columns) {
        columns = g_array_new(FALSE, FALSE, sizeof(ExportColumn));
        g_array_append_vals(columns, before, G_N_ELEMENTS(before));
        for (int m = 0; m < LF_MEASURES; m++)
            export_measure_add(columns, (LfMeasure)m);
        g_array_append_vals(columns, after, G_N_ELEMENTS(after));
    }
    *n = columns->len;
    return (const ExportColumn *)(gpointer)columns->data;
}

static bool export_measure_row(const LfMeasureRow *row, void *data, GError **error)
{
    const ExportLook *export = data;
    return !export_wants(export->options, row->level) || export_out_row(export->out, row, error);
}

static bool export_measures_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                GPtrArray *undone, GError **error)
{
    ExportLook export = {options, out};
    return lf_study_measures(study, &options->measure, export_measure_row, &export, undone, error);
}

const ExportKind export_measures = {
    "measures", "a walk, a span of it, and an area, a group or a photo", export_measure_columns,
    export_measures_run, export_look_undone};
