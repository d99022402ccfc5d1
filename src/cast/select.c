/* Selecting corners: visible, of the right scale, evenly spread, dense around the gaze. */
#include "cast/select.h"

#include <math.h>
#include <string.h>

#define SELECT_CELLS_MAX 2048
/* Patches keep this far from the rim of the frame, plane px. */
#define SELECT_BORDER 9

typedef struct {
    uint8_t count[SELECT_CELLS_MAX];
    int columns, rows;
    double cell_px;
} SelectGrid;

static void select_grid_init(SelectGrid *grid, const LfPlane *plane, double cell_px)
{
    memset(grid, 0, sizeof *grid);
    while ((plane->width / cell_px + 1) * (plane->height / cell_px + 1) > SELECT_CELLS_MAX)
        cell_px *= 1.5;
    grid->columns = (int)(plane->width / cell_px) + 1;
    grid->rows = (int)(plane->height / cell_px) + 1;
    grid->cell_px = cell_px;
}

static uint8_t *select_grid_cell(SelectGrid *grid, LfPoint at)
{
    int column = CLAMP((int)(at.x / grid->cell_px), 0, grid->columns - 1);
    int row = CLAMP((int)(at.y / grid->cell_px), 0, grid->rows - 1);
    return &grid->count[row * grid->columns + column];
}

/* det of the Jacobian of a homography at a point is det(H) / w^3 (chain rule), so that the scale
 * costs one division. */
static double select_scale_at(const LfMat3 *h, double det, double x, double y, double *w)
{
    *w = h->m[6] * x + h->m[7] * y + h->m[8];
    return *w > 1e-6 ? sqrt(fabs(det) / (*w * *w * *w)) : 0;
}

static double select_det(const LfMat3 *h)
{
    const double *m = h->m;
    return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) +
           m[2] * (m[3] * m[7] - m[4] * m[6]);
}

/* The w for which an octave's corners have the right scale: between 2^-0.75 and 2^0.75 of the
 * octave's photo px per plane px; the finest octave also serves closer views. */
typedef struct {
    double low, high;
} SelectRange;

static SelectRange select_range(double det, double plane_scale, int octave)
{
    /* photo px per plane px = sqrt(w^3 / |det|) / plane_scale, so w = (|det| (px
     * plane_scale)^2)^(1/3). */
    const double px_low = octave == 0 ? 0 : exp2(octave - 0.75), px_high = exp2(octave + 0.75);
    return (SelectRange){MAX(cbrt(fabs(det) * px_low * px_low * plane_scale * plane_scale), 1e-6),
                         cbrt(fabs(det) * px_high * px_high * plane_scale * plane_scale)};
}

double lf_select_scale(const LfMat3 *frame_from_photo, const LfLens *lens, const LfPhoto *photo)
{
    LfMat3 back;
    LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0}, p;
    if (!lf_mat3_invert(frame_from_photo, &back) || !lf_mat3_apply(&back, middle, &p))
        p = (LfPoint){photo->report.width / 2.0, photo->report.height / 2.0};
    p.x = CLAMP(p.x, 0, photo->report.width);
    p.y = CLAMP(p.y, 0, photo->report.height);
    double w;
    return select_scale_at(frame_from_photo, select_det(frame_from_photo), p.x, p.y, &w);
}

/* Local affine part photo_from_plane at a photo point: inverse of lens * homography * plane scale.
 */
static bool select_affine(const LfMat3 *map, const LfLens *lens, const LfPlane *plane,
                          LfPoint photo, LfPoint undistorted, double out[4])
{
    double h[4], d[4];
    if (!lf_mat3_jacobian(map, photo, h))
        return false;
    lf_lens_distort_jacobian(lens, undistorted, d);
    double a = (d[0] * h[0] + d[1] * h[2]) * plane->scale_x;
    double b = (d[0] * h[1] + d[1] * h[3]) * plane->scale_x;
    double c = (d[2] * h[0] + d[3] * h[2]) * plane->scale_y;
    double e = (d[2] * h[1] + d[3] * h[3]) * plane->scale_y;
    double det = a * e - b * c;
    if (!(fabs(det) > 1e-9))
        return false;
    out[0] = e / det;
    out[1] = -b / det;
    out[2] = -c / det;
    out[3] = a / det;
    /* Seen at more than about 80 degrees from the front nothing can be recognised. */
    double norm = out[0] * out[0] + out[1] * out[1] + out[2] * out[2] + out[3] * out[3];
    return norm * fabs(det) < 2 * 6;
}

static bool select_near_focus(const LfPoint *focus, int n, LfPoint at, double radius)
{
    for (int i = 0; i < n; i++)
        if (fabs(at.x - focus[i].x) < radius && fabs(at.y - focus[i].y) < radius)
            return true;
    return false;
}

/* What the frame can show, in undistorted px: a box around its border. Corners outside of it are
 * passed over before the lens is worked out for them. */
typedef struct {
    double left, top, right, bottom;
} SelectField;

static SelectField select_field(const LfLens *lens)
{
    SelectField field = {1e9, 1e9, -1e9, -1e9};
    for (int i = 0; i < 12; i++) {
        /* Four points along each side. */
        double t = (i % 4) / 3.0, x = i < 4 || i >= 8 ? t * lens->width : (i % 2) * lens->width;
        double y = i < 4 ? 0 : i >= 8 ? lens->height : (i % 4) / 3.0 * lens->height;
        LfPoint u;
        if (!lf_lens_undistort(lens, (LfPoint){x, y}, &u))
            return (SelectField){-1e9, -1e9, 1e9, 1e9}; /* no limit known */
        field.left = MIN(field.left, u.x);
        field.right = MAX(field.right, u.x);
        field.top = MIN(field.top, u.y);
        field.bottom = MAX(field.bottom, u.y);
    }
    const double margin_x = 0.05 * lens->width, margin_y = 0.05 * lens->height;
    return (SelectField){field.left - margin_x, field.top - margin_y, field.right + margin_x,
                         field.bottom + margin_y};
}

static bool select_in_field(const SelectField *field, LfPoint u)
{
    return u.x > field->left && u.y > field->top && u.x < field->right && u.y < field->bottom;
}

static bool select_inside(const LfPlane *plane, LfPoint at)
{
    return at.x > SELECT_BORDER && at.y > SELECT_BORDER && at.x < plane->width - SELECT_BORDER &&
           at.y < plane->height - SELECT_BORDER;
}

/* Where the corner at u (undistorted) of the plane is seen, by what stands there at a glance: all
 * corners in the frame are asked, few of them taken. */
static bool select_at(const LfFollowTask *task, const LfReliefView *view, const LfPlane *plane,
                      LfPoint u, LfSelected *s)
{
    LfReliefSeen seen = {.at = u};
    const double z = view ? lf_relief_glance(task->relief, s->photo) : 0;
    if (z != 0 && !lf_relief_project(lf_relief_camera(task->relief), view, s->photo,
                                     (LfReliefPlace){0, 0, z}, &seen, NULL))
        return false;
    s->at = lf_plane_from_image(plane, lf_lens_distort(task->lens, seen.at));
    return select_inside(plane, s->at);
}

/* The same exactly, with how it looks there. */
static bool select_look(const LfFollowTask *task, const LfMat3 *map, const LfReliefView *view,
                        const LfPlane *plane, LfPoint u, LfSelected *s)
{
    LfReliefShift shift = {.scale = 1};
    if (view && lf_relief_barred(task->relief, s->photo))
        return false;
    if (view && lf_relief_known(task->relief)) {
        s->spot = lf_relief_spot(task->relief, s->photo);
        shift = lf_relief_spot_shift(task->relief, view, s->photo, &s->spot);
    }
    s->shift_px = shift.px;
    s->shift_sigma_px = shift.sigma_px;
    u = (LfPoint){u.x + shift.px.x, u.y + shift.px.y};
    s->at = lf_plane_from_image(plane, lf_lens_distort(task->lens, u));
    if (!select_inside(plane, s->at) ||
        !select_affine(map, task->lens, plane, s->photo, u, s->photo_from_plane))
        return false;
    for (int i = 0; i < 4; i++)
        s->photo_from_plane[i] /= shift.scale;
    return true;
}

int lf_select_points(const LfFollowTask *task, const LfMat3 *map, const LfPlane *plane,
                     const LfSelectPlan *plan, LfSelected *out)
{
    SelectGrid grid, dense;
    LfPoint focus[LF_FOCUS_MAX];
    const double det = select_det(map);
    int n = 0, n_grid = 0, n_focus = 0;
    const SelectField field = select_field(task->lens);
    LfReliefView view;
    const bool has_view = task->relief && lf_relief_view(&view, map, task->lens);
    select_grid_init(&grid, plane, plan->cell_px);
    if (plan->focus_max > 0)
        select_grid_init(&dense, plane, plan->cell_px / 3);
    for (int i = 0; i < task->n_focus; i++)
        focus[i] = lf_plane_from_image(plane, task->focus[i]);

    for (int octave = 0; octave < LF_PHOTO_OCTAVES; octave++) {
        const LfCorner *corners = task->photo->corners[octave];
        const SelectRange range = select_range(det, plane->scale_x, octave);
        for (int i = 0; i < task->photo->n_corners[octave]; i++) {
            LfSelected *s = &out[n];
            s->photo = (LfPoint){(double)corners[i].x, (double)corners[i].y};
            const double w = map->m[6] * s->photo.x + map->m[7] * s->photo.y + map->m[8];
            if (!(w > range.low && w < range.high))
                continue;
            LfPoint u = {(map->m[0] * s->photo.x + map->m[1] * s->photo.y + map->m[2]) / w,
                         (map->m[3] * s->photo.x + map->m[4] * s->photo.y + map->m[5]) / w};
            if (!select_in_field(&field, u))
                continue;
            if (!select_at(task, has_view ? &view : NULL, plane, u, s))
                continue;
            uint8_t *cell = select_grid_cell(&grid, s->at);
            bool by_grid = *cell < plan->per_cell && n_grid < plan->max;
            uint8_t *near = NULL;
            if (!by_grid) {
                if (n_focus >= plan->focus_max ||
                    !select_near_focus(focus, task->n_focus, s->at, plan->focus_radius_px))
                    continue;
                near = select_grid_cell(&dense, s->at);
                if (*near >= 1)
                    continue;
            }
            if (!select_look(task, map, has_view ? &view : NULL, plane, u, s))
                continue;
            if (by_grid) {
                ++*cell;
                n_grid++;
            } else {
                ++*near;
                n_focus++;
            }
            n++;
            if (n_grid >= plan->max && (n_focus >= plan->focus_max || task->n_focus == 0))
                return n; /* nothing more can be taken */
        }
    }
    return n;
}
