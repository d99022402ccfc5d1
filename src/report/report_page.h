/* The page of a report. */
#ifndef LF_REPORT_PAGE_H
#define LF_REPORT_PAGE_H

#include "report/report_data.h"
#include "report/report_table.h"

typedef struct {
    const ReportData *data;
    const char *title;
    const GPtrArray *pictures; /* ReportPicture */
    const ReportTable *states, *confidence, *quality, *inputs, *log;
    const ReportTable *noticed; /* NULL: there is none, for this reason */
    const char *no_noticed;
    const char *made_at; /* to be read by people */
    bool show_faces;
} ReportPage;

/* HTML with everything in it; owned by the caller. */
char *report_page_html(const ReportPage *page);

#endif
