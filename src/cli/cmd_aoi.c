/* lookfall aoi import, export, list. */
#include "cli.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "in.h"
#include "json_out.h"
#include "out.h"
#include "table.h"

/* --- the photo ----------------------------------------------------------------------------------
 */

static const LfStudyPhoto *cli_aoi_find(const GPtrArray *photos, const char *name)
{
    for (guint i = 0; i < photos->len; i++)
        if (strcmp(((const LfStudyPhoto *)photos->pdata[i])->name, name) == 0)
            return photos->pdata[i];
    return NULL;
}

/* The photo named, or the only one there is; NULL with the message written. */
static const LfStudyPhoto *cli_aoi_photo(const CliCommand *command, const GPtrArray *photos,
                                         const char *name, int *status)
{
    const LfStudyPhoto *photo = name               ? cli_aoi_find(photos, name)
                                : photos->len == 1 ? photos->pdata[0]
                                                   : NULL;
    if (photo)
        return photo;
    if (name || photos->len == 0) {
        *status = CLI_INPUT;
        if (photos->len == 0)
            cli_say("there is no photo in the study yet; \"lookfall photo add\" adds one");
        else
            cli_say("there is no photo called %s in the study; \"lookfall photo list\" shows them",
                    name);
    } else {
        *status = cli_misuse(command, "%s: the study has several photos; say which with --photo",
                             command->name);
    }
    return NULL;
}

static LfAreaPhoto cli_aoi_onto(const LfStudyPhoto *photo, double width_mm)
{
    return (LfAreaPhoto){photo->name, photo->report.width, photo->report.height,
                         isnan(width_mm) ? photo->width_mm : width_mm};
}

/* --- import -------------------------------------------------------------------------------------
 */

typedef enum { AOI_SVG, AOI_CSV, AOI_PLANOGRAM, AOI_UNKNOWN } AoiFormat;

static AoiFormat cli_aoi_format(const char *word)
{
    static const char *const names[] = {"svg", "csv", "planogram"};
    for (int i = 0; i < AOI_UNKNOWN; i++)
        if (strcmp(word, names[i]) == 0)
            return (AoiFormat)i;
    return AOI_UNKNOWN;
}

/* By what the text begins with: a drawing, or a table with or without the columns of a planogram.
 */
static AoiFormat cli_aoi_guess(const char *text)
{
    const char *at = g_str_has_prefix(text, "\xef\xbb\xbf") ? text + 3 : text;
    while (g_ascii_isspace(*at))
        at++;
    if (*at == '<')
        return AOI_SVG;
    gsize length = strcspn(at, "\r\n");
    return g_strstr_len(at, (gssize)length, "facings") ? AOI_PLANOGRAM : AOI_CSV;
}

typedef struct {
    const char *file;
    AoiFormat format;
    bool mm;
    LfAreaPhoto photo;
} AoiImport;

static GPtrArray *cli_aoi_read(AoiImport *import, GError **error)
{
    g_autofree char *text = NULL;
    gsize length;
    if (!cli_in_read(import->file, &text, &length, error))
        return NULL;
    if (import->format == AOI_UNKNOWN)
        import->format = cli_aoi_guess(text);
    switch (import->format) {
    case AOI_SVG:
        return lf_area_read_svg(text, length, import->file, &import->photo, cli_note, NULL, error);
    case AOI_PLANOGRAM:
        return lf_area_read_planogram(text, length, import->file, &import->photo, import->mm,
                                      error);
    default:
        return lf_area_read_csv(text, length, import->file, &import->photo, error);
    }
}

static int cli_aoi_import_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *photo_name = NULL;
    g_autofree char *format = NULL;
    g_autofree char *width = NULL;
    gboolean mm = FALSE, replace = FALSE;
    const GOptionEntry options[] = {
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &photo_name,
         "The photo the areas lie on; needed where the study has several", "NAME"},
        {"format", 0, 0, G_OPTION_ARG_FILENAME, &format,
         "svg, csv or planogram; found out from the file where not given", "FORMAT"},
        {"mm", 0, 0, G_OPTION_ARG_NONE, &mm, "The lengths of a planogram are millimetres", NULL},
        {"photo-width-mm", 0, 0, G_OPTION_ARG_FILENAME, &width,
         "Real width of what the photo shows, where it was not told when it was added", "N"},
        {"replace", 0, 0, G_OPTION_ARG_NONE, &replace,
         "Instead of the areas the photo has, not beside them", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", "FILE", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) photos = NULL;
    g_autoptr(GPtrArray) areas = NULL;
    GError *error = NULL;
    double width_mm = NAN;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    AoiImport import = {.file = values[1], .format = AOI_UNKNOWN, .mm = mm};
    if (format && (import.format = cli_aoi_format(format)) == AOI_UNKNOWN)
        return cli_misuse(command, "aoi import: --format is svg, csv or planogram, not \"%s\"",
                          format);
    if (width && !cli_number(command, "photo-width-mm", width, 1e-3, 1e6, &width_mm))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !(photos = lf_study_photos(study, &error)))
        return cli_fail(error);
    const LfStudyPhoto *photo = cli_aoi_photo(command, photos, photo_name, &status);
    if (!photo)
        return status;
    import.photo = cli_aoi_onto(photo, width_mm);
    if (!(areas = cli_aoi_read(&import, &error)))
        return cli_fail(error);
    if (mm && import.format != AOI_PLANOGRAM)
        return cli_misuse(command, "aoi import: --mm is for planograms alone; %s is none",
                          import.file);
    if (!lf_study_area_import(study, photo->name, areas, replace, cli_note, NULL, &error)) {
        g_prefix_error(&error, "%s: ", import.file);
        return cli_fail(error);
    }
    g_autofree char *count = cli_count(areas->len, "area");
    cli_say("%s read onto photo %s", count, photo->name);
    return CLI_DONE;
}

/* --- export -------------------------------------------------------------------------------------
 */

static char *cli_aoi_text(const LfStudyPhoto *photo, const GPtrArray *areas, bool svg)
{
    LfAreaPhoto onto = cli_aoi_onto(photo, NAN);
    if (!svg)
        return lf_area_write_csv(areas);
    g_autofree char *absolute = g_canonicalize_filename(photo->path, NULL);
    g_autofree char *uri = g_filename_to_uri(absolute, NULL, NULL);
    return lf_area_write_svg(areas, &onto, uri);
}

static bool cli_aoi_write(const char *path, bool force, LfStudy *study, const char *text,
                          GError **error)
{
    g_autoptr(CliOut) out = cli_out_open(path, force, study, error);
    if (!out)
        return false;
    if (fputs(text, cli_out_stream(out)) == EOF)
        return cli_out_failed(out, error);
    return cli_out_keep(out, error);
}

static int cli_aoi_export_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *photo_name = NULL;
    g_autofree char *format = NULL;
    g_autofree char *path = NULL;
    gboolean force = FALSE;
    const GOptionEntry options[] = {
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &photo_name,
         "The photo whose areas are wanted; needed where the study has several", "NAME"},
        {"format", 0, 0, G_OPTION_ARG_FILENAME, &format,
         "svg or csv; by the ending of --out where not given, else csv", "FORMAT"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &path, "Write to this file instead of stdout", "FILE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace the file if it is there already", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) photos = NULL;
    g_autoptr(GPtrArray) areas = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    AoiFormat wanted = format                                   ? cli_aoi_format(format)
                       : path && g_str_has_suffix(path, ".svg") ? AOI_SVG
                                                                : AOI_CSV;
    if (wanted != AOI_SVG && wanted != AOI_CSV)
        return cli_misuse(command, "aoi export: --format is svg or csv, not \"%s\"", format);
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(photos = lf_study_photos(study, &error)))
        return cli_fail(error);
    const LfStudyPhoto *photo = cli_aoi_photo(command, photos, photo_name, &status);
    if (!photo)
        return status;
    if (!(areas = lf_study_areas(study, photo->name, &error)))
        return cli_fail(error);
    g_autofree char *text = cli_aoi_text(photo, areas, wanted == AOI_SVG);
    return cli_aoi_write(path, force, study, text, &error) ? CLI_DONE : cli_fail(error);
}

/* --- list ---------------------------------------------------------------------------------------
 */

static void cli_aoi_print(const GPtrArray *areas, const GPtrArray *photos)
{
    g_autoptr(CliTable) table = cli_table_new("llllr");
    cli_table_row(table, "photo", "name", "group", "shape", "share of photo");
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        const LfStudyPhoto *photo = cli_aoi_find(photos, area->photo);
        double all = (double)photo->report.width * photo->report.height;
        g_autofree char *share = g_strdup_printf("%.2f%%", 100 * lf_area_surface_px2(area) / all);
        cli_table_row(table, area->photo, area->name, area->group_path,
                      lf_area_shape_name(area->shape), share);
    }
    cli_table_print(table, stdout);
}

static void cli_aoi_print_json(const GPtrArray *areas)
{
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_array(json);
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        g_autofree char *points = lf_area_points(area);
        json_builder_begin_object(json);
        json_out_text(json, "photo", area->photo);
        json_out_text(json, "name", area->name);
        json_out_text(json, "group", area->group_path);
        json_out_text(json, "shape", lf_area_shape_name(area->shape));
        json_out_text(json, "points", points);
        json_out_number(json, "surface_px2", lf_area_surface_px2(area));
        json_builder_end_object(json);
    }
    json_builder_end_array(json);
    json_out_print(json);
}

static int cli_aoi_list_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *photo_name = NULL;
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &photo_name, "Of this photo alone", "NAME"},
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the list as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) areas = NULL;
    g_autoptr(GPtrArray) photos = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(photos = lf_study_photos(study, &error)) ||
        !(areas = lf_study_areas(study, photo_name, &error)))
        return cli_fail(error);
    if (as_json)
        cli_aoi_print_json(areas);
    else
        cli_aoi_print(areas, photos);
    return CLI_DONE;
}

const CliCommand cli_aoi_import = {
    .name = "aoi import",
    .summary = "Read areas of interest from a drawing or table",
    .arguments = "STUDY FILE",
    .about =
        "Reads areas of interest onto a photo, all of the file or none:\n"
        "  SVG        rect, circle, ellipse, polygon, path, with transforms; named by their label\n"
        "             or id, grouped by the labels of the groups around them. The drawing's page\n"
        "             is the photo.\n"
        "  CSV        name,group,shape,points; groups are written outer/inner, points x,y x,y ...\n"
        "  planogram  shelf,position,facings,item,x,y,width,height in pixels of the photo, or in\n"
        "             millimetres from its top left corner (--mm): an area for each facing, in\n"
        "             the group shelf/item.\n"
        "docs/areas.md describes them in full. Crossing, empty or nameless areas are refused.",
    .example = "lookfall aoi import aisle.lookfall packs.svg --photo shelf",
    .run = cli_aoi_import_run,
};

const CliCommand cli_aoi_export = {
    .name = "aoi export",
    .summary = "Write areas of interest as SVG or CSV",
    .arguments = "STUDY",
    .about = "Writes the areas of a photo as a drawing (SVG, with the photo beneath) or a table\n"
             "(CSV: name,group,shape,points). \"lookfall aoi import\" reads either back.",
    .example = "lookfall aoi export aisle.lookfall --photo shelf --out packs.svg",
    .run = cli_aoi_export_run,
};

const CliCommand cli_aoi_list = {
    .name = "aoi list",
    .summary = "List the areas of interest",
    .arguments = "STUDY",
    .about = "Lists the areas of interest, in the order in which they lie on each other.",
    .example = "lookfall aoi list aisle.lookfall",
    .run = cli_aoi_list_run,
};
