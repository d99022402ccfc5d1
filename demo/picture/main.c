/* lookfall-picture: one picture of a cast study: the photo with the sure gaze points of all walks,
 * beside it one frame of a walk with its gaze point, and both looked at closely.
 *
 * All positions are pixels of photo or frame, centres at integers, until they are drawn. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include <cairo.h>

#include <lookfall/error.h>
#include <lookfall/video.h>

#include "goods.h"
#include "rows.h"

#define PAGE_W 2200
#define PAGE_H 1320
#define MARGIN 40
#define TITLE_H 90
#define CLOSE_PX 160 /* side of the close-up, frame px */

/* M. Okabe, K. Ito, "Color Universal Design" (2008): colours told apart by all eyes. */
static const LrColour picture_colours[] = {
    {0.84, 0.37, 0.00}, {0.00, 0.45, 0.70}, {0.00, 0.62, 0.45},
    {0.80, 0.47, 0.65}, {0.34, 0.71, 0.91}, {0.90, 0.62, 0.00},
};

typedef struct {
    char *photo_path, *photo, *samples_path, *video_path, *gaze_path, *walk, *out;
} PictureOptions;

typedef struct {
    double t, x, y;        /* cast: photo px */
    double gaze_x, gaze_y; /* recorded: frame px */
} PictureMoment;

typedef struct {
    const LrRows *rows;
    guint walk, t, photo, x, y, state;
} PictureSamples;

static bool picture_columns(const LrRows *rows, PictureSamples *s, GError **error)
{
    s->rows = rows;
    return lr_rows_column(rows, "walk", &s->walk, error) &&
           lr_rows_column(rows, "t_s", &s->t, error) &&
           lr_rows_column(rows, "photo", &s->photo, error) &&
           lr_rows_column(rows, "x_px", &s->x, error) &&
           lr_rows_column(rows, "y_px", &s->y, error) &&
           lr_rows_column(rows, "state", &s->state, error);
}

static bool picture_is_sure(const PictureSamples *s, guint row, const char *photo)
{
    const char *state = lr_rows_text(s->rows, row, s->state);
    return (strcmp(state, "sure") == 0 || strcmp(state, "placed") == 0) &&
           strcmp(lr_rows_text(s->rows, row, s->photo), photo) == 0;
}

/* Names of the walks in the order of the samples. */
static GPtrArray *picture_walks(const PictureSamples *s)
{
    GPtrArray *walks = g_ptr_array_new();
    for (guint i = 0; i < lr_rows_count(s->rows); i++) {
        const char *name = lr_rows_text(s->rows, i, s->walk);
        if (!g_ptr_array_find_with_equal_func(walks, name, g_str_equal, NULL))
            g_ptr_array_add(walks, (gpointer)(uintptr_t)name);
    }
    return walks;
}

/* A good moment to show: a sure sample close to where the look was six samples before. */
static bool picture_find_moment(const PictureOptions *o, const PictureSamples *s,
                                const LrRows *gaze, double frame_w, double frame_h,
                                PictureMoment *best, GError **error)
{
    guint gx, gy, row = 0;
    double best_far = INFINITY;
    if (!lr_rows_column(gaze, "x_px", &gx, error) || !lr_rows_column(gaze, "y_px", &gy, error))
        return false;
    for (guint i = 0; i < lr_rows_count(s->rows); i++) {
        if (strcmp(lr_rows_text(s->rows, i, s->walk), o->walk) != 0)
            continue;
        guint here = row++;
        PictureMoment m = {0};
        double bx, by, bgx, bgy;
        if (here >= lr_rows_count(gaze) || here < 6 || !picture_is_sure(s, i, o->photo) ||
            !picture_is_sure(s, i - 6, o->photo))
            continue;
        if (!lr_rows_number(s->rows, i, s->t, &m.t, error) ||
            !lr_rows_number(s->rows, i, s->x, &m.x, error) ||
            !lr_rows_number(s->rows, i, s->y, &m.y, error) ||
            !lr_rows_number(s->rows, i - 6, s->x, &bx, error) ||
            !lr_rows_number(s->rows, i - 6, s->y, &by, error) ||
            !lr_rows_number(gaze, here, gx, &m.gaze_x, error) ||
            !lr_rows_number(gaze, here, gy, &m.gaze_y, error) ||
            !lr_rows_number(gaze, here - 6, gx, &bgx, error) ||
            !lr_rows_number(gaze, here - 6, gy, &bgy, error))
            return false;
        /* Near the middle, and a still head, so that the frame is sharp. */
        double far = hypot(m.gaze_x - frame_w / 2, m.gaze_y - frame_h / 2) / frame_w;
        far += hypot(m.gaze_x - bgx, m.gaze_y - bgy) / 10;
        if (hypot(m.x - bx, m.y - by) < 12 && m.t > 3 && far < best_far) {
            *best = m;
            best_far = far;
        }
    }
    if (isfinite(best_far))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s: walk %s has no steady look at photo %s that is sure.", o->samples_path,
                o->walk, o->photo);
    return false;
}

/* The frame shown nearest to a time, as a surface; *t_s is its own time. */
static cairo_surface_t *picture_frame(const char *path, double *t_s, GError **error)
{
    g_autoptr(LfVideo) video = lf_video_open(path, 1, error);
    if (!video)
        return NULL;
    const LfVideoInfo *info = lf_video_info(video);
    g_autofree uint8_t *rgb = g_malloc((gsize)info->width * (gsize)info->height * 3);
    LfFrame frame;
    bool got = false, any = false;
    double time = 0;
    while (lf_video_next(video, &frame, &got, error)) {
        if (!got)
            break;
        any = true;
        time = (double)frame.t_us / 1e6;
        if (time >= *t_s - 0.5 / MAX(info->frame_rate, 1))
            break;
    }
    if (!any || !lf_video_last_rgb(video, rgb, error))
        return NULL;
    *t_s = time;
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, info->width, info->height);
    uint8_t *data = cairo_image_surface_get_data(s);
    int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < info->height; y++) {
        uint32_t *row = (uint32_t *)(void *)(data + (gsize)y * (gsize)stride);
        const uint8_t *in = rgb + (gsize)y * (gsize)info->width * 3;
        for (int x = 0; x < info->width; x++, in += 3)
            row[x] = (uint32_t)in[0] << 16 | (uint32_t)in[1] << 8 | in[2];
    }
    cairo_surface_mark_dirty(s);
    return s;
}

static void picture_ring(cairo_t *cr, double x, double y, double r)
{
    for (int pass = 0; pass < 2; pass++) {
        cairo_new_path(cr);
        cairo_arc(cr, x, y, r, 0, 2 * G_PI);
        cairo_move_to(cr, x - r * 0.35, y);
        cairo_line_to(cr, x + r * 0.35, y);
        cairo_move_to(cr, x, y - r * 0.35);
        cairo_line_to(cr, x, y + r * 0.35);
        cairo_set_source_rgb(cr, pass ? 1 : 0, pass ? 0.9 : 0, pass ? 0.1 : 0);
        cairo_set_line_width(cr, pass ? 3 : 6);
        cairo_stroke(cr);
    }
}

/* Draws the part of an image around (cx, cy), `span` px wide, into a square of the page. */
static void picture_close(cairo_t *cr, cairo_surface_t *image, double cx, double cy, double span,
                          double x, double y, double side)
{
    double scale = side / span;
    cairo_save(cr);
    cairo_rectangle(cr, x, y, side, side);
    cairo_clip(cr);
    cairo_translate(cr, x + side / 2, y + side / 2);
    cairo_scale(cr, scale, scale);
    cairo_set_source_surface(cr, image, -cx - 0.5, -cy - 0.5);
    cairo_paint(cr);
    cairo_restore(cr);
    picture_ring(cr, x + side / 2, y + side / 2, side * 0.06);
}

static void picture_text(cairo_t *cr, const char *text, double x, double y, double w, double h)
{
    /* Left-aligned: a box as wide as needed for this height. */
    cairo_text_extents_t e;
    cairo_select_font_face(cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(cr, h);
    cairo_text_extents(cr, text, &e);
    if (e.width > w)
        cairo_set_font_size(cr, h * w / e.width);
    cairo_set_source_rgb(cr, 0.12, 0.13, 0.15);
    cairo_move_to(cr, x, y);
    cairo_show_text(cr, text);
}

static bool picture_points(cairo_t *cr, const PictureOptions *o, const PictureSamples *s,
                           const GPtrArray *walks, double x0, double y0, double scale,
                           GError **error)
{
    guint n_colours = G_N_ELEMENTS(picture_colours);
    for (guint i = 0; i < lr_rows_count(s->rows); i++) {
        double x, y;
        guint walk = 0;
        if (!picture_is_sure(s, i, o->photo))
            continue;
        if (!lr_rows_number(s->rows, i, s->x, &x, error) ||
            !lr_rows_number(s->rows, i, s->y, &y, error))
            return false;
        const char *name = lr_rows_text(s->rows, i, s->walk);
        g_ptr_array_find_with_equal_func((GPtrArray *)(uintptr_t)walks, name, g_str_equal, &walk);
        lr_colour_set(cr, picture_colours[walk % n_colours], 0.5);
        cairo_arc(cr, x0 + (x + 0.5) * scale, y0 + (y + 0.5) * scale, 4, 0, 2 * G_PI);
        cairo_fill(cr);
    }
    return true;
}

static void picture_legend(cairo_t *cr, const GPtrArray *walks, double x, double y)
{
    for (guint i = 0; i < walks->len; i++) {
        lr_colour_set(cr, picture_colours[i % G_N_ELEMENTS(picture_colours)], 1);
        cairo_arc(cr, x + 10, y - 8, 9, 0, 2 * G_PI);
        cairo_fill(cr);
        picture_text(cr, walks->pdata[i], x + 28, y, 80, 22);
        x += 120;
    }
}

static bool picture_page(cairo_t *cr, const PictureOptions *o, const PictureSamples *s,
                         cairo_surface_t *photo, cairo_surface_t *frame, const PictureMoment *m,
                         GError **error)
{
    cairo_set_source_rgb(cr, 0.96, 0.96, 0.95);
    cairo_paint(cr);
    double pw = cairo_image_surface_get_width(photo), ph = cairo_image_surface_get_height(photo);
    double fw = cairo_image_surface_get_width(frame), fh = cairo_image_surface_get_height(frame);
    double top = TITLE_H + 20, room = PAGE_H - top - MARGIN - 40;
    double scale = MIN(room / ph, (PAGE_W * 0.54 - MARGIN) / pw);
    g_autoptr(GPtrArray) walks = picture_walks(s);

    cairo_save(cr);
    cairo_translate(cr, MARGIN, top);
    cairo_scale(cr, scale, scale);
    cairo_set_source_surface(cr, photo, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BEST);
    cairo_paint_with_alpha(cr, 0.85);
    cairo_restore(cr);
    if (!picture_points(cr, o, s, walks, MARGIN, top, scale, error))
        return false;
    picture_ring(cr, MARGIN + (m->x + 0.5) * scale, top + (m->y + 0.5) * scale, 20);
    picture_text(cr, "Gaze of all walks, cast onto the photo (sure samples)", MARGIN, 70,
                 pw * scale, 30);
    picture_legend(cr, walks, MARGIN, top + ph * scale + 36);

    double x = MARGIN + pw * scale + MARGIN, w = PAGE_W - MARGIN - x, fs = w / fw;
    cairo_save(cr);
    cairo_translate(cr, x, top);
    cairo_scale(cr, fs, fs);
    cairo_set_source_surface(cr, frame, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BEST);
    cairo_paint(cr);
    cairo_restore(cr);
    picture_ring(cr, x + (m->gaze_x + 0.5) * fs, top + (m->gaze_y + 0.5) * fs, 20);
    g_autofree char *title = g_strdup_printf("Walk %s at %.2f s: recorded gaze", o->walk, m->t);
    picture_text(cr, title, x, 70, w, 30);

    double side = (w - 20) / 2, y = top + fh * fs + 60;
    side = MIN(side, PAGE_H - MARGIN - y);
    picture_text(cr, "Close up: in the frame", x, y - 14, side, 22);
    picture_text(cr, "and where it falls on the photo", x + side + 20, y - 14, side, 22);
    picture_close(cr, frame, m->gaze_x, m->gaze_y, CLOSE_PX, x, y, side);
    picture_close(cr, photo, m->x, m->y, CLOSE_PX, x + side + 20, y, side);
    return true;
}

static bool picture_make(const PictureOptions *o, GError **error)
{
    g_autoptr(LrRows) samples = lr_rows_read(o->samples_path, error);
    g_autoptr(LrRows) gaze = samples ? lr_rows_read(o->gaze_path, error) : NULL;
    PictureSamples s;
    if (!gaze || !picture_columns(samples, &s, error))
        return false;
    g_autoptr(LfVideo) video = lf_video_open(o->video_path, 1, error);
    if (!video)
        return false;
    PictureMoment m = {0};
    const LfVideoInfo *info = lf_video_info(video);
    if (!picture_find_moment(o, &s, gaze, info->width, info->height, &m, error))
        return false;
    cairo_surface_t *photo = cairo_image_surface_create_from_png(o->photo_path);
    double frame_t = m.t;
    cairo_surface_t *frame = picture_frame(o->video_path, &frame_t, error);
    cairo_surface_t *page = cairo_image_surface_create(CAIRO_FORMAT_RGB24, PAGE_W, PAGE_H);
    cairo_t *cr = cairo_create(page);
    bool ok = frame != NULL;
    if (ok && cairo_surface_status(photo) != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is no PNG picture.", o->photo_path);
        ok = false;
    }
    ok = ok && picture_page(cr, o, &s, photo, frame, &m, error);
    if (ok && cairo_surface_write_to_png(page, o->out) != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s cannot be written.", o->out);
        ok = false;
    }
    cairo_destroy(cr);
    cairo_surface_destroy(page);
    cairo_surface_destroy(photo);
    if (frame)
        cairo_surface_destroy(frame);
    return ok;
}

int main(int argc, char **argv)
{
    PictureOptions o = {0};
    const GOptionEntry entries[] = {
        {"image", 0, 0, G_OPTION_ARG_FILENAME, &o.photo_path, "The photo", "PNG"},
        {"photo", 0, 0, G_OPTION_ARG_STRING, &o.photo, "Its name in the study", "NAME"},
        {"samples", 0, 0, G_OPTION_ARG_FILENAME, &o.samples_path, "Exported samples", "CSV"},
        {"walk", 0, 0, G_OPTION_ARG_STRING, &o.walk, "The walk to take a frame of", "NAME"},
        {"video", 0, 0, G_OPTION_ARG_FILENAME, &o.video_path, "Its video", "FILE"},
        {"gaze", 0, 0, G_OPTION_ARG_FILENAME, &o.gaze_path, "Its gaze file", "CSV"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &o.out, "Where the picture goes", "PNG"},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context = g_option_context_new("- a picture of a cast study");
    g_option_context_add_main_entries(context, entries, NULL);
    GError *error = NULL;
    int status = 0;
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        status = LF_ERROR_USAGE;
    } else if (!o.photo_path || !o.photo || !o.samples_path || !o.walk || !o.video_path ||
               !o.gaze_path || !o.out) {
        g_set_error(&error, LF_ERROR, LF_ERROR_USAGE, "All options are needed; see --help.");
        status = LF_ERROR_USAGE;
    } else if (!picture_make(&o, &error)) {
        status = error->code;
    }
    if (error) {
        fprintf(stderr, "lookfall-picture: %s\n", error->message);
        g_error_free(error);
    }
    char *owned[] = {o.photo_path, o.photo,     o.samples_path, o.walk,
                     o.video_path, o.gaze_path, o.out};
    for (gsize i = 0; i < G_N_ELEMENTS(owned); i++)
        g_free(owned[i]);
    return status;
}
