/* Everything the library offers. */
#ifndef LOOKFALL_LOOKFALL_H
#define LOOKFALL_LOOKFALL_H

#include <lookfall/area.h>
#include <lookfall/cast.h>
#include <lookfall/desk.h>
#include <lookfall/draw.h>
#include <lookfall/edit.h>
#include <lookfall/error.h>
#include <lookfall/film.h>
#include <lookfall/finding.h>
#include <lookfall/fixation.h>
#include <lookfall/gaze.h>
#include <lookfall/geometry.h>
#include <lookfall/glance.h>
#include <lookfall/jpeg.h>
#include <lookfall/mark.h>
#include <lookfall/measure.h>
#include <lookfall/photo.h>
#include <lookfall/placement.h>
#include <lookfall/report.h>
#include <lookfall/statistics.h>
#include <lookfall/study.h>
#include <lookfall/tie.h>
#include <lookfall/trail.h>
#include <lookfall/video.h>

#endif
