/* lookfall draw: pictures of what people looked at. */
#include "cli.h"

#include <stdio.h>

#include "draw_options.h"
#include "json_out.h"
#include "out.h"

/* Where the groups differ, heaviest first; those that do not hold too. */
static void cli_draw_json_places(JsonBuilder *json, const LfDrawReport *report,
                                 const LfDrawSettings *settings)
{
    json_builder_set_member_name(json, "places");
    json_builder_begin_array(json);
    for (gsize i = 0; i < report->n_places; i++) {
        const LfDrawPlace *place = &report->places[i];
        json_builder_begin_object(json);
        json_out_text(json, "more",
                      place->first_more ? settings->choice.groups[0] : settings->against);
        json_out_number(json, "p", place->p);
        json_out_flag(json, "holds", place->holds);
        json_out_number(json, "mass", place->mass);
        json_out_number(json, "difference", place->amount);
        json_out_number(json, "x_px", place->x_px);
        json_out_number(json, "y_px", place->y_px);
        json_out_number(json, "left_px", place->left_px);
        json_out_number(json, "top_px", place->top_px);
        json_out_number(json, "right_px", place->right_px);
        json_out_number(json, "bottom_px", place->bottom_px);
        json_out_number(json, "area_px2", place->area_px2);
        json_builder_end_object(json);
    }
    json_builder_end_array(json);
}

static void cli_draw_json(const LfDrawReport *report, const LfDrawSettings *settings)
{
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_object(json);
    json_out_text(json, "kind", lf_draw_kind_name(settings->kind));
    json_out_integer(json, "width_px", report->width_px);
    json_out_integer(json, "height_px", report->height_px);
    json_out_integer(json, "people", (gint64)report->people);
    json_out_integer(json, "walks", (gint64)report->walks);
    json_out_integer(json, "walks_left_out", (gint64)report->undone);
    json_out_integer(json, "looks", (gint64)report->looks);
    json_out_number(json, "look_s", report->look_s);
    json_out_number(json, "gaze_s", report->gaze_s);
    json_out_number(json, "unsettled_s", report->unsettled_s);
    json_out_number(json, "px_per_deg", report->px_per_deg);
    json_out_number(json, "kernel_px", report->kernel_px);
    if (settings->kind == LF_DRAW_DIFFERENCE) {
        json_out_integer(json, "clusters", (gint64)report->clusters);
        json_out_number(json, "least_p", report->least_p);
        json_out_integer(json, "permutations", settings->permutations);
        json_out_integer(json, "seed", settings->seed);
        cli_draw_json_places(json, report, settings);
    }
    json_builder_end_object(json);
    json_out_print(json);
}

/* The file is opened first: where it cannot be, nothing is computed for nothing. */
static bool cli_draw_write(const char *path, bool force, LfStudy *study,
                           const LfDrawSettings *settings, LfDrawReport *report, GError **error)
{
    LfDrawFormat format;
    if (!lf_draw_format_from_path(path, &format, error))
        return false;
    g_autoptr(CliOut) out = cli_out_open(path, force, study, error);
    g_autoptr(GBytes) bytes = out ? lf_draw_picture(study, settings, format, report, error) : NULL;
    if (!bytes)
        return false;
    gsize n;
    const void *data = g_bytes_get_data(bytes, &n);
    if (fwrite(data, 1, n, cli_out_stream(out)) != n)
        return cli_out_failed(out, error);
    return cli_out_keep(out, error);
}

static int cli_draw_undone(const char *path, gsize undone)
{
    g_autofree char *study = cli_quoted(path);
    g_autofree char *walks = cli_count(undone, "walk");
    cli_say("%s without up to date fixations left out of the picture; \"lookfall fixate %s\" finds "
            "them",
            walks, study);
    return CLI_PART;
}

static int cli_draw_kind(const CliCommand *command, const char *word, LfDrawKind *kind)
{
    static const char *const kinds[] = {"heat",     "focus",       "scanpath",   "areas",
                                        "timeline", "transitions", "difference", NULL};
    if (lf_draw_kind_from_name(word, kind))
        return CLI_DONE;
    const char *nearest = cli_nearest(word, kinds);
    return cli_misuse(command,
                      "draw: there are heat, focus, scanpath, areas, timeline, transitions and "
                      "difference to draw, not \"%s\"%s%s%s",
                      word, nearest ? "; did you mean " : "", nearest ? nearest : "",
                      nearest ? "?" : "");
}

static int cli_draw_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(DrawOptions) o = {0};
    g_autofree char *path = NULL;
    gboolean force = FALSE, as_json = FALSE;
    const GOptionEntry own[] = {
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &path,
         "The picture; its ending .png, .svg or .pdf says what it becomes", "FILE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace the file if it is there already", NULL},
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &o.photo, "The photo, where the study has several",
         "NAME"},
        {"radius", 0, 0, G_OPTION_ARG_FILENAME, &o.radius,
         "Of a fixation of one second in a scanpath (1.2deg)", "LENGTH"},
        {"against", 0, 0, G_OPTION_ARG_FILENAME, &o.against, "The group to compare --group with",
         "NAME"},
        {"permutations", 0, 0, G_OPTION_ARG_FILENAME, &o.permutations, "Of the test (1000)", "N"},
        {"seed", 0, 0, G_OPTION_ARG_FILENAME, &o.seed, "Of the test's random numbers (1)", "N"},
        {"hold", 0, 0, G_OPTION_ARG_FILENAME, &o.hold,
         "Draw differences up to this corrected p (0.05)", "P"},
        {"cell", 0, 0, G_OPTION_ARG_FILENAME, &o.cell,
         "p up to which a cell belongs to a cluster (0.05)", "P"},
        {"width", 0, 0, G_OPTION_ARG_FILENAME, &o.width, "Of the picture, px (1600)", "N"},
        {"title", 0, 0, G_OPTION_ARG_FILENAME, &o.title, "A title above the picture", "TEXT"},
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print what stands behind the picture as JSON",
         NULL},
    };
    GOptionEntry options[G_N_ELEMENTS(own) + DRAW_OPTIONS_SHARED + 1];
    static const char *const words[] = {"what to draw", "STUDY", NULL};
    g_auto(GStrv) values = NULL;
    LfDrawSettings settings;
    g_auto(LfDrawReport) report = {0};
    LfDrawKind kind;
    GError *error = NULL;
    int status;

    draw_options_table(&o, own, G_N_ELEMENTS(own), options);
    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if ((status = cli_draw_kind(command, values[0], &kind)) != CLI_DONE)
        return status;
    if (!cli_needed(command, "out", path, NULL) || !draw_options_fit(command, &o, kind) ||
        !draw_options_settings(command, &o, kind, &settings))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_open(values[1], LF_STUDY_READ, &error);
    if (!study || !cli_draw_write(path, force, study, &settings, &report, &error))
        return cli_fail(error);
    if (as_json)
        cli_draw_json(&report, &settings);
    return report.undone > 0 ? cli_draw_undone(values[1], report.undone) : CLI_DONE;
}

const CliCommand cli_draw = {
    .name = "draw",
    .summary = "Draw pictures of what was looked at",
    .arguments = "KIND STUDY --out FILE",
    .about = "Draws a picture from the fixations of a study (see \"lookfall fixate\"):\n"
             "  heat         where people looked, as a density over the photo\n"
             "  focus        the photo, shown only where it was looked at\n"
             "  scanpath     in which order; one panel a walk, a flow for more than 30 walks\n"
             "  areas        the areas of interest with their measures\n"
             "  timeline     who looked at which area when\n"
             "  transitions  from which area to which\n"
             "  difference   where --group looked more or less than --against, drawn only where it "
             "holds\n"
             "               against a permutation test corrected over the whole picture\n"
             "Every picture says in its legend how many people and seconds stand behind it, and "
             "how much\n"
             "time is not settled. Degrees are of visual angle, at the distance from which people "
             "looked.\n"
             "docs/pictures.md defines everything that is drawn.",
    .example = "lookfall draw heat aisle.lookfall --photo shelf --group control --out heat.png",
    .run = cli_draw_run,
};
