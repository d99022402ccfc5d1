/* Making a part of a picture unrecognisable. */
#ifndef LF_FILM_BLUR_H
#define LF_FILM_BLUR_H

#include <lookfall/video.h>

/* The ellipse in a box (px, from the corner of the first pixel): means of large cells take the
 * place of the pixels, so that what is behind them cannot be worked out again. */
void film_blur_ellipse(LfYuv *picture, double x, double y, double w, double h);

#endif
