/* Writing a report. */
#include "report/report_out.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include <glib/gstdio.h>

#include <lookfall/error.h>

typedef struct {
    char *path, *draft; /* draft: where it is until all are written */
    GBytes *bytes;
} ReportFile;

struct ReportOut {
    char *path;
    LfStudy *study; /* borrowed: nothing of it is written over */
    bool folder, force;
    GPtrArray *files; /* ReportFile */
    GPtrArray *made;  /* char *: folders made here, outer ones first */
};

static void report_out_file_free(gpointer data)
{
    ReportFile *file = data;
    g_free(file->path);
    g_free(file->draft);
    g_bytes_unref(file->bytes);
    g_free(file);
}

static bool report_out_fail(const char *path, int why, GError **error)
{
    g_set_error(error, LF_ERROR,
                why == ENOENT || why == ENOTDIR || why == EISDIR ? LF_ERROR_INPUT
                                                                 : LF_ERROR_MACHINE,
                "%s: cannot be written: %s.", path, g_strerror(why));
    return false;
}

static bool report_out_check(const ReportOut *out, GError **error)
{
    g_autofree char *parent = g_path_get_dirname(out->path);
    const bool exists = g_file_test(out->path, G_FILE_TEST_EXISTS);

    if (!g_file_test(parent, G_FILE_TEST_IS_DIR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no folder %s; make it first.",
                    out->path, parent);
        return false;
    }
    if (exists && out->folder != g_file_test(out->path, G_FILE_TEST_IS_DIR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    out->folder ? "%s is a file; a report in one file needs a name that ends in "
                                  ".html, one in parts a folder."
                                : "%s is a folder; give the report a name of its own.",
                    out->path);
        return false;
    }
    g_autofree char *page =
        out->folder ? g_build_filename(out->path, "report.html", NULL) : g_strdup(out->path);
    if (!out->force && g_file_test(page, G_FILE_TEST_EXISTS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s exists already and is left as it is; --force replaces it.", page);
        return false;
    }
    return lf_study_spares(out->study, page, error);
}

ReportOut *report_out_new(LfStudy *study, const char *path, bool force, GError **error)
{
    g_autoptr(ReportOut) out = g_new0(ReportOut, 1);
    g_autofree char *lower = g_ascii_strdown(path, -1);

    out->study = study;
    out->path = g_strdup(path);
    for (gsize n = strlen(out->path); n > 1 && out->path[n - 1] == '/'; n--)
        out->path[n - 1] = '\0';
    out->folder = !g_str_has_suffix(lower, ".html") && !g_str_has_suffix(lower, ".htm");
    out->force = force;
    out->files = g_ptr_array_new_with_free_func(report_out_file_free);
    out->made = g_ptr_array_new_with_free_func(g_free);
    return report_out_check(out, error) ? g_steal_pointer(&out) : NULL;
}

void report_out_free(ReportOut *out)
{
    if (out == NULL)
        return;
    g_free(out->path);
    g_ptr_array_unref(out->files);
    g_ptr_array_unref(out->made);
    g_free(out);
}

bool report_out_is_folder(const ReportOut *out)
{
    return out->folder;
}

void report_out_add(ReportOut *out, const char *name, GBytes *bytes)
{
    ReportFile *file = g_new0(ReportFile, 1);

    file->path = out->folder ? g_build_filename(out->path, name, NULL) : g_strdup(out->path);
    file->draft = g_strdup_printf("%s.part-%d", file->path, (int)getpid());
    file->bytes = bytes;
    g_ptr_array_add(out->files, file);
}

static bool report_out_make_folder(ReportOut *out, const char *path, GError **error)
{
    if (g_file_test(path, G_FILE_TEST_IS_DIR))
        return true;
    if (g_mkdir(path, 0777) != 0)
        return report_out_fail(path, errno, error);
    g_ptr_array_add(out->made, g_strdup(path));
    return true;
}

static bool report_out_draft(const ReportFile *file, GError **error)
{
    gsize n;
    const char *bytes = g_bytes_get_data(file->bytes, &n);
    FILE *stream = g_fopen(file->draft, "wbxe");
    int code = stream != NULL ? 0 : errno;

    if (stream == NULL)
        return report_out_fail(file->path, code, error);
    if (fwrite(bytes, 1, n, stream) != n || fflush(stream) != 0 || fsync(fileno(stream)) != 0)
        code = errno;
    if (fclose(stream) != 0 && code == 0)
        code = errno;
    return code == 0 || report_out_fail(file->path, code, error);
}

static bool report_out_draft_all(ReportOut *out, GError **error)
{
    if (out->folder && !report_out_make_folder(out, out->path, error))
        return false;
    for (guint i = 0; i < out->files->len; i++) {
        const ReportFile *file = out->files->pdata[i];
        g_autofree char *folder = g_path_get_dirname(file->path);
        if ((out->folder && !report_out_make_folder(out, folder, error)) ||
            !lf_study_spares(out->study, file->path, error) || !report_out_draft(file, error))
            return false;
    }
    return true;
}

static void report_out_undo(const ReportOut *out)
{
    for (guint i = 0; i < out->files->len; i++)
        g_unlink(((ReportFile *)out->files->pdata[i])->draft);
    for (guint i = out->made->len; i-- > 0;)
        g_rmdir(out->made->pdata[i]);
}

bool report_out_write(ReportOut *out, gsize *files, GError **error)
{
    *files = 0;
    if (!report_out_draft_all(out, error)) {
        report_out_undo(out);
        return false;
    }
    for (guint i = 0; i < out->files->len; i++) {
        const ReportFile *file = out->files->pdata[i];
        if (g_rename(file->draft, file->path) != 0) {
            const int why = errno;
            report_out_undo(out);
            return report_out_fail(file->path, why, error);
        }
        (*files)++;
    }
    return true;
}
