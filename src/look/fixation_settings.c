/* The settings of fixation detection: defaults, ranges, and the texts for the record. */
#include <lookfall/fixation.h>

#include <math.h>

typedef struct {
    const char *name;
    gsize offset;
    double low, high;
} FixationSetting;

#define FIXATION_SETTING(name, low, high)                                                          \
    {                                                                                              \
#name, G_STRUCT_OFFSET(LfFixationSettings, name), low, high                                \
    }

static const FixationSetting fixation_settings[] = {
    FIXATION_SETTING(noise_factor, 0, 100),      FIXATION_SETTING(smooth_ms, 0, 500),
    FIXATION_SETTING(peak_deg_s, 1, 1000),       FIXATION_SETTING(peak_most_deg_s, 1, 1000),
    FIXATION_SETTING(edge_share, 0.05, 1),       FIXATION_SETTING(ringing_ms, 0, 200),
    FIXATION_SETTING(dispersion_deg, 0.05, 20),  FIXATION_SETTING(bridge_ms, 0, 1000),
    FIXATION_SETTING(merge_ms, 0, 1000),         FIXATION_SETTING(merge_deg, 0, 20),
    FIXATION_SETTING(min_fixation_ms, 0, 10000),
};

static const char *const fixation_methods[] = {"velocity", "dispersion"};

LfFixationSettings lf_fixation_settings_default(void)
{
    return (LfFixationSettings){
        .method = LF_FIXATION_VELOCITY,
        .noise_factor = 7.5,
        .smooth_ms = 14,
        .peak_deg_s = 25,
        .peak_most_deg_s = 150,
        .edge_share = 0.5,
        .ringing_ms = 30,
        .dispersion_deg = 0.5,
        .bridge_ms = 75,
        .merge_ms = 20,
        .merge_deg = 0.25,
        .min_fixation_ms = 50,
    };
}

static double fixation_setting_value(const LfFixationSettings *settings, gsize i)
{
    return G_STRUCT_MEMBER(double, settings, fixation_settings[i].offset);
}

bool lf_fixation_settings_check(const LfFixationSettings *settings, GError **error)
{
    if ((gsize)settings->method >= G_N_ELEMENTS(fixation_methods)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "there is no method number %d to find fixations by", (int)settings->method);
        return false;
    }
    for (gsize i = 0; i < G_N_ELEMENTS(fixation_settings); i++) {
        const FixationSetting *s = &fixation_settings[i];
        double value = fixation_setting_value(settings, i);
        if (value >= s->low && value <= s->high)
            continue;
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s must lie between %g and %g, not %g",
                    s->name, s->low, s->high, value);
        return false;
    }
    if (settings->peak_most_deg_s >= settings->peak_deg_s)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "peak_most_deg_s (%g) must not be less than peak_deg_s (%g)",
                settings->peak_most_deg_s, settings->peak_deg_s);
    return false;
}

static void fixation_text_number(GString *text, const char *name, double value)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    if (!isnan(value))
        g_string_append_printf(text, "%s %s\n", name, g_ascii_dtostr(digits, sizeof digits, value));
}

char *lf_fixation_settings_text(const LfFixationSettings *settings)
{
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_append_printf(text, "version %d\nmethod %s\n", LF_FIXATION_VERSION,
                           fixation_methods[settings->method]);
    for (gsize i = 0; i < G_N_ELEMENTS(fixation_settings); i++)
        fixation_text_number(text, fixation_settings[i].name, fixation_setting_value(settings, i));
    return g_string_free(g_steal_pointer(&text), FALSE);
}

char *lf_fixations_used_text(const LfFixations *fixations)
{
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_append_printf(text, "interval_us %" G_GINT64_FORMAT "\n",
                           (gint64)fixations->interval_us);
    fixation_text_number(text, "smooth_ms", fixations->smooth_ms);
    fixation_text_number(text, "noise_deg_s", fixations->noise_deg_s[false]);
    fixation_text_number(text, "peak_deg_s", fixations->peak_deg_s[false]);
    fixation_text_number(text, "noise_head_moving_deg_s", fixations->noise_deg_s[true]);
    fixation_text_number(text, "peak_head_moving_deg_s", fixations->peak_deg_s[true]);
    fixation_text_number(text, "noise_deg", fixations->noise_deg);
    fixation_text_number(text, "dispersion_deg", fixations->dispersion_deg);
    return g_string_free(g_steal_pointer(&text), FALSE);
}
