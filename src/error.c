/* The library's error domain. */
#include <lookfall/error.h>

G_DEFINE_QUARK(lf - error - quark, lf_error)
