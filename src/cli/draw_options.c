/* Options of a picture. */
#include "draw_options.h"

#include <math.h>
#include <string.h>

void draw_options_clear(DrawOptions *o)
{
    char **texts[] = {&o->photo, &o->from,    &o->to,      &o->kernel, &o->radius,
                      &o->level, &o->against, &o->seed,    &o->hold,   &o->permutations,
                      &o->cell,  &o->colours, &o->opacity, &o->width,  &o->background,
                      &o->title, &o->span};
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
        g_clear_pointer(texts[i], g_free);
    g_clear_pointer(&o->walks, g_strfreev);
    g_clear_pointer(&o->groups, g_strfreev);
}

void draw_options_table(DrawOptions *o, const GOptionEntry *own, gsize n, GOptionEntry *table)
{
    const GOptionEntry shared[DRAW_OPTIONS_SHARED] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &o->walks,
         "Only this walk; may be given several times", "NAME"},
        {"group", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &o->groups,
         "Only walks of this group; may be given several times", "NAME"},
        {"span", 0, 0, G_OPTION_ARG_FILENAME, &o->span,
         "Only parts of walks that marks make: mark:NAME, between:NAME,OTHER or "
         "around:NAME,BEFORE_S,AFTER_S",
         "RULE"},
        {"from", 0, 0, G_OPTION_ARG_FILENAME, &o->from, "Only from this second of each walk", "S"},
        {"to", 0, 0, G_OPTION_ARG_FILENAME, &o->to, "Only up to this second of each walk", "S"},
        {"doubtful", 0, 0, G_OPTION_ARG_NONE, &o->doubtful,
         "Doubtful looks too, not only settled ones", NULL},
        {"kernel", 0, 0, G_OPTION_ARG_FILENAME, &o->kernel,
         "Standard deviation of the kernel, such as 1deg (the default), 40mm, 60px", "LENGTH"},
        {"samples", 0, 0, G_OPTION_ARG_NONE, &o->samples, "From gaze samples instead of fixations",
         NULL},
        {"count", 0, 0, G_OPTION_ARG_NONE, &o->count, "Every look counts the same, however long",
         NULL},
        {"pooled", 0, 0, G_OPTION_ARG_NONE, &o->pooled,
         "All looks together; without it every person has the same weight", NULL},
        {"level", 0, 0, G_OPTION_ARG_FILENAME, &o->level,
         "0 for the areas themselves, 1 for the outermost groups, 2 for the next", "N"},
        {"colours", 0, 0, G_OPTION_ARG_FILENAME, &o->colours,
         "viridis, magma, inferno, plasma or cividis", "NAME"},
        {"opacity", 0, 0, G_OPTION_ARG_FILENAME, &o->opacity, "Of what lies on the photo, 0 to 1",
         "SHARE"},
        {"background", 0, 0, G_OPTION_ARG_FILENAME, &o->background,
         "photo, grey, pale, dark, or a colour as #rrggbb", "NAME"},
    };
    const GOptionEntry end = G_OPTION_ENTRY_NULL;

    memcpy(table, own, n * sizeof *own);
    memcpy(table + n, shared, sizeof shared);
    table[n + DRAW_OPTIONS_SHARED] = end;
}

bool draw_options_fit(const CliCommand *command, const DrawOptions *o, LfDrawKind kind)
{
    bool density = kind == LF_DRAW_HEAT || kind == LF_DRAW_FOCUS || kind == LF_DRAW_DIFFERENCE;
    bool areas = kind == LF_DRAW_AREAS || kind == LF_DRAW_TIMELINE || kind == LF_DRAW_TRANSITIONS;
    bool difference = kind == LF_DRAW_DIFFERENCE;
    const struct {
        const char *name;
        bool given, fits;
    } options[] = {
        {"kernel", o->kernel, density},
        {"samples", o->samples, density},
        {"count", o->count, density},
        {"pooled", o->pooled, density},
        {"radius", o->radius, kind == LF_DRAW_SCANPATH},
        {"level", o->level, areas},
        {"against", o->against, difference},
        {"permutations", o->permutations, difference},
        {"seed", o->seed, difference},
        {"hold", o->hold, difference},
        {"cell", o->cell, difference},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(options); i++)
        if (options[i].given && !options[i].fits) {
            cli_misuse(command, "%s: --%s has no meaning for %s", command->name, options[i].name,
                       lf_draw_kind_name(kind));
            return false;
        }
    return true;
}

static bool draw_options_length(const CliCommand *command, const char *option, const char *text,
                                LfDrawLength *length)
{
    g_autoptr(GError) error = NULL;
    if (!text || lf_draw_length_parse(text, length, &error))
        return true;
    cli_misuse(command, "%s: --%s: %s", command->name, option, error->message);
    return false;
}

static bool draw_options_number(const CliCommand *command, const char *option, const char *text,
                                double low, double high, double *value)
{
    return !text || cli_number(command, option, text, low, high, value);
}

static bool draw_options_whole(const CliCommand *command, const char *option, const char *text,
                               double low, double high, int *value)
{
    double number = *value;
    if (!draw_options_number(command, option, text, low, high, &number))
        return false;
    *value = (int)number;
    if (number == floor(number))
        return true;
    cli_misuse(command, "%s: --%s must be a whole number, not %s", command->name, option, text);
    return false;
}

bool draw_options_settings(const CliCommand *command, const DrawOptions *o, LfDrawKind kind,
                           LfDrawSettings *settings)
{
    LfDrawSettings s = lf_draw_settings_default(kind);
    double seed = s.seed;
    s.choice.photo = o->photo;
    s.choice.walks = (const char *const *)o->walks;
    s.choice.groups = (const char *const *)o->groups;
    s.choice.span = o->span;
    s.choice.doubtful = o->doubtful;
    s.samples = o->samples;
    s.count = o->count;
    s.pooled = o->pooled;
    s.against = o->against;
    s.title = o->title;
    s.background = o->background ? o->background : s.background;
    if (o->colours && !lf_draw_colours_from_name(o->colours, &s.colours)) {
        static const char *const names[] = {"viridis", "magma",   "inferno",
                                            "plasma",  "cividis", NULL};
        const char *nearest = cli_nearest(o->colours, names);
        cli_misuse(command,
                   "%s: there are no colours \"%s\"; there are viridis, magma, inferno, plasma and "
                   "cividis%s%s%s",
                   command->name, o->colours, nearest ? "; did you mean " : "",
                   nearest ? nearest : "", nearest ? "?" : "");
        return false;
    }
    if (!draw_options_number(command, "from", o->from, 0, 1e6, &s.choice.from_s) ||
        !draw_options_number(command, "to", o->to, 0, 1e6, &s.choice.to_s) ||
        !draw_options_length(command, "kernel", o->kernel, &s.kernel) ||
        !draw_options_length(command, "radius", o->radius, &s.radius) ||
        !draw_options_whole(command, "level", o->level, 0, 100, &s.level) ||
        !draw_options_whole(command, "permutations", o->permutations, 100, 1e6, &s.permutations) ||
        !draw_options_number(command, "seed", o->seed, 0, G_MAXUINT32, &seed) ||
        !draw_options_number(command, "hold", o->hold, 0.0001, 1, &s.hold_p) ||
        !draw_options_number(command, "cell", o->cell, 0.0001, 0.5, &s.cell_p) ||
        !draw_options_number(command, "opacity", o->opacity, 0, 1, &s.opacity) ||
        !draw_options_whole(command, "width", o->width, 320, 12000, &s.width_px))
        return false;
    s.seed = (guint32)seed;
    g_autoptr(GError) error = NULL;
    if (kind == LF_DRAW_DIFFERENCE && (!o->against || !o->groups)) {
        cli_misuse(command, "draw: a difference needs --group NAME and --against NAME");
        return false;
    }
    if (!lf_draw_settings_check(&s, &error)) {
        cli_misuse(command, "%s: %s", command->name, error->message);
        return false;
    }
    *settings = s;
    return true;
}
