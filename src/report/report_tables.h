/* The report's tables of what is in the study and how good it is. */
#ifndef LF_REPORT_TABLES_H
#define LF_REPORT_TABLES_H

#include "report/report_data.h"
#include "report/report_table.h"

ReportTable *report_tables_states(const ReportData *data);
ReportTable *report_tables_confidence(const ReportData *data);
ReportTable *report_tables_quality(const ReportData *data);
ReportTable *report_tables_inputs(const ReportData *data);
ReportTable *report_tables_log(const ReportData *data);

#endif
