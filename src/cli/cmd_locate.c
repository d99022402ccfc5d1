/* lookfall locate: one photo in one picture, without a study. */
#include "cli.h"

#include <stdio.h>

#include "json_out.h"

static void cli_locate_json(const LfLocated *located)
{
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_object(json);
    json_out_flag(json, "found", located->found);
    json_builder_set_member_name(json, "photo_to_image");
    if (located->found) {
        json_builder_begin_array(json);
        for (int i = 0; i < 9; i++)
            json_out_number(json, NULL, located->photo_to_image.m[i]);
        json_builder_end_array(json);
    } else {
        json_builder_add_null_value(json);
    }
    json_out_number(json, "confidence", located->confidence);
    json_builder_end_object(json);
    json_out_print(json);
}

static void cli_locate_print(const LfLocated *located)
{
    const double *m = located->photo_to_image.m;
    if (!located->found) {
        printf("The photo was not found in the picture.\n");
        return;
    }
    printf("The photo was found, confidence %.2f. From photo pixels to picture pixels:\n",
           located->confidence);
    for (int i = 0; i < 9; i += 3)
        printf("  %14.8g %14.8g %14.8g\n", m[i], m[i + 1], m[i + 2]);
}

static int cli_locate_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *photo = NULL;
    g_autofree char *image = NULL;
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &photo, "The photo to look for", "FILE"},
        {"image", 0, 0, G_OPTION_ARG_FILENAME, &image, "The picture to look in", "FILE"},
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the answer as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    LfLocated located = {0};
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "photo", photo, "image", image, NULL))
        return CLI_USAGE;
    if (!lf_locate_file(photo, image, &located, &error))
        return cli_fail(error);
    if (as_json)
        cli_locate_json(&located);
    else
        cli_locate_print(&located);
    return CLI_DONE;
}

const CliCommand cli_locate = {
    .name = "locate",
    .summary = "Try a photo: find it in one picture, without a study",
    .arguments = "--photo FILE --image FILE",
    .about =
        "Looks for a photo in one picture, so that you can try the photo before the fieldwork. "
        "With\n"
        "--json the answer is {\"found\": true, \"photo_to_image\": [9 numbers, row by row],\n"
        "\"confidence\": p}; where it is not found, found is false and photo_to_image null. Both\n"
        "answers are exit status 0.",
    .example = "lookfall locate --photo shelf.jpg --image test-shot.jpg --json",
    .run = cli_locate_run,
};
