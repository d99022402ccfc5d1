/* Who noticed what, across people: a table of areas with shares, times and their intervals. */
#ifndef LF_REPORT_PEOPLE_H
#define LF_REPORT_PEOPLE_H

#include "report/report_data.h"
#include "report/report_table.h"

/* The chance that an interval holds the true value in the long run, resamples and seed of the
 * bootstrap. */
#define REPORT_LEVEL 0.95
#define REPORT_RESAMPLES 2000
#define REPORT_SEED 1u

/* NULL without an error where the study has no areas or no fixations; *why (owned by the caller)
 * then tells. */
ReportTable *report_people_table(LfStudy *study, const ReportData *data, int threads, char **why,
                                 GError **error);

#endif
