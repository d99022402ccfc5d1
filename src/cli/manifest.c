/* Reading a manifest: CSV (comma, semicolon or tab), one header row with columns named like the
 * options of "walk add", one walk in each row. */
#include "manifest.h"

#include <csv.h>
#include <errno.h>
#include <stddef.h>
#include <string.h>

typedef struct {
    const char *name;
    gsize offset;
    bool needed, path;
} ManifestColumn;

static const ManifestColumn manifest_columns[] = {
    {"name", offsetof(WalkOptions, name), true, false},
    {"video", offsetof(WalkOptions, video), true, true},
    {"gaze", offsetof(WalkOptions, gaze), true, true},
    {"time", offsetof(WalkOptions, time), false, false},
    {"x", offsetof(WalkOptions, x), false, false},
    {"y", offsetof(WalkOptions, y), false, false},
    {"valid", offsetof(WalkOptions, valid), false, false},
    {"clock-shift", offsetof(WalkOptions, clock_shift), false, false},
    {"clock", offsetof(WalkOptions, clock), false, false},
    {"camera", offsetof(WalkOptions, camera), false, true},
    {"participant", offsetof(WalkOptions, participant), false, false},
    {"group", offsetof(WalkOptions, group), false, false},
};

typedef struct {
    const char *path;
    char *folder;
    GPtrArray *rows;
    GArray *columns;   /* of each field: index into manifest_columns */
    GPtrArray *fields; /* of the row being read */
    gsize row;
    int last_end;  /* character that ended the last row */
    GError *error; /* the first about the table as a whole */
} Manifest;

static void manifest_row_free(gpointer data)
{
    ManifestRow *row = data;
    walk_options_clear(&row->options);
    g_free(row->fault);
    g_free(row);
}

static void manifest_fail(Manifest *manifest, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void manifest_fail(Manifest *manifest, const char *format, ...)
{
    va_list list;
    if (manifest->error)
        return;
    va_start(list, format);
    g_autofree char *sentence = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error(&manifest->error, LF_ERROR, LF_ERROR_INPUT, "%s: %s", manifest->path, sentence);
}

/* --- header ----------------------------------------------------------------------------------- */

static int manifest_column(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(manifest_columns); i++)
        if (strcmp(manifest_columns[i].name, name) == 0)
            return (int)i;
    return -1;
}

static char *manifest_column_names(void)
{
    g_autoptr(GString) names = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(manifest_columns); i++)
        g_string_append_printf(names, "%s%s", i ? ", " : "", manifest_columns[i].name);
    return g_string_free(g_steal_pointer(&names), FALSE);
}

static void manifest_header(Manifest *manifest)
{
    bool seen[G_N_ELEMENTS(manifest_columns)] = {0};
    g_autofree char *known = manifest_column_names();

    for (guint i = 0; i < manifest->fields->len; i++) {
        const char *name = manifest->fields->pdata[i];
        int column = manifest_column(name);
        if (column < 0)
            manifest_fail(manifest, "there is no option called \"%s\"; the columns may be %s", name,
                          known);
        else if (seen[column])
            manifest_fail(manifest, "the column %s is there twice", name);
        else
            seen[column] = true;
        g_array_append_val(manifest->columns, column);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(manifest_columns); i++)
        if (manifest_columns[i].needed && !seen[i])
            manifest_fail(manifest, "the column %s is missing; the columns may be %s",
                          manifest_columns[i].name, known);
}

/* --- rows ------------------------------------------------------------------------------------- */

static char **manifest_slot(WalkOptions *options, const ManifestColumn *column)
{
    return (char **)(gpointer)((char *)options + column->offset);
}

static void manifest_check_row(const Manifest *manifest, ManifestRow *row)
{
    g_autoptr(GString) fault = g_string_new(NULL);
    g_autoptr(GError) error = NULL;
    LfWalkInput input;

    if (manifest->fields->len > manifest->columns->len)
        g_string_append_printf(fault, "it has %u fields, the header %u", manifest->fields->len,
                               manifest->columns->len);
    for (gsize i = 0; i < G_N_ELEMENTS(manifest_columns); i++)
        if (manifest_columns[i].needed && !*manifest_slot(&row->options, &manifest_columns[i]))
            g_string_append_printf(fault, "%s%s is blank", fault->len ? "; " : "",
                                   manifest_columns[i].name);
    if (!walk_options_input(&row->options, &input, &error))
        g_string_append_printf(fault, "%s%s", fault->len ? "; " : "", error->message);
    if (fault->len > 0)
        row->fault = g_strdup(fault->str);
}

static void manifest_walk(Manifest *manifest)
{
    bool blank = true;
    for (guint i = 0; i < manifest->fields->len; i++)
        blank = blank && !*(const char *)manifest->fields->pdata[i];
    if (blank)
        return;
    ManifestRow *row = g_new0(ManifestRow, 1);
    row->row = manifest->row;
    g_ptr_array_add(manifest->rows, row);
    for (guint i = 0; i < MIN(manifest->fields->len, manifest->columns->len); i++) {
        const ManifestColumn *column = &manifest_columns[g_array_index(manifest->columns, int, i)];
        const char *field = manifest->fields->pdata[i];
        if (*field)
            *manifest_slot(&row->options, column) =
                column->path ? g_canonicalize_filename(field, manifest->folder) : g_strdup(field);
    }
    manifest_check_row(manifest, row);
}

static void manifest_on_field(void *text, size_t length, void *data)
{
    Manifest *manifest = data;
    g_autofree char *field = g_strndup(text ? text : "", length);
    g_ptr_array_add(manifest->fields, g_strdup(g_strstrip(field)));
}

static void manifest_on_row(int end, void *data)
{
    Manifest *manifest = data;
    /* The parser tells of both characters of CR LF. */
    bool second = end == '\n' && manifest->last_end == '\r' && manifest->fields->len == 0;
    manifest->last_end = end;
    if (second)
        return;
    manifest->row++;
    if (!manifest->error) {
        if (manifest->row == 1)
            manifest_header(manifest);
        else
            manifest_walk(manifest);
    }
    g_ptr_array_set_size(manifest->fields, 0);
}

/* --- the whole -------------------------------------------------------------------------------- */

/* The separator there is most of in the header row. */
static unsigned char manifest_separator(const char *text, gsize length)
{
    static const char separators[] = ",;\t";
    gsize counts[3] = {0}, best = 0;
    for (gsize i = 0; i < length && text[i] != '\n' && text[i] != '\r'; i++)
        for (gsize k = 0; k < 3; k++)
            counts[k] += text[i] == separators[k];
    for (gsize k = 1; k < 3; k++)
        if (counts[k] > counts[best])
            best = k;
    return (unsigned char)separators[best];
}

static void manifest_parse(Manifest *manifest, const char *text, gsize length)
{
    struct csv_parser parser;
    /* Blank rows are kept, so that rows are numbered as a spreadsheet does. */
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0) {
        manifest_fail(manifest, "there is not enough memory");
        return;
    }
    csv_set_delim(&parser, manifest_separator(text, length));
    if (csv_parse(&parser, text, length, manifest_on_field, manifest_on_row, manifest) != length ||
        csv_fini(&parser, manifest_on_field, manifest_on_row, manifest) != 0)
        manifest_fail(manifest,
                      "row %" G_GSIZE_FORMAT ": a quote is in the wrong place or is not "
                      "closed",
                      manifest->row + 1);
    csv_free(&parser);
    if (manifest->row == 0)
        manifest_fail(manifest, "it is empty");
    else if (manifest->rows->len == 0)
        manifest_fail(manifest, "it has a header row, but no walk");
}

static bool manifest_load(const char *path, char **text, gsize *length, GError **error)
{
    g_autoptr(GError) why = NULL;
    if (g_file_get_contents(path, text, length, &why))
        return true;
    bool input = g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOTDIR) ||
                 g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_ISDIR);
    if (g_error_matches(why, G_FILE_ERROR, G_FILE_ERROR_NOENT))
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no such file", path);
    else
        g_set_error(error, LF_ERROR, input ? LF_ERROR_INPUT : LF_ERROR_MACHINE,
                    "%s: cannot be read: %s", path, why->message);
    return false;
}

GPtrArray *manifest_read(const char *path, GError **error)
{
    g_autofree char *text = NULL;
    gsize length;
    if (!manifest_load(path, &text, &length, error))
        return NULL;
    const char *mark = "\xef\xbb\xbf"; /* UTF-8 byte order mark, which spreadsheets write */
    gsize skip = g_str_has_prefix(text, mark) ? strlen(mark) : 0;

    g_autofree char *absolute = g_canonicalize_filename(path, NULL);
    Manifest manifest = {
        .path = path,
        .folder = g_path_get_dirname(absolute),
        .rows = g_ptr_array_new_with_free_func(manifest_row_free),
        .columns = g_array_new(FALSE, FALSE, sizeof(int)),
        .fields = g_ptr_array_new_with_free_func(g_free),
    };
    manifest_parse(&manifest, text + skip, length - skip);
    g_free(manifest.folder);
    g_array_unref(manifest.columns);
    g_ptr_array_unref(manifest.fields);
    if (!manifest.error)
        return manifest.rows;
    g_ptr_array_unref(manifest.rows);
    g_propagate_error(error, manifest.error);
    return NULL;
}
