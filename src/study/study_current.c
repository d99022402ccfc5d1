/* Which results count: those of chunks that were cast with today's inputs and settings. */
#include "study/study_recipe.h"
#include "study/study_review.h"

GArray *study_current_chunks(LfStudy *study, const char *head, const StudyWalk *walk, char **source,
                             GError **error)
{
    g_autoptr(GArray) current = g_array_new(FALSE, FALSE, sizeof(StudyCurrent));
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    int64_t recipe;
    bool ok = false, row = false;
    g_autoptr(sqlite3_stmt) chunks =
        study_recipe_find(study, head, walk, &recipe, error)
            ? study_db_prepare(study, error,
                               "SELECT from_us, to_us, number, run FROM chunk"
                               " WHERE walk = ? AND recipe = ? ORDER BY number")
            : NULL;
    if (!chunks)
        return NULL;
    study_db_bind(chunks, "ii", walk->id, recipe);
    while ((ok = study_db_step(study, chunks, &row, error)) && row) {
        const StudyCurrent span = {sqlite3_column_int64(chunks, 0),
                                   sqlite3_column_int64(chunks, 1)};
        const int64_t key[] = {recipe, sqlite3_column_int64(chunks, 2),
                               sqlite3_column_int64(chunks, 3)};
        g_array_append_val(current, span);
        g_checksum_update(sum, (const guchar *)key, sizeof key);
    }
    if (ok && source)
        *source = g_strdup_printf("%d %s", STUDY_STRETCH_VERSION, g_checksum_get_string(sum));
    return ok ? g_steal_pointer(&current) : NULL;
}

bool study_current_at(const GArray *chunks, guint *at, int64_t t_us)
{
    while (*at < chunks->len && g_array_index(chunks, StudyCurrent, *at).to_us <= t_us)
        (*at)++;
    return *at < chunks->len && g_array_index(chunks, StudyCurrent, *at).from_us <= t_us;
}
