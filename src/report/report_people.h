/* Who noticed what, across people: a table of areas with shares, times and their intervals. */
#ifndef LF_REPORT_PEOPLE_H
#define LF_REPORT_PEOPLE_H

#include <lookfall/finding.h>

#include "report/report_data.h"
#include "report/report_table.h"

/* What the table is computed with: the same as "export stats" without options. */
LfFindingSettings report_people_settings(const ReportData *data);

/* NULL without an error where the study has no areas or no fixations; *why (owned by the caller)
 * then tells. */
ReportTable *report_people_table(LfStudy *study, const ReportData *data, int threads, char **why,
                                 GError **error);

#endif
