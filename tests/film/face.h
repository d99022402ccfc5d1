/* A face that nobody has: light and dark places where OpenCV's detectors expect them. */
#ifndef LF_TEST_FACE_H
#define LF_TEST_FACE_H

#include <stddef.h>
#include <stdint.h>

/* Draws it over a picture of one byte a pixel: a square of `size` px with its corner at (x, y);
 * what lies outside of the picture is left out. eyes 0: a blank head. */
void face_draw(uint8_t *luma, int width, int height, ptrdiff_t stride, double x, double y, int size,
               int eyes);

#endif
