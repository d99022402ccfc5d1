/* What a picture is made of: the looks of a choice out of a study, in plain arrays.
 *
 * Positions are px of the photo, times seconds. A look is a fixation, or a gaze sample where the
 * picture is made from samples. */
#ifndef LF_DRAW_MATERIAL_H
#define LF_DRAW_MATERIAL_H

#include <lookfall/area.h>
#include <lookfall/draw.h>
#include <lookfall/fixation.h>

typedef struct {
    double from_s, to_s; /* from the start of the walk's part that was chosen */
    LfState state;
    bool shown;       /* on the photo, and settled or asked for: it is in the picture */
    double x, y;      /* NaN where it is not on the photo */
    double radius_px; /* one standard error */
} MaterialLook;

typedef struct {
    char *name, *person; /* the participant, or the walk's own name where none is told */
    char *group;         /* NULL where not told */
    int64_t id;
    LfLens lens;
    double interval_s;
    int64_t from_us, to_us;             /* the part chosen; looks may lie in spans of it alone */
    GArray *spans;                      /* LfDrawSpan, ascending; NULL: all of the part */
    GArray *looks;                      /* MaterialLook, in time order, shown or not */
    double time_s[LF_STATE_PLACED + 1]; /* by state of the samples, in the choice */
    double uncast_s;                    /* of samples without a result */
} MaterialWalk;

typedef struct {
    int64_t photo_id;
    char *photo, *path;
    int width_px, height_px;
    double width_mm;   /* NaN where not told */
    GPtrArray *walks;  /* MaterialWalk, by person and name */
    GPtrArray *undone; /* char *: names of walks without up to date fixations */
    GPtrArray *areas;  /* LfArea of the photo; NULL where the picture needs none */
    double px_per_deg; /* median over the looks; NaN where not known */
    /* Of what is shown. */
    gsize n_people, n_walks, n_looks;
    double look_s;
} Material;

/* The choice out of the study. Scale: whether px_per_deg is needed. LF_ERROR_INPUT where a name
 * does not exist or nothing is left to show. */
Material *material_new(LfStudy *study, const LfDrawChoice *choice, bool samples, bool scale,
                       GError **error);
/* An empty one, to be filled by hand. */
Material *material_blank(const char *photo, int width_px, int height_px);
void material_free(Material *material);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Material, material_free)

MaterialWalk *material_add_walk(Material *material, const char *name, const char *person,
                                const char *group);
/* Counts what is shown; after all looks are in. */
void material_count(Material *material);

/* Sums over all walks. */
double material_gaze_s(const Material *material);      /* with gaze */
double material_unsettled_s(const Material *material); /* doubtful, and not shown */
double material_lost_s(const Material *material);

/* Index of each walk's person, counted from 0 in the order of walks; owned by the caller. */
gsize *material_people(const Material *material, gsize *n_people);
/* The shown time, or count, of one walk. */
double material_shown(const MaterialWalk *walk, bool count);

/* A length on the photo in px. LF_ERROR_INPUT where what it is told in is not known. */
bool material_length_px(const Material *material, const LfDrawLength *length, const char *what,
                        double *px, GError **error);

/* Photo px per degree where people looked; NaN where no pose tells. A piece of material_new. */
bool material_scale(LfStudy *study, Material *material, GError **error);

#endif
