/* Title, legend and where things stand. */
#include "draw/sheet.h"

#include <math.h>
#include <string.h>

#define SHEET_LINE 1.52      /* line height of text, em */
#define SHEET_BAR_EM 4.4     /* the bar of time with its labels */
#define SHEET_GAP_EM 1.4     /* between body and legend */
#define SHEET_NARROW_EM 62.0 /* below this width, key and text stand one above the other */
/* A photo stands no taller than this times the picture's width. */
#define SHEET_TALLEST 1.15

typedef struct {
    double em, margin, width; /* width: between the margins */
    double title_h, key_w, text_x, text_w, text_h, head_h;
    bool narrow;
} SheetPlan;

SheetLegend *sheet_legend_new(void)
{
    SheetLegend *legend = g_new0(SheetLegend, 1);
    legend->lines = g_ptr_array_new_with_free_func(g_free);
    return legend;
}

void sheet_legend_free(SheetLegend *legend)
{
    if (!legend)
        return;
    g_free(legend->headline);
    g_ptr_array_unref(legend->lines);
    g_free(legend);
}

void sheet_line(SheetLegend *legend, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_ptr_array_add(legend->lines, g_strdup_vprintf(format, list));
    va_end(list);
}

char *sheet_people(const Material *material)
{
    g_autofree char *people = canvas_count(material->n_people, "person", "people");
    if (material->n_walks == material->n_people)
        return g_steal_pointer(&people);
    g_autofree char *walks = canvas_count(material->n_walks, "walk", "walks");
    return g_strdup_printf("%s, %s", people, walks);
}

/* --- where things stand ----------------------------------------------------------------------- */

static double sheet_margin(const LfDrawSettings *settings)
{
    return 1.6 * canvas_em(settings->width_px);
}

double sheet_body_width(const LfDrawSettings *settings)
{
    return settings->width_px - 2 * sheet_margin(settings);
}

void sheet_photo_size(const LfDrawSettings *settings, const Material *material, double *width,
                      double *height)
{
    double room = sheet_body_width(settings);
    double scale =
        MIN(room / material->width_px, SHEET_TALLEST * settings->width_px / material->height_px);
    *width = MAX(1, round(scale * material->width_px));
    *height = MAX(1, round(scale * material->height_px));
}

SheetBox sheet_photo_box(const LfDrawSettings *settings, const Material *material, SheetBox body)
{
    SheetBox box = {0};
    sheet_photo_size(settings, material, &box.w, &box.h);
    box.x = round(body.x + (body.w - box.w) / 2);
    box.y = body.y;
    return box;
}

/* Measures the text, which needs a surface to be measured on. */
static SheetPlan sheet_plan(const LfDrawSettings *settings, const SheetLegend *legend)
{
    SheetPlan plan = {.em = canvas_em(settings->width_px), .margin = sheet_margin(settings)};
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1, 1);
    cairo_t *cr = cairo_create(surface);
    double em = plan.em;

    plan.width = sheet_body_width(settings);
    plan.narrow = plan.width < SHEET_NARROW_EM * em || !legend->key;
    plan.key_w = !legend->key ? 0 : plan.narrow ? plan.width : floor(plan.width * 0.40);
    plan.text_x = plan.narrow ? 0 : plan.key_w + 3 * em;
    plan.text_w = plan.width - plan.text_x;
    if (settings->title) {
        int lines = canvas_text_lines(cr, 1.5 * em, true, plan.width, settings->title);
        plan.title_h = MIN(lines, 3) * 2.0 * em + 0.8 * em;
    }
    plan.head_h = MIN(canvas_text_lines(cr, 1.1 * em, true, plan.text_w, legend->headline), 3) *
                  SHEET_LINE * 1.1 * em;
    plan.text_h = plan.head_h;
    for (guint i = 0; i < legend->lines->len; i++)
        plan.text_h += SHEET_LINE * em *
                       canvas_text_lines(cr, em, false, plan.text_w, legend->lines->pdata[i]);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    return plan;
}

/* --- the bar of time -------------------------------------------------------------------------- */

typedef struct {
    const char *name;
    double seconds;
    int look; /* 0 filled, 1 framed, 2 hatched, 3 dotted */
} SheetPart;

static void sheet_part(cairo_t *cr, SheetBox box, int look, double em)
{
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    if (look == 0) {
        canvas_set(cr, canvas_ink, 1);
        cairo_fill_preserve(cr);
    } else if (look == 2) {
        cairo_path_t *path = cairo_copy_path(cr);
        canvas_hatch(cr, canvas_accent, 0.42 * em);
        cairo_new_path(cr);
        cairo_append_path(cr, path);
        cairo_path_destroy(path);
    } else if (look == 3) {
        canvas_set(cr, canvas_rule, 0.45);
        cairo_fill_preserve(cr);
    }
    cairo_set_line_width(cr, 1);
    canvas_set(cr, look == 2 ? canvas_accent : canvas_soft, 1);
    cairo_stroke(cr);
}

/* Shown, elsewhere, unsettled, without gaze: the whole of the chosen time, to scale. */
static void sheet_bar(Canvas *canvas, const SheetPlan *plan, const Material *material, double y)
{
    cairo_t *cr = canvas->cr;
    double em = plan->em, unsettled = material_unsettled_s(material);
    double lost = material_lost_s(material);
    double rest =
        MAX(0, material_gaze_s(material) - material->look_s - material_unsettled_s(material));
    SheetPart parts[] = {{"in the picture", material->look_s, 0},
                         {"elsewhere or between fixations", rest, 1},
                         {"unsettled", unsettled, 2},
                         {"no gaze", lost, 3}};
    double all = 0, x = plan->margin, at = plan->margin;
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
        all += parts[i].seconds;
    for (gsize i = 0; i < G_N_ELEMENTS(parts) && all > 0; i++) {
        double w = plan->width * parts[i].seconds / all;
        if (w > 0)
            sheet_part(cr, (SheetBox){x, y, w, 0.9 * em}, parts[i].look, em);
        x += w;
    }
    y += 2.1 * em;
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++) {
        g_autofree char *time = canvas_time(parts[i].seconds);
        g_autofree char *share = canvas_share(all > 0 ? parts[i].seconds / all : 0);
        g_autofree char *text = g_strdup_printf("%s %s (%s)", parts[i].name, time, share);
        double w = canvas_text_width(cr, 0.92 * em, i == 2, text) + 1.3 * em;
        if (at > plan->margin && at + w > plan->margin + plan->width) {
            at = plan->margin;
            y += 1.45 * em;
        }
        sheet_part(cr, (SheetBox){at, y - 0.4 * em, 0.8 * em, 0.8 * em}, parts[i].look, em);
        canvas_text(cr, at + 1.2 * em, y,
                    &(CanvasText){.size = 0.92 * em,
                                  .bold = i == 2,
                                  .colour = i == 2 ? canvas_accent : canvas_soft},
                    text);
        at += w + 1.8 * em;
    }
}

/* --- all of it -------------------------------------------------------------------------------- */

static void sheet_text(Canvas *canvas, const SheetPlan *plan, const SheetLegend *legend, double y)
{
    cairo_t *cr = canvas->cr;
    double em = plan->em, x = plan->margin + plan->text_x;
    canvas_text(cr, x, y + SHEET_LINE * 0.55 * em,
                &(CanvasText){.size = 1.1 * em,
                              .bold = true,
                              .colour = canvas_ink,
                              .width = plan->text_w,
                              .lines = 3},
                legend->headline);
    y += plan->head_h;
    for (guint i = 0; i < legend->lines->len; i++) {
        const char *line = legend->lines->pdata[i];
        int lines = canvas_text_lines(cr, em, false, plan->text_w, line);
        canvas_text(
            cr, x, y + SHEET_LINE * 0.5 * em,
            &(CanvasText){.size = em, .colour = canvas_soft, .width = plan->text_w, .lines = lines},
            line);
        y += SHEET_LINE * em * lines;
    }
}

static void sheet_names(GString *text, const char *one, const char *many, const char *const *names)
{
    g_autofree char *list = g_strjoinv("”, “", (char **)(gpointer)names);
    g_string_append_printf(text, "; %s “%s”", names[1] ? many : one, list);
}

/* Which part of the study this is: the photo, and whatever was chosen. */
static void sheet_choice(SheetLegend *legend, const LfDrawSettings *settings,
                         const Material *material)
{
    const LfDrawChoice *choice = &settings->choice;
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_printf(text, "Photo “%s”", material->photo);
    if (choice->walks && choice->walks[0])
        sheet_names(text, "walk", "walks", choice->walks);
    /* A difference names its groups in any case. */
    if (choice->groups && choice->groups[0] && settings->kind != LF_DRAW_DIFFERENCE)
        sheet_names(text, "group", "groups", choice->groups);
    if (choice->span)
        g_string_append_printf(text, "; only %s", choice->span);
    if (!isnan(choice->from_s) || !isnan(choice->to_s)) {
        g_autofree char *from = canvas_time(isnan(choice->from_s) ? 0 : choice->from_s);
        g_autofree char *to = isnan(choice->to_s) ? g_strdup("the end") : canvas_time(choice->to_s);
        g_string_append_printf(text, "; from %s to %s of each walk", from, to);
    }
    sheet_line(legend, "%s", text->str);
}

/* What the picture lacks, as a last line. */
static void sheet_lacks(SheetLegend *legend, const Material *material)
{
    if (material->undone->len == 0)
        return;
    g_autofree char *walks = canvas_count(material->undone->len, "walk", "walks");
    sheet_line(legend, "Left out: %s without up to date fixations", walks);
}

Canvas *sheet_new(const LfDrawSettings *settings, LfDrawFormat format, const Material *material,
                  SheetLegend *legend, double body_height, SheetBox *body, GError **error)
{
    sheet_choice(legend, settings, material);
    sheet_lacks(legend, material);
    SheetPlan plan = sheet_plan(settings, legend);
    double em = plan.em, key_h = legend->key ? legend->key_em * em : 0;
    double legend_h =
        plan.narrow ? key_h + (key_h > 0 ? em : 0) + plan.text_h : MAX(key_h, plan.text_h);
    /* The labels of the bar take a second line where the picture is narrow. */
    double bar_h =
        (SHEET_BAR_EM + (plan.width < 75 * em ? 1.5 : 0) + (plan.width < 40 * em ? 1.5 : 0)) * em;
    double height =
        plan.margin + plan.title_h + body_height + SHEET_GAP_EM * em + legend_h + 0.8 * em + bar_h;
    Canvas *canvas = canvas_new(format, settings->width_px, (int)ceil(height), error);
    if (!canvas)
        return NULL;

    double y = plan.margin;
    if (settings->title)
        canvas_text(canvas->cr, plan.margin, y + 0.7 * em,
                    &(CanvasText){.size = 1.5 * em,
                                  .bold = true,
                                  .colour = canvas_ink,
                                  .width = plan.width,
                                  .lines = 3},
                    settings->title);
    y += plan.title_h;
    *body = (SheetBox){plan.margin, y, plan.width, body_height};
    y += body_height + SHEET_GAP_EM * em;
    if (legend->key)
        legend->key(canvas, (SheetBox){plan.margin, y, plan.key_w, key_h}, legend->data);
    sheet_text(canvas, &plan, legend, plan.narrow && key_h > 0 ? y + key_h + em : y);
    sheet_bar(canvas, &plan, material, y + legend_h + 0.8 * em);
    return canvas;
}
