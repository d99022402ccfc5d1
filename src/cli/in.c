/* Files a command reads as a whole. */
#include "in.h"

#include <glib/gstdio.h>

#include <lookfall/error.h>

bool cli_in_read(const char *path, char **text, gsize *length, GError **error)
{
    g_autoptr(GError) why = NULL;
    GStatBuf info;
    if (g_stat(path, &info) == 0 && info.st_size > CLI_IN_MOST) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is larger than 64 MB; that cannot be the right file", path);
        return false;
    }
    if (g_file_get_contents(path, text, length, &why))
        return true;
    bool input = g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOTDIR) ||
                 g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_ISDIR);
    if (g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOENT))
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no such file", path);
    else
        g_set_error(error, LF_ERROR, input ? LF_ERROR_INPUT : LF_ERROR_MACHINE,
                    "%s: cannot be read: %s", path, why->message);
    return false;
}
