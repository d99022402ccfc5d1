/* Pictures: settings checked, material gathered, the kind's own drawing called. */
#include "draw/picture.h"

#include <math.h>
#include <string.h>

#include "draw/backdrop.h"

#define DRAW_WIDTH_MIN 320
#define DRAW_WIDTH_MAX 12000

static const struct {
    const char *name;
    PictureDraw draw;
    bool scale; /* needs to know px per degree */
    bool areas; /* needs the photo's areas */
} draw_kinds[] = {
    [LF_DRAW_HEAT] = {"heat", heat_draw, true, false},
    [LF_DRAW_FOCUS] = {"focus", focus_draw, true, false},
    [LF_DRAW_SCANPATH] = {"scanpath", scanpath_draw, true, false},
    [LF_DRAW_AREAS] = {"areas", areas_draw, false, true},
    [LF_DRAW_TIMELINE] = {"timeline", timeline_draw, false, true},
    [LF_DRAW_TRANSITIONS] = {"transitions", transitions_draw, false, true},
    [LF_DRAW_DIFFERENCE] = {"difference", difference_draw, true, false},
};

/* --- names ------------------------------------------------------------------------------------ */

const char *lf_draw_kind_name(LfDrawKind kind)
{
    return draw_kinds[kind].name;
}

bool lf_draw_kind_from_name(const char *name, LfDrawKind *kind)
{
    for (gsize i = 0; i < G_N_ELEMENTS(draw_kinds); i++)
        if (strcmp(draw_kinds[i].name, name) == 0) {
            *kind = (LfDrawKind)i;
            return true;
        }
    return false;
}

bool lf_draw_format_from_path(const char *path, LfDrawFormat *format, GError **error)
{
    static const char *const endings[] = {".png", ".svg", ".pdf"};
    g_autofree char *lower = g_ascii_strdown(path, -1);
    for (gsize i = 0; i < G_N_ELEMENTS(endings); i++)
        if (g_str_has_suffix(lower, endings[i])) {
            *format = (LfDrawFormat)i;
            return true;
        }
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "%s: a picture's name must end in .png, .svg or .pdf, which says what it becomes",
                path);
    return false;
}

const char *lf_draw_format_mime(LfDrawFormat format)
{
    static const char *const mime[] = {"image/png", "image/svg+xml", "application/pdf"};
    return mime[format];
}

bool lf_draw_length_parse(const char *text, LfDrawLength *length, GError **error)
{
    static const char *const units[] = {"deg", "mm", "px"};
    char *end;
    double value = g_ascii_strtod(text, &end);
    for (gsize i = 0; i < G_N_ELEMENTS(units); i++)
        if (end != text && strcmp(end, units[i]) == 0 && isfinite(value) && value > 0) {
            *length = (LfDrawLength){value, (LfDrawUnit)i};
            return true;
        }
    g_set_error(
        error, LF_ERROR, LF_ERROR_USAGE,
        "\"%s\" is no length: it needs a number over 0 and a unit, as in 1.5deg, 40mm, 60px", text);
    return false;
}

bool lf_draw_colours_from_name(const char *name, LfDrawColours *colours)
{
    static const char *const names[] = {"viridis", "magma", "inferno", "plasma", "cividis"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strcmp(names[i], name) == 0) {
            *colours = (LfDrawColours)i;
            return true;
        }
    return false;
}

/* --- settings --------------------------------------------------------------------------------- */

LfDrawSettings lf_draw_settings_default(LfDrawKind kind)
{
    /* A kernel of one degree: about what the fovea and a tracker's error make together (common
     * practice). */
    LfDrawSettings settings = {
        .kind = kind,
        .choice = {.from_s = NAN, .to_s = NAN},
        .width_px = 1600,
        .background = kind == LF_DRAW_FOCUS                               ? "dark"
                      : kind == LF_DRAW_SCANPATH || kind == LF_DRAW_AREAS ? "pale"
                                                                          : "grey",
        .colours = kind == LF_DRAW_SCANPATH ? LF_DRAW_PLASMA : LF_DRAW_VIRIDIS,
        .opacity = kind == LF_DRAW_FOCUS ? 0.96 : 0.8,
        .kernel = {1, LF_DRAW_DEG},
        .radius = {1.2, LF_DRAW_DEG},
        .permutations = 1000,
        .seed = 1,
        .hold_p = 0.05,
        .cell_p = 0.05,
    };
    return settings;
}

static bool draw_range(const char *what, double value, double low, double high, GError **error)
{
    if (value >= low && value <= high)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "the %s must lie between %.7g and %.7g, not %.7g",
                what, low, high, value);
    return false;
}

bool lf_draw_settings_check(const LfDrawSettings *s, GError **error)
{
    if (!draw_range("width", s->width_px, DRAW_WIDTH_MIN, DRAW_WIDTH_MAX, error) ||
        !draw_range("opacity", s->opacity, 0, 1, error) ||
        !draw_range("level", s->level, 0, 100, error) ||
        !draw_range("number of permutations", s->permutations, 100, 1e6, error) ||
        !draw_range("p up to which a difference holds", s->hold_p, 0.0001, 1, error) ||
        !draw_range("p of a cell", s->cell_p, 0.0001, 0.5, error))
        return false;
    if (!backdrop_known(s->background)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "\"%s\" is no background; there are photo, grey, pale, dark and #rrggbb",
                    s->background);
        return false;
    }
    if (s->choice.from_s >= s->choice.to_s) { /* false where one is not told */
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "the time chosen ends before it begins");
        return false;
    }
    if (s->kind == LF_DRAW_DIFFERENCE &&
        (!s->against || !s->choice.groups || !s->choice.groups[0] || s->choice.groups[1] ||
         strcmp(s->choice.groups[0], s->against) == 0)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "a difference needs two groups: one to compare, and another one to compare it "
                    "against");
        return false;
    }
    return true;
}

/* --- the picture ------------------------------------------------------------------------------ */

void lf_draw_report_clear(LfDrawReport *report)
{
    g_clear_pointer(&report->places, g_free);
    report->n_places = 0;
}

GBytes *lf_draw_picture(LfStudy *study, const LfDrawSettings *settings, LfDrawFormat format,
                        LfDrawReport *report, GError **error)
{
    g_auto(LfDrawReport) own = {0};
    LfDrawReport *r = report ? report : &own;
    *r = (LfDrawReport){.px_per_deg = NAN, .kernel_px = NAN, .least_p = 1};
    if (!lf_draw_settings_check(settings, error))
        return NULL;
    /* A difference takes the looks of both groups. */
    LfDrawChoice choice = settings->choice;
    const char *both[] = {choice.groups ? choice.groups[0] : NULL, settings->against, NULL};
    if (settings->kind == LF_DRAW_DIFFERENCE)
        choice.groups = both;
    bool samples =
        settings->samples && draw_kinds[settings->kind].scale && settings->kind != LF_DRAW_SCANPATH;
    g_autoptr(Material) material =
        material_new(study, &choice, samples, draw_kinds[settings->kind].scale, error);
    if (!material)
        return NULL;
    r->people = material->n_people;
    r->walks = material->n_walks;
    r->undone = material->undone->len;
    r->looks = material->n_looks;
    r->look_s = material->look_s;
    r->gaze_s = material_gaze_s(material);
    r->unsettled_s = material_unsettled_s(material);
    r->px_per_deg = material->px_per_deg;
    if (draw_kinds[settings->kind].areas &&
        !(material->areas = lf_study_areas(study, material->photo, error)))
        return NULL;
    return draw_kinds[settings->kind].draw(material, settings, format, r, error);
}
