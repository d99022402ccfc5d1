/* Areas of one level on the photo of a picture, and what the looks of its material did in them. */
#ifndef LF_DRAW_ZONES_H
#define LF_DRAW_ZONES_H

#include <lookfall/area.h>

#include "draw/colour.h"
#include "draw/material.h"

typedef struct {
    char *name;       /* as shown: without the groups above */
    GPtrArray *areas; /* LfArea, borrowed from the list */
    double look_s;    /* time of the looks inside */
    gsize looks;
    gsize people;      /* who looked inside */
    double first_s;    /* median over those walks, from the start of their chosen part; NaN */
    LfPoint middle;    /* of the bounds, photo px */
    LfPoint low, high; /* bounds */
} Zone;

typedef struct {
    GPtrArray *list;  /* LfArea, owned */
    GPtrArray *zones; /* Zone, in the order of the list */
    double inside_s;  /* time of looks in any zone */
} Zones;

/* level as in LfDrawSettings. LF_ERROR_INPUT where there is no area of it. */
Zones *zones_new(const Material *material, int level, GError **error);
void zones_free(Zones *zones);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Zones, zones_free)

bool zones_holds(const Zone *zone, LfPoint point);
/* The zone on top at a point, or -1. */
int zones_at(const Zones *zones, LfPoint point);
/* Indices by time, most first; owned by the caller. */
guint *zones_by_time(const Zones *zones);

/* The outline of a zone as the current path, photo px times scale from (x, y). */
void zones_path(const Zone *zone, cairo_t *cr, double x, double y, double scale);

#endif
