/* lookfall: picks the command and hands the rest of the line to it. */
#include "cli.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

/* In the order of work. */
static const CliCommand *const main_commands[] = {
    &cli_locate,     &cli_new,         &cli_photo_add,   &cli_photo_list,  &cli_photo_remove,
    &cli_walk_add,   &cli_walk_import, &cli_walk_list,   &cli_walk_remove, &cli_cast,
    &cli_fixate,     &cli_info,        &cli_desk,        &cli_aoi_import,  &cli_aoi_list,
    &cli_aoi_export, &cli_mark_import, &cli_mark_export, &cli_export,      &cli_draw,
    &cli_film,       &cli_report,
};

static void main_list(FILE *to, const char *group)
{
    for (gsize i = 0; i < G_N_ELEMENTS(main_commands); i++) {
        const CliCommand *command = main_commands[i];
        gsize length = group ? strlen(group) : 0;
        if (!group || (strncmp(command->name, group, length) == 0 && command->name[length] == ' '))
            fprintf(to, "  %-14s %s\n", command->name, command->summary);
    }
}

static void main_help(FILE *to)
{
    fputs(
        "Usage:\n"
        "  lookfall COMMAND STUDY [OPTION...]\n"
        "\n"
        "Casts the gaze of head-worn eye trackers onto still photos: from scene videos, gaze\n"
        "files and a photo of the shelf or sign to a table that tells for each gaze sample where\n"
        "on the photo it falls, and how sure that is. A study is one file that holds all but the\n"
        "videos and photos.\n"
        "\n"
        "Commands, in the order of work:\n",
        to);
    main_list(to, NULL);
    fputs(
        "\n"
        "\"lookfall COMMAND --help\" explains a command and shows an example.\n"
        "\"lookfall --version\" shows the version.\n"
        "\n"
        "Exit status: 0 done; 1 done in part (what failed is listed); 2 wrong usage; 3 bad input;\n"
        "4 the machine's fault (disk full, no permission).\n",
        to);
}

/* "photo add" is two words, "cast" is one. */
static const CliCommand *main_find(int argc, char **argv, int *words)
{
    for (gsize i = 0; i < G_N_ELEMENTS(main_commands); i++) {
        const CliCommand *command = main_commands[i];
        const char *blank = strchr(command->name, ' ');
        gsize length = blank ? (gsize)(blank - command->name) : strlen(command->name);
        if (strlen(argv[1]) != length || strncmp(argv[1], command->name, length) != 0)
            continue;
        *words = blank ? 2 : 1;
        if (!blank || (argc > 2 && strcmp(argv[2], blank + 1) == 0))
            return command;
    }
    return NULL;
}

static bool main_is_group(const char *word)
{
    g_autofree char *prefix = g_strconcat(word, " ", NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(main_commands); i++)
        if (g_str_has_prefix(main_commands[i]->name, prefix))
            return true;
    return false;
}

static int main_group(int argc, char **argv)
{
    bool help = argc > 2 && (strcmp(argv[2], "--help") == 0 || strcmp(argv[2], "-h") == 0);
    if (argc > 2 && !help) {
        g_autoptr(GPtrArray) names = g_ptr_array_new(); /* second words */
        for (gsize i = 0; i < G_N_ELEMENTS(main_commands); i++)
            if (g_str_has_prefix(main_commands[i]->name, argv[1]))
                g_ptr_array_add(names, strchr(main_commands[i]->name, ' ') + 1);
        g_ptr_array_add(names, NULL);
        const char *nearest = cli_nearest(argv[2], (const char *const *)(gpointer)names->pdata);
        if (nearest)
            cli_say("there is no command \"%s %s\"; did you mean \"%s %s\"?", argv[1], argv[2],
                    argv[1], nearest);
        else
            cli_say("there is no command \"%s %s\"", argv[1], argv[2]);
    } else if (!help) {
        cli_say("\"%s\" needs to know what to do", argv[1]);
    }
    FILE *to = help ? stdout : stderr;
    fprintf(to, "Commands:\n");
    main_list(to, argv[1]);
    return help ? CLI_DONE : CLI_USAGE;
}

static int main_unknown(const char *word)
{
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free); /* first words */
    for (gsize i = 0; i < G_N_ELEMENTS(main_commands); i++)
        g_ptr_array_add(names,
                        g_strndup(main_commands[i]->name, strcspn(main_commands[i]->name, " ")));
    g_ptr_array_add(names, NULL);
    const char *nearest = cli_nearest(word, (const char *const *)(gpointer)names->pdata);
    if (nearest)
        cli_say("there is no command \"%s\"; did you mean \"%s\"?", word, nearest);
    else
        cli_say("there is no command \"%s\"", word);
    fprintf(stderr, "\"lookfall --help\" lists the commands.\n");
    return CLI_USAGE;
}

/* What was printed has to arrive: a full disk behind stdout is an error too. */
static int main_flush(int status)
{
    bool good = fflush(stdout) == 0 && !ferror(stdout);
    if (good || status > CLI_PART)
        return status;
    cli_say("the output could not be written (is the disk full?)");
    return CLI_MACHINE;
}

int main(int argc, char **argv)
{
    /* A limit on file sizes is to be an error that rolls a write back, not the end of the program.
     */
    signal(SIGXFSZ, SIG_IGN);

    if (argc < 2) {
        main_help(stderr);
        return CLI_USAGE;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 ||
        strcmp(argv[1], "help") == 0) {
        main_help(stdout);
        return main_flush(CLI_DONE);
    }
    if (strcmp(argv[1], "--version") == 0) {
        printf("lookfall %s (engine %d, confidence model %s)\n", LOOKFALL_VERSION,
               LF_ENGINE_VERSION, lf_confidence_model());
        return main_flush(CLI_DONE);
    }
    int words = 1;
    const CliCommand *command = main_find(argc, argv, &words);
    if (command)
        return main_flush(command->run(command, argc - words, argv + words));
    if (main_is_group(argv[1]))
        return main_flush(main_group(argc, argv));
    return main_unknown(argv[1]);
}
