/* Areas in the study. A change of several areas is one transaction, with one entry in the log. */
#include <string.h>

#include <lookfall/area.h>

#include "study/study_edit.h"

typedef struct {
    int64_t id;
    int width_px, height_px;
} StudyAreaPhoto;

/* --- reading ------------------------------------------------------------------------------------
 */

static LfArea *study_area_from_row(LfStudy *study, sqlite3_stmt *rows, GError **error)
{
    g_autoptr(GError) why = NULL;
    LfAreaShape shape;
    LfArea *area = NULL;
    if (lf_area_shape_parse((const char *)sqlite3_column_text(rows, 4), &shape, &why))
        area = lf_area_new((const char *)sqlite3_column_text(rows, 1),
                           (const char *)sqlite3_column_text(rows, 2),
                           (const char *)sqlite3_column_text(rows, 3), shape,
                           (const char *)sqlite3_column_text(rows, 5), &why);
    if (!area) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: an area in the study is damaged: %s",
                    study->name, why->message);
        return NULL;
    }
    area->id = sqlite3_column_int64(rows, 0);
    return area;
}

static bool study_area_find_photo(LfStudy *study, const char *name, StudyAreaPhoto *photo,
                                  GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error, "SELECT id, width_px, height_px FROM photo WHERE name = ?");
    bool row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "s", name);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (!row) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "there is no photo called %s in the study; \"lookfall photo list\" shows them",
                    name ? name : "");
        return false;
    }
    *photo = (StudyAreaPhoto){sqlite3_column_int64(rows, 0), sqlite3_column_int(rows, 1),
                              sqlite3_column_int(rows, 2)};
    return true;
}

GPtrArray *lf_study_areas(LfStudy *study, const char *photo, GError **error)
{
    g_autoptr(GPtrArray) areas = lf_area_list_new();
    StudyAreaPhoto found = {0};
    if (photo && !study_area_find_photo(study, photo, &found, error))
        return NULL;
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error,
                         "SELECT area.id, photo.name, area.name, group_path, shape, points"
                         " FROM area JOIN photo ON photo.id = area.photo"
                         " WHERE ?1 = 0 OR area.photo = ?1 ORDER BY area.photo, place, area.id");
    bool ok = false, row = false;
    if (!rows)
        return NULL;
    study_db_bind(rows, "i", found.id);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfArea *area = study_area_from_row(study, rows, error);
        if (!area)
            return NULL;
        g_ptr_array_add(areas, area);
    }
    return ok ? g_steal_pointer(&areas) : NULL;
}

/* --- writing ------------------------------------------------------------------------------------
 */

static bool study_area_name_free(LfStudy *study, const LfArea *area, const StudyAreaPhoto *photo,
                                 GError **error)
{
    int64_t taken;
    if (!study_db_get(study, error, 0, &taken,
                      "SELECT 1 FROM area WHERE photo = ? AND name = ? AND id <> ?", "isi",
                      photo->id, area->name, area->id))
        return false;
    if (!taken)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "there is an area called %s on photo %s already; names must differ", area->name,
                area->photo);
    return false;
}

static bool study_area_write(LfStudy *study, LfArea *area, GError **error)
{
    StudyAreaPhoto photo;
    int64_t known, top;
    if (!study_area_find_photo(study, area->photo, &photo, error) ||
        !lf_area_check(area, photo.width_px, photo.height_px, error) ||
        !study_area_name_free(study, area, &photo, error) ||
        !study_db_get(study, error, 0, &known, "SELECT 1 FROM area WHERE id = ?", "i", area->id) ||
        !study_db_get(study, error, 0, &top, "SELECT max(place) FROM area WHERE photo = ?", "i",
                      photo.id))
        return false;
    g_autofree char *points = lf_area_points(area);
    const char *shape = lf_area_shape_name(area->shape);
    if (known)
        return study_db_run(study, error,
                            "UPDATE area SET photo = ?, name = ?, group_path = ?, shape = ?,"
                            " points = ? WHERE id = ?",
                            "issssi", photo.id, area->name, area->group_path, shape, points,
                            area->id);
    /* nullif: number 0 lets SQLite choose one that was never used. */
    if (!study_db_run(study, error,
                      "INSERT INTO area(id, photo, place, name, group_path, shape, points)"
                      " VALUES(nullif(?, 0), ?, ?, ?, ?, ?, ?)",
                      "iiissss", area->id, photo.id, top + 1, area->name, area->group_path, shape,
                      points))
        return false;
    area->id = sqlite3_last_insert_rowid(study->db);
    return true;
}

static bool study_area_write_all(LfStudy *study, GPtrArray *areas, GError **error)
{
    for (guint i = 0; i < areas->len; i++)
        if (!study_area_write(study, areas->pdata[i], error))
            return false;
    return true;
}

/* The one name, or how many. */
static char *study_area_detail(const GPtrArray *areas)
{
    const LfArea *first = areas->len ? areas->pdata[0] : NULL;
    return areas->len == 1 ? g_strdup_printf("%s on %s", first->name, first->photo)
                           : g_strdup_printf("%u areas", areas->len);
}

/* Ends a transaction on areas; where it came to nothing, areas keep the numbers they had. */
static bool study_area_end(LfStudy *study, bool ok, GPtrArray *areas, const int64_t *before,
                           GError **error)
{
    ok = study_db_end(study, ok, error);
    for (guint i = 0; i < areas->len && !ok; i++)
        ((LfArea *)areas->pdata[i])->id = before[i];
    return ok;
}

static int64_t *study_area_ids(const GPtrArray *areas)
{
    int64_t *ids = g_new(int64_t, MAX(areas->len, 1));
    for (guint i = 0; i < areas->len; i++)
        ids[i] = ((const LfArea *)areas->pdata[i])->id;
    return ids;
}

bool lf_study_area_put(LfStudy *study, GPtrArray *areas, const LfEdit *edit, GError **error)
{
    g_autofree char *detail = study_area_detail(areas);
    g_autofree int64_t *before = study_area_ids(areas);
    const char *photo = areas->len ? ((const LfArea *)areas->pdata[0])->photo : NULL;
    int64_t step;
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_edit_begin(study, LF_EDIT_AREAS, photo, photo ? edit : NULL, &step, error) &&
              study_area_write_all(study, areas, error) &&
              study_edit_end(study, LF_EDIT_AREAS, step, error) &&
              study_db_log(study, "area put", detail, NULL, error);
    return study_area_end(study, ok, areas, before, error);
}

/* --- order and removal --------------------------------------------------------------------------
 */

static bool study_area_write_order(LfStudy *study, const StudyAreaPhoto *photo, const int64_t *ids,
                                   gsize n, GError **error)
{
    int64_t there;
    if (!study_db_get(study, error, 0, &there, "SELECT count(*) FROM area WHERE photo = ?", "i",
                      photo->id))
        return false;
    bool fits = (gsize)there == n;
    /* Places below 0 first: an id that is there twice leaves another one without. */
    if (!study_db_run(study, error, "UPDATE area SET place = -1 WHERE photo = ?", "i", photo->id))
        return false;
    for (gsize i = 0; i < n && fits; i++) {
        if (!study_db_run(study, error,
                          "UPDATE area SET place = ? WHERE id = ? AND photo = ? AND place = -1",
                          "iii", (int64_t)i + 1, ids[i], photo->id))
            return false;
        fits = sqlite3_changes(study->db) == 1;
    }
    if (!fits)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the order has to name every area of the photo once; somebody may have "
                    "changed them meanwhile");
    return fits;
}

bool lf_study_area_order(LfStudy *study, const char *photo, const int64_t *ids, gsize n,
                         const LfEdit *edit, GError **error)
{
    StudyAreaPhoto found;
    int64_t step;
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_area_find_photo(study, photo, &found, error) &&
              study_edit_begin(study, LF_EDIT_AREAS, photo, edit, &step, error) &&
              study_area_write_order(study, &found, ids, n, error) &&
              study_edit_end(study, LF_EDIT_AREAS, step, error) &&
              study_db_log(study, "area order", photo, NULL, error);
    return study_db_end(study, ok, error);
}

static bool study_area_delete(LfStudy *study, const int64_t *ids, gsize n, GError **error)
{
    for (gsize i = 0; i < n; i++) {
        if (!study_db_run(study, error, "DELETE FROM area WHERE id = ?", "i", ids[i]))
            return false;
        if (sqlite3_changes(study->db) == 0) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "there is no area number %" G_GINT64_FORMAT
                        "; somebody may have removed it meanwhile",
                        (gint64)ids[i]);
            return false;
        }
    }
    return true;
}

static bool study_area_remove(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                              GError **error)
{
    g_autofree char *detail = g_strdup_printf("%" G_GSIZE_FORMAT " areas", n);
    g_autofree char *photo = NULL;
    int64_t step;
    if (edit && n > 0 && !study_edit_place_of(study, LF_EDIT_AREAS, ids[0], &photo, error))
        return false;
    return study_edit_begin(study, LF_EDIT_AREAS, photo, photo ? edit : NULL, &step, error) &&
           study_area_delete(study, ids, n, error) &&
           study_edit_end(study, LF_EDIT_AREAS, step, error) &&
           study_db_log(study, "area remove", detail, NULL, error);
}

bool lf_study_area_remove(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                          GError **error)
{
    return study_db_begin(study, error) &&
           study_db_end(study, study_area_remove(study, ids, n, edit, error), error);
}

/* --- import -------------------------------------------------------------------------------------
 */

/* Areas may reach beyond the photo, but the user should know: nobody can look at that part. */
static void study_area_tell_beyond(const GPtrArray *areas, const StudyAreaPhoto *photo,
                                   LfStudyNote note, void *data)
{
    g_autoptr(GString) names = g_string_new(NULL);
    guint n = 0;
    for (guint i = 0; i < areas->len; i++) {
        LfPoint low, high;
        lf_area_bounds(areas->pdata[i], &low, &high);
        /* Drawn by hand or worked out from millimetres, an edge may miss the photo's by a little.
         */
        if (low.x >= -1.5 && low.y >= -1.5 && high.x <= photo->width_px + 0.5 &&
            high.y <= photo->height_px + 0.5)
            continue;
        if (n++ < 5)
            g_string_append_printf(names, "%s%s", n > 1 ? ", " : "",
                                   ((const LfArea *)areas->pdata[i])->name);
    }
    if (n == 0)
        return;
    g_autofree char *sentence =
        g_strdup_printf("%u of the areas reach%s beyond the photo, where no gaze can fall: %s%s", n,
                        n == 1 ? "es" : "", names->str, n > 5 ? " and others" : "");
    note(sentence, data);
}

static bool study_area_write_import(LfStudy *study, const StudyAreaPhoto *photo, GPtrArray *areas,
                                    bool replace, GError **error)
{
    if (replace && !study_db_run(study, error, "DELETE FROM area WHERE photo = ?", "i", photo->id))
        return false;
    return study_area_write_all(study, areas, error);
}

bool lf_study_area_import(LfStudy *study, const char *photo, GPtrArray *areas, bool replace,
                          LfStudyNote note, void *data, GError **error)
{
    StudyAreaPhoto found = {0};
    g_autofree int64_t *before = study_area_ids(areas);
    g_autofree char *detail =
        g_strdup_printf("%u areas on %s%s", areas->len, photo, replace ? ", instead of all" : "");
    for (guint i = 0; i < areas->len; i++) {
        LfArea *area = areas->pdata[i];
        area->id = 0;
        g_free(area->photo);
        area->photo = g_strdup(photo);
    }
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_area_find_photo(study, photo, &found, error) &&
              study_area_write_import(study, &found, areas, replace, error) &&
              study_db_log(study, "area import", detail, NULL, error);
    ok = study_area_end(study, ok, areas, before, error);
    if (ok && note)
        study_area_tell_beyond(areas, &found, note, data);
    return ok;
}
