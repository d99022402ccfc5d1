/* A gaze file in, its events and fixations out. Both files are given their names only when both are
 * whole. */
#include "fixate_file.h"

#include <math.h>

#include "cli.h"
#include "csv_line.h"
#include "out.h"

/* Thousandths of a pixel lie well below what any eye tracker can know. */
#define FIXATE_PX_DECIMALS 3

static bool fixate_file_flush(CliOut *out, GString *line, GError **error)
{
    bool good = fwrite(line->str, 1, line->len, cli_out_stream(out)) == line->len;
    g_string_truncate(line, 0);
    return good || cli_out_failed(out, error);
}

static bool fixate_file_events(CliOut *out, const LfGaze *gaze, const LfFixations *found,
                               GError **error)
{
    g_autoptr(GString) line = g_string_new("t_s,event");
    csv_line_end(line);
    for (gsize i = 0; i < gaze->n_samples; i++) {
        csv_line_seconds(line, gaze->samples[i].t_us, gaze->time_decimals);
        csv_line_text(line, lf_event_name(found->events[i]));
        csv_line_end(line);
        if (!fixate_file_flush(out, line, error))
            return false;
    }
    return fixate_file_flush(out, line, error);
}

static bool fixate_file_list(CliOut *out, const FixateFile *file, const LfGaze *gaze,
                             const LfFixations *found, GError **error)
{
    g_autoptr(GString) line = g_string_new("from_s,to_s,duration_s,x_px,y_px,samples");
    csv_line_end(line);
    for (gsize i = 0; i < found->n_fixations; i++) {
        const LfFixationSpan *f = &found->fixations[i];
        csv_line_seconds(line, f->from_us, gaze->time_decimals);
        csv_line_seconds(line, f->to_us, gaze->time_decimals);
        csv_line_seconds(line, f->to_us - f->from_us, gaze->time_decimals);
        csv_line_fixed(line, f->x_deg * file->px_per_degree_x, FIXATE_PX_DECIMALS);
        csv_line_fixed(line, f->y_deg * file->px_per_degree_y, FIXATE_PX_DECIMALS);
        csv_line_fixed(line, (double)f->samples, 0);
        csv_line_end(line);
    }
    return fixate_file_flush(out, line, error);
}

/* What a person wants to know before trusting it. */
static void fixate_file_tell(const LfGaze *gaze, const LfFixations *found)
{
    g_autofree char *count = cli_count(found->n_fixations, "fixation");
    g_autofree char *samples = cli_count(gaze->n_samples, "sample");
    if (isfinite(found->noise_deg_s[false]))
        cli_say("%s in %s; noise %.1f deg/s, so a saccade peaks at %.0f deg/s or more", count,
                samples, found->noise_deg_s[false], found->peak_deg_s[false]);
    else
        cli_say("%s in %s", count, samples);
}

bool fixate_file(const FixateFile *file, const LfFixationSettings *settings, GError **error)
{
    g_autoptr(LfGaze) gaze = lf_gaze_read(file->gaze, &file->format, 1, 1, error);
    if (!gaze)
        return false;
    g_autofree LfDirection *directions = g_new0(LfDirection, gaze->n_samples);
    for (gsize i = 0; i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        directions[i] = (LfDirection){s->t_us, s->x / file->px_per_degree_x,
                                      s->y / file->px_per_degree_y, s->lost, false};
    }
    g_autoptr(CliOut) events = NULL;
    g_autoptr(CliOut) list = NULL;
    g_autoptr(LfFixations) found = lf_fixations_find(directions, gaze->n_samples, settings, error);
    bool ok =
        found && (events = cli_out_open(file->events, file->force, NULL, error)) &&
        (!file->fixations || (list = cli_out_open(file->fixations, file->force, NULL, error))) &&
        fixate_file_events(events, gaze, found, error) &&
        (!list || fixate_file_list(list, file, gaze, found, error)) &&
        cli_out_keep(events, error) && (!list || cli_out_keep(list, error));
    if (ok)
        fixate_file_tell(gaze, found);
    return ok;
}
