/* A folder of its own for a test: a photo, videos that look at it, gaze files, and the program run
 * in it. Everything is made here, and removed by bed_free. */
#ifndef LF_TEST_BED_H
#define LF_TEST_BED_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
    char *folder;
    GPtrArray *strings; /* paths given out, freed with the bed */
} Bed;

Bed *bed_new(void);
void bed_free(Bed *bed);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Bed, bed_free)
/* A file, or a folder and all that is in it. */
void bed_remove(const char *path);

/* The path of a file in the bed; borrowed until bed_free. */
const char *bed_path(Bed *bed, const char *name);
/* All of these fail the test where they cannot do it. */
void bed_write(Bed *bed, const char *name, const char *text);
GBytes *bed_read(Bed *bed, const char *name);
/* A study copied beside its inputs is another study of them, cast as far as the first. */
void bed_copy(Bed *bed, const char *from, const char *to);
/* A picture of random rectangles, 800 x 500 px, PPM. */
void bed_photo(Bed *bed, const char *name, guint32 seed);
/* H.264 of 480 x 360 px at 25 frames per second, a key frame each second, made with ffmpeg: a
 * window that wanders over the photo. The ending of the name says the container. */
void bed_video(Bed *bed, const char *name, const char *photo, int seconds);
/* t_s,x_px,y_px at 50 samples per second from first_s on; every tenth is lost. */
void bed_gaze(Bed *bed, const char *name, double first_s, int seconds);
/* shelf.ppm, w.mp4 and w.csv of 9 s (two chunks). */
void bed_walk(Bed *bed);

/* What a run of the program gave. */
typedef struct {
    int status; /* exit status; -1 where a signal ended it */
    char *out, *err;
} BedRun;

/* Called in the child before the program starts; only calls that are safe after fork. */
typedef void (*BedSetup)(gpointer data);

/* lookfall with these arguments (split at blanks), in the bed's folder. */
BedRun bed_run(Bed *bed, const char *arguments);
BedRun bed_run_with(Bed *bed, const char *arguments, BedSetup setup, gpointer data);
void bed_run_clear(BedRun *run);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(BedRun, bed_run_clear)

/* The same in the background, silently; the child's id, to be waited for by the caller. */
GPid bed_start(Bed *bed, const char *arguments);
/* Runs and demands this status and, unless NULL, this text on stderr (or stdout). */
void bed_expect(Bed *bed, int status, const char *text, const char *arguments);
/* The standard output of a run that demands status 0; owned by the caller. */
char *bed_output(Bed *bed, const char *arguments);
/* "s.lookfall" with the photo shelf and the walk w of bed_walk. */
void bed_study(Bed *bed);
/* A bed with that study, cast. */
Bed *bed_new_cast(void);

#endif
