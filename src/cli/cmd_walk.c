/* lookfall walk add, list, remove. */
#include "cli.h"

#include <stdio.h>

#include "json_out.h"
#include "progress.h"
#include "table.h"
#include "walk_options.h"

static int cli_walk_tell_added(LfStudy *study, const char *name)
{
    const char *const names[] = {name, NULL};
    GError *error = NULL;
    g_autoptr(GPtrArray) walks = lf_study_walks(study, names, &error);
    if (!walks)
        return cli_fail(error);
    const LfStudyWalk *walk = walks->pdata[0];
    g_autofree char *length = cli_progress_clock((double)walk->end_us / 1e6);
    g_autofree char *samples = cli_count((gsize)walk->samples, "gaze sample");
    cli_say("walk %s is added: %s of video, %d x %d px, %s, %.1f%% of them lost", name, length,
            walk->width_px, walk->height_px, samples,
            100.0 * (double)walk->lost / (double)MAX(walk->samples, 1));
    return CLI_DONE;
}

static int cli_walk_add_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(WalkOptions) walk = {0};
    const GOptionEntry options[] = {
        {"name", 0, 0, G_OPTION_ARG_FILENAME, &walk.name, "What to call the walk", "NAME"},
        {"video", 0, 0, G_OPTION_ARG_FILENAME, &walk.video, "The scene video", "FILE"},
        {"gaze", 0, 0, G_OPTION_ARG_FILENAME, &walk.gaze,
         "The gaze file: CSV, tab or semicolon text, also gzipped", "FILE"},
        {"time", 0, 0, G_OPTION_ARG_FILENAME, &walk.time,
         "Time column and its unit: s, ms, us or ns (default t_s:s)", "COL:UNIT"},
        {"x", 0, 0, G_OPTION_ARG_FILENAME, &walk.x,
         "Column of x; px, or norm: 0 to 1 of the width (default x_px:px)", "COL:UNIT"},
        {"y", 0, 0, G_OPTION_ARG_FILENAME, &walk.y,
         "Column of y; px, or norm: 0 to 1 of the height (default y_px:px)", "COL:UNIT"},
        {"valid", 0, 0, G_OPTION_ARG_FILENAME, &walk.valid,
         "Column whose value is GOODVALUE in good samples; others are lost", "COL:GOODVALUE"},
        {"clock-shift", 0, 0, G_OPTION_ARG_FILENAME, &walk.clock_shift,
         "Milliseconds to add to every gaze time", "MS"},
        {"clock", 0, 0, G_OPTION_ARG_FILENAME, &walk.clock,
         "What gaze times count from (see above): start, stamp or auto (default)", "CLOCK"},
        {"camera", 0, 0, G_OPTION_ARG_FILENAME, &walk.camera,
         "Camera file: OpenCV calibration, YAML or XML", "FILE"},
        {"participant", 0, 0, G_OPTION_ARG_FILENAME, &walk.participant, "Who walked", "ID"},
        {"group", 0, 0, G_OPTION_ARG_FILENAME, &walk.group, "Group of the participant", "NAME"},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    LfWalkInput input;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "name", walk.name, "video", walk.video, "gaze", walk.gaze, NULL))
        return CLI_USAGE;
    if (!walk_options_input(&walk, &input, &error)) {
        status = cli_misuse(command, "%s: %s", command->name, error->message);
        g_error_free(error);
        return status;
    }
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !lf_study_walk_add(study, &input, cli_note, NULL, &error))
        return cli_fail(error);
    return cli_walk_tell_added(study, walk.name);
}

static void cli_walk_print_list(const GPtrArray *walks)
{
    g_autoptr(CliTable) table = cli_table_new("lllrrrrl");
    cli_table_row(table, "name", "participant", "group", "video", "frame px", "samples", "lost",
                  "cast");
    for (guint i = 0; i < walks->len; i++) {
        const LfStudyWalk *walk = walks->pdata[i];
        g_autofree char *length = cli_progress_clock((double)walk->end_us / 1e6);
        g_autofree char *frame = g_strdup_printf("%d x %d", walk->width_px, walk->height_px);
        g_autofree char *samples = g_strdup_printf("%" G_GINT64_FORMAT, (gint64)walk->samples);
        g_autofree char *lost =
            g_strdup_printf("%.1f%%", 100.0 * (double)walk->lost / (double)MAX(walk->samples, 1));
        g_autofree char *cast =
            walk->chunks_cast == walk->chunks
                ? g_strdup("yes")
                : g_strdup_printf("%" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT " chunks",
                                  walk->chunks_cast, walk->chunks);
        cli_table_row(table, walk->name, walk->participant, walk->group, length, frame, samples,
                      lost, walk->chunks_cast == 0 ? "no" : cast);
    }
    cli_table_print(table, stdout);
}

static void cli_walk_json(JsonBuilder *json, const LfStudyWalk *walk)
{
    json_builder_begin_object(json);
    json_out_text(json, "name", walk->name);
    json_out_text(json, "participant", walk->participant);
    json_out_text(json, "group", walk->group);
    json_out_text(json, "video", walk->video);
    json_out_text(json, "gaze", walk->gaze);
    json_out_text(json, "camera", walk->camera);
    json_out_integer(json, "width_px", walk->width_px);
    json_out_integer(json, "height_px", walk->height_px);
    json_out_integer(json, "frames", walk->frames);
    json_out_number(json, "length_s", (double)walk->end_us / 1e6);
    json_out_flag(json, "cut_off", walk->cut_off);
    json_out_integer(json, "samples", walk->samples);
    json_out_integer(json, "lost", walk->lost);
    json_out_integer(json, "outside", walk->outside);
    json_out_integer(json, "chunks", (gint64)walk->chunks);
    json_out_integer(json, "chunks_cast", (gint64)walk->chunks_cast);
    json_builder_end_object(json);
}

static int cli_walk_list_run(const CliCommand *command, int argc, char **argv)
{
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the list as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) walks = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(walks = lf_study_walks(study, NULL, &error)))
        return cli_fail(error);
    if (!as_json) {
        cli_walk_print_list(walks);
        return CLI_DONE;
    }
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_array(json);
    for (guint i = 0; i < walks->len; i++)
        cli_walk_json(json, walks->pdata[i]);
    json_builder_end_array(json);
    json_out_print(json);
    return CLI_DONE;
}

static int cli_walk_remove_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *name = NULL;
    const GOptionEntry options[] = {
        {"name", 0, 0, G_OPTION_ARG_FILENAME, &name, "The walk to remove", "NAME"},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "name", name, NULL))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !lf_study_walk_remove(study, name, &error))
        return cli_fail(error);
    cli_say("walk %s is removed", name);
    return CLI_DONE;
}

const CliCommand cli_walk_add = {
    .name = "walk add",
    .summary = "Add one recording: scene video and gaze file",
    .arguments = "STUDY",
    .about =
        "Adds a walk: one recording of one participant. Video and gaze file stay where they are;\n"
        "the study keeps a copy of the gaze samples. A gaze file with the headers t_s, x_px and\n"
        "y_px is understood as it is; for any other, say which column is what. Columns are header\n"
        "names or numbers from 1. Without a camera file the lens is taken as free of distortion,\n"
        "and one degree of visual angle as a frame's width divided by 82.\n"
        "\n"
        "Gaze times count from the start of the video (--clock start) or are the timestamps in "
        "the\n"
        "video file (stamp). That matters only where the first of these is not zero; auto takes\n"
        "what brings more samples into the video, and says so.",
    .example = "lookfall walk add aisle.lookfall --name w01 --video w01.mp4 --gaze w01.csv \\\n"
               "    --time timestamp:ns --x gaze_x:norm --y gaze_y:norm --participant p07",
    .run = cli_walk_add_run,
};

const CliCommand cli_walk_list = {
    .name = "walk list",
    .summary = "List the walks",
    .arguments = "STUDY",
    .about = "Lists the walks of a study, and how far each is cast.",
    .example = "lookfall walk list aisle.lookfall --json",
    .run = cli_walk_list_run,
};

const CliCommand cli_walk_remove = {
    .name = "walk remove",
    .summary = "Take a walk out of the study",
    .arguments = "STUDY",
    .about = "Takes a walk and its results out of the study. Its video and gaze file are not\n"
             "touched.",
    .example = "lookfall walk remove aisle.lookfall --name w01",
    .run = cli_walk_remove_run,
};
