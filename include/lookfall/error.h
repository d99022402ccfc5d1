/* Errors: one GError domain for the whole library.
 *
 * The code of an error is the exit status the command line gives for it, so that a caller never
 * has to translate. Messages are whole sentences for the person at the keyboard: what, where
 * (file, line or time), what to do. */
#ifndef LOOKFALL_ERROR_H
#define LOOKFALL_ERROR_H

#include <glib.h>

G_BEGIN_DECLS

#if defined(__GNUC__)
#define LF_API __attribute__((visibility("default")))
#else
#define LF_API
#endif

#define LF_ERROR (lf_error_quark())

typedef enum {
    LF_ERROR_PART = 1,    /* done in part; what failed is listed in the message */
    LF_ERROR_USAGE = 2,   /* the call itself is wrong */
    LF_ERROR_INPUT = 3,   /* a file or a value is bad */
    LF_ERROR_MACHINE = 4, /* disk full, no permission, out of memory */
} LfErrorCode;

LF_API GQuark lf_error_quark(void);

G_END_DECLS

#endif
