/* Coordinates of areas as text. */
#ifndef LF_LOOK_AREA_TEXT_H
#define LF_LOOK_AREA_TEXT_H

#include <lookfall/area.h>

/* Up to 4 decimals: a ten thousandth of a pixel is far below what anybody can draw. */
void area_text_number(GString *text, double value);

#endif
