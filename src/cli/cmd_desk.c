/* lookfall desk: serves the study's page until it is told to stop. */
#include "cli.h"

#include <signal.h>
#include <stdio.h>
#include <unistd.h>

#include <gio/gio.h>
#include <glib-unix.h>

static gboolean cli_desk_stop(gpointer loop)
{
    g_main_loop_quit(loop);
    return G_SOURCE_CONTINUE;
}

static void cli_desk_show(LfDesk *desk, bool open)
{
    g_autofree char *link = lf_desk_link(desk);
    g_autoptr(GError) error = NULL;
    printf("%s\n", link);
    fflush(stdout);
    if (open && !g_app_info_launch_default_for_uri(link, NULL, &error))
        cli_say("no browser could be opened; open the link above in one");
}

/* Enter in the terminal asks for another link: each lets one browser in, once. */
static gboolean cli_desk_key(gint fd, GIOCondition condition, gpointer desk)
{
    char line[256];
    ssize_t n = read(fd, line, sizeof line);
    (void)condition;
    if (n <= 0)
        return G_SOURCE_REMOVE;
    cli_desk_show(desk, false);
    return G_SOURCE_CONTINUE;
}

static int cli_desk_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *port_text = NULL;
    gboolean no_browser = FALSE;
    const GOptionEntry options[] = {
        {"port", 0, 0, G_OPTION_ARG_FILENAME, &port_text,
         "Listen on this port (default: any that is free)", "N"},
        {"no-browser", 0, 0, G_OPTION_ARG_NONE, &no_browser, "Print the link only, open no browser",
         NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    double port = 0;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (port_text && !cli_number(command, "port", port_text, 1, 65535, &port))
        return CLI_USAGE;
    if (port != (int)port)
        return cli_misuse(command, "desk: --port needs a whole number, not %s", port_text);
    g_autoptr(LfDesk) desk = lf_desk_new(values[0], (int)port, &error);
    if (!desk)
        return cli_fail(error);
    g_autoptr(GMainLoop) loop = g_main_loop_new(NULL, FALSE);
    g_unix_signal_add(SIGINT, cli_desk_stop, loop);
    g_unix_signal_add(SIGTERM, cli_desk_stop, loop);
    g_unix_signal_add(SIGHUP, cli_desk_stop, loop);
    cli_say("the desk is at the link below; it lets one browser in, once. Press Enter for another "
            "link, Ctrl-C to end");
    cli_desk_show(desk, !no_browser);
    if (isatty(STDIN_FILENO))
        g_unix_fd_add(STDIN_FILENO, G_IO_IN | G_IO_HUP, cli_desk_key, desk);
    g_main_loop_run(loop);
    return CLI_DONE;
}

const CliCommand cli_desk = {
    .name = "desk",
    .summary = "Open the page for review, marks and areas",
    .arguments = "STUDY",
    .about =
        "Serves a page on this machine alone, for a browser of yours: the stretches the engine "
        "was\n"
        "unsure of, each to be settled with one action; the walks with their gaze; marks; areas "
        "of\n"
        "interest. Everything done there is written to the study at once and can be undone.\n"
        "The printed link lets one browser in, once; Enter prints another one. Ctrl-C ends it.",
    .example = "lookfall desk aisle.lookfall\n"
               "  lookfall desk aisle.lookfall --port 8123 --no-browser",
    .run = cli_desk_run,
};
