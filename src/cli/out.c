/* Where data goes. A file is written beside its place and renamed when whole, so that a reader
 * never sees half of it, and a failed export leaves the file of the day before. */
#include "out.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

#include <lookfall/error.h>

struct CliOut {
    FILE *stream;
    char *path; /* NULL: stdout, or a device that is written as it is */
    char *draft;
};

static bool cli_out_error(const char *path, int why, GError **error)
{
    g_set_error(error, LF_ERROR,
                why == ENOENT || why == ENOTDIR || why == EISDIR ? LF_ERROR_INPUT
                                                                 : LF_ERROR_MACHINE,
                "%s: cannot be written: %s", path, g_strerror(why));
    return false;
}

static bool cli_out_folder(const char *path, GError **error)
{
    g_autofree char *folder = g_path_get_dirname(path);

    if (g_file_test(folder, G_FILE_TEST_EXISTS))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no folder %s; make it first", path,
                folder);
    return false;
}

CliOut *cli_out_open(const char *path, bool force, LfStudy *study, GError **error)
{
    g_autoptr(CliOut) out = g_new0(CliOut, 1);

    if (path && !*path) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "the output needs a file name");
        return NULL;
    }
    if (!path || strcmp(path, "-") == 0) {
        out->stream = stdout;
        return g_steal_pointer(&out);
    }
    if (g_file_test(path, G_FILE_TEST_EXISTS) && !g_file_test(path, G_FILE_TEST_IS_REGULAR) &&
        !g_file_test(path, G_FILE_TEST_IS_DIR)) { /* a device or a pipe */
        out->stream = fopen(path, "wbe");
        if (!out->stream) {
            cli_out_error(path, errno, error);
            return NULL;
        }
        return g_steal_pointer(&out);
    }
    if (g_file_test(path, G_FILE_TEST_IS_DIR)) {
        cli_out_error(path, EISDIR, error);
        return NULL;
    }
    if (study && !lf_study_spares(study, path, error))
        return NULL;
    if (!cli_out_folder(path, error))
        return NULL;
    if (!force && g_file_test(path, G_FILE_TEST_EXISTS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s exists already and is left as it is; --force replaces it", path);
        return NULL;
    }
    out->path = g_strdup(path);
    out->draft = g_strdup_printf("%s.part-%d", path, (int)getpid());
    int fd = open(out->draft, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (fd < 0) {
        cli_out_error(path, errno, error);
        g_clear_pointer(&out->draft, g_free); /* not ours to remove */
        return NULL;
    }
    out->stream = fdopen(fd, "wb");
    return g_steal_pointer(&out);
}

FILE *cli_out_stream(CliOut *out)
{
    return out->stream;
}

bool cli_out_failed(CliOut *out, GError **error)
{
    return cli_out_error(out->path ? out->path : "the output", errno, error);
}

bool cli_out_keep(CliOut *out, GError **error)
{
    if (fflush(out->stream) != 0 || ferror(out->stream))
        return cli_out_failed(out, error);
    if (!out->draft)
        return true;
    int code = fsync(fileno(out->stream)) == 0 ? 0 : errno;
    if (fclose(out->stream) != 0 && code == 0)
        code = errno;
    out->stream = NULL;
    if (code == 0 && g_rename(out->draft, out->path) != 0)
        code = errno;
    if (code != 0)
        return cli_out_error(out->path, code, error);
    g_clear_pointer(&out->draft, g_free);
    return true;
}

void cli_out_free(CliOut *out)
{
    if (!out)
        return;
    if (out->stream && out->stream != stdout)
        fclose(out->stream);
    if (out->draft)
        g_unlink(out->draft);
    g_free(out->draft);
    g_free(out->path);
    g_free(out);
}
