/* The choice of a report in words. */
#ifndef LF_REPORT_CHOICE_H
#define LF_REPORT_CHOICE_H

#include "report/report_data.h"

/* What the report is of, and which of its parts that holds for; owned by the caller. NULL where it
 * is of everything. */
char *report_choice_text(const ReportData *data);
/* The same as a sentence of the method; NULL as above. */
char *report_choice_method(const ReportData *data);

#endif
