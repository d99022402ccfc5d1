/* What lies over the scene and over the photos.
 *
 * Fixations and the gaze's trail are kept by their place on the photo and mapped into each frame by
 * its pose, so that they stay on what was looked at while the head turns. */
#include "film/film_scene.h"

#include <math.h>

#include "film/film_look.h"

/* How far back the trails reach. */
enum { FILM_TRAIL_US = 500000, FILM_FIXATIONS_US = 6000000, FILM_FIXATIONS_MOST = 7 };
/* How long a mark of a moment is shown. */
enum { FILM_MARK_US = 1500000 };
/* Points along each edge of an outline: a lens bends it. */
enum { FILM_EDGE = 12 };

/* A place on a photo, in px of the film, and whether there is one. */
typedef bool (*FilmPlace)(const FilmMoment *m, int photo, LfPoint at, LfPoint *in_film);

static bool film_scene_in_frame(const FilmMoment *m, int photo, LfPoint at, LfPoint *in_film)
{
    const LfMat3 *pose = film_data_pose(m->data, m->t_us, photo);
    LfPoint straight;

    if (pose == NULL || !lf_mat3_apply(pose, at, &straight))
        return false;
    *in_film = lf_lens_distort(&m->data->walk->lens, straight);
    return isfinite(in_film->x) && isfinite(in_film->y);
}

static bool film_scene_on_photo(const FilmMoment *m, int photo, LfPoint at, LfPoint *in_film)
{
    *in_film = film_layout_from_photo(m->layout, m->data, photo, at);
    return true;
}

static bool film_scene_photo_frame(const FilmMoment *m, int photo, LfPoint frame, LfPoint *in_film)
{
    const LfMat3 *pose = film_data_pose(m->data, m->t_us, photo);
    LfMat3 photo_from_frame;
    LfPoint straight, at;

    if (pose == NULL || !lf_mat3_invert(pose, &photo_from_frame) ||
        !lf_lens_undistort(&m->data->walk->lens, frame, &straight) ||
        !lf_mat3_apply(&photo_from_frame, straight, &at))
        return false;
    *in_film = film_layout_from_photo(m->layout, m->data, photo, at);
    return true;
}

/* The edge of a w x h px picture, as far as it can be placed. */
static void film_scene_outline(LfOverlay *o, const FilmMoment *m, int photo, FilmPlace place, int w,
                               int h, double width)
{
    const LfPoint corners[5] = {
        {-0.5, -0.5}, {w - 0.5, -0.5}, {w - 0.5, h - 0.5}, {-0.5, h - 0.5}, {-0.5, -0.5}};
    LfPoint line[4 * FILM_EDGE + 1];
    gsize n = 0;

    for (int i = 0; i <= 4 * FILM_EDGE; i++) {
        const int side = MIN(i / FILM_EDGE, 3);
        const double s = (double)(i - side * FILM_EDGE) / FILM_EDGE;
        const LfPoint a = corners[side], b = corners[side + 1];
        const LfPoint at = {a.x + s * (b.x - a.x), a.y + s * (b.y - a.y)};
        if (place(m, photo, at, &line[n]))
            n++;
        if ((n > 0 && i == 4 * FILM_EDGE) || !place(m, photo, at, &line[n])) {
            if (n > 1) {
                lf_overlay_line(o, line, n, 2.5 * width, film_look_fade(film_look_shade, 0.6));
                lf_overlay_line(o, line, n, width, film_look_fade(film_look_ink, 0.75));
            }
            n = 0;
        }
    }
}

/* --- fixations --- */

static double film_scene_radius(const FilmFixation *f, int64_t t_us, double u)
{
    const double s = (double)(MIN(f->to_us, t_us) - f->from_us) / 1e6;
    /* The surface is as the duration. */
    return u * CLAMP(44 * sqrt(fmax(s, 0)), 12, 70);
}

/* The last few fixations on a photo, the older the paler, joined in their order. */
static void film_scene_fixations(LfOverlay *o, const FilmMoment *m, int photo, FilmPlace place,
                                 double scale)
{
    const FilmData *d = m->data;
    const double u = m->layout->unit * scale;
    const FilmFixation *shown[FILM_FIXATIONS_MOST];
    LfPoint at[FILM_FIXATIONS_MOST];
    int n = 0;

    for (gsize i = film_data_fixations_until(d, m->t_us); i > 0 && n < FILM_FIXATIONS_MOST; i--) {
        const FilmFixation *f = &d->fixations[i - 1];
        if (m->t_us - f->to_us > FILM_FIXATIONS_US)
            break;
        if (f->photo == photo && place(m, photo, f->at_px, &at[n]))
            shown[n++] = f;
    }
    for (int i = n - 1; i > 0; i--) {
        const double young = 1 - (double)i / FILM_FIXATIONS_MOST;
        lf_overlay_line(o, &at[i - 1], 2, 5 * u, film_look_fade(film_look_shade, 0.9 * young));
        lf_overlay_line(o, &at[i - 1], 2, 2.5 * u, film_look_fade(film_look_ink, young));
    }
    for (int i = n - 1; i >= 0; i--) {
        const double young = 1 - (double)i / FILM_FIXATIONS_MOST;
        const double r = film_scene_radius(shown[i], m->t_us, u);
        const LfInk fill = {0.267, 0.005, 0.329, 0.55}; /* viridis at 0 */
        g_autofree char *number = g_strdup_printf("%d", shown[i]->number);
        lf_overlay_disc(o, at[i], r, film_look_fade(fill, young));
        lf_overlay_ring(o, at[i], r, 2 * u, 0, film_look_fade(film_look_ink, 0.9 * young));
        /* The fixation that lasts has the gaze's sign in its middle. */
        if (shown[i]->to_us < m->t_us)
            lf_overlay_text(o, at[i].x + 0.5, at[i].y + 0.5,
                            fmax(13 * m->layout->unit, fmin(0.9 * r, 24 * u)), true,
                            LF_OVERLAY_MIDDLE, 0, film_look_fade(film_look_ink, 0.4 + 0.6 * young),
                            number);
    }
}

/* --- gaze --- */

static void film_scene_trail(LfOverlay *o, const FilmMoment *m, int photo, FilmPlace place,
                             double width)
{
    const FilmData *d = m->data;
    LfPoint last;
    bool joined = false;

    for (gsize i = film_data_first_sample(d, m->t_us - FILM_TRAIL_US);
         i < d->n_samples && d->samples[i].t_us <= m->t_us; i++) {
        const FilmSample *s = &d->samples[i];
        LfPoint at;
        if (s->photo != photo || !place(m, photo, s->at_px, &at)) {
            joined = false;
            continue;
        }
        const double young = 1 - (double)(m->t_us - s->t_us) / FILM_TRAIL_US;
        const LfPoint line[2] = {last, at};
        if (joined)
            lf_overlay_line(o, line, 2, width, film_look_fade(film_look_state(s), 0.8 * young));
        last = at;
        joined = true;
    }
}

void film_scene_draw(LfOverlay *o, const FilmMoment *m)
{
    const FilmData *d = m->data;
    const double u = m->layout->unit;
    /* One degree in the middle of the frame, or what can be seen. */
    const LfLens *lens = &d->walk->lens;
    const LfPoint centre = {lens->cx, lens->cy}, aside = {lens->cx + 10, lens->cy};
    const double degree_px = 10 / lf_lens_angle_deg(lens, centre, aside);
    const double radius = fmax(d->settings.tolerance_deg * degree_px, 12 * u);

    lf_overlay_clip(o, &m->layout->scene);
    for (int i = 0; i < d->n_photos; i++) {
        if (film_data_pose(d, m->t_us, i) == NULL)
            continue;
        film_scene_outline(o, m, i, film_scene_in_frame, d->photos[i].width, d->photos[i].height,
                           1.5 * u);
        film_scene_fixations(o, m, i, film_scene_in_frame, 1);
        film_scene_trail(o, m, i, film_scene_in_frame, 4 * u);
    }
    if (m->sample != NULL)
        film_look_gaze(o, m->sample->gaze_px, radius, u, m->sample);
}

void film_scene_draw_photo(LfOverlay *o, const FilmMoment *m, int photo)
{
    const FilmData *d = m->data;
    const LfBox *box = &m->layout->photos[photo];
    const double u = m->layout->unit;
    const bool large = box->w > 0.5 * m->layout->scene.w || box->h > 0.9 * m->layout->scene.h;
    const double scale = large ? 1 : 0.62;

    lf_overlay_clip(o, box);
    if (!large)
        film_scene_outline(o, m, photo, film_scene_photo_frame, d->walk->width_px,
                           d->walk->height_px, 1.5 * u);
    film_scene_fixations(o, m, photo, film_scene_on_photo, scale);
    film_scene_trail(o, m, photo, film_scene_on_photo, 4 * u * scale);
    if (m->sample != NULL && m->sample->photo == photo) {
        const double radius = m->sample->radius_px * box->w / d->photos[photo].width;
        const LfPoint at = film_layout_from_photo(m->layout, d, photo, m->sample->at_px);
        film_look_gaze(o, at, fmax(radius, 15 * u * scale), u * (large ? 1 : 0.8), m->sample);
    }
}

/* --- marks --- */

static bool film_scene_mark_holds(const LfMark *mark, int64_t t_us)
{
    return mark->from_us <= t_us &&
           t_us < (mark->span ? mark->to_us : mark->from_us + FILM_MARK_US);
}

void film_scene_draw_marks(LfOverlay *o, const FilmMoment *m)
{
    const double u = m->layout->unit, x = 20 * u, high = 42 * u;
    double y = 20 * u;

    lf_overlay_clip(o, &m->layout->scene);
    for (guint i = 0; i < m->data->marks->len; i++) {
        const LfMark *mark = m->data->marks->pdata[i];
        if (!film_scene_mark_holds(mark, m->t_us) || y + high > m->layout->scene.h)
            continue;
        const double most = 0.4 * m->layout->scene.w;
        const double w = fmin(lf_overlay_text_width(o, 24 * u, false, mark->name), most);
        const LfPoint flag[] = {
            {x + 14 * u, y + 11 * u}, {x + 34 * u, y + 21 * u}, {x + 14 * u, y + 31 * u}};
        lf_overlay_box(o, (LfBox){x, y, w + 62 * u, high}, 6 * u,
                       film_look_fade(film_look_ground, 0.82));
        lf_overlay_shape(o, flag, G_N_ELEMENTS(flag), film_look_ink);
        lf_overlay_text(o, x + 46 * u, y + high / 2, 24 * u, false, LF_OVERLAY_LEFT, w + 2,
                        film_look_ink, mark->name);
        y += high + 8 * u;
    }
}
