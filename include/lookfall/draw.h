/* Pictures of what people looked at: PNG, SVG or PDF, as bytes in memory.
 *
 * A picture is made from a study, a choice of looks in it, and settings. It shows its legend, with
 * units, how many people and seconds stand behind it, and how much time is not settled.
 * docs/pictures.md defines every kind. Nothing of the drawing library shows here: who wants a file
 * writes the bytes, who wants a page embeds them. A study belongs to one thread at a time; so does
 * a picture being made from it.
 *
 * Positions and radii are photo px unless a unit is given beside them. */
#ifndef LOOKFALL_DRAW_H
#define LOOKFALL_DRAW_H

#include <lookfall/study.h>

G_BEGIN_DECLS

typedef enum {
    LF_DRAW_HEAT = 0,        /* density of looks over the photo */
    LF_DRAW_FOCUS = 1,       /* the photo, shown only where it was looked at */
    LF_DRAW_SCANPATH = 2,    /* fixations in their order; one panel a person, or a flow for many */
    LF_DRAW_AREAS = 3,       /* areas of interest with their measures */
    LF_DRAW_TIMELINE = 4,    /* who looked at which area when */
    LF_DRAW_TRANSITIONS = 5, /* from which area to which */
    LF_DRAW_DIFFERENCE = 6,  /* where two groups differ, as far as it holds */
} LfDrawKind;

/* "heat", "focus", ... static. */
LF_API const char *lf_draw_kind_name(LfDrawKind kind);
LF_API bool lf_draw_kind_from_name(const char *name, LfDrawKind *kind);

typedef enum {
    LF_DRAW_PNG = 0,
    LF_DRAW_SVG = 1,
    LF_DRAW_PDF = 2,
} LfDrawFormat;

/* By the ending of a file's name; LF_ERROR_USAGE where it is none of the three. */
LF_API bool lf_draw_format_from_path(const char *path, LfDrawFormat *format, GError **error);
LF_API const char *lf_draw_format_mime(LfDrawFormat format); /* "image/png"; static */

/* A length on the photo. Degrees are of visual angle at the distance from which people looked (the
 * median over the fixations chosen); millimetres need the photo's real width. */
typedef enum {
    LF_DRAW_DEG = 0,
    LF_DRAW_MM = 1,
    LF_DRAW_PX = 2,
} LfDrawUnit;

typedef struct {
    double value;
    LfDrawUnit unit;
} LfDrawLength;

/* "1.5deg", "40mm", "60px"; LF_ERROR_USAGE otherwise. */
LF_API bool lf_draw_length_parse(const char *text, LfDrawLength *length, GError **error);

typedef enum {
    LF_DRAW_VIRIDIS = 0,
    LF_DRAW_MAGMA = 1,
    LF_DRAW_INFERNO = 2,
    LF_DRAW_PLASMA = 3,
    LF_DRAW_CIVIDIS = 4,
} LfDrawColours;

LF_API bool lf_draw_colours_from_name(const char *name, LfDrawColours *colours);

/* Which looks. All strings are borrowed. */
typedef struct {
    const char *photo;         /* NULL: the only one of the study */
    const char *const *walks;  /* names, NULL-terminated; NULL for all */
    const char *const *groups; /* the same of groups */
    const char *span;    /* as lf_span_rule_parse has it, "mark:NAME", ...; NULL: the whole walk */
    double from_s, to_s; /* of each walk's own clock; NaN for its start or end */
    bool doubtful;       /* doubtful looks too, not only those that are settled */
} LfDrawChoice;

/* The walks of a choice (LfStudyWalk), by name. LF_ERROR_INPUT where a walk, group, mark or photo
 * does not exist. */
LF_API GPtrArray *lf_draw_choice_walks(LfStudy *study, const LfDrawChoice *choice, GError **error);

typedef struct {
    int64_t from_us, to_us;
} LfDrawSpan;

/* The parts of a walk that are in a choice: LfDrawSpan, ascending, none over another; may be empty.
 */
LF_API GArray *lf_draw_choice_spans(LfStudy *study, const LfStudyWalk *walk,
                                    const LfDrawChoice *choice, GError **error);

typedef struct {
    LfDrawKind kind;
    LfDrawChoice choice;
    const char *title; /* NULL: none */
    int width_px;      /* of the whole picture */
    /* "photo" as it is, "grey" without its colours, "pale" and lightened, "dark" and darkened, or
     * a plain "#rrggbb" */
    const char *background;
    LfDrawColours colours;
    double opacity; /* 0..1, of what lies on the photo */

    /* heat, focus, difference */
    LfDrawLength kernel; /* one standard deviation */
    bool samples;        /* from gaze samples instead of fixations */
    bool count;          /* every look counts the same, however long it is */
    bool pooled;         /* all looks together; otherwise every person has the same weight */

    /* scanpath: of a fixation of one second; areas are as durations */
    LfDrawLength radius;

    /* areas, timeline, transitions: 0 for the areas themselves, 1 for the outermost groups of their
     * group paths, 2 for the next, ... */
    int level;

    /* difference: the first group of the choice against this one */
    const char *against;
    int permutations;
    guint32 seed;
    double hold_p; /* draws clusters with a corrected p up to this */
    double cell_p; /* two-sided, of a cell that may belong to a cluster */
} LfDrawSettings;

LF_API LfDrawSettings lf_draw_settings_default(LfDrawKind kind);
/* LF_ERROR_USAGE names the setting that is out of range or does not go with the others. */
LF_API bool lf_draw_settings_check(const LfDrawSettings *settings, GError **error);

/* A place where two groups differ: a cluster of cells of the test's grid. */
typedef struct {
    bool first_more; /* the first group looked there more; otherwise the one against it */
    bool holds;      /* p is small enough: it is drawn */
    double p;        /* corrected over the whole picture */
    double mass;     /* sum of |t| over its cells */
    /* The first group's looks in it less the other's, of the mean person: a share of all of their
     * own, or with `pooled` seconds (looks with `count`). */
    double amount;
    /* photo px: the middle of its cells, and the edges of the box around them */
    double x_px, y_px, left_px, top_px, right_px, bottom_px;
    double area_px2;
} LfDrawPlace;

/* What stands behind a picture. */
typedef struct {
    int width_px, height_px; /* points in a PDF */
    gsize people, walks;     /* with at least one look in the picture */
    gsize undone;            /* walks of the choice left out for want of up to date fixations */
    gsize looks;             /* fixations, or samples */
    double look_s;           /* their time */
    double gaze_s;           /* time with gaze in the choice, on the photo or not */
    double unsettled_s;      /* doubtful and not settled by anybody, or not cast yet */
    double px_per_deg;       /* photo px; NaN where nobody asked for it or it is not known */
    double kernel_px;        /* NaN where there is none */
    gsize clusters;          /* difference: that are drawn */
    double least_p;          /* difference: of the heaviest cluster; 1 where there is none */
    LfDrawPlace *places;     /* difference: all clusters, heaviest first; owned by the report */
    gsize n_places;
} LfDrawReport;

LF_API void lf_draw_report_clear(LfDrawReport *report);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(LfDrawReport, lf_draw_report_clear)

/* The picture's bytes, or NULL: LF_ERROR_INPUT where nothing was looked at in the choice, or a
 * walk, group, mark or photo does not exist; LF_ERROR_USAGE as lf_draw_settings_check. report may
 * be NULL; on an error it holds nothing that has to be cleared.
 */
LF_API GBytes *lf_draw_picture(LfStudy *study, const LfDrawSettings *settings, LfDrawFormat format,
                               LfDrawReport *report, GError **error);

G_END_DECLS

#endif
