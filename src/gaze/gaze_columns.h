/* Which columns of a gaze file mean what. Internal to src/gaze. */
#ifndef LOOKFALL_GAZE_GAZE_COLUMNS_H
#define LOOKFALL_GAZE_GAZE_COLUMNS_H

#include <lookfall/gaze.h>

typedef enum { LF_GAZE_T, LF_GAZE_X, LF_GAZE_Y, LF_GAZE_VALID, LF_GAZE_ROLES } LfGazeRole;

typedef struct {
    char *name[LF_GAZE_ROLES];   /* NULL where the column is given by number, or not at all */
    gsize number[LF_GAZE_ROLES]; /* 1-based; 0 until lf_gaze_columns_find, or for no column */
    bool norm[LF_GAZE_ROLES];    /* X, Y: 0..1 of the frame instead of px */
    int time_exp10;              /* microseconds = number * 10^time_exp10 */
    const char *time_unit;       /* static */
    char *good;                  /* value that marks a sample as valid; NULL for no such column */
    bool has_header;             /* set by lf_gaze_columns_find */
} LfGazeColumns;

/* LF_ERROR_USAGE where a COL:UNIT text makes no sense. */
bool lf_gaze_columns_parse(const LfGazeFormat *format, LfGazeColumns *columns, GError **error);
/* Finds the columns in the first row (fields: char *) and tells whether that row is a header. file
 * is for messages. */
bool lf_gaze_columns_find(LfGazeColumns *columns, const char *file, const GPtrArray *first_row,
                          bool comma_ok, GError **error);
void lf_gaze_columns_clear(LfGazeColumns *columns);

/* `column "x_px"` or `column 2`; owned by the caller. */
char *lf_gaze_columns_label(const LfGazeColumns *columns, LfGazeRole role);
/* Text from a file made fit for a message: valid UTF-8, no control characters, not too long; owned
 * by the caller. */
char *lf_gaze_columns_show(const char *text);

#endif
