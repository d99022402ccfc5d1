/* Options and messages, the same way for every command. */
#include "cli.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* --- messages --------------------------------------------------------------------------------- */

/* Not g_printerr, which would turn the letters of names into question marks where no locale is
 * set. */
static void cli_write(const char *format, va_list list) G_GNUC_PRINTF(1, 0);
static void cli_write(const char *format, va_list list)
{
    g_autofree char *text = g_strdup_vprintf(format, list);
    fprintf(stderr, "lookfall: %s\n", text);
}

void cli_say(const char *format, ...)
{
    va_list list;
    va_start(list, format);
    cli_write(format, list);
    va_end(list);
}

int cli_misuse(const CliCommand *command, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    cli_write(format, list);
    va_end(list);
    fprintf(stderr, "\"lookfall %s --help\" tells how to use it.\n", command->name);
    return CLI_USAGE;
}

int cli_fail(GError *error)
{
    int status = error->domain == LF_ERROR ? error->code : CLI_MACHINE;
    cli_say("%s", error->message);
    g_error_free(error);
    return status;
}

void cli_note(const char *sentence, G_GNUC_UNUSED void *data)
{
    cli_say("note: %s", sentence);
}

char *cli_count(gsize n, const char *thing)
{
    return g_strdup_printf("%" G_GSIZE_FORMAT " %s%s", n, thing, n == 1 ? "" : "s");
}

char *cli_quoted(const char *path)
{
    static const char plain[] = G_CSET_a_2_z G_CSET_A_2_Z G_CSET_DIGITS "/._-+,:=@";
    return path[strspn(path, plain)] ? g_shell_quote(path) : g_strdup(path);
}

/* Edit distance with swaps of neighbours (optimal string alignment). */
static int cli_distance(const char *a, const char *b)
{
    enum { MOST = 64 };
    int d[MOST + 1][MOST + 1];
    int n = (int)MIN(strlen(a), MOST), m = (int)MIN(strlen(b), MOST);
    for (int i = 0; i <= n; i++)
        d[i][0] = i;
    for (int j = 0; j <= m; j++)
        d[0][j] = j;
    for (int i = 1; i <= n; i++)
        for (int j = 1; j <= m; j++) {
            d[i][j] =
                MIN(MIN(d[i - 1][j], d[i][j - 1]) + 1, d[i - 1][j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = MIN(d[i][j], d[i - 2][j - 2] + 1);
        }
    return d[n][m];
}

const char *cli_nearest(const char *word, const char *const *candidates)
{
    const char *nearest = NULL;
    /* More than a third of the letters wrong is another word. */
    int least = (int)strlen(word) / 3 + 1;
    for (gsize i = 0; candidates[i]; i++) {
        int distance = cli_distance(word, candidates[i]);
        bool begins = strlen(word) > 2 && g_str_has_prefix(candidates[i], word);
        if (begins ? least > 0 : distance <= least) {
            nearest = candidates[i];
            least = begins ? 0 : distance - 1;
        }
    }
    return nearest;
}

/* --- options ---------------------------------------------------------------------------------- */

static void cli_help(const CliCommand *command, GOptionContext *context)
{
    g_autofree char *name = g_strdup_printf("lookfall %s", command->name);
    g_autofree char *example = g_strdup_printf("Example:\n  %s", command->example);
    g_set_prgname(name);
    g_option_context_set_summary(context, command->about);
    g_option_context_set_description(context, example);
    g_autofree char *help = g_option_context_get_help(context, TRUE, NULL);
    fputs(help, stdout);
}

static int cli_parse_failed(const CliCommand *command, const GOptionEntry *options,
                            const GError *error)
{
    const char *option = strstr(error->message, " --");
    if (g_error_matches(error, G_OPTION_ERROR, G_OPTION_ERROR_UNKNOWN_OPTION) && option) {
        g_autoptr(GPtrArray) names = g_ptr_array_new();
        for (gsize i = 0; options[i].long_name; i++)
            g_ptr_array_add(names, (gpointer)options[i].long_name);
        g_ptr_array_add(names, (gpointer) "help");
        g_ptr_array_add(names, NULL);
        const char *nearest = cli_nearest(option + 3, (const char *const *)(gpointer)names->pdata);
        if (nearest)
            return cli_misuse(command, "%s: unknown option %s; did you mean --%s?", command->name,
                              option + 1, nearest);
    }
    return cli_misuse(command, "%s: %s", command->name, error->message);
}

bool cli_parse(const CliCommand *command, const GOptionEntry *options, const char *const *words,
               int argc, char **argv, char ***values, int *status)
{
    g_autoptr(GOptionContext) context = g_option_context_new(command->arguments);
    g_autoptr(GError) error = NULL;
    gboolean help = FALSE;
    const GOptionEntry common[] = {
        {"help", 'h', 0, G_OPTION_ARG_NONE, &help, "Show this help", NULL},
        G_OPTION_ENTRY_NULL,
    };
    /* The parser takes words out of the list it is given, and frees none of them. */
    g_auto(GStrv) copy = g_new0(char *, (gsize)argc + 1);
    for (int i = 0; i < argc; i++)
        copy[i] = g_strdup(argv[i]);

    g_option_context_set_help_enabled(context, FALSE); /* it would translate and exit by itself */
    g_option_context_add_main_entries(context, options, NULL);
    g_option_context_add_main_entries(context, common, NULL);
    *status = CLI_USAGE;
    if (!g_option_context_parse_strv(context, &copy, &error)) {
        *status = cli_parse_failed(command, options, error);
        return false;
    }
    if (help) {
        cli_help(command, context);
        *status = CLI_DONE;
        return false;
    }
    gsize given = g_strv_length(copy) - 1;
    /* "--" ends the options; the parser leaves it in place. */
    char **first = copy + 1;
    if (given > 0 && strcmp(first[0], "--") == 0) {
        first++;
        given--;
    }
    gsize needed = g_strv_length((char **)(gpointer)words);
    if (given < needed) {
        cli_misuse(command, "%s: %s is missing", command->name, words[given]);
        return false;
    }
    if (given > needed) {
        cli_misuse(command, "%s: do not know what to do with \"%s\"", command->name, first[needed]);
        return false;
    }
    *values = g_strdupv(first);
    return true;
}

bool cli_number(const CliCommand *command, const char *option, const char *text, double low,
                double high, double *value)
{
    char *end;
    double number = g_ascii_strtod(text, &end);
    if (end == text || *end || !isfinite(number)) {
        cli_misuse(command, "%s: --%s needs a number (with a decimal point), not \"%s\"",
                   command->name, option, text);
        return false;
    }
    if (number < low || number > high) {
        cli_misuse(command, "%s: --%s must lie between %.7g and %.7g, not %s", command->name,
                   option, low, high, text);
        return false;
    }
    *value = number;
    return true;
}

bool cli_needed(const CliCommand *command, ...)
{
    const char *missing = NULL;
    va_list list;
    va_start(list, command);
    for (const char *name; !missing && (name = va_arg(list, const char *));)
        if (!va_arg(list, const char *))
            missing = name;
    va_end(list);
    if (missing)
        cli_misuse(command, "%s: --%s is missing", command->name, missing);
    return !missing;
}

bool cli_settings(const CliCommand *command, const char *tolerance, const char *sure_at,
                  LfCastSettings *settings)
{
    g_autoptr(GError) error = NULL;
    if ((tolerance &&
         !cli_number(command, "tolerance", tolerance, 0, 20, &settings->tolerance_deg)) ||
        (sure_at && !cli_number(command, "sure-at", sure_at, 0, 1, &settings->sure_at)))
        return false;
    if (lf_study_settings_check(settings, &error))
        return true;
    cli_misuse(command, "%s: %s", command->name, error->message);
    return false;
}
