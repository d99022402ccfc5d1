/* What can be exported: kinds of rows, their columns, and how chosen columns are written. To add a
 * kind, describe its columns and add it to the table in cmd_export.c. */
#ifndef LF_CLI_EXPORT_OUT_H
#define LF_CLI_EXPORT_OUT_H

#include <lookfall/lookfall.h>

#include "csv_line.h"
#include "out.h"

/* Digits that are written: thousandths of a pixel and ten thousandths of a probability lie well
 * below what the cast can know. */
#define EXPORT_PX_DECIMALS 3
#define EXPORT_SHARE_DECIMALS 4

#define EXPORT_ALL_LEVELS (-2)

typedef struct {
    const char *name, *unit, *definition;
    /* Appends the cell of a row, without a comma, to an empty string; which: as below. */
    void (*write)(GString *cell, const void *row, int which);
    int which;
} ExportColumn;

typedef struct {
    CliOut *out;
    GString *line, *cell;
    const ExportColumn *columns;
    GArray *chosen; /* gsize: indices of columns, in the order in which they are written */
} ExportOut;

/* What the user asked for beyond the kind. */
typedef struct {
    const char *path; /* of the study, as given */
    const char *const *walks;
    LfMeasureOptions measure;
    int level;      /* as LfAreaTarget.level, or EXPORT_ALL_LEVELS */
    bool alignment; /* comparisons: the matrix is of alignments */
    bool matrix;
    LfFindingSettings findings; /* stats */
} ExportOptions;

typedef struct {
    const char *name;
    const char *about; /* what a row is, for the help */
    const ExportColumn *(*columns)(gsize *n);
    /* undone takes the names of walks whose rows are blank or missing; what_undone says why. */
    bool (*run)(LfStudy *study, const ExportOptions *options, ExportOut *out, GPtrArray *undone,
                GError **error);
    const char *what_undone;
} ExportKind;

extern const ExportKind export_samples, export_poses;                           /* export_cast.c */
extern const ExportKind export_fixations, export_visits, export_measures;       /* export_look.c */
extern const ExportKind export_sequences, export_transitions, export_entropies; /* export_order.c */
extern const ExportKind export_comparisons;                                     /* export_pairs.c */
extern const ExportKind export_stats;                                           /* export_stats.c */
extern const ExportKind export_agreement; /* export_agreement.c */

/* The columns named ("a,b,c"; NULL: all) of the kind; LF_ERROR_USAGE where one does not exist. */
bool export_out_choose(ExportOut *out, const ExportKind *kind, const char *names, GError **error);
void export_out_clear(ExportOut *out);
/* The header waits in front of the first row: where there is nothing, nothing is printed. */
void export_out_header(ExportOut *out);
bool export_out_row(ExportOut *out, const void *row, GError **error);
/* Writes what waits. */
bool export_out_flush(ExportOut *out, GError **error);
/* The kind's columns as rows: column, unit, definition. */
bool export_out_dictionary(CliOut *out, const ExportKind *kind, GError **error);

#endif
