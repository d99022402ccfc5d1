/* Input files: stamps, checksums and how they are found again.
 *
 * A file is kept by its absolute path and by its path from the study's folder, so that a folder
 * that holds a study and its videos may be moved as a whole. Where both paths lead to a file, the
 * one of the recorded size and time of change is taken. */
#include "study/study_file.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LF_STUDY_READ_BYTES 262144

void study_file_clear(StudyFile *file)
{
    g_clear_pointer(&file->path, g_free);
    g_clear_pointer(&file->sha256, g_free);
    *file = (StudyFile){0};
}

/* A regular file; false sets errno. What is no file could hang when opened (a pipe) or never end (a
 * device), and cannot be read a second time. ESPIPE stands for these. */
static bool study_file_stat(const char *path, int64_t *bytes, int64_t *changed_ns)
{
    struct stat info;
    if (stat(path, &info) != 0)
        return false;
    if (S_ISDIR(info.st_mode)) {
        errno = EISDIR;
        return false;
    }
    if (!S_ISREG(info.st_mode)) {
        errno = ESPIPE;
        return false;
    }
    *bytes = info.st_size;
    *changed_ns = (int64_t)info.st_mtim.tv_sec * 1000000000 + info.st_mtim.tv_nsec;
    return true;
}

static bool study_file_fail(const char *path, int why, GError **error)
{
    bool input =
        why == ENOENT || why == ENOTDIR || why == EISDIR || why == ESPIPE || why == ENAMETOOLONG;
    g_autofree char *name = g_filename_display_name(path);
    g_set_error(error, LF_ERROR, input ? LF_ERROR_INPUT : LF_ERROR_MACHINE, "%s: %s", name,
                why == ENOENT || why == ENOTDIR ? "there is no such file"
                : why == EISDIR                 ? "this is a folder, not a file"
                : why == ESPIPE ? "this is a pipe or a device, not a file; save it as a file first"
                                : g_strerror(why));
    return false;
}

static char *study_file_checksum(const char *path, GError **error)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    g_autofree guint8 *buffer = g_malloc(LF_STUDY_READ_BYTES);
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    ssize_t got = -1;

    if (fd >= 0) {
        do {
            got = read(fd, buffer, LF_STUDY_READ_BYTES);
            if (got > 0)
                g_checksum_update(sum, buffer, got);
        } while (got > 0 || (got < 0 && errno == EINTR));
    }
    int why = errno;
    if (fd >= 0)
        close(fd);
    if (got < 0) {
        study_file_fail(path, why, error);
        return NULL;
    }
    return g_strdup(g_checksum_get_string(sum));
}

bool study_file_read(const char *path, StudyFile *file, GError **error)
{
    /* The stamp is taken first: a change while the bytes are read shows next time. */
    int64_t bytes, changed_ns;
    if (!study_file_stat(path, &bytes, &changed_ns))
        return study_file_fail(path, errno, error);
    char *sha256 = study_file_checksum(path, error);
    if (!sha256)
        return false;
    char *absolute = g_canonicalize_filename(path, NULL);
    g_free(file->path);
    g_free(file->sha256);
    *file = (StudyFile){file->id, absolute, sha256, bytes, changed_ns};
    return true;
}

/* Both paths absolute and canonical. */
static char *study_file_relative(const char *folder, const char *path)
{
    g_auto(GStrv) from = g_strsplit(folder[1] ? folder + 1 : "", "/", -1);
    g_auto(GStrv) to = g_strsplit(path + 1, "/", -1);
    g_autoptr(GString) relative = g_string_new(NULL);
    gsize same = 0;

    while (from[same] && to[same] && to[same + 1] && strcmp(from[same], to[same]) == 0)
        same++;
    for (gsize i = same; from[i]; i++)
        g_string_append(relative, "../");
    for (gsize i = same; to[i]; i++)
        g_string_append_printf(relative, "%s%s", i > same ? "/" : "", to[i]);
    return g_string_free(g_steal_pointer(&relative), FALSE);
}

bool study_file_write(LfStudy *study, StudyFile *file, GError **error)
{
    g_autofree char *relative = study_file_relative(study->folder, file->path);
    if (file->id)
        return study_db_run(study, error,
                            "UPDATE file SET path = ?, path_from_study = ?, sha256 = ?, bytes = ?,"
                            " changed_ns = ? WHERE id = ?",
                            "sssiii", file->path, relative, file->sha256, file->bytes,
                            file->changed_ns, file->id);
    if (!study_db_run(study, error,
                      "INSERT INTO file(path, path_from_study, sha256, bytes, changed_ns)"
                      " VALUES(?, ?, ?, ?, ?)",
                      "sssii", file->path, relative, file->sha256, file->bytes, file->changed_ns))
        return false;
    file->id = sqlite3_last_insert_rowid(study->db);
    return true;
}

bool study_file_look(LfStudy *study, int64_t id, StudyFile *file, StudyFileState *state,
                     GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error,
                         "SELECT path, path_from_study, sha256, bytes, changed_ns FROM file"
                         " WHERE id = ?");
    bool row = false;
    if (!statement)
        return false;
    study_db_bind(statement, "i", id);
    if (!study_db_step(study, statement, &row, error))
        return false;
    if (!row)
        return study_db_fail(study, SQLITE_CORRUPT, error);

    g_autofree char *recorded = study_db_string(statement, 0);
    g_autofree char *relative = study_db_string(statement, 1);
    g_autofree char *beside = g_canonicalize_filename(relative, study->folder);
    study_file_clear(file);
    *file = (StudyFile){id, NULL, study_db_string(statement, 2), sqlite3_column_int64(statement, 3),
                        sqlite3_column_int64(statement, 4)};

    const char *const places[] = {recorded, beside};
    const char *first = NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
        int64_t bytes, changed_ns;
        if (!study_file_stat(places[i], &bytes, &changed_ns))
            continue;
        if (bytes == file->bytes && changed_ns == file->changed_ns) {
            file->path = g_strdup(places[i]);
            *state = i == 0 ? STUDY_FILE_SAME : STUDY_FILE_TOUCHED;
            return true;
        }
        if (!first)
            first = places[i];
    }
    file->path = g_strdup(first ? first : recorded);
    *state = first ? STUDY_FILE_CHANGED : STUDY_FILE_MISSING;
    return true;
}

bool study_file_check(LfStudy *study, int64_t id, StudyFile *file, StudyFileState *state,
                      GError **error)
{
    if (!study_file_look(study, id, file, state, error))
        return false;
    if (*state != STUDY_FILE_CHANGED)
        return true;
    g_autofree char *path = g_strdup(file->path);
    g_autofree char *sha256 = g_strdup(file->sha256);
    if (!study_file_read(path, file, error))
        return false;
    if (strcmp(sha256, file->sha256) == 0)
        *state = STUDY_FILE_TOUCHED;
    return true;
}
