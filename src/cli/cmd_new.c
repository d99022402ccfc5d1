/* lookfall new: an empty study. */
#include "cli.h"

static int cli_new_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *tolerance = NULL;
    g_autofree char *sure_at = NULL;
    const GOptionEntry options[] = {
        {"tolerance", 0, 0, G_OPTION_ARG_FILENAME, &tolerance,
         "How far off a right cast point may be, in degrees of visual angle (default 1)", "DEG"},
        {"sure-at", 0, 0, G_OPTION_ARG_FILENAME, &sure_at,
         "Confidence from which a sample is sure, over 0 and up to 1 (default 0.85)", "P"},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    LfCastSettings settings = lf_cast_settings_default();
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (!cli_settings(command, tolerance, sure_at, &settings))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_create(values[0], &settings, &error);
    if (!study)
        return cli_fail(error);
    g_autofree char *quoted = cli_quoted(values[0]);
    cli_say("%s is ready; next: lookfall photo add %s --name NAME --image FILE", values[0], quoted);
    return CLI_DONE;
}

const CliCommand cli_new = {
    .name = "new",
    .summary = "Make an empty study",
    .arguments = "STUDY",
    .about = "Makes an empty study: one file that will hold everything about your walks but the\n"
             "videos and photos, which it points to. An existing file is never replaced.",
    .example = "lookfall new aisle.lookfall --tolerance 1 --sure-at 0.8",
    .run = cli_new_run,
};
