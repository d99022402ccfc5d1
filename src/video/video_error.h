/* libav error codes as sentences in the library's error domain. */
#ifndef LF_VIDEO_ERROR_H
#define LF_VIDEO_ERROR_H

#include <lookfall/error.h>

/* Sets `error` to "<message> (<what libav says>)". A full disk, a missing permission, a read error
 * of the disk and a lack of memory become LF_ERROR_MACHINE, everything else `code`. */
void lf_video_error_set(GError **error, LfErrorCode code, int av_code, const char *format, ...)
    G_GNUC_PRINTF(4, 5);

/* libav's own messages would mix with ours on stderr: silences them, unless the program that uses
 * this library has already chosen a level of its own. Call before any other use of libav. */
void lf_video_error_quiet(void);

#endif
