/* Export: how well reviewers agree. */
#include "export_out.h"

#define AGREEMENT_DEG_DECIMALS 3

enum { AGREEMENT_PAIRS, AGREEMENT_SAMPLES, AGREEMENT_POINTS };
enum {
    AGREEMENT_MEDIAN,
    AGREEMENT_P95,
    AGREEMENT_SAME,
    AGREEMENT_KAPPA,
    AGREEMENT_KAPPA_LOW,
    AGREEMENT_KAPPA_HIGH
};

static void export_agreement_name(GString *cell, const void *row, int which)
{
    const LfAgreement *agreement = row;
    const char *name = which == 0 ? agreement->first : agreement->second;
    csv_line_text(cell, name ? name : "all");
}

static void export_agreement_count(GString *cell, const void *row, int which)
{
    const LfAgreement *agreement = row;
    const int64_t counts[] = {agreement->pairs, agreement->samples, agreement->points};
    csv_line_fixed(cell, (double)counts[which], 0);
}

static void export_agreement_number(GString *cell, const void *row, int which)
{
    const LfAgreement *agreement = row;
    const double numbers[] = {agreement->median_deg, agreement->p95_deg,   agreement->same_state,
                              agreement->kappa,      agreement->kappa_low, agreement->kappa_high};
    csv_line_fixed(cell, numbers[which],
                   which <= AGREEMENT_P95 ? AGREEMENT_DEG_DECIMALS : EXPORT_SHARE_DECIMALS);
}

static const ExportColumn *export_agreement_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        {"first", "", "the reviewer whose word holds; all: every pair of reviewers together",
         export_agreement_name, 0},
        {"second", "", "the reviewer who was blind to it", export_agreement_name, 1},
        {"pairs", "count", "runs of samples on which one placement of each lies",
         export_agreement_count, AGREEMENT_PAIRS},
        {"samples", "count", "gaze samples in them", export_agreement_count, AGREEMENT_SAMPLES},
        {"points", "count", "pairs with both on the same photo, and a pose to tell angles by",
         export_agreement_count, AGREEMENT_POINTS},
        {"distance_median_deg", "deg",
         "median of the visual angle between their two places, mean over each pair's samples",
         export_agreement_number, AGREEMENT_MEDIAN},
        {"distance_p95_deg", "deg", "the same: 95% of the pairs lie nearer",
         export_agreement_number, AGREEMENT_P95},
        {"same_state", "0 to 1",
         "share of pairs both put on the same photo, or both away, or both "
         "blocked, each by most of the pair's samples",
         export_agreement_number, AGREEMENT_SAME},
        {"kappa", "-1 to 1",
         "Cohen's kappa of these states; blank where all pairs have one and the same",
         export_agreement_number, AGREEMENT_KAPPA},
        {"kappa_low", "-1 to 1", "lower end of its 95% interval", export_agreement_number,
         AGREEMENT_KAPPA_LOW},
        {"kappa_high", "-1 to 1", "upper end", export_agreement_number, AGREEMENT_KAPPA_HIGH},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_agreement_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                                 G_GNUC_UNUSED GPtrArray *undone, GError **error)
{
    g_autoptr(GPtrArray) rows = lf_study_agreement(study, error);
    if (rows && rows->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: no two reviewers have placed the same gaze yet. One of them signs in on "
                    "the desk as a blind second opinion",
                    options->path);
        return false;
    }
    for (guint i = 0; rows && i < rows->len; i++)
        if (!export_out_row(out, rows->pdata[i], error))
            return false;
    return rows != NULL;
}

const ExportKind export_agreement = {"agreement", "two reviewers", export_agreement_columns,
                                     export_agreement_run, ""};
