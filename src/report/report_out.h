/* Writing a report: everything first under other names, then each file gets its own. */
#ifndef LF_REPORT_OUT_H
#define LF_REPORT_OUT_H

#include <stdbool.h>

#include <lookfall/study.h>

typedef struct ReportOut ReportOut;

/* study: borrowed; neither it nor an input of it is ever written over.
 * out: FILE.html or FILE.htm, otherwise a folder. LF_ERROR_INPUT where it cannot be put there,
 * before any work is done. */
ReportOut *report_out_new(LfStudy *study, const char *out, bool force, GError **error);
void report_out_free(ReportOut *out);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ReportOut, report_out_free)

bool report_out_is_folder(const ReportOut *out);
/* A file of the folder; name may have one folder in front of it. Takes the bytes over. In a report
 * of one file only "report.html" counts. */
void report_out_add(ReportOut *out, const char *name, GBytes *bytes);
/* Writes all of them. On an error nothing is left of what was new. */
bool report_out_write(ReportOut *out, gsize *files, GError **error);

#endif
