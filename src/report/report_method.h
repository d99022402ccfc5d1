/* The method as a paragraph to paste into a paper, with its references. */
#ifndef LF_REPORT_METHOD_H
#define LF_REPORT_METHOD_H

#include "report/report_data.h"

/* noticed: the page has the table of who noticed what. */
void report_method_html(const ReportData *data, bool noticed, GString *page);

#endif
