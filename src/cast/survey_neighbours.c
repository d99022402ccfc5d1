#include "cast/survey_neighbours.h"

#include <string.h>

static double neighbours_side(const LfPhoto *photo)
{
    return MAX(photo->report.width, photo->report.height);
}

/* Frames that show both: those that were kept are fitted anew while the survey goes on, the others
 * are as they were found while following and count less. */
#define NEIGHBOURS_FOLLOWED 0.5

static int neighbours_gather(const LfSurveyViews *views, int photo, int by, double firm,
                             LfNeighbourView *out)
{
    int n = 0;
    for (guint i = 0; i < views->pairs->len; i++) {
        const LfSurveyPair *pair = &g_array_index(views->pairs, LfSurveyPair, i);
        const int of = pair->photo[1] == photo; /* which of the two it is */
        if (pair->photo[of] == photo && pair->photo[!of] == by &&
            MIN(pair->share_good[0], pair->share_good[1]) >= firm)
            out[n++] = (LfNeighbourView){.by = pair->frame_from_photo[!of],
                                         .frame_from_photo = pair->frame_from_photo[of],
                                         .lens = pair->lens,
                                         .worth = NEIGHBOURS_FOLLOWED * pair->share_good[0] *
                                                  pair->share_good[1]};
    }
    for (guint i = 0; i < views->views->len; i++) {
        const LfSurveyView *view = g_ptr_array_index(views->views, i);
        if (MIN(view->share_good[photo], view->share_good[by]) >= firm)
            out[n++] = (LfNeighbourView){.by = view->frame_from_photo[by],
                                         .frame_from_photo = view->frame_from_photo[photo],
                                         .lens = view->lens,
                                         .worth = view->share_good[photo] * view->share_good[by]};
    }
    return n;
}

/* Two photos of the same picture cannot be told apart by their marks. */
static bool neighbours_alone(const LfSurveyViews *views, int photo)
{
    for (int p = 0; p < views->n_photos; p++)
        if (p != photo && views->photos[p]->mark == views->photos[photo]->mark)
            return false;
    return true;
}

/* Those known best first. */
static gint neighbours_order(gconstpointer a, gconstpointer b)
{
    const LfNeighbour *x = a, *y = b;
    return x->views != y->views ? (x->views < y->views) - (x->views > y->views)
                                : (x->by > y->by) - (x->by < y->by);
}

static void neighbours_of(const LfSurveyViews *views, int photo, double firm)
{
    LfPhoto *of = views->photos[photo];
    g_autofree LfNeighbourView *both =
        g_new(LfNeighbourView, views->pairs->len + views->views->len + 1);
    g_autoptr(GArray) found = g_array_new(FALSE, TRUE, sizeof(LfNeighbour));
    for (int by = 0; by < views->n_photos && !lf_survey_views_cancelled(views); by++) {
        LfNeighbour next = {.by = views->photos[by]->mark};
        if (by == photo || !neighbours_alone(views, by))
            continue;
        const int n = neighbours_gather(views, photo, by, firm, both);
        if (lf_neighbour_fit(both, n, of->report.width, of->report.height,
                             neighbours_side(views->photos[by]), &next))
            g_array_append_val(found, next);
    }
    g_array_sort(found, neighbours_order);
    of->n_neighbours = MIN((int)found->len, LF_PHOTO_NEIGHBOURS);
    if (of->n_neighbours > 0)
        memcpy(of->neighbours, found->data, (gsize)of->n_neighbours * sizeof(LfNeighbour));
}

void lf_survey_neighbours(const LfSurveyViews *views, double firm)
{
    for (int p = 0; p < views->n_photos; p++)
        neighbours_of(views, p, firm);
}

bool lf_survey_foretell(const LfSurveyViews *views, const LfSurveyView *view, int photo,
                        double firm, LfMat3 *frame_from_photo)
{
    const LfPhoto *of = views->photos[photo];
    g_autofree LfNeighbourSeen *seen = g_new(LfNeighbourSeen, views->n_photos);
    for (int p = 0; p < views->n_photos; p++)
        seen[p] = (LfNeighbourSeen){views->photos[p]->mark,
                                    view->share_good[p] >= firm ? &view->frame_from_photo[p] : NULL,
                                    view->share_good[p]};
    LfForetold told;
    if (!lf_neighbour_foretell(of->neighbours, of->n_neighbours, seen, views->n_photos, view->lens,
                               &told))
        return false;
    *frame_from_photo = told.frame_from_photo;
    return true;
}
