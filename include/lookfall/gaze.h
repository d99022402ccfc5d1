/* Gaze files: comma, tab or semicolon text, plain or gzip, to samples in frame pixels.
 *
 * A file without options is understood when its header row has t_s, x_px and y_px. Times become
 * seconds of the walk's clock (clock shift added), positions px of the frame as shown. */
#ifndef LOOKFALL_GAZE_H
#define LOOKFALL_GAZE_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/geometry.h>

G_BEGIN_DECLS

typedef struct {
    int64_t t_us; /* walk time, microseconds, rounded to nearest */
    double x, y;  /* px of the frame as shown; NaN where lost */
    bool lost;
} LfGazeSample;

/* How to read a file. A column is a header name or a 1-based number (digits only are a number),
 * followed by ':' and a unit: s, ms, us, ns for time; px, norm (0..1 from edge to edge of the
 * frame's width or height, so 0 is -0.5 px) for positions. The unit may be left out: s, px. The
 * last
 * ':' splits, so that names may hold some. NULL stands for the default. `valid` is COL:GOODVALUE:
 * samples with another value, by text and by number, are lost, whatever their x and y. */
typedef struct {
    const char *time;  /* default "t_s:s" */
    const char *x;     /* default "x_px:px" */
    const char *y;     /* default "y_px:px" */
    const char *valid; /* default: none */
    double clock_shift_ms;
} LfGazeFormat;

typedef struct {
    LfGazeSample *samples; /* strictly ascending t_us */
    gsize n_samples;
    gsize n_lost;
    int time_decimals; /* decimals of a second that tell the samples apart when t_us is rounded to
                        * nearest, halves away from zero; at least 4, at most 6 */
} LfGaze;

/* The separator is the first of tab, semicolon, comma in the first row; a decimal comma is
 * understood where it is not the comma. A first row is a header where a column is given by name or
 * time, x and y are all text in it. A blank or nan x or y, and one missing at the end of a row,
 * makes a lost sample; rows of blanks only are passed over.
 *
 * format may be NULL. frame_width, frame_height: for norm units. LF_ERROR_USAGE: a column text that
 * makes no sense. LF_ERROR_INPUT names file and line: no such file or column (lists the columns
 * there are), one column for two things, text where a number belongs, unsorted or repeated times,
 * all samples lost, no samples. */
LF_API LfGaze *lf_gaze_read(const char *path, const LfGazeFormat *format, int frame_width,
                            int frame_height, GError **error);
LF_API void lf_gaze_free(LfGaze *gaze);

/* Index of the first sample with t_us or later; n_samples where there is none. Samples ascend. */
LF_API gsize lf_gaze_first_at(const LfGazeSample *samples, gsize n_samples, int64_t t_us);

/* OpenCV calibration YAML or XML: image_width, image_height, camera_matrix,
 * distortion_coefficients. Scaled to the frame where it was made at another size of the same
 * aspect. LF_ERROR_INPUT says what is missing or does not fit. */
LF_API bool lf_camera_read(const char *path, int frame_width, int frame_height, LfLens *lens,
                           GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfGaze, lf_gaze_free)

G_END_DECLS

#endif
