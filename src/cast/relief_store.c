/* What a survey found out about a photo, as bytes: from where it was taken, which cells tell how
 * deep they are, and how it stands to other photos. Little-endian, as the bank (photo_store.c). */
#include <lookfall/photo.h>

#include <math.h>
#include <string.h>

#include "cast/relief.h"

#define STORE_MAGIC 0x4c465233u /* "LFR3" */

typedef struct {
    uint32_t magic;
    int32_t columns, rows;
    int32_t known;    /* 0: the photo is flat, or was hardly seen; no cell follows */
    double camera_px; /* its distance, and the point it was straight in front of */
    double middle_x, middle_y;
    int32_t n_neighbours; /* after the cells */
    int32_t pad;          /* no hole */
} StoreHead;

enum { STORE_SILENT, STORE_TELLS, STORE_BARRED, STORE_BARRED_TELLS };

typedef struct {
    int16_t kind, vouched; /* of 255 */
    float z, sigma;
} StoreCell;

GBytes *lf_photo_relief(const LfPhoto *photo)
{
    const LfRelief *relief = photo->relief;
    const LfReliefGrid grid = lf_relief_grid(relief);
    const int n = grid.columns * grid.rows;
    StoreHead head = {.magic = STORE_MAGIC,
                      .columns = grid.columns,
                      .rows = grid.rows,
                      .known = lf_relief_known(relief),
                      .camera_px = lf_relief_camera(relief)->distance,
                      .middle_x = lf_relief_camera(relief)->middle.x,
                      .middle_y = lf_relief_camera(relief)->middle.y,
                      .n_neighbours = photo->n_neighbours};
    GByteArray *out = g_byte_array_new();
    g_byte_array_append(out, (const guint8 *)&head, sizeof head);
    for (int i = 0; i < n && head.known; i++) {
        double z = 0, sigma = 0;
        const bool tells = lf_relief_cell_told(relief, i, &z, &sigma);
        const bool barred = lf_relief_cell_barred(relief, i);
        StoreCell cell = {.kind = barred ? (tells ? STORE_BARRED_TELLS : STORE_BARRED)
                                         : (tells ? STORE_TELLS : STORE_SILENT),
                          .vouched = (int16_t)lround(255 * lf_relief_vouched(relief, i)),
                          .z = (float)z,
                          .sigma = (float)sigma};
        g_byte_array_append(out, (const guint8 *)&cell, sizeof cell);
    }
    g_byte_array_append(out, (const guint8 *)photo->neighbours,
                        (guint)((gsize)photo->n_neighbours * sizeof *photo->neighbours));
    return g_byte_array_free_to_bytes(out);
}

static bool store_head(const LfRelief *relief, const guint8 *at, gsize size, StoreHead *head)
{
    const LfReliefGrid grid = lf_relief_grid(relief);
    const gsize n = (gsize)grid.columns * (gsize)grid.rows;
    if (size < sizeof *head)
        return false;
    memcpy(head, at, sizeof *head);
    return head->magic == STORE_MAGIC && head->columns == grid.columns && head->rows == grid.rows &&
           head->camera_px > 0 && isfinite(head->middle_x) && isfinite(head->middle_y) &&
           head->n_neighbours >= 0 && head->n_neighbours <= LF_PHOTO_NEIGHBOURS &&
           size == sizeof *head + (head->known ? n * sizeof(StoreCell) : 0) +
                       (gsize)head->n_neighbours * sizeof(LfNeighbour);
}

static void store_cell(LfRelief *relief, int i, const StoreCell *cell)
{
    if (cell->vouched > 0)
        lf_relief_vouch(relief, i, cell->vouched / 255.0);
    if (cell->kind == STORE_BARRED || cell->kind == STORE_BARRED_TELLS)
        lf_relief_bar(relief, i);
    if ((cell->kind == STORE_TELLS || cell->kind == STORE_BARRED_TELLS) && cell->sigma > 0)
        lf_relief_tell(relief, i, (double)cell->z, (double)cell->sigma);
}

static bool store_neighbours(LfPhoto *photo, const guint8 *at, int n)
{
    LfNeighbour read[LF_PHOTO_NEIGHBOURS];
    memcpy(read, at, (gsize)n * sizeof *read);
    for (int i = 0; i < n; i++)
        if (!lf_neighbour_sound(read[i].m) || read[i].views < 0 || !(read[i].sigma_px >= 0))
            return false;
    photo->n_neighbours = n;
    memcpy(photo->neighbours, read, (gsize)n * sizeof *read);
    return true;
}

static bool store_parse(LfPhoto *photo, const guint8 *at, gsize size)
{
    StoreHead head;
    LfRelief *relief = photo->relief;
    if (!store_head(relief, at, size, &head))
        return false;
    at += sizeof head;
    lf_relief_set_camera(relief, (LfReliefCamera){{head.middle_x, head.middle_y}, head.camera_px});
    lf_relief_reset(relief);
    for (int i = 0; i < head.columns * head.rows && head.known; i++, at += sizeof(StoreCell)) {
        StoreCell cell;
        memcpy(&cell, at, sizeof cell);
        store_cell(relief, i, &cell);
    }
    lf_relief_told(relief, !head.known);
    return store_neighbours(photo, at, head.n_neighbours);
}

bool lf_photo_set_relief(LfPhoto *photo, GBytes *bytes, GError **error)
{
    gsize size;
    const guint8 *data = g_bytes_get_data(bytes, &size);
    if (store_parse(photo, data, size))
        return true;
    g_set_error(
        error, LF_ERROR, LF_ERROR_INPUT,
        "The stored relief of this photo is of another version or of another picture: cast the "
        "study again.");
    return false;
}
