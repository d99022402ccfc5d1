/* lookfall photo add, list, remove. */
#include "cli.h"

#include <math.h>
#include <stdio.h>

#include "json_out.h"
#include "table.h"

/* What the numbers of a report mean for the fieldwork. The limits are common practice, not
 * measured: they only choose a sentence. */
static const char *cli_photo_verdict(const LfPhotoReport *report)
{
    if (report->spread < 0.35)
        return "The features crowd in a small part of the photo: a frame that shows only the rest "
               "will not be found. A photo with texture all over does better.";
    if (report->features < 300)
        return "That is few: distant or blurred frames may not be found. A larger or sharper photo "
               "does better.";
    if (report->alike > 0.6)
        return "Most of the photo repeats itself: a frame that shows little of it may stay "
               "doubtful. Include something that is there only once, such as the shelf's ends.";
    return "It should be found well.";
}

static void cli_photo_json(JsonBuilder *json, const char *name, double width_mm,
                           const LfPhotoReport *report)
{
    json_out_text(json, "name", name);
    json_out_integer(json, "width_px", report->width);
    json_out_integer(json, "height_px", report->height);
    json_out_number(json, "width_mm", width_mm);
    json_out_integer(json, "features", report->features);
    json_out_number(json, "spread", report->spread);
    json_out_number(json, "alike", report->alike);
}

static void cli_photo_print_added(bool as_json, const char *name, double width_mm,
                                  const LfPhotoReport *report)
{
    if (as_json) {
        g_autoptr(JsonBuilder) json = json_builder_new();
        json_builder_begin_object(json);
        cli_photo_json(json, name, width_mm, report);
        json_out_text(json, "verdict", cli_photo_verdict(report));
        json_builder_end_object(json);
        json_out_print(json);
        return;
    }
    printf("Photo %s, %d x %d px: %d features, spread over %.0f%% of it; %.0f%% of them look like "
           "another place on the photo. %s\n",
           name, report->width, report->height, report->features, 100 * report->spread,
           100 * report->alike, cli_photo_verdict(report));
}

static int cli_photo_add_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *name = NULL;
    g_autofree char *image = NULL;
    g_autofree char *width = NULL;
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"name", 0, 0, G_OPTION_ARG_FILENAME, &name, "What to call the photo", "NAME"},
        {"image", 0, 0, G_OPTION_ARG_FILENAME, &image, "The picture: PNG, JPEG or TIFF", "FILE"},
        {"width-mm", 0, 0, G_OPTION_ARG_FILENAME, &width,
         "Real width of what the photo shows from edge to edge, in millimetres", "N"},
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the answer as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    LfPhotoReport report;
    double width_mm = NAN;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "name", name, "image", image, NULL) ||
        (width && !cli_number(command, "width-mm", width, 1e-3, 1e6, &width_mm)))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !lf_study_photo_add(study, name, image, width_mm, &report, &error))
        return cli_fail(error);
    cli_photo_print_added(as_json, name, width_mm, &report);
    return CLI_DONE;
}

static void cli_photo_print_list(const GPtrArray *photos)
{
    g_autoptr(CliTable) table = cli_table_new("lrrrrrl");
    cli_table_row(table, "name", "px", "mm", "features", "spread", "alike", "image");
    for (guint i = 0; i < photos->len; i++) {
        const LfStudyPhoto *photo = photos->pdata[i];
        g_autofree char *size =
            g_strdup_printf("%d x %d", photo->report.width, photo->report.height);
        g_autofree char *width =
            isnan(photo->width_mm) ? g_strdup("") : g_strdup_printf("%.0f", photo->width_mm);
        g_autofree char *features = g_strdup_printf("%d", photo->report.features);
        g_autofree char *spread = g_strdup_printf("%.0f%%", 100 * photo->report.spread);
        g_autofree char *alike = g_strdup_printf("%.0f%%", 100 * photo->report.alike);
        cli_table_row(table, photo->name, size, width, features, spread, alike, photo->path);
    }
    cli_table_print(table, stdout);
}

static int cli_photo_list_run(const CliCommand *command, int argc, char **argv)
{
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the list as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) photos = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(photos = lf_study_photos(study, &error)))
        return cli_fail(error);
    if (!as_json) {
        cli_photo_print_list(photos);
        return CLI_DONE;
    }
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_array(json);
    for (guint i = 0; i < photos->len; i++) {
        const LfStudyPhoto *photo = photos->pdata[i];
        json_builder_begin_object(json);
        cli_photo_json(json, photo->name, photo->width_mm, &photo->report);
        json_out_text(json, "image", photo->path);
        json_out_text(json, "sha256", photo->sha256);
        json_builder_end_object(json);
    }
    json_builder_end_array(json);
    json_out_print(json);
    return CLI_DONE;
}

static int cli_photo_remove_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *name = NULL;
    const GOptionEntry options[] = {
        {"name", 0, 0, G_OPTION_ARG_FILENAME, &name, "The photo to remove", "NAME"},
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
    if (!study || !lf_study_photo_remove(study, name, &error))
        return cli_fail(error);
    cli_say("photo %s is removed; what was cast with it has to be cast again", name);
    return CLI_DONE;
}

const CliCommand cli_photo_add = {
    .name = "photo add",
    .summary = "Add a reference photo and say how findable it is",
    .arguments = "STUDY",
    .about = "Adds a photo of the shelf or sign onto which gaze is to be cast. A study may have\n"
             "several; each frame is looked for on all of them. The answer tells how well the\n"
             "photo can be found again: how many features it has, how evenly they are spread, and\n"
             "how many of them look like another place of the same photo. The picture stays where\n"
             "it is. A photo added later means that every walk is cast again.",
    .example = "lookfall photo add aisle.lookfall --name shelf --image shelf.jpg --width-mm 2400",
    .run = cli_photo_add_run,
};

const CliCommand cli_photo_list = {
    .name = "photo list",
    .summary = "List the photos",
    .arguments = "STUDY",
    .about = "Lists the photos of a study.",
    .example = "lookfall photo list aisle.lookfall",
    .run = cli_photo_list_run,
};

const CliCommand cli_photo_remove = {
    .name = "photo remove",
    .summary = "Take a photo out of the study",
    .arguments = "STUDY",
    .about =
        "Takes a photo out of the study, with every result that was cast while it was in; the\n"
        "walks have to be cast again. The picture itself is not touched.",
    .example = "lookfall photo remove aisle.lookfall --name shelf",
    .run = cli_photo_remove_run,
};
