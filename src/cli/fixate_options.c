/* Each setting is an option of its name, with dashes. */
#include "fixate_options.h"

#include <string.h>

typedef struct {
    const char *name, *unit, *help;
    gsize offset;
} FixateOption;

#define FIXATE_SETTING(member) G_STRUCT_OFFSET(LfFixationSettings, member)

static const FixateOption fixate_options[FIXATE_OPTIONS] = {
    {"noise-factor", "K", "Thresholds are this many times the noise; 0: fixed",
     FIXATE_SETTING(noise_factor)},
    {"smooth-ms", "MS", "Velocity: speed is measured over this long, or up to twice",
     FIXATE_SETTING(smooth_ms)},
    {"peak-deg-s", "N", "Velocity: a saccade peaks at this speed or more",
     FIXATE_SETTING(peak_deg_s)},
    {"peak-most-deg-s", "N", "Velocity: the threshold is never above this",
     FIXATE_SETTING(peak_most_deg_s)},
    {"edge-share", "N", "Velocity: a saccade's ends, as a share of that threshold",
     FIXATE_SETTING(edge_share)},
    {"ringing-ms", "MS", "Velocity: the eye may swing this long after a saccade",
     FIXATE_SETTING(ringing_ms)},
    {"dispersion-deg", "DEG", "Dispersion: width + height of a fixation, noise apart",
     FIXATE_SETTING(dispersion_deg)},
    {"bridge-ms", "MS", "A gap up to this long does not end a fixation", FIXATE_SETTING(bridge_ms)},
    {"merge-ms", "MS", "Fixations at most this far apart in time ...", FIXATE_SETTING(merge_ms)},
    {"merge-deg", "DEG", "... and in space become one; 0: none", FIXATE_SETTING(merge_deg)},
    {"min-fixation-ms", "MS", "Shorter fixations are dropped", FIXATE_SETTING(min_fixation_ms)},
};

void fixate_options_add(FixateOptions *options, GArray *entries)
{
    const LfFixationSettings defaults = lf_fixation_settings_default();
    const GOptionEntry method = {
        "method", 0, 0, G_OPTION_ARG_FILENAME, &options->method, "velocity (default) or dispersion",
        "NAME"};
    g_array_append_val(entries, method);
    for (gsize i = 0; i < FIXATE_OPTIONS; i++) {
        const FixateOption *o = &fixate_options[i];
        options->help[i] = g_strdup_printf("%s (default %g)", o->help,
                                           G_STRUCT_MEMBER(double, &defaults, o->offset));
        const GOptionEntry entry = {
            o->name, 0, 0, G_OPTION_ARG_FILENAME, &options->numbers[i], options->help[i], o->unit};
        g_array_append_val(entries, entry);
    }
}

bool fixate_options_read(const CliCommand *command, const FixateOptions *options,
                         LfFixationSettings *settings)
{
    static const char *const methods[] = {"velocity", "dispersion", NULL};
    g_autoptr(GError) error = NULL;
    *settings = lf_fixation_settings_default();
    if (options->method && !g_strv_contains(methods, options->method)) {
        cli_misuse(command, "fixate: the methods are velocity and dispersion, not \"%s\"",
                   options->method);
        return false;
    }
    if (options->method && strcmp(options->method, "dispersion") == 0)
        settings->method = LF_FIXATION_DISPERSION;
    for (gsize i = 0; i < FIXATE_OPTIONS; i++) {
        const FixateOption *o = &fixate_options[i];
        if (options->numbers[i] && !cli_number(command, o->name, options->numbers[i], 0, 10000,
                                               &G_STRUCT_MEMBER(double, settings, o->offset)))
            return false;
    }
    if (lf_fixation_settings_check(settings, &error))
        return true;
    cli_misuse(command, "fixate: %s", error->message);
    return false;
}

void fixate_options_clear(FixateOptions *options)
{
    g_free(options->method);
    for (gsize i = 0; i < FIXATE_OPTIONS; i++) {
        g_free(options->numbers[i]);
        g_free(options->help[i]);
    }
}
