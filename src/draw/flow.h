/* The ways of many people, bundled: places where they rested, and how often they went from one to
 * another. */
#ifndef LF_DRAW_FLOW_H
#define LF_DRAW_FLOW_H

#include "draw/colour.h"
#include "draw/sheet.h"

typedef struct {
    double x, y;   /* mean of the looks, photo px */
    double look_s; /* their time */
} FlowPlace;

typedef struct {
    guint from, to; /* places */
    double steps;
} FlowWay;

typedef struct {
    GArray *places; /* FlowPlace */
    GArray *ways;   /* FlowWay, most used first */
    double steps;   /* of all ways: from any place to another one */
    double most_s;  /* look_s of the place most looked at */
} Flow;

/* reach_px: looks as near as this to the heart of a place belong to it. */
Flow *flow_new(const Material *material, double reach_px);
/* With no places yet, to be filled by hand: places and most_s first, then the ways. */
Flow *flow_blank(void);
/* steps: places x places, row by row, from row to column; what stays in a place is no way. */
void flow_set_ways(Flow *flow, const double *steps);
void flow_free(Flow *flow);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Flow, flow_free)

typedef struct {
    const ColourMap *map;
    double opacity;
    double scale; /* picture px per photo px */
    guint n_ways; /* so many of the most used are drawn */
    double em;
} FlowLook;

/* Half the width of a way used so often; radius of a place looked at so long. Picture px. */
double flow_width(const Flow *flow, const FlowLook *look, double steps);
double flow_radius(const Flow *flow, const FlowLook *look, double seconds);

void flow_draw(const Flow *flow, const FlowLook *look, cairo_t *cr, SheetBox box);

#endif
