/* What the commands share: their table, options, messages, exit statuses.
 *
 * A command is one function; it gets the words after its name and returns the exit status. Data
 * goes to stdout, everything else to stderr. Nothing here calls setlocale: numbers are read and
 * written with a decimal point wherever the program runs, and text is passed through as UTF-8. */
#ifndef LF_CLI_H
#define LF_CLI_H

#include <lookfall/lookfall.h>

enum {
    CLI_DONE = 0,
    CLI_PART = LF_ERROR_PART,
    CLI_USAGE = LF_ERROR_USAGE,
    CLI_INPUT = LF_ERROR_INPUT,
    CLI_MACHINE = LF_ERROR_MACHINE,
};

typedef struct CliCommand CliCommand;
struct CliCommand {
    const char *name;      /* "walk add" */
    const char *summary;   /* for the list of commands: what it does, in a few words */
    const char *arguments; /* what follows the name, for the usage line */
    const char *about;     /* read aloud, it tells a newcomer what happens */
    const char *example;   /* a line to copy */
    int (*run)(const CliCommand *command, int argc, char **argv); /* argv[0] is ignored */
};

extern const CliCommand cli_new, cli_photo_add, cli_photo_list, cli_photo_remove, cli_walk_add,
    cli_walk_list, cli_walk_remove, cli_walk_import, cli_cast, cli_fixate, cli_export, cli_info,
    cli_locate, cli_desk, cli_draw, cli_film, cli_report;
extern const CliCommand cli_aoi_import, cli_aoi_export, cli_aoi_list, cli_mark_import,
    cli_mark_export;

/* --- options (cli.c) --- */

/* Parses the words of a command. `words` are the names of its positional arguments,
 * NULL-terminated, all needed; *values takes them in order (owned by the caller, g_strfreev; option
 * strings by g_free). Use FILENAME options for all text: GLib leaves their bytes alone. True to go
 * on; otherwise *status is the exit status (help was shown, or the usage was wrong). */
bool cli_parse(const CliCommand *command, const GOptionEntry *options, const char *const *words,
               int argc, char **argv, char ***values, int *status);

/* A number given to an option; false, with the message written, where it is none or out of range.
 */
bool cli_number(const CliCommand *command, const char *option, const char *text, double low,
                double high, double *value);
/* Options that must be there: pairs of name and value, ended by NULL. */
bool cli_needed(const CliCommand *command, ...) G_GNUC_NULL_TERMINATED;
/* --tolerance and --sure-at; NULL leaves a setting as it is. */
bool cli_settings(const CliCommand *command, const char *tolerance, const char *sure_at,
                  LfCastSettings *settings);

/* --- messages --- */

void cli_say(const char *format, ...) G_GNUC_PRINTF(1, 2);
/* Wrong usage: the sentence, then where to read on. Returns CLI_USAGE. */
int cli_misuse(const CliCommand *command, const char *format, ...) G_GNUC_PRINTF(2, 3);
/* Says the error, frees it, and returns its exit status. */
int cli_fail(GError *error);
/* An LfStudyNote. */
void cli_note(const char *sentence, void *data);
/* "1 walk", "2 walks"; owned by the caller. */
char *cli_count(gsize n, const char *thing);
/* A path as it has to be typed; owned by the caller. */
char *cli_quoted(const char *path);
/* The nearest of the candidates (NULL-terminated), or NULL where none is near. */
const char *cli_nearest(const char *word, const char *const *candidates);

#endif
