/* Rendering one picture with several threads, each taking the next row of tiles; see crew.h. */
#include "crew.h"

#include <glib.h>

struct LrCrew {
    GThreadPool *pool;
    const LrPicture *picture;
    int next_row; /* atomic */
    GMutex lock;
    GCond done;
    int running; /* under lock */
    int jobs;
};

static void crew_work(gpointer item, gpointer user)
{
    LrCrew *crew = user;
    const LrPicture *p = crew->picture;
    (void)item;
    for (;;) {
        int row = g_atomic_int_add(&crew->next_row, 1);
        if (row >= p->rays->tiles_y)
            break;
        lr_expose_tile_row(p->rays, row, &p->exposure, p->sensor, p->gain, p->noise_key, p->rgb,
                           3 * (ptrdiff_t)p->rays->width);
    }
    g_mutex_lock(&crew->lock);
    if (--crew->running == 0)
        g_cond_signal(&crew->done);
    g_mutex_unlock(&crew->lock);
}

LrCrew *lr_crew_new(int jobs)
{
    LrCrew *crew = g_new0(LrCrew, 1);
    crew->jobs = MAX(jobs, 1);
    crew->pool = g_thread_pool_new(crew_work, crew, crew->jobs, FALSE, NULL);
    g_mutex_init(&crew->lock);
    g_cond_init(&crew->done);
    return crew;
}

void lr_crew_free(LrCrew *crew)
{
    if (!crew)
        return;
    g_thread_pool_free(crew->pool, FALSE, TRUE);
    g_mutex_clear(&crew->lock);
    g_cond_clear(&crew->done);
    g_free(crew);
}

void lr_crew_start(LrCrew *crew, const LrPicture *picture)
{
    crew->picture = picture;
    g_atomic_int_set(&crew->next_row, 0);
    crew->running = crew->jobs;
    for (int i = 0; i < crew->jobs; i++)
        g_thread_pool_push(crew->pool, crew, NULL);
}

void lr_crew_wait(LrCrew *crew)
{
    g_mutex_lock(&crew->lock);
    while (crew->running > 0)
        g_cond_wait(&crew->done, &crew->lock);
    g_mutex_unlock(&crew->lock);
}
