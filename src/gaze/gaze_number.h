/* Numbers of gaze files. Internal to src/gaze. */
#ifndef LOOKFALL_GAZE_GAZE_NUMBER_H
#define LOOKFALL_GAZE_GAZE_NUMBER_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef enum {
    LF_GAZE_NUMBER,
    LF_GAZE_NOTHING, /* blank or nan: a lost sample */
    LF_GAZE_INFINITE,
    LF_GAZE_TEXT,
} LfGazeKind;

/* (negative ? -1 : 1) * digits * 10^exp10, digits without trailing zeros and cut after the 19th. */
typedef struct {
    bool negative;
    bool cut; /* further digits than the 19 were dropped */
    uint64_t digits;
    int exp10;
    char mark; /* decimal mark as written: '.', ',' or 0 for none */
} LfGazeNumber;

/* Digits, an optional decimal mark ('.', or ',' too where comma_ok), an optional exponent; blanks
 * around. Never depends on the locale. *number is set for LF_GAZE_NUMBER only. */
LfGazeKind lf_gaze_number_parse(const char *text, gsize n, bool comma_ok, LfGazeNumber *number);

/* The nearest double, infinite on overflow; text and n as parsed. */
double lf_gaze_number_value(const LfGazeNumber *number, const char *text, gsize n);
/* number * 10^unit_exp10 rounded to the nearest integer, halves away from zero; exact for any 19
 * digits. False beyond 2^61. */
bool lf_gaze_number_round(const LfGazeNumber *number, int unit_exp10, int64_t *out);
bool lf_gaze_number_equal(const LfGazeNumber *a, const LfGazeNumber *b);

#endif
