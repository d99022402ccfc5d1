/* The pictures of a report: those of every photo, and stills out of scene videos. */
#ifndef LF_REPORT_PICTURES_H
#define LF_REPORT_PICTURES_H

#include "report/report_data.h"

typedef struct {
    char *name; /* of the file, with its ending */
    const char *mime;
    char *photo; /* its name; NULL: a still */
    char *alt, *caption;
    int width_px, height_px; /* 0 where not known */
    GBytes *bytes;
} ReportPicture;

/* ReportPicture, in the order of the page; what cannot be drawn is told by options->note and
 * counted in result. NULL on an error; cancelled: those made by then. */
GPtrArray *report_pictures_make(LfStudy *study, const ReportData *data,
                                const LfReportOptions *options, LfReportResult *result,
                                GError **error);

#endif
