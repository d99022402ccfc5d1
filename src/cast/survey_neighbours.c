#include "cast/survey_neighbours.h"

static double neighbours_side(const LfPhoto *photo)
{
    return MAX(photo->report.width, photo->report.height);
}

/* Views that show both. */
static int neighbours_gather(const LfSurveyViews *views, int photo, int by, double firm,
                             LfNeighbourView *out)
{
    int n = 0;
    for (guint i = 0; i < views->views->len; i++) {
        const LfSurveyView *view = g_ptr_array_index(views->views, i);
        if (view->share_good[photo] >= firm && view->share_good[by] >= firm)
            out[n++] = (LfNeighbourView){.by = view->frame_from_photo[by],
                                         .frame_from_photo = view->frame_from_photo[photo],
                                         .lens = view->lens};
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

static void neighbours_of(const LfSurveyViews *views, int photo, double firm)
{
    LfPhoto *of = views->photos[photo];
    g_autofree LfNeighbourView *both = g_new(LfNeighbourView, views->views->len + 1);
    of->n_neighbours = 0;
    for (int by = 0; by < views->n_photos && of->n_neighbours < LF_PHOTO_NEIGHBOURS; by++) {
        LfNeighbour *next = &of->neighbours[of->n_neighbours];
        if (by == photo || !neighbours_alone(views, by))
            continue;
        const int n = neighbours_gather(views, photo, by, firm, both);
        if (!lf_neighbour_fit(both, n, of->report.width, of->report.height,
                              neighbours_side(views->photos[by]), next))
            continue;
        next->by = views->photos[by]->mark;
        of->n_neighbours++;
    }
}

void lf_survey_neighbours(const LfSurveyViews *views, double firm)
{
    for (int p = 0; p < views->n_photos; p++)
        neighbours_of(views, p, firm);
}
