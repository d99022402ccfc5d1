/* A report on a study: one page of HTML that holds everything, or a folder with the page, its
 * pictures and its tables as CSV.
 *
 * The page needs no network, sorts its tables by itself, and prints. docs/report.md tells what each
 * part says. Faces in its stills are blurred; blurring can miss one, so somebody has to look before
 * it is given to others. */
#ifndef LOOKFALL_REPORT_H
#define LOOKFALL_REPORT_H

#include <lookfall/draw.h>

G_BEGIN_DECLS

typedef struct {
    /* FILE.html or FILE.htm: one file; anything else: a folder, which is made where only its parent
     * is there. */
    const char *out;
    const char *title; /* NULL: "Report" */
    bool force;        /* replaces the file, or the report's own files in the folder */
    /* The pictures of each photo, all of one choice, which is that of the whole report; the width
     * is the report's own. NULL: heat map, focus map, areas and timeline of everything. */
    const LfDrawSettings *pictures;
    gsize n_pictures;
    int stills;        /* at most so many pictures out of scene videos, one a walk */
    bool show_faces;   /* stills as they are */
    int threads;       /* 1 or more */
    const int *cancel; /* set to non-zero to stop; may be NULL */
    LfStudyNote note;  /* tells of parts that are left out and why; may be NULL */
    void (*progress)(const char *doing, gsize done, gsize total, void *data); /* may be NULL */
    void *data;
} LfReportOptions;

typedef struct {
    gsize files;      /* written */
    gsize stills;     /* in it */
    gsize left_out;   /* parts that are not in it */
    bool interrupted; /* nothing was written */
} LfReportResult;

/* LF_ERROR_INPUT: nothing is cast, a choice of what is not in the study or of no time at all, a
 * file that exists (without force), a folder whose parent is not
 * there. LF_ERROR_MACHINE: nothing is left half written. */
LF_API bool lf_report_make(LfStudy *study, const LfReportOptions *options, LfReportResult *result,
                           GError **error);

G_END_DECLS

#endif
