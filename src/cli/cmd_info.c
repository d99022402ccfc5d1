/* lookfall info: what is in a study, what the cast made of it, what is still to do. */
#include "cli.h"

#include <stdio.h>

#include "json_out.h"
#include "progress.h"
#include "table.h"

#define INFO_NEWS_SHOWN 10

typedef struct {
    LfCastSettings settings;
    GPtrArray *photos, *walks, *news; /* LfStudyPhoto, LfStudyWalk, LfStudyFileNews */
    /* Over all walks. */
    guint cast;  /* walks wholly cast */
    guint begun; /* walks cast in part */
    int64_t samples, cast_samples, states[LF_STATE_PLACED + 1];
    double length_s, state_s[LF_STATE_PLACED + 1];
    char *next; /* command to run next */
} Info;

static void cli_info_clear(Info *info)
{
    g_clear_pointer(&info->photos, g_ptr_array_unref);
    g_clear_pointer(&info->walks, g_ptr_array_unref);
    g_clear_pointer(&info->news, g_ptr_array_unref);
    g_free(info->next);
}

static void cli_info_sum(Info *info, const char *path)
{
    g_autofree char *study = cli_quoted(path);
    for (guint i = 0; i < info->walks->len; i++) {
        const LfStudyWalk *walk = info->walks->pdata[i];
        info->cast += walk->chunks_cast == walk->chunks;
        info->begun += walk->chunks_cast > 0 && walk->chunks_cast < walk->chunks;
        info->samples += walk->samples;
        info->length_s += (double)walk->end_us / 1e6;
        for (int s = 0; s <= LF_STATE_PLACED; s++) {
            info->states[s] += walk->states[s];
            info->cast_samples += walk->states[s];
            info->state_s[s] += (double)walk->states[s] * (double)walk->interval_us / 1e6;
        }
    }
    info->next =
        info->photos->len == 0
            ? g_strdup_printf("lookfall photo add %s --name NAME --image FILE", study)
        : info->walks->len == 0
            ? g_strdup_printf("lookfall walk add %s --name NAME --video FILE --gaze FILE", study)
        : info->cast < info->walks->len
            ? g_strdup_printf("lookfall cast %s", study)
            : g_strdup_printf("lookfall export %s samples --out samples.csv", study);
}

/* Share of sure among the samples that have gaze. */
static double cli_info_sure(const Info *info)
{
    int64_t with_gaze = info->cast_samples - info->states[LF_STATE_LOST];
    return with_gaze > 0 ? (double)(info->states[LF_STATE_SURE] + info->states[LF_STATE_PLACED]) /
                               (double)with_gaze
                         : 0;
}

/* --- for people ------------------------------------------------------------------------------- */

static void cli_info_print_states(const Info *info)
{
    g_autoptr(CliTable) table = cli_table_new("lrrr");
    cli_table_row(table, "state", "samples", "share", "seconds");
    for (int s = 0; s <= LF_STATE_PLACED; s++) {
        g_autofree char *samples = g_strdup_printf("%" G_GINT64_FORMAT, (gint64)info->states[s]);
        g_autofree char *share =
            g_strdup_printf("%.1f%%", 100.0 * (double)info->states[s] / (double)info->cast_samples);
        g_autofree char *seconds = g_strdup_printf("%.1f", info->state_s[s]);
        cli_table_row(table, lf_state_name((LfState)s), samples, share, seconds);
    }
    cli_table_print(table, stdout);
    printf("Of the samples with gaze, %.1f%% are sure.\n\n", 100 * cli_info_sure(info));
}

static void cli_info_print(const Info *info, const char *study)
{
    g_autofree char *length = cli_progress_clock(info->length_s);

    printf("Study %s: tolerance %g deg, sure from confidence %g\n", study,
           info->settings.tolerance_deg, info->settings.sure_at);
    printf("Engine %d, confidence model %s\n", LF_ENGINE_VERSION, lf_confidence_model());
    printf("Photos: %u\n", info->photos->len);
    for (guint i = 0; i < info->photos->len; i++) {
        const LfStudyPhoto *photo = info->photos->pdata[i];
        printf("  %s, %d x %d px\n", photo->name, photo->report.width, photo->report.height);
    }
    printf("Walks: %u, %s of video, %" G_GINT64_FORMAT " gaze samples\n", info->walks->len, length,
           (gint64)info->samples);
    if (info->walks->len > 0)
        printf("  %u cast, %u cast in part, %u not cast\n", info->cast, info->begun,
               info->walks->len - info->cast - info->begun);
    printf("\n");
    if (info->cast_samples > 0)
        cli_info_print_states(info);
    for (guint i = 0; i < MIN(info->news->len, INFO_NEWS_SHOWN); i++) {
        const LfStudyFileNews *news = info->news->pdata[i];
        printf("%s: %s %s\n", news->owner, news->path,
               news->missing ? "is missing"
                             : "has another size or time than when it was read; the next cast "
                               "looks into it");
    }
    if (info->news->len > INFO_NEWS_SHOWN)
        printf("... and %u more files; --json lists them all\n", info->news->len - INFO_NEWS_SHOWN);
    printf("Next: %s\n", info->next);
}

/* --- for programs ----------------------------------------------------------------------------- */

static void cli_info_json_states(JsonBuilder *json, const Info *info)
{
    json_builder_set_member_name(json, "states");
    json_builder_begin_object(json);
    for (int s = 0; s <= LF_STATE_PLACED; s++) {
        json_builder_set_member_name(json, lf_state_name((LfState)s));
        json_builder_begin_object(json);
        json_out_integer(json, "samples", info->states[s]);
        json_out_number(json, "seconds", info->state_s[s]);
        json_builder_end_object(json);
    }
    json_builder_end_object(json);
}

static void cli_info_json(const Info *info)
{
    g_autoptr(JsonBuilder) json = json_builder_new();
    json_builder_begin_object(json);
    json_out_number(json, "tolerance_deg", info->settings.tolerance_deg);
    json_out_number(json, "sure_at", info->settings.sure_at);
    json_out_integer(json, "engine", LF_ENGINE_VERSION);
    json_out_text(json, "confidence_model", lf_confidence_model());
    json_out_integer(json, "photos", info->photos->len);
    json_out_integer(json, "walks", info->walks->len);
    json_out_integer(json, "walks_cast", info->cast);
    json_out_integer(json, "walks_cast_in_part", info->begun);
    json_out_number(json, "video_s", info->length_s);
    json_out_integer(json, "samples", info->samples);
    json_out_integer(json, "samples_cast", info->cast_samples);
    cli_info_json_states(json, info);
    json_out_number(json, "sure_share", cli_info_sure(info));
    json_builder_set_member_name(json, "files");
    json_builder_begin_array(json);
    for (guint i = 0; i < info->news->len; i++) {
        const LfStudyFileNews *news = info->news->pdata[i];
        json_builder_begin_object(json);
        json_out_text(json, "of", news->owner);
        json_out_text(json, "path", news->path);
        json_out_text(json, "news", news->missing ? "missing" : "changed");
        json_builder_end_object(json);
    }
    json_builder_end_array(json);
    json_out_text(json, "next", info->next);
    json_builder_end_object(json);
    json_out_print(json);
}

static int cli_info_run(const CliCommand *command, int argc, char **argv)
{
    gboolean as_json = FALSE;
    const GOptionEntry options[] = {
        {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print the answer as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    Info info = {0};
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (study && lf_study_settings(study, &info.settings, &error) &&
        (info.photos = lf_study_photos(study, &error)) &&
        (info.walks = lf_study_walks(study, NULL, &error)) &&
        (info.news = lf_study_file_news(study, &error))) {
        cli_info_sum(&info, values[0]);
        if (as_json)
            cli_info_json(&info);
        else
            cli_info_print(&info, values[0]);
    }
    cli_info_clear(&info);
    return error ? cli_fail(error) : CLI_DONE;
}

const CliCommand cli_info = {
    .name = "info",
    .summary = "Say what is in the study, and what is still to do",
    .arguments = "STUDY",
    .about =
        "Tells which photos and walks are in a study, how far they are cast, how many samples and\n"
        "seconds came out in each state, which input files are missing or have changed, and what\n"
        "to run next. Results of inputs or settings that have changed since do not count.",
    .example = "lookfall info aisle.lookfall",
    .run = cli_info_run,
};
