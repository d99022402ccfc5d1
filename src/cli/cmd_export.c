/* lookfall export: samples or poses as CSV. */
#include "cli.h"

#include <stdio.h>
#include <string.h>

#include "csv_line.h"
#include "out.h"

/* Digits that are written: thousandths of a pixel and ten thousandths of a probability lie well
 * below what the cast can know. */
#define EXPORT_PX_DECIMALS 3
#define EXPORT_CONFIDENCE_DECIMALS 4

typedef struct {
    CliOut *out;
    GString *line;
} Export;

static bool cli_export_flush(Export *export, GError **error)
{
    bool good = fwrite(export->line->str, 1, export->line->len, cli_out_stream(export->out)) ==
                export->line->len;
    g_string_truncate(export->line, 0);
    return good || cli_out_failed(export->out, error);
}

static bool cli_export_line(Export *export, GError **error)
{
    csv_line_end(export->line);
    return cli_export_flush(export, error);
}

static bool cli_export_sample(const LfStudySample *sample, void *data, GError **error)
{
    Export *export = data;
    const LfSampleCast *result = &sample->result;

    csv_line_text(export->line, sample->walk);
    csv_line_seconds(export->line, sample->t_us, sample->time_decimals);
    if (sample->cast) {
        csv_line_text(export->line, sample->photo);
        csv_line_fixed(export->line, result->x, EXPORT_PX_DECIMALS);
        csv_line_fixed(export->line, result->y, EXPORT_PX_DECIMALS);
        csv_line_fixed(export->line, result->confidence, EXPORT_CONFIDENCE_DECIMALS);
        csv_line_text(export->line, lf_state_name(result->state));
        csv_line_fixed(export->line, result->radius_px, EXPORT_PX_DECIMALS);
    } else {
        g_string_append(export->line, ",,,,,,");
    }
    return cli_export_line(export, error);
}

static bool cli_export_pose(const LfStudyPose *pose, void *data, GError **error)
{
    Export *export = data;
    csv_line_text(export->line, pose->walk);
    csv_line_seconds(export->line, pose->pose.t_us, 6);
    csv_line_text(export->line, pose->photo);
    for (int i = 0; i < 9; i++)
        csv_line_exact(export->line, pose->pose.photo_from_frame.m[i]);
    csv_line_fixed(export->line, pose->pose.confidence, EXPORT_CONFIDENCE_DECIMALS);
    return cli_export_line(export, error);
}

static void cli_export_header(Export *export, bool samples)
{
    g_string_append(export->line, samples
                                      ? "walk,t_s,photo,x_px,y_px,confidence,state,radius_px"
                                      : "walk,t_s,photo,photo_from_frame_1,photo_from_frame_2,"
                                        "photo_from_frame_3,photo_from_frame_4,photo_from_frame_5,"
                                        "photo_from_frame_6,photo_from_frame_7,photo_from_frame_8,"
                                        "photo_from_frame_9,confidence");
    csv_line_end(export->line);
}

/* The header waits in the line buffer for the first row: where nothing is cast, nothing is printed.
 */
static bool cli_export_write(LfStudy *study, bool samples, const char *const *walks, CliOut *out,
                             GPtrArray *undone, GError **error)
{
    g_autoptr(GString) line = g_string_new(NULL);
    Export export = {out, line};
    cli_export_header(&export, samples);
    bool ok = samples
                  ? lf_study_export_samples(study, walks, cli_export_sample, &export, undone, error)
                  : lf_study_export_poses(study, walks, cli_export_pose, &export, undone, error);
    return ok && cli_export_flush(&export, error);
}

static int cli_export_undone(const char *path, const GPtrArray *undone)
{
    g_autofree char *study = cli_quoted(path);
    g_autoptr(GString) names = g_string_new(NULL);
    for (guint i = 0; i < undone->len; i++)
        g_string_append_printf(names, "%s%s", i ? ", " : "", (const char *)undone->pdata[i]);
    cli_say("not wholly cast, so that rows are blank or missing: %s. \"lookfall cast %s\" does the "
            "rest",
            names->str, study);
    return CLI_PART;
}

static int cli_export_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(GStrv) walks = NULL;
    g_autofree char *path = NULL;
    gboolean force = FALSE;
    const GOptionEntry options[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &walks,
         "Export this walk only; may be given several times", "NAME"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &path, "Write to this file instead of stdout", "FILE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace the file if it is there already", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", "samples or poses", NULL};
    static const char *const kinds[] = {"samples", "poses", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) undone = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(CliOut) out = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!g_strv_contains(kinds, values[1])) {
        const char *nearest = cli_nearest(values[1], kinds);
        return cli_misuse(
            command, "export: there are samples and poses to export, not \"%s\"%s%s%s", values[1],
            nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
    }
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(out = cli_out_open(path, force, &error)) ||
        !cli_export_write(study, strcmp(values[1], "samples") == 0, (const char *const *)walks, out,
                          undone, &error) ||
        !cli_out_keep(out, &error))
        return cli_fail(error);
    return undone->len > 0 ? cli_export_undone(values[0], undone) : CLI_DONE;
}

const CliCommand cli_export = {
    .name = "export",
    .summary = "Write the results as CSV",
    .arguments = "STUDY samples|poses",
    .about =
        "Writes results as CSV (RFC 4180: commas, lines end in CR LF, decimal points).\n"
        "\n"
        "samples: one row for each sample of the gaze files, in their order:\n"
        "  walk,t_s,photo,x_px,y_px,confidence,state,radius_px\n"
        "t_s counts seconds from the start of the walk's video, with the clock shift applied; the\n"
        "n-th row of a walk is the n-th sample of its gaze file. x_px and y_px lie on the photo;\n"
        "radius_px is one standard error there. state is lost (no gaze in the file), away (on no\n"
        "photo), blocked (something stands in front), doubtful, sure or placed (by a person).\n"
        "What has no value is blank.\n"
        "\n"
        "poses: the mapping of each frame in which a photo was found, row by row, from frame "
        "pixels\n"
        "free of lens distortion to photo pixels (the matrix times (x, y, 1)):\n"
        "  walk,t_s,photo,photo_from_frame_1 to photo_from_frame_9,confidence",
    .example = "lookfall export aisle.lookfall samples --out samples.csv",
    .run = cli_export_run,
};
