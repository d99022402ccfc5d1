/* The aisle around the shelves: floor, ceiling, walls, and other shelves with other goods. */
#ifndef LOOKFALL_DEMO_ROOM_H
#define LOOKFALL_DEMO_ROOM_H

#include "world.h"

/* The aisle, mm: the measured shelves stand at z = 0, others opposite at z = -LR_ROOM_DEEP. */
#define LR_ROOM_DEEP 4300
#define LR_ROOM_HALF 5200
#define LR_ROOM_HIGH 2900

/* Adds everything but the span x0..x1 of the front at z = 0, where the caller's fixtures stand.
 * texels_per_mm: of the caller's fixtures; the room, farther away, takes less. */
void lr_room_add(LrWorld *world, uint64_t seed, double x0, double x1, double shelf_height,
                 double texels_per_mm);

#endif
