/* When a video's frames are shown: kept in the study, so that opening a long video costs nothing.
 */
#include "study/study_frames.h"
#include "study/study_review.h"

/* --- packing: LEB128 of zigzag differences, the lowest bit telling key frames
 * ---------------------- */

static void study_frames_put(GByteArray *bytes, guint64 value)
{
    do {
        guint8 byte = (guint8)((value & 0x7f) | (value > 0x7f ? 0x80 : 0));
        g_byte_array_append(bytes, &byte, 1);
        value >>= 7;
    } while (value);
}

static bool study_frames_get(const guint8 *bytes, gsize size, gsize *at, guint64 *value)
{
    *value = 0;
    for (int shift = 0; *at < size && shift < 64; shift += 7) {
        guint8 byte = bytes[(*at)++];
        *value |= (guint64)(byte & 0x7f) << shift;
        if (!(byte & 0x80))
            return true;
    }
    return false;
}

GBytes *study_frames_pack(const LfVideoIndex *index)
{
    GByteArray *bytes = g_byte_array_sized_new((guint)(3 * index->n_frames + 16));
    int64_t before_us = 0;
    gsize key = 0;
    for (gsize i = 0; i < index->n_frames; i++) {
        int64_t step_us = index->frame_us[i] - before_us;
        guint64 zigzag = ((guint64)step_us << 1) ^ (guint64)(step_us >> 63);
        while (key < index->n_keys && index->key_us[key] < index->frame_us[i])
            key++;
        bool is_key = key < index->n_keys && index->key_us[key] == index->frame_us[i];
        study_frames_put(bytes, zigzag << 1 | is_key);
        before_us = index->frame_us[i];
    }
    return g_byte_array_free_to_bytes(bytes);
}

LfVideoIndex *study_frames_unpack(GBytes *packed)
{
    g_autoptr(LfVideoIndex) index = g_new0(LfVideoIndex, 1);
    gsize size, at = 0;
    const guint8 *bytes = g_bytes_get_data(packed, &size);
    int64_t t_us = 0;
    index->frame_us = g_new(int64_t, MAX(size, 1)); /* a byte at least for each */
    index->key_us = g_new(int64_t, MAX(size, 1));
    while (at < size) {
        guint64 value;
        if (!study_frames_get(bytes, size, &at, &value))
            return NULL;
        guint64 zigzag = value >> 1;
        t_us += (int64_t)(zigzag >> 1) ^ -(int64_t)(zigzag & 1);
        if (index->n_frames > 0 && t_us <= index->frame_us[index->n_frames - 1])
            return NULL;
        index->frame_us[index->n_frames++] = t_us;
        if (value & 1)
            index->key_us[index->n_keys++] = t_us;
    }
    if (index->n_frames == 0 || index->n_keys == 0)
        return NULL;
    return g_steal_pointer(&index);
}

/* --- in the study ----------------------------------------------------------------------------- */

static bool study_frames_put_row(LfStudy *study, int64_t walk, const char *sha256, GBytes *packed,
                                 GError **error)
{
    return study_db_run(study, error, "INSERT OR REPLACE INTO frame_times VALUES(?, ?, ?)", "isb",
                        walk, sha256, packed);
}

bool study_frames_write(LfStudy *study, const StudyWalk *walk, GError **error)
{
    return !walk->frame_times ||
           study_frames_put_row(study, walk->id, walk->video.sha256, walk->frame_times, error);
}

static bool study_frames_read(LfStudy *study, const StudyWalk *walk, LfVideoIndex **index,
                              GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT times FROM frame_times WHERE walk = ? AND video_sha256 = ?");
    bool row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "is", walk->id, walk->video.sha256);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (row) {
        g_autoptr(GBytes) packed =
            g_bytes_new_static(sqlite3_column_blob(rows, 0), (gsize)sqlite3_column_bytes(rows, 0));
        *index = study_frames_unpack(packed);
    }
    return true;
}

/* A study made before this table was: the video is read once. */
static LfVideoIndex *study_frames_index(LfStudy *study, const StudyWalk *walk, GError **error)
{
    g_autoptr(LfVideoIndex) index = lf_video_index_new(walk->video.path, error);
    if (!index)
        return NULL;
    if (sqlite3_db_readonly(study->db, "main"))
        return g_steal_pointer(&index);
    g_autoptr(GBytes) packed = study_frames_pack(index);
    if (!study_db_begin(study, error) ||
        !study_db_end(
            study, study_frames_put_row(study, walk->id, walk->video.sha256, packed, error), error))
        return NULL;
    return g_steal_pointer(&index);
}

LfVideoIndex *lf_study_frames(LfStudy *study, int64_t id, GError **error)
{
    g_autoptr(LfVideoIndex) index = NULL;
    g_autoptr(StudyWalk) walk = study_walk_load(study, id, error);
    if (!walk || !study_frames_read(study, walk, &index, error))
        return NULL;
    if (!index && !(index = study_frames_index(study, walk, error)))
        return NULL;
    index->info = walk->info;
    index->end_us = walk->end_us;
    index->cut_off = walk->cut_off;
    return g_steal_pointer(&index);
}
