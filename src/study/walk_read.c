/* Reading a walk's files before it goes into the study: index of the video, camera, gaze.
 *
 * No SQL here: a draft is read by any thread, and several at a time during an import. */
#include "study/study_frames.h"

#include <math.h>
#include <string.h>

/* A clock is taken for the better one only where it brings at least this share of the samples more
 * into the video: fewer may be chance (samples before and after the video). A rule of thumb. */
#define LF_CLOCK_CLEARLY 0.1
/* From this share of samples outside a whole video on, the clocks are thought not to fit. */
#define LF_OUTSIDE_REFUSED 0.5
/* Shares of the frame that are taken for pixels lie within this. A rule of thumb. */
#define LF_CORNER_PX 1.5

StudyWalk *study_walk_new(const LfWalkInput *input)
{
    StudyWalk *walk = g_new0(StudyWalk, 1);
    walk->name = g_strdup(input->name);
    walk->participant = g_strdup(input->participant);
    walk->group = g_strdup(input->group);
    walk->time = g_strdup(input->format.time);
    walk->x = g_strdup(input->format.x);
    walk->y = g_strdup(input->format.y);
    walk->valid = g_strdup(input->format.valid);
    walk->clock_shift_ms = input->format.clock_shift_ms;
    walk->clock = input->clock;
    walk->notes = g_ptr_array_new_with_free_func(g_free);
    return walk;
}

void study_walk_free(StudyWalk *walk)
{
    if (!walk)
        return;
    char *const strings[] = {walk->name, walk->participant, walk->group, walk->time,
                             walk->x,    walk->y,           walk->valid};
    for (gsize i = 0; i < G_N_ELEMENTS(strings); i++)
        g_free(strings[i]);
    study_file_clear(&walk->video);
    study_file_clear(&walk->gaze);
    study_file_clear(&walk->camera);
    g_free(walk->chunks);
    g_free(walk->chunk_frames);
    g_clear_pointer(&walk->frame_times, g_bytes_unref);
    g_free(walk->samples);
    if (walk->notes)
        g_ptr_array_unref(walk->notes);
    g_free(walk);
}

/* Frames of an ascending list before t_us. */
static gsize walk_read_before(const int64_t *times_us, gsize n, int64_t t_us)
{
    gsize low = 0, high = n;
    while (low < high) {
        gsize middle = low + (high - low) / 2;
        if (times_us[middle] < t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* An index is read without decoding; a video of which nothing can be decoded shows only here. */
static bool walk_read_first_frame(const char *path, GError **error)
{
    g_autoptr(LfVideo) video = lf_video_open(path, 1, error);
    g_autoptr(GError) why = NULL;
    LfFrame frame;
    bool got = false;
    if (!video)
        return false;
    if (lf_video_next(video, &frame, &got, &why) && got)
        return true;
    g_set_error(error, LF_ERROR, why ? why->code : LF_ERROR_INPUT,
                "%s: no frame of this video can be decoded%s%s", path, why ? ": " : "",
                why ? why->message : "");
    return false;
}

bool walk_read_video(StudyWalk *walk, const char *path, GError **error)
{
    if (!study_file_read(path, &walk->video, error))
        return false;
    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, error);
    if (!index)
        return false;
    if (index->n_frames == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no frame in this video", path);
        return false;
    }
    if (!walk_read_first_frame(path, error))
        return false;
    walk->info = index->info;
    walk->frames = (int64_t)index->n_frames;
    walk->first_us = index->frame_us[0];
    walk->end_us = index->end_us;
    walk->cut_off = index->cut_off;
    g_clear_pointer(&walk->frame_times, g_bytes_unref);
    walk->frame_times = study_frames_pack(index);
    g_free(walk->chunks);
    g_free(walk->chunk_frames);
    walk->chunks = lf_chunks_plan(index, LF_CHUNK_MIN_US, &walk->n_chunks);
    walk->chunk_frames = g_new0(int64_t, walk->n_chunks);
    for (gsize i = 0; i < walk->n_chunks; i++)
        walk->chunk_frames[i] =
            (int64_t)(walk_read_before(index->frame_us, index->n_frames, walk->chunks[i].to_us) -
                      walk_read_before(index->frame_us, index->n_frames, walk->chunks[i].from_us));
    if (walk->cut_off)
        g_ptr_array_add(walk->notes,
                        g_strdup_printf("the video is cut off: it ends at %.2f s, before it "
                                        "should; what is there will be cast",
                                        (double)walk->end_us / 1e6));
    return true;
}

bool walk_read_camera(StudyWalk *walk, const char *path, GError **error)
{
    if (!path) {
        walk->lens = lf_lens_plain(walk->info.width, walk->info.height);
        return true;
    }
    return study_file_read(path, &walk->camera, error) &&
           lf_camera_read(path, walk->info.width, walk->info.height, &walk->lens, error);
}

/* Samples inside the video when their times are moved by shift_us. */
static gsize walk_read_inside(const StudyWalk *walk, const LfGaze *gaze, int64_t shift_us)
{
    gsize inside = 0;
    for (gsize i = 0; i < gaze->n_samples; i++) {
        int64_t t_us = gaze->samples[i].t_us + shift_us;
        inside += t_us >= walk->first_us && t_us < walk->end_us;
    }
    return inside;
}

/* Settles walk->clock where it is AUTO; says so where the two differ. */
static void walk_read_clock(StudyWalk *walk, const LfGaze *gaze)
{
    int64_t zero_us = walk->info.stamp_zero_us;
    if (walk->clock != LF_CLOCK_AUTO)
        return;
    walk->clock = LF_CLOCK_START;
    if (zero_us == 0)
        return;
    gsize start = walk_read_inside(walk, gaze, 0);
    gsize stamp = walk_read_inside(walk, gaze, -zero_us);
    if ((double)stamp > (double)start + LF_CLOCK_CLEARLY * (double)gaze->n_samples)
        walk->clock = LF_CLOCK_STAMP;
    bool stamped = walk->clock == LF_CLOCK_STAMP;
    g_ptr_array_add(
        walk->notes,
        g_strdup_printf("the video's timestamps begin at %.6f s; the gaze times are taken %s "
                        "(%" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT " samples inside the video, "
                        "the other way %" G_GSIZE_FORMAT "); --clock %s takes them the other way",
                        (double)zero_us / 1e6,
                        stamped ? "as being on that same clock" : "from the video's start",
                        stamped ? stamp : start, gaze->n_samples, stamped ? start : stamp,
                        stamped ? "start" : "stamp"));
}

/* Nearest multiple of step_us, as a count of steps; halves go up, as in the export. */
static int64_t walk_read_round(int64_t t_us, int64_t step_us)
{
    int64_t t = t_us + step_us / 2;
    return t / step_us - (t % step_us < 0);
}

/* The least number of decimals of a second, 4 to 6, at which no two samples share a time. */
static int walk_read_decimals(const LfGazeSample *samples, gsize n)
{
    static const int64_t steps_us[] = {100, 10};
    for (int i = 0; i < (int)G_N_ELEMENTS(steps_us); i++) {
        bool apart = true;
        for (gsize k = 1; k < n && apart; k++)
            apart = walk_read_round(samples[k].t_us, steps_us[i]) !=
                    walk_read_round(samples[k - 1].t_us, steps_us[i]);
        if (apart)
            return 4 + i;
    }
    return 6;
}

static int walk_read_compare(gconstpointer a, gconstpointer b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static int64_t walk_read_interval(const LfGazeSample *samples, gsize n)
{
    if (n < 2)
        return 0;
    g_autofree int64_t *gaps = g_new(int64_t, n - 1);
    for (gsize i = 1; i < n; i++)
        gaps[i - 1] = samples[i].t_us - samples[i - 1].t_us;
    qsort(gaps, n - 1, sizeof *gaps, walk_read_compare);
    return gaps[(n - 1) / 2];
}

/* Samples outside are kept (the cast calls them away, for there is no frame to look at); too many
 * of them mean that the two clocks do not fit. */
static bool walk_read_outside(StudyWalk *walk, const LfGaze *gaze, const char *path, GError **error)
{
    walk->n_outside = walk->n_samples - (int64_t)walk_read_inside(walk, gaze, 0);
    if (walk->n_outside == 0)
        return true;
    g_autofree char *sentence = g_strdup_printf(
        "%" G_GINT64_FORMAT " of %" G_GINT64_FORMAT " samples lie outside the video: they run from "
        "%.3f s to %.3f s, the video from %.3f s to %.3f s",
        walk->n_outside, walk->n_samples, (double)gaze->samples[0].t_us / 1e6,
        (double)gaze->samples[gaze->n_samples - 1].t_us / 1e6, (double)walk->first_us / 1e6,
        (double)walk->end_us / 1e6);
    bool refused =
        walk->n_outside == walk->n_samples ||
        (!walk->cut_off && (double)walk->n_outside > LF_OUTSIDE_REFUSED * (double)walk->n_samples);
    if (refused) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: %s. Check that gaze file and video belong together and the unit of time, "
                    "or move the gaze with --clock-shift or --clock",
                    path, sentence);
        return false;
    }
    g_ptr_array_add(walk->notes, g_strdup_printf("%s; those outside count as away", sentence));
    return true;
}

/* No gaze on the frame, or all of it on one pixel of its corner, means that the units are mixed up:
 * shares of the frame taken for pixels, or pixels for shares. Shares may be a little off the frame,
 * and a single sample may be anywhere. */
static bool walk_read_positions(const StudyWalk *walk, const LfGaze *gaze, const char *path,
                                GError **error)
{
    gsize inside = 0, corner = 0, there = gaze->n_samples - gaze->n_lost;
    for (gsize i = 0; i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        if (s->lost)
            continue;
        inside += s->x >= -0.5 && s->y >= -0.5 && s->x < walk->info.width - 0.5 &&
                  s->y < walk->info.height - 0.5;
        corner += fabs(s->x) <= LF_CORNER_PX && fabs(s->y) <= LF_CORNER_PX;
    }
    if (there < 2 || (inside > 0 && corner < there))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s: all %" G_GSIZE_FORMAT " samples with gaze lie %s of the frame of %d x %d px. "
                "Check the columns of --x and --y and their units, px or norm",
                path, there, inside == 0 ? "outside" : "in the top left corner", walk->info.width,
                walk->info.height);
    return false;
}

bool walk_read_gaze(StudyWalk *walk, const char *path, GError **error)
{
    LfGazeFormat format = {walk->time, walk->x, walk->y, walk->valid, walk->clock_shift_ms};
    if (!study_file_read(path, &walk->gaze, error))
        return false;
    g_autoptr(LfGaze) gaze =
        lf_gaze_read(path, &format, walk->info.width, walk->info.height, error);
    if (!gaze)
        return false;
    walk_read_clock(walk, gaze);
    if (walk->clock == LF_CLOCK_STAMP)
        for (gsize i = 0; i < gaze->n_samples; i++)
            gaze->samples[i].t_us -= walk->info.stamp_zero_us;
    walk->n_samples = (int64_t)gaze->n_samples;
    walk->n_lost = (int64_t)gaze->n_lost;
    if (!walk_read_outside(walk, gaze, path, error) ||
        !walk_read_positions(walk, gaze, path, error))
        return false;
    walk->time_decimals = walk_read_decimals(gaze->samples, gaze->n_samples);
    walk->interval_us = walk_read_interval(gaze->samples, gaze->n_samples);
    g_free(walk->samples);
    walk->samples = g_steal_pointer(&gaze->samples);
    return true;
}

StudyWalk *walk_read_all(const LfWalkInput *input, GError **error)
{
    g_autoptr(StudyWalk) walk = study_walk_new(input);
    if (!walk_read_video(walk, input->video, error) ||
        !walk_read_camera(walk, input->camera, error) || !walk_read_gaze(walk, input->gaze, error))
        return NULL;
    return g_steal_pointer(&walk);
}
