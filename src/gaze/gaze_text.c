/* The bytes of a gaze file as UTF-8 text, block by block.
 *
 * Plain files, pipes and gzip, several members in a row included (RFC 1952, section 2.2). Refuses
 * UTF-16 and anything with zero bytes. Memory: two blocks. */
#include "gaze/gaze_text.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define BLOCK_BYTES 65536

struct LfGazeText {
    char *name;
    int fd; /* -1 for memory */
    const char *memory;
    gsize memory_left;
    bool ended; /* the source has no more bytes */

    GConverter *gunzip; /* NULL for plain */
    bool in_member;
    char raw[BLOCK_BYTES]; /* as in the file: raw_at .. raw_end not used yet */
    gsize raw_at, raw_end;

    bool started;
    char block[BLOCK_BYTES];
};

static LfGazeText *gaze_text_new(char *name)
{
    LfGazeText *text = g_new0(LfGazeText, 1);
    text->name = name;
    text->fd = -1;
    return text;
}

LfGazeText *lf_gaze_text_open(const char *path, GError **error)
{
    g_autofree char *name = g_filename_display_name(path);
    struct stat info;
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        bool missing = errno == ENOENT || errno == ENOTDIR;
        g_set_error(error, LF_ERROR, missing ? LF_ERROR_INPUT : LF_ERROR_MACHINE,
                    missing ? "%s: there is no such file" : "%s: cannot be opened: %s", name,
                    g_strerror(errno));
        return NULL;
    }
    if (fstat(fd, &info) == 0 && S_ISDIR(info.st_mode)) {
        close(fd);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: is a folder, not a gaze file", name);
        return NULL;
    }
    LfGazeText *text = gaze_text_new(g_steal_pointer(&name));
    text->fd = fd;
    return text;
}

LfGazeText *lf_gaze_text_from_memory(const void *data, gsize n, const char *name)
{
    LfGazeText *text = gaze_text_new(g_strdup(name));
    text->memory = data;
    text->memory_left = n;
    return text;
}

void lf_gaze_text_free(LfGazeText *text)
{
    if (!text) {
        return;
    }
    if (text->fd >= 0) {
        close(text->fd);
    }
    g_clear_object(&text->gunzip);
    g_free(text->name);
    g_free(text);
}

const char *lf_gaze_text_name(const LfGazeText *text)
{
    return text->name;
}

/* Fills raw, which must be used up, as far as the source reaches. */
static bool gaze_text_refill(LfGazeText *text, GError **error)
{
    text->raw_at = text->raw_end = 0;
    while (!text->ended && text->raw_end < BLOCK_BYTES) {
        gsize room = BLOCK_BYTES - text->raw_end;
        if (text->fd < 0) {
            gsize n = MIN(room, text->memory_left);
            if (n > 0) {
                memcpy(text->raw + text->raw_end, text->memory, n);
            }
            text->memory += n;
            text->memory_left -= n;
            text->raw_end += n;
            text->ended = n == 0;
            continue;
        }
        ssize_t n = read(text->fd, text->raw + text->raw_end, room);
        if (n < 0) {
            if (errno == EINTR) {
                continue;
            }
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s: cannot be read: %s", text->name,
                        g_strerror(errno));
            return false;
        }
        text->raw_end += (gsize)n;
        text->ended = n == 0;
    }
    return true;
}

static bool gaze_text_has_raw(LfGazeText *text, bool *has, GError **error)
{
    if (text->raw_at == text->raw_end && !gaze_text_refill(text, error)) {
        return false;
    }
    *has = text->raw_at < text->raw_end;
    return true;
}

/* Unpacks into block until it is full or the file ends. */
static bool gaze_text_unpack(LfGazeText *text, gsize *filled, GError **error)
{
    *filled = 0;
    while (*filled < BLOCK_BYTES) {
        bool more;
        if (!gaze_text_has_raw(text, &more, error)) {
            return false;
        }
        if (!more && !text->in_member) {
            return true;
        }
        if (!text->in_member) {
            if ((guchar)text->raw[text->raw_at] != 0x1f) {
                g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                            "%s: something that is not gzip follows the gzip data; pack it again",
                            text->name);
                return false;
            }
            g_converter_reset(text->gunzip);
            text->in_member = true;
        }
        gsize used = 0, written = 0;
        g_autoptr(GError) failure = NULL;
        GConverterResult result = g_converter_convert(
            text->gunzip, text->raw + text->raw_at, text->raw_end - text->raw_at,
            text->block + *filled, BLOCK_BYTES - *filled,
            more ? G_CONVERTER_NO_FLAGS : G_CONVERTER_INPUT_AT_END, &used, &written, &failure);
        if (result == G_CONVERTER_ERROR) {
            bool cut = g_error_matches(failure, G_IO_ERROR, G_IO_ERROR_PARTIAL_INPUT);
            if (cut && more) {
                text->raw_at = text->raw_end;
                continue;
            }
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        cut ? "%s: the gzip data is cut off; copy the file again"
                            : "%s: the gzip data is damaged; copy the file again",
                        text->name);
            return false;
        }
        text->raw_at += used;
        *filled += written;
        text->in_member = result != G_CONVERTER_FINISHED;
    }
    return true;
}

/* Looks at the first bytes of the file. */
static bool gaze_text_start(LfGazeText *text, GError **error)
{
    if (!gaze_text_refill(text, error)) {
        return false;
    }
    if (text->raw_end >= 2 && memcmp(text->raw, "\x1f\x8b", 2) == 0) {
        text->gunzip = G_CONVERTER(g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP));
    }
    return true;
}

bool lf_gaze_text_next(LfGazeText *text, const char **data, gsize *n, GError **error)
{
    bool first = !text->started;
    text->started = true;
    *n = 0;
    if (first && !gaze_text_start(text, error)) {
        return false;
    }
    if (text->gunzip) {
        if (!gaze_text_unpack(text, n, error)) {
            return false;
        }
        *data = text->block;
    } else {
        bool more;
        if (!gaze_text_has_raw(text, &more, error)) {
            return false;
        }
        *data = text->raw + text->raw_at;
        *n = text->raw_end - text->raw_at;
        text->raw_at = text->raw_end;
    }
    if (first && *n >= 3 && memcmp(*data, "\xef\xbb\xbf", 3) == 0) {
        *data += 3;
        *n -= 3;
    }
    if (first && *n >= 2 &&
        (memcmp(*data, "\xff\xfe", 2) == 0 || memcmp(*data, "\xfe\xff", 2) == 0)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: is UTF-16 text; save it as UTF-8 text and try again", text->name);
        return false;
    }
    if (*n > 0 && memchr(*data, 0, *n)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: is not a text file (it holds zero bytes); save it as UTF-8 text",
                    text->name);
        return false;
    }
    return true;
}
