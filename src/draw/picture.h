/* The kinds of pictures: each draws itself from material and settings. */
#ifndef LF_DRAW_PICTURE_H
#define LF_DRAW_PICTURE_H

#include "draw/material.h"

/* material: what is drawn; report: to be filled, all of what material tells is in it already. */
typedef GBytes *(*PictureDraw)(const Material *material, const LfDrawSettings *settings,
                               LfDrawFormat format, LfDrawReport *report, GError **error);

GBytes *heat_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                  LfDrawReport *report, GError **error);
GBytes *focus_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                   LfDrawReport *report, GError **error);
GBytes *scanpath_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                      LfDrawReport *report, GError **error);
GBytes *areas_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                   LfDrawReport *report, GError **error);
GBytes *timeline_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                      LfDrawReport *report, GError **error);
GBytes *transitions_draw(const Material *material, const LfDrawSettings *settings,
                         LfDrawFormat format, LfDrawReport *report, GError **error);
GBytes *difference_draw(const Material *material, const LfDrawSettings *settings,
                        LfDrawFormat format, LfDrawReport *report, GError **error);

#endif
