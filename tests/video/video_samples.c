/* Small videos of many kinds, made with the ffmpeg command line. */
#include "video_samples.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "kept.h"

#define MOVING "testsrc2=s=192x128:r=25:d=4"
#define X264 "-c:v libx264 -preset medium -pix_fmt yuv420p -threads 1 "
#define X264_B "-bf 3 -x264-params keyint=20:min-keyint=20:scenecut=0:b-adapt=0:b-pyramid=normal"
#define OPEN_GOP X264_B ":open-gop=1"
#define X265 "-c:v libx265 -preset fast -x265-params "
#define X265_B "keyint=20:min-keyint=20:scenecut=0:bframes=3:b-adapt=0:pools=1:log-level=none"

const VideoSample VIDEO_SAMPLES[] = {
    {.file = "h264.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B},
    {.file = "h264_first.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B " -movflags +faststart"},
    {.file = "h264_open.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 OPEN_GOP},
    {.file = "h264_open.mkv",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 OPEN_GOP},
    {.file = "h264_vfr.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 3,
     .options =
         X264 X264_B " -vf \"select='gt(mod(n*7,10),2)',setpts='PTS+0.7*mod(N*13,5)/25/TB/5'\""
                     " -vsync vfr -enc_time_base 1:90000 -video_track_timescale 90000"},
    {.file = "h264_vfr.mov",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 2,
     .options = X264 X264_B " -vf \"select='lt(mod(n,30),20)'\" -vsync vfr"},
    {.file = "h264_late.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B " -output_ts_offset 5.24"},
    {.file = "h264_late.mkv",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B " -output_ts_offset 5.24"},
    {.file = "h264_refresh.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 2,
     .options = X264 "-x264-params keyint=25:intra-refresh=1:scenecut=0"},
    {.file = "h264_fragments.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B " -movflags frag_keyframe+empty_moov"},
    {.file = "h264.ts",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 X264_B},
    {.file = "h264_open.ts",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .options = X264 OPEN_GOP},
    {.file = "h264_sound.mp4",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .input_options = "-f lavfi -i sine=d=6",
     .options = X264 X264_B " -c:a aac"},
    {.file = "h264_sound.mkv",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 5,
     .input_options = "-f lavfi -i sine=d=6",
     .options = X264 X264_B " -c:a aac"},
    {.file = "h264_edit.mp4",
     .encoder = "libx264",
     .source = "sample:h264.mp4",
     .min_keys = 3,
     .input_options = "-ss 1.3",
     .options = "-c copy",
     .hides_key = true},
    {.file = "h264_444_odd.mkv",
     .encoder = "libx264",
     .source = "testsrc=s=201x133:r=25:d=1",
     .min_keys = 1,
     .options = "-c:v libx264 -pix_fmt yuv444p"},
    {.file = "h264.avi",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 1,
     .options = X264 X264_B,
     .decoding_times = true},
    {.file = "h264_10.mkv",
     .encoder = "libx264",
     .source = MOVING,
     .min_keys = 1,
     .options = "-c:v libx264 -pix_fmt yuv420p10le",
     .luma = VIDEO_LUMA_10},
    {.file = "h264_rgb.mkv",
     .encoder = "libx264rgb",
     .source = "testsrc2=s=192x128:r=25:d=1",
     .min_keys = 1,
     .options = "-c:v libx264rgb -pix_fmt rgb24 -qp 0",
     .luma = VIDEO_LUMA_RGB},
    {.file = "hevc.mp4",
     .encoder = "libx265",
     .source = MOVING,
     .min_keys = 5,
     .options = "-pix_fmt yuv420p " X265 X265_B ":open-gop=0"},
    {.file = "hevc_open.mkv",
     .encoder = "libx265",
     .source = MOVING,
     .min_keys = 5,
     .options = "-pix_fmt yuv420p " X265 X265_B ":open-gop=1"},
    {.file = "hevc_10.mp4",
     .encoder = "libx265",
     .source = MOVING,
     .min_keys = 5,
     .options = "-pix_fmt yuv420p10le " X265 X265_B,
     .luma = VIDEO_LUMA_10},
    {.file = "mpeg4_b.mp4",
     .encoder = "mpeg4",
     .source = MOVING,
     .min_keys = 5,
     .options = "-c:v mpeg4 -q:v 4 -bf 2 -g 18"},
    {.file = "mpeg4_b.avi",
     .encoder = "mpeg4",
     .source = MOVING,
     .min_keys = 1,
     .options = "-c:v mpeg4 -q:v 4 -bf 2 -g 18",
     .decoding_times = true},
    {.file = "mpeg4.avi",
     .encoder = "mpeg4",
     .source = MOVING,
     .min_keys = 5,
     .options = "-c:v mpeg4 -q:v 4 -g 18"},
    {.file = "vp9.mkv",
     .encoder = "libvpx-vp9",
     .source = MOVING,
     .min_keys = 5,
     .options =
         "-c:v libvpx-vp9 -g 20 -deadline good -cpu-used 5 -auto-alt-ref 1 -lag-in-frames 12"},
    {.file = "vp8.webm",
     .encoder = "libvpx",
     .source = MOVING,
     .min_keys = 5,
     .options = "-c:v libvpx -g 20 -deadline good -cpu-used 5 -auto-alt-ref 1 -lag-in-frames 12"},
    {.file = "mjpeg.avi",
     .encoder = "mjpeg",
     .source = "testsrc2=s=192x128:r=30:d=1",
     .min_keys = 30,
     .options = "-c:v mjpeg -q:v 4"},
    {.file = "mjpeg_422_odd.mov",
     .encoder = "mjpeg",
     .source = "testsrc=s=187x121:r=30:d=1",
     .min_keys = 30,
     .options = "-c:v mjpeg -q:v 4 -pix_fmt yuvj422p"},
    {.file = "yuyv.avi",
     .encoder = "rawvideo",
     .source = "testsrc2=s=192x128:r=30:d=1",
     .min_keys = 30,
     .options = "-c:v rawvideo -pix_fmt yuyv422"},
    {.file = "turned_a.mp4",
     .encoder = "libx264",
     .source = "sample:h264.mp4",
     .min_keys = 5,
     .options = "-c copy -metadata:s:v:0 rotate=90"},
    {.file = "turned_b.mp4",
     .encoder = "libx264",
     .source = "sample:h264.mp4",
     .min_keys = 5,
     .options = "-c copy -metadata:s:v:0 rotate=180"},
    {.file = "turned_c.mov",
     .encoder = "libx264",
     .source = "sample:h264.mp4",
     .min_keys = 5,
     .options = "-c copy -metadata:s:v:0 rotate=270"},
    {.file = "turned_d.mov",
     .encoder = "libx265",
     .source = "sample:hevc_10.mp4",
     .min_keys = 5,
     .options = "-c copy -metadata:s:v:0 rotate=90",
     .luma = VIDEO_LUMA_10},
};
const gsize VIDEO_SAMPLES_N = G_N_ELEMENTS(VIDEO_SAMPLES);

static char *samples_folder = NULL;

int video_samples_setup(void **state)
{
    (void)state;
    samples_folder = g_dir_make_tmp("lookfall-video-XXXXXX", NULL);
    return samples_folder != NULL ? 0 : -1;
}

int video_samples_teardown(void **state)
{
    (void)state;
    g_autoptr(GDir) folder = g_dir_open(samples_folder, 0, NULL);
    const char *name;

    while (folder != NULL && (name = g_dir_read_name(folder)) != NULL) {
        g_autofree char *path = video_samples_path(name);
        if (g_remove(path) != 0)
            return -1;
    }
    if (g_rmdir(samples_folder) != 0)
        return -1;
    g_clear_pointer(&samples_folder, g_free);
    return 0;
}

const char *video_samples_folder(void)
{
    return samples_folder;
}

char *video_samples_path(const char *name)
{
    return g_build_filename(samples_folder, name, NULL);
}

char *video_samples_run(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    g_autofree char *line = g_strdup_vprintf(format, args);
    va_end(args);

    const char *argv[] = {"/bin/sh", "-c", line, NULL};
    g_autofree char *err = NULL;
    g_autoptr(GError) error = NULL;
    char *out = NULL;
    int status = -1;
    if (!g_spawn_sync(NULL, (char **)argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, &err, &status,
                      &error))
        fail_msg("%s: %s", line, error->message);
    if (!g_spawn_check_wait_status(status, NULL))
        fail_msg("%s: %s", line, err);
    return out;
}

static bool samples_have_encoder(const char *name)
{
    static char *encoders; /* of this ffmpeg; " V....D libx264              H.264 ..." */
    if (encoders == NULL)
        encoders = video_samples_run("ffmpeg -hide_banner -encoders");
    g_autofree char *word = g_strdup_printf(" %s ", name);
    return strstr(encoders, word) != NULL;
}

static char *samples_encode(const char *file, const char *input, const char *options)
{
    g_autofree char *command = g_strdup_printf("%s %s", input, options);
    g_auto(Kept) kept = kept_look(SAMPLES_KEPT, command, file);
    if (!kept.there) {
        g_free(video_samples_run("ffmpeg -v error -nostdin -y %s %s", command, kept.part));
        kept_put(&kept);
    }
    return g_steal_pointer(&kept.path);
}

char *video_sample_make(const VideoSample *sample)
{
    if (!samples_have_encoder(sample->encoder)) {
        print_message("%s: this ffmpeg has no encoder %s\n", sample->file, sample->encoder);
        return NULL;
    }

    g_autofree char *input = NULL;
    const char *more = sample->input_options != NULL ? sample->input_options : "";
    if (g_str_has_prefix(sample->source, "sample:")) {
        g_autofree char *from = video_sample_make_named(sample->source + strlen("sample:"));
        input = g_strdup_printf("%s -i %s", more, from);
    } else {
        input = g_strdup_printf("-f lavfi -i %s %s", sample->source, more);
    }
    return samples_encode(sample->file, input, sample->options);
}

char *video_sample_make_named(const char *file)
{
    for (gsize i = 0; i < VIDEO_SAMPLES_N; i++)
        if (strcmp(VIDEO_SAMPLES[i].file, file) == 0)
            return video_sample_make(&VIDEO_SAMPLES[i]);
    fail_msg("there is no sample %s", file);
    return NULL;
}

/* "5.333456" to microseconds, without floating point. */
static int64_t samples_parse_us(const char *text)
{
    g_auto(GStrv) parts = g_strsplit(text, ".", 2);
    g_autofree char *digits = g_strdup_printf("%.6s", parts[1] != NULL ? parts[1] : "");
    int64_t us = g_ascii_strtoll(digits, NULL, 10);

    for (gsize n = strlen(digits); n < 6; n++)
        us *= 10;
    us += ABS(g_ascii_strtoll(parts[0], NULL, 10)) * 1000000;
    return text[0] == '-' ? -us : us;
}

static gint samples_compare(gconstpointer a, gconstpointer b)
{
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

void video_facts_free(VideoFacts *facts)
{
    if (facts == NULL)
        return;
    g_array_unref(facts->times_us);
    g_array_unref(facts->keys_us);
    g_free(facts);
}

/* A line "name=value" of ffprobe's; key frames have their time before their flags. */
static void samples_take(VideoFacts *facts, bool decoding_times, const char *name,
                         const char *value, int64_t *packet_us)
{
    const bool number = g_ascii_isdigit(*value) || *value == '-';
    const int64_t us = number ? samples_parse_us(value) : 0;

    if (number && strcmp(name, "start_time") == 0)
        facts->start_us = us;
    else if (number && strcmp(name, "rotation") == 0) /* counterclockwise */
        facts->rotation = ((-(int)g_ascii_strtoll(value, NULL, 10)) % 360 + 360) % 360;
    else if (number && strcmp(name, "pts_time") == 0)
        *packet_us = us;
    else if (number &&
             strcmp(name, decoding_times ? "dts_time" : "best_effort_timestamp_time") == 0)
        g_array_append_val(facts->times_us, us);
    else if (strcmp(name, "flags") == 0 && value[0] == 'K' && value[1] != 'D')
        g_array_append_val(facts->keys_us, *packet_us);
}

VideoFacts *video_sample_facts(const char *path, bool decoding_times)
{
    g_autofree char *out = video_samples_run(
        "ffprobe -v error -select_streams v:0 -show_entries packet=pts_time,dts_time,flags:"
        "frame=best_effort_timestamp_time:format=start_time:stream_side_data=rotation "
        "-of default=nw=1 %s",
        path);
    g_auto(GStrv) lines = g_strsplit(out, "\n", -1);
    VideoFacts *facts = g_new0(VideoFacts, 1);
    int64_t packet_us = 0;

    facts->times_us = g_array_new(FALSE, FALSE, sizeof(int64_t));
    facts->keys_us = g_array_new(FALSE, FALSE, sizeof(int64_t));
    for (char **line = lines; *line != NULL; line++) {
        char *value = strchr(*line, '=');
        if (value == NULL)
            continue;
        *value = '\0';
        samples_take(facts, decoding_times, *line, value + 1, &packet_us);
    }
    if (decoding_times)
        g_array_sort(facts->times_us, samples_compare);
    g_array_sort(facts->keys_us, samples_compare);
    return facts;
}

/* Gray of RGB, full range: weights of ITU-R BT.601-7, section 2.5.1. */
static uint8_t samples_gray(const uint8_t *rgb)
{
    return (uint8_t)(0.299 * rgb[0] + 0.587 * rgb[1] + 0.114 * rgb[2] + 0.5);
}

GBytes *video_sample_luma(const VideoSample *sample, const char *path)
{
    g_autofree char *raw_path = video_samples_path("luma.raw");
    const char *how = sample->luma == VIDEO_LUMA_RGB ? "-pix_fmt rgb24" : "-vf extractplanes=y";
    g_autoptr(GError) error = NULL;
    char *raw = NULL;
    gsize size = 0;

    g_free(video_samples_run("ffmpeg -v error -nostdin -y -i %s -map 0:v:0 %s -vsync passthrough "
                             "-f rawvideo %s",
                             path, how, raw_path));
    if (!g_file_get_contents(raw_path, &raw, &size, &error))
        fail_msg("%s", error->message);
    if (sample->luma == VIDEO_LUMA_10) {
        size /= 2;
        for (gsize i = 0; i < size; i++) {
            const unsigned v = (unsigned)(uint8_t)raw[2 * i] | (unsigned)(uint8_t)raw[2 * i + 1]
                                                                   << 8;
            raw[i] = (char)MIN((v + 2) >> 2, 255U);
        }
    } else if (sample->luma == VIDEO_LUMA_RGB) {
        size /= 3;
        for (gsize i = 0; i < size; i++)
            raw[i] = (char)samples_gray((const uint8_t *)raw + 3 * i);
    }
    g_remove(raw_path);
    return g_bytes_new_take(raw, size);
}
