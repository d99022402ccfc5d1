/* Areas of interest on photos: shapes in photo px, named, grouped into levels.
 *
 * An area's group_path names the groups it belongs to, outermost first, parted by '/': the pack
 * "crispbread 200 g" may lie in "upper shelf/Morrow". Every beginning of a path ("upper shelf",
 * "upper shelf/Morrow") is itself an area of a higher level: the union of its members. Areas may
 * overlap and lie inside one another.
 *
 * Shapes. rect: 4 corners, in order around it; polygon: 3 corners or more; ellipse: 3 points, the
 * centre and the ends of two conjugate semi-axes (of any two at right angles, for one that is not
 * skewed); path: rings of 3 corners or more, filled even-odd, so that a ring inside another one is
 * a hole. As text: "x,y x,y ...", rings parted by ';'.
 *
 * Functions on areas are pure and may be called from any thread. Lists are GPtrArray that free what
 * they hold (g_ptr_array_unref). */
#ifndef LOOKFALL_AREA_H
#define LOOKFALL_AREA_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/edit.h>
#include <lookfall/geometry.h>
#include <lookfall/study.h>

G_BEGIN_DECLS

typedef enum { LF_AREA_RECT, LF_AREA_ELLIPSE, LF_AREA_POLYGON, LF_AREA_PATH } LfAreaShape;

/* "rect", "ellipse", "polygon", "path"; static. */
LF_API const char *lf_area_shape_name(LfAreaShape shape);
/* LF_ERROR_INPUT for any other word. */
LF_API bool lf_area_shape_parse(const char *name, LfAreaShape *shape, GError **error);

typedef struct {
    int64_t id;       /* in the study; 0: not in one yet */
    char *photo;      /* name of the photo */
    char *name;       /* unique on its photo */
    char *group_path; /* "" for none */
    LfAreaShape shape;
    LfPoint *points; /* of all rings, one after the other */
    gsize n_points;
    gsize *ring_ends; /* index after the last point of each ring */
    gsize n_rings;    /* 1 but for a path */
} LfArea;

/* Strings are copied; group_path may be NULL. LF_ERROR_INPUT where the text of the points is not as
 * described above, has the wrong number of points for the shape or more than 10,000. Not checked
 * any further: see lf_area_check. */
LF_API LfArea *lf_area_new(const char *photo, const char *name, const char *group_path,
                           LfAreaShape shape, const char *points, GError **error);
LF_API LfArea *lf_area_copy(const LfArea *area);
LF_API void lf_area_free(LfArea *area);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfArea, lf_area_free)

/* An empty list that frees its areas. */
LF_API GPtrArray *lf_area_list_new(void);

/* Takes another form, with the points of the text; LF_ERROR_INPUT as lf_area_new, and the area is
 * then as it was. */
LF_API bool lf_area_set_points(LfArea *area, LfAreaShape shape, const char *points, GError **error);
/* The text of the points, up to 4 decimals; owned by the caller (g_free). */
LF_API char *lf_area_points(const LfArea *area);

/* Whether the area can be used on a photo of this size: LF_ERROR_INPUT where its name or a group's
 * is not fit, it has no surface, its outline crosses itself, or no part of it is on the photo. */
LF_API bool lf_area_check(const LfArea *area, int width_px, int height_px, GError **error);

/* Edges count as inside on the left and top, as outside on the right and bottom, so that of two
 * areas side by side exactly one holds a point on their common edge; an ellipse holds its edge. */
LF_API bool lf_area_contains(const LfArea *area, LfPoint point);
/* Distance to the nearest edge, photo px: negative inside, positive outside. */
LF_API double lf_area_distance_px(const LfArea *area, LfPoint point);
/* px^2, as filled. */
LF_API double lf_area_surface_px2(const LfArea *area);
/* The smallest upright rectangle around it. */
LF_API void lf_area_bounds(const LfArea *area, LfPoint *low, LfPoint *high);
/* The same area made of straight edges, none further than tolerance_px from its own: a polygon or
 * path. Owned by the caller. */
LF_API LfArea *lf_area_flatten(const LfArea *area, double tolerance_px);

/* --- levels --------------------------------------------------------------------------------- */

/* Something measures are computed for: a whole photo, a group, or an area itself. */
typedef struct {
    char *photo;
    char *name;    /* of the area, the group's path, or the photo's name */
    int level;     /* 0: the area itself; 1, 2, ...: a group of so many names; -1: the photo */
    gsize *areas;  /* indices into the list it was made from; none for a photo */
    gsize n_areas; /* 1 for an area itself */
} LfAreaTarget;

/* LfAreaTarget of every area, then of every group, then of every photo in the list, in the order in
 * which they first appear. */
LF_API GPtrArray *lf_area_targets(const GPtrArray *areas);
/* "area", "group 1", "group 2", ..., "photo"; owned by the caller. */
LF_API char *lf_area_level_name(int level);

/* --- in a study ----------------------------------------------------------------------------- */

/* LfArea of a photo (NULL: of all), in the order of photos and of drawing: later ones lie on top.
 */
LF_API GPtrArray *lf_study_areas(LfStudy *study, const char *photo, GError **error);
/* Writes areas in one transaction: id 0 adds one on top, and area->id takes its number; an id that
 * is there replaces photo, name, group, shape and points; one that is not there any more puts the
 * area back under its number. LF_ERROR_INPUT, and nothing written, where lf_area_check refuses one,
 * its photo does not exist, or its name is taken. edit (may be NULL, as below): it can be undone
 * (edit.h); all areas then are of one photo. */
LF_API bool lf_study_area_put(LfStudy *study, GPtrArray *areas, const LfEdit *edit, GError **error);
/* Puts the areas of a photo in this order, lowest first. LF_ERROR_INPUT where ids are not those of
 * all its areas. */
LF_API bool lf_study_area_order(LfStudy *study, const char *photo, const int64_t *ids, gsize n,
                                const LfEdit *edit, GError **error);
/* Removes areas in one transaction; LF_ERROR_INPUT where one does not exist. */
LF_API bool lf_study_area_remove(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                                 GError **error);
/* Adds areas that were read from a file, all or none, as lf_study_area_put; replace: instead of
 * those the photo has. note (may be NULL) tells of areas that reach beyond the photo. */
LF_API bool lf_study_area_import(LfStudy *study, const char *photo, GPtrArray *areas, bool replace,
                                 LfStudyNote note, void *data, GError **error);

/* --- files ---------------------------------------------------------------------------------- */

/* What areas are read onto. */
typedef struct {
    const char *name; /* of the photo */
    int width_px, height_px;
    double width_mm; /* NaN where not known; needed for lengths in mm only */
} LfAreaPhoto;

/* LfArea of a text. file: what to call it in messages. note may be NULL; it tells what was passed
 * over. LF_ERROR_INPUT with file, line or row, and what is wrong. docs/areas.md describes the
 * formats. */
LF_API GPtrArray *lf_area_read_svg(const char *text, gsize length, const char *file,
                                   const LfAreaPhoto *photo, LfStudyNote note, void *data,
                                   GError **error);
/* Columns name, group, shape, points. */
LF_API GPtrArray *lf_area_read_csv(const char *text, gsize length, const char *file,
                                   const LfAreaPhoto *photo, GError **error);
/* Columns shelf, position, facings, item, x, y, width, height. mm: lengths are in millimetres from
 * the photo's top left corner, LF_ERROR_INPUT where its width is not known. */
LF_API GPtrArray *lf_area_read_planogram(const char *text, gsize length, const char *file,
                                         const LfAreaPhoto *photo, bool mm, GError **error);
/* The areas as a file of these kinds, which reads back as the same areas; owned by the caller.
 * picture: path or URL of the photo's picture to be shown beneath, or NULL. */
LF_API char *lf_area_write_svg(const GPtrArray *areas, const LfAreaPhoto *photo,
                               const char *picture);
LF_API char *lf_area_write_csv(const GPtrArray *areas);

G_END_DECLS

#endif
