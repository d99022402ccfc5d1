/* The pictures of a report. */
#include "report/report_pictures.h"

#include <math.h>

#include <lookfall/draw.h>
#include <lookfall/film.h>

enum { REPORT_PICTURE_PX = 1400, REPORT_STILL_PX = 1100 };

typedef struct {
    LfStudy *study;
    const ReportData *data;
    const LfReportOptions *options;
    LfReportResult *result;
    GPtrArray *pictures;
    gsize done, total;
} ReportDrawing;

static void report_pictures_free(gpointer data)
{
    ReportPicture *picture = data;
    g_free(picture->name);
    g_free(picture->photo);
    g_free(picture->alt);
    g_free(picture->caption);
    g_bytes_unref(picture->bytes);
    g_free(picture);
}

static bool report_pictures_cancelled(const ReportDrawing *d)
{
    return d->options->cancel != NULL && g_atomic_int_get(d->options->cancel);
}

static void report_pictures_tell(ReportDrawing *d)
{
    if (d->options->progress != NULL)
        d->options->progress("drawing picture", ++d->done, d->total, d->options->data);
}

/* A part that cannot be made for what is in the study is left out; any other error ends the report.
 */
static bool report_pictures_leave_out(ReportDrawing *d, const char *part, GError *why,
                                      GError **error)
{
    if (why->code != LF_ERROR_INPUT && why->code != LF_ERROR_MACHINE) {
        g_propagate_error(error, why);
        return false;
    }
    d->result->left_out++;
    if (d->options->note != NULL) {
        g_autofree char *sentence = g_strdup_printf("left out: %s. %s", part, why->message);
        d->options->note(sentence, d->options->data);
    }
    g_error_free(why);
    return true;
}

/* What a name of a photo or walk becomes in the name of a file. */
static char *report_pictures_file(const char *kind, const char *name, const char *ending)
{
    g_autofree char *plain = g_str_to_ascii(name, "C");
    g_strcanon(plain, G_CSET_a_2_z G_CSET_A_2_Z G_CSET_DIGITS, '-');
    return g_strdup_printf("%s-%s.%s", kind, plain, ending);
}

/* Two names that become the same name of a file are told apart by a number. */
static char *report_pictures_unique(const ReportDrawing *d, char *name)
{
    for (int n = 2;; n++) {
        bool taken = false;
        for (guint i = 0; i < d->pictures->len && !taken; i++)
            taken = g_str_equal(((ReportPicture *)d->pictures->pdata[i])->name, name);
        if (!taken)
            return name;
        char *other = g_strdup_printf("%d-%s", n, name);
        g_free(name);
        name = other;
    }
}

static char *report_pictures_behind(const LfDrawReport *r)
{
    g_autofree char *open = r->unsettled_s > 0
                                ? g_strdup_printf(", %.1f s of gaze not settled", r->unsettled_s)
                                : g_strdup("");
    return g_strdup_printf("%" G_GSIZE_FORMAT " %s, %" G_GSIZE_FORMAT " fixations, %.1f s%s",
                           r->people, r->people == 1 ? "person" : "people", r->looks, r->look_s,
                           open);
}

static bool report_pictures_draw(ReportDrawing *d, const LfDrawSettings *as, const char *photo,
                                 GError **error)
{
    static const char *const captions[] = {
        [LF_DRAW_HEAT] = "Heat map",        [LF_DRAW_FOCUS] = "Focus map",
        [LF_DRAW_SCANPATH] = "Scanpath",    [LF_DRAW_AREAS] = "Areas",
        [LF_DRAW_TIMELINE] = "Timeline",    [LF_DRAW_TRANSITIONS] = "Transitions",
        [LF_DRAW_DIFFERENCE] = "Difference"};
    const char *caption = captions[as->kind], *kind = lf_draw_kind_name(as->kind);
    LfDrawSettings settings = *as;
    g_auto(LfDrawReport) report = {0};
    GError *why = NULL;

    if (report_pictures_cancelled(d))
        return true;
    settings.choice.photo = photo;
    settings.width_px = REPORT_PICTURE_PX;
    GBytes *bytes = lf_draw_picture(d->study, &settings, LF_DRAW_PNG, &report, &why);
    report_pictures_tell(d);
    if (bytes == NULL) {
        g_autofree char *part = g_strdup_printf("the picture \"%s\" of %s", kind, photo);
        return report_pictures_leave_out(d, part, why, error);
    }
    g_autofree char *behind = report_pictures_behind(&report);
    ReportPicture *picture = g_new0(ReportPicture, 1);
    *picture =
        (ReportPicture){.name = report_pictures_unique(d, report_pictures_file(kind, photo, "png")),
                        .mime = "image/png",
                        .photo = g_strdup(photo),
                        .alt = g_strdup_printf("%s of %s: %s.", caption, photo, behind),
                        .caption = g_strdup_printf("%s, %s. %s.", caption, photo, behind),
                        .width_px = report.width_px,
                        .height_px = report.height_px,
                        .bytes = bytes};
    g_ptr_array_add(d->pictures, picture);
    return true;
}

static bool report_pictures_photos(ReportDrawing *d, GError **error)
{
    for (guint i = 0; i < d->data->photos->len; i++) {
        const char *name = ((LfStudyPhoto *)d->data->photos->pdata[i])->name;
        for (gsize k = 0; k < d->data->n_pictures; k++)
            if (!report_pictures_draw(d, &d->data->pictures[k], name, error))
                return false;
    }
    return true;
}

static bool report_pictures_still(ReportDrawing *d, const LfStudyWalk *walk, GError **error)
{
    LfFilmStill still;
    GError *why = NULL;
    const bool blur = !d->options->show_faces;
    g_autoptr(GArray) spans = lf_draw_choice_spans(d->study, walk, d->data->choice, error);
    if (spans == NULL)
        return false;
    const LfFilmStillOptions options = {.walk = walk->name,
                                        .photo = d->data->choice->photo,
                                        .spans = (const LfDrawSpan *)(gpointer)spans->data,
                                        .n_spans = spans->len,
                                        .blur_faces = blur,
                                        .width_px = REPORT_STILL_PX,
                                        .threads = d->options->threads};
    GBytes *bytes = spans->len > 0 ? lf_film_still(d->study, &options, &still, &why) : NULL;

    report_pictures_tell(d);
    if (spans->len == 0) /* nothing of this walk is in the choice */
        return true;
    if (bytes == NULL) {
        g_autofree char *part = g_strdup_printf("the still of the walk %s", walk->name);
        return report_pictures_leave_out(d, part, why, error);
    }
    const double s = (double)still.t_us / 1e6;
    ReportPicture *picture = g_new0(ReportPicture, 1);
    *picture = (ReportPicture){
        .name = report_pictures_unique(d, report_pictures_file("still", walk->name, "jpg")),
        .mime = "image/jpeg",
        .alt = g_strdup_printf("Frame of the scene video of %s at %.3f s with the gaze on it and "
                               "the photo in its corner.",
                               walk->name, s),
        .caption = g_strdup_printf("%s at %.3f s%s%s", walk->name, s,
                                   still.fixation ? ", within its longest settled fixation" : "",
                                   !blur         ? "; faces are shown"
                                   : still.found ? "; something that may be a face is blurred"
                                                 : "; no face was found to blur"),
        .bytes = bytes};
    g_ptr_array_add(d->pictures, picture);
    d->result->stills++;
    return true;
}

/* One still a walk, of the first walks that have settled gaze. */
static bool report_pictures_stills(ReportDrawing *d, gsize most, GError **error)
{
    for (guint i = 0; i < d->data->walks->len && d->result->stills < most; i++) {
        const ReportWalk *walk = &d->data->each[i];
        if (report_pictures_cancelled(d))
            return true;
        if (walk->tally.states[LF_STATE_SURE].samples +
                    walk->tally.states[LF_STATE_PLACED].samples >
                0 &&
            !report_pictures_still(d, walk->walk, error))
            return false;
    }
    return true;
}

GPtrArray *report_pictures_make(LfStudy *study, const ReportData *data,
                                const LfReportOptions *options, LfReportResult *result,
                                GError **error)
{
    const gsize stills = (gsize)MAX(0, options->stills);
    g_autoptr(GPtrArray) pictures = g_ptr_array_new_with_free_func(report_pictures_free);
    ReportDrawing d = {.study = study,
                       .data = data,
                       .options = options,
                       .result = result,
                       .pictures = pictures,
                       .total = data->n_pictures * (gsize)data->photos->len +
                                MIN(stills, data->walks->len)};

    if (!report_pictures_photos(&d, error) || !report_pictures_stills(&d, stills, error))
        return NULL;
    return g_steal_pointer(&pictures);
}
