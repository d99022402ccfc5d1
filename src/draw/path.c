/* Discs, bands, numbers. */
#include "draw/path.h"

#include <math.h>

typedef struct {
    LfPoint at; /* px of the picture */
    double radius, from_s, to_s;
    bool gap; /* looks that are not shown lie between the one before and this one */
} PathStop;

double path_radius(const PathLook *look, double seconds)
{
    return look->scale * look->radius_px * sqrt(MAX(seconds, 0));
}

static CanvasColour path_colour(const PathLook *look, double t_s)
{
    double span = look->to_s - look->from_s;
    return colour_map_at(look->map, span > 0 ? (t_s - look->from_s) / span : 0);
}

static GArray *path_stops(const MaterialWalk *walk, const PathLook *look, SheetBox box)
{
    GArray *stops = g_array_new(FALSE, FALSE, sizeof(PathStop));
    bool gap = false;
    for (guint i = 0; i < walk->looks->len; i++) {
        const MaterialLook *l = &g_array_index(walk->looks, MaterialLook, i);
        if (l->shown) {
            PathStop stop = {
                {box.x + (l->x + 0.5) * look->scale, box.y + (l->y + 0.5) * look->scale},
                path_radius(look, l->to_s - l->from_s),
                l->from_s,
                l->to_s,
                gap};
            g_array_append_val(stops, stop);
        }
        gap = !l->shown;
    }
    return stops;
}

/* From broad at the one left to a point at the one reached: the way can be seen. */
static void path_band(cairo_t *cr, const PathLook *look, const PathStop *a, const PathStop *b)
{
    double dx = b->at.x - a->at.x, dy = b->at.y - a->at.y, length = hypot(dx, dy);
    double wide = 0.26 * look->em;
    if (length < 1)
        return;
    if (b->gap) {
        const double dash[] = {0.3 * look->em, 0.35 * look->em};
        cairo_move_to(cr, a->at.x, a->at.y);
        cairo_line_to(cr, b->at.x, b->at.y);
        cairo_set_dash(cr, dash, 2, 0);
        cairo_set_line_width(cr, 0.1 * look->em);
        canvas_set(cr, canvas_soft, 0.8);
        cairo_stroke(cr);
        cairo_set_dash(cr, NULL, 0, 0);
        return;
    }
    double nx = -dy / length * wide, ny = dx / length * wide;
    cairo_move_to(cr, a->at.x + nx, a->at.y + ny);
    cairo_line_to(cr, b->at.x, b->at.y);
    cairo_line_to(cr, a->at.x - nx, a->at.y - ny);
    cairo_close_path(cr);
    canvas_set(cr, path_colour(look, a->to_s), look->opacity);
    cairo_fill_preserve(cr);
    cairo_set_line_width(cr, 0.05 * look->em);
    canvas_set(cr, canvas_ink, 0.55);
    cairo_stroke(cr);
}

static void path_disc(cairo_t *cr, const PathLook *look, const PathStop *stop)
{
    double r = MAX(stop->radius, 0.12 * look->em);
    cairo_arc(cr, stop->at.x, stop->at.y, r, 0, 2 * G_PI);
    canvas_set(cr, path_colour(look, stop->from_s), look->opacity);
    cairo_fill_preserve(cr);
    cairo_set_line_width(cr, 0.16 * look->em);
    canvas_set(cr, canvas_paper, 0.9);
    cairo_stroke_preserve(cr);
    cairo_set_line_width(cr, 0.07 * look->em);
    canvas_set(cr, canvas_ink, 1);
    cairo_stroke(cr);
}

static bool path_free(const GArray *taken, SheetBox box)
{
    for (guint i = 0; i < taken->len; i++) {
        const SheetBox *t = &g_array_index(taken, SheetBox, i);
        if (box.x < t->x + t->w && t->x < box.x + box.w && box.y < t->y + t->h &&
            t->y < box.y + box.h)
            return false;
    }
    return true;
}

/* Inside a disc that is large enough, otherwise beside it where no other number stands. */
static bool path_number(cairo_t *cr, const PathLook *look, const PathStop *stop, guint number,
                        GArray *taken, SheetBox frame)
{
    g_autofree char *text = g_strdup_printf("%u", number);
    double size = 0.86 * look->em, w = canvas_text_width(cr, size, true, text), h = size;
    double away = stop->radius + 0.35 * look->em;
    bool within = hypot(w, h) / 2 < stop->radius;
    for (int k = within ? -1 : 0; k < 12; k++) {
        double turn = k * G_PI / 6 - G_PI / 4;
        double cx = stop->at.x + (k < 0 ? 0 : cos(turn) * (away + w / 2));
        double cy = stop->at.y + (k < 0 ? 0 : sin(turn) * (away + h / 2));
        SheetBox box = {cx - w / 2 - 1, cy - h / 2, w + 2, h};
        if (box.x < frame.x || box.y < frame.y || box.x + box.w > frame.x + frame.w ||
            box.y + box.h > frame.y + frame.h || !path_free(taken, box))
            continue;
        CanvasText letters = {.size = size,
                              .bold = true,
                              .align = CANVAS_MIDDLE,
                              .colour = canvas_ink,
                              .halo = canvas_paper,
                              .halo_px = 0.18 * look->em};
        if (k < 0) { /* on the disc's own colour */
            letters.colour = colour_letters_on(colour_over(
                path_colour(look, stop->from_s), look->opacity, (CanvasColour){0.8, 0.8, 0.8}));
            letters.halo_px = 0;
        }
        canvas_text(cr, cx, cy, &letters, text);
        g_array_append_val(taken, box);
        return true;
    }
    return false;
}

void path_draw(const MaterialWalk *walk, const PathLook *look, cairo_t *cr, SheetBox box,
               gsize *unlabelled)
{
    g_autoptr(GArray) stops = path_stops(walk, look, box);
    g_autoptr(GArray) taken = g_array_new(FALSE, FALSE, sizeof(SheetBox));
    gsize missing = 0;
    cairo_save(cr);
    /* A disc at the photo's edge stays whole, or nearly. */
    double spill = 0.9 * look->em;
    cairo_rectangle(cr, box.x - spill, box.y - spill, box.w + 2 * spill, box.h + 2 * spill);
    cairo_clip(cr);
    for (guint i = 0; i + 1 < stops->len; i++)
        path_band(cr, look, &g_array_index(stops, PathStop, i),
                  &g_array_index(stops, PathStop, i + 1));
    for (guint i = 0; i < stops->len; i++)
        path_disc(cr, look, &g_array_index(stops, PathStop, i));
    /* First and last are sure of their numbers, then every tenth, every fifth, the rest. */
    for (guint pass = 0; pass < 4 && look->numbers; pass++)
        for (guint i = 0; i < stops->len; i++) {
            guint number = i + 1, rank = number == 1 || number == stops->len ? 0
                                         : number % 10 == 0                  ? 1
                                         : number % 5 == 0                   ? 2
                                                                             : 3;
            if (rank == pass &&
                !path_number(cr, look, &g_array_index(stops, PathStop, i), number, taken, box))
                missing++;
        }
    cairo_restore(cr);
    if (unlabelled)
        *unlabelled = missing;
}
