/* The whole job through the built programs, on rendered walks with exact truth. */
#ifndef LF_TEST_JOB_H
#define LF_TEST_JOB_H

/* Runs a program in the folder; fails the test where it does not end with status 0. Its output is
 * owned by the caller. */
char *job_run(const char *folder, const char *const *arguments);

/* A render; all of it strings, since they go on a command line. */
typedef struct {
    const char *scene, *seed, *walks, *seconds;
} JobRender;

/* The folder of a render of 640 x 360 px, which several tests read and none writes to: made once in
 * the build folder, and anew when the renderer or the options change. Caller frees. */
char *job_render(const JobRender *render);

/* A folder of its own with "w.study": the render's photos and walks, cast. To be given to
 * job_remove. */
char *job_study(const char *render);
void job_remove(char *folder);

#endif
