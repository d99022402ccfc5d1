/* Counting, cell by cell, what agrees with the photo and what does not. */
#include "cast/changed.h"

#include <math.h>

/* Cells over the longer side: 40 px of a 2,000 px photo, a third of a facing. */
#define CHANGED_CELLS 50
/* A pose must be this firm to count: half of the photo's patches agree. */
#define CHANGED_MIN_SHARE 0.45
#define CHANGED_MIN_GOOD 30
/* A patch is missing under this agreement, as in follow.c. */
#define CHANGED_AGREE 0.6F
/* A place must have been missing over this time and in so many patches ... */
#define CHANGED_MIN_US 700000
#define CHANGED_MIN_SEEN 15
/* ... of which no more than this share agreed: chance makes some do (measured on the rendered
 * walks). */
#define CHANGED_MAX_AGREE 0.15

typedef struct {
    int seen, agree;
    int64_t first_us, last_us;
} ChangedCell;

struct LfChanged {
    int columns, rows;
    double cell_px;
    ChangedCell *cells;
};

LfChanged *lf_changed_new(int width, int height)
{
    LfChanged *changed = g_new0(LfChanged, 1);
    changed->cell_px = MAX(width, height) / (double)CHANGED_CELLS;
    changed->columns = (int)(width / changed->cell_px) + 1;
    changed->rows = (int)(height / changed->cell_px) + 1;
    changed->cells = g_new0(ChangedCell, changed->columns * changed->rows);
    return changed;
}

void lf_changed_free(LfChanged *changed)
{
    if (!changed)
        return;
    g_free(changed->cells);
    g_free(changed);
}

static ChangedCell *changed_cell(const LfChanged *changed, int column, int row)
{
    if (column < 0 || row < 0 || column >= changed->columns || row >= changed->rows)
        return NULL;
    return &changed->cells[row * changed->columns + column];
}

void lf_changed_learn(LfChanged *changed, const LfPose *pose, int64_t t_us)
{
    if (pose->share_good < CHANGED_MIN_SHARE || pose->n_good < CHANGED_MIN_GOOD)
        return;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        ChangedCell *cell = changed_cell(changed, (int)floor(q->photo.x / changed->cell_px),
                                         (int)floor(q->photo.y / changed->cell_px));
        if (!cell)
            continue;
        if (cell->seen == 0)
            cell->first_us = t_us;
        cell->last_us = t_us;
        cell->seen++;
        cell->agree += q->good || q->zncc >= CHANGED_AGREE;
    }
}

bool lf_changed_at(const LfChanged *changed, LfPoint photo)
{
    const int column = (int)floor(photo.x / changed->cell_px);
    const int row = (int)floor(photo.y / changed->cell_px);
    int seen = 0, agree = 0;
    int64_t first_us = INT64_MAX, last_us = INT64_MIN;
    /* The cell itself counts double: at the rim of what changed its neighbours may be as ever. */
    for (int y = -1; y <= 1; y++)
        for (int x = -1; x <= 1; x++) {
            const ChangedCell *cell = changed_cell(changed, column + x, row + y);
            if (!cell || cell->seen == 0)
                continue;
            const int weight = x == 0 && y == 0 ? 2 : 1;
            seen += weight * cell->seen;
            agree += weight * cell->agree;
            first_us = MIN(first_us, cell->first_us);
            last_us = MAX(last_us, cell->last_us);
        }
    return seen >= CHANGED_MIN_SEEN && last_us - first_us >= CHANGED_MIN_US &&
           agree <= CHANGED_MAX_AGREE * seen;
}
