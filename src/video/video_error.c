/* libav error codes as sentences in the library's error domain. */
#include "video/video_error.h"

#include <stdarg.h>

#include <libavutil/avutil.h>
#include <libavutil/error.h>
#include <libavutil/log.h>

static LfErrorCode video_error_code(LfErrorCode code, int av_code)
{
    switch (av_code) {
    case AVERROR(ENOSPC):
    case AVERROR(EDQUOT):
    case AVERROR(EFBIG):
    case AVERROR(EROFS):
    case AVERROR(EACCES):
    case AVERROR(EPERM):
    case AVERROR(EIO):
    case AVERROR(EMFILE):
    case AVERROR(ENFILE):
    case AVERROR(ENOMEM):
        return LF_ERROR_MACHINE;
    default:
        return code;
    }
}

void lf_video_error_set(GError **error, LfErrorCode code, int av_code, const char *format, ...)
{
    char reason[AV_ERROR_MAX_STRING_SIZE] = "";
    va_list args;

    va_start(args, format);
    g_autofree char *message = g_strdup_vprintf(format, args);
    va_end(args);
    av_strerror(av_code, reason, sizeof reason);
    g_set_error(error, LF_ERROR, video_error_code(code, av_code), "%s (%s)", message, reason);
}

void lf_video_error_quiet(void)
{
    static gsize done = 0;

    if (g_once_init_enter(&done)) {
        if (av_log_get_level() == AV_LOG_INFO)
            av_log_set_level(AV_LOG_QUIET);
        g_once_init_leave(&done, 1);
    }
}
