/* Numbers of gaze files: exact decimals for times, nearest doubles for positions.
 *
 * Times are kept as decimal digits until they are rounded to microseconds, so that 19-digit
 * nanoseconds lose nothing. Positions take the short way where it is exact: digits below 2^53 and
 * a power of ten up to 10^22 are doubles without error, so one division or product rounds
 * correctly (W. Clinger, "How to read floating point numbers accurately", PLDI 1990,
 * doi:10.1145/93542.93557); the rest goes to g_ascii_strtod. */
#include "gaze/gaze_number.h"

#include <math.h>
#include <string.h>

#define MAX_DIGITS 19
/* Longer exponents overflow or vanish anyway. */
#define MAX_EXPONENT 100000
/* 2^61: sums and differences of two times stay in range. */
#define MAX_ROUNDED ((uint64_t)1 << 61)

static bool gaze_number_is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static bool gaze_number_is_word(const char *p, const char *end, const char *word)
{
    gsize n = strlen(word);
    return (gsize)(end - p) == n && g_ascii_strncasecmp(p, word, n) == 0;
}

/* Appends one digit; `after` for those behind the decimal mark. */
static void gaze_number_digit(LfGazeNumber *number, int digit, int *significant, bool after)
{
    if (*significant < MAX_DIGITS) {
        number->digits = number->digits * 10 + (uint64_t)digit;
        *significant += number->digits > 0;
        number->exp10 -= after;
    } else {
        number->cut = number->cut || digit != 0;
        number->exp10 += !after;
    }
}

/* The digits after e or E; false where there is none. */
static bool gaze_number_exponent(LfGazeNumber *number, const char *p, const char *end)
{
    bool negative = p < end && *p == '-';
    int exponent = 0;
    if (p < end && (*p == '-' || *p == '+')) {
        p++;
    }
    if (p == end) {
        return false;
    }
    for (; p < end; p++) {
        if (!g_ascii_isdigit(*p)) {
            return false;
        }
        exponent = MIN(exponent * 10 + (*p - '0'), MAX_EXPONENT);
    }
    number->exp10 += negative ? -exponent : exponent;
    return true;
}

LfGazeKind lf_gaze_number_parse(const char *text, gsize n, bool comma_ok, LfGazeNumber *number)
{
    const char *p = text, *end = text + n;
    while (p < end && gaze_number_is_blank(*p)) {
        p++;
    }
    while (p < end && gaze_number_is_blank(end[-1])) {
        end--;
    }
    if (p == end) {
        return LF_GAZE_NOTHING;
    }
    LfGazeNumber out = {.negative = *p == '-'};
    if (*p == '-' || *p == '+') {
        p++;
    }
    if (gaze_number_is_word(p, end, "nan")) {
        return LF_GAZE_NOTHING;
    }
    if (gaze_number_is_word(p, end, "inf") || gaze_number_is_word(p, end, "infinity")) {
        return LF_GAZE_INFINITE;
    }
    int significant = 0;
    bool any = false;
    for (; p < end; p++) {
        if (g_ascii_isdigit(*p)) {
            gaze_number_digit(&out, *p - '0', &significant, out.mark != 0);
            any = true;
        } else if (!out.mark && (*p == '.' || (comma_ok && *p == ','))) {
            out.mark = *p;
        } else {
            break;
        }
    }
    if (!any) {
        return LF_GAZE_TEXT;
    }
    if (p < end && !((*p == 'e' || *p == 'E') && gaze_number_exponent(&out, p + 1, end))) {
        return LF_GAZE_TEXT;
    }
    while (out.digits > 0 && out.digits % 10 == 0) {
        out.digits /= 10;
        out.exp10++;
    }
    if (out.digits == 0) {
        out.exp10 = 0;
        out.negative = false;
    }
    *number = out;
    return LF_GAZE_NUMBER;
}

double lf_gaze_number_value(const LfGazeNumber *number, const char *text, gsize n)
{
    static const double power[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                   1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                   1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    const int max = (int)G_N_ELEMENTS(power) - 1;
    if (!number->cut && number->digits <= (uint64_t)1 << 53 && number->exp10 >= -max &&
        number->exp10 <= max) {
        double v = (double)number->digits;
        v = number->exp10 < 0 ? v / power[-number->exp10] : v * power[number->exp10];
        return number->negative ? -v : v;
    }
    g_autofree char *copy = g_strndup(text, n);
    g_strdelimit(copy, ",", '.');
    return g_ascii_strtod(copy, NULL);
}

bool lf_gaze_number_round(const LfGazeNumber *number, int unit_exp10, int64_t *out)
{
    uint64_t v = number->digits;
    int shift = number->exp10 + unit_exp10;
    if (shift < -MAX_DIGITS) {
        v = 0; /* less than 10^19 / 10^20 */
    } else if (shift < 0) {
        uint64_t divisor = 1;
        for (int i = 0; i < -shift; i++) {
            divisor *= 10;
        }
        uint64_t rest = v % divisor;
        v = v / divisor + (rest >= divisor - rest);
    }
    for (; shift > 0 && v > 0 && v <= MAX_ROUNDED; shift--) {
        if (v > UINT64_MAX / 10) {
            return false;
        }
        v *= 10;
    }
    if (v > MAX_ROUNDED) {
        return false;
    }
    *out = number->negative ? -(int64_t)v : (int64_t)v;
    return true;
}

bool lf_gaze_number_equal(const LfGazeNumber *a, const LfGazeNumber *b)
{
    return a->negative == b->negative && a->digits == b->digits && a->exp10 == b->exp10 &&
           a->cut == b->cut;
}
