/* Looks out of a study. */
#include "draw/material.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <lookfall/glance.h>

/* A sample stands for the time up to the next one, but not for a gap of the recording: at most so
 * many median intervals. */
#define MATERIAL_GAP_INTERVALS 2.5

/* --- the choice ------------------------------------------------------------------------------- */

static char *material_names(GPtrArray *names)
{
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < names->len; i++)
        g_string_append_printf(text, "%s%s", i ? ", " : "", (const char *)names->pdata[i]);
    return g_string_free(g_steal_pointer(&text), FALSE);
}

static Material *material_photo(LfStudy *study, const char *name, GError **error)
{
    g_autoptr(GPtrArray) photos = lf_study_photos(study, error);
    g_autoptr(GPtrArray) names = g_ptr_array_new();
    const LfStudyPhoto *found = NULL;
    if (!photos)
        return NULL;
    for (guint i = 0; i < photos->len; i++) {
        const LfStudyPhoto *photo = photos->pdata[i];
        g_ptr_array_add(names, photo->name);
        if (name ? strcmp(photo->name, name) == 0 : photos->len == 1)
            found = photo;
    }
    if (!found) {
        g_autofree char *known = material_names(names);
        if (photos->len == 0)
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "there is no photo in the study");
        else if (name)
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "there is no photo \"%s\" in the study; it has: %s", name, known);
        else
            g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                        "the study has several photos; --photo says which: %s", known);
        return NULL;
    }
    Material *material = material_blank(found->name, found->report.width, found->report.height);
    material->photo_id = found->id;
    material->path = g_strdup(found->path);
    material->width_mm = found->width_mm;
    return material;
}

static int64_t material_us(double s, int64_t otherwise)
{
    return isnan(s) ? otherwise : (int64_t)llround(s * 1e6);
}

static int material_walk_order(gconstpointer a, gconstpointer b)
{
    const MaterialWalk *x = *(MaterialWalk *const *)a, *y = *(MaterialWalk *const *)b;
    int order = strcmp(x->person, y->person);
    return order ? order : strcmp(x->name, y->name);
}

static bool material_walks(LfStudy *study, Material *material, const LfDrawChoice *choice,
                           GError **error)
{
    g_autoptr(GPtrArray) walks = lf_draw_choice_walks(study, choice, error);
    if (!walks)
        return false;
    for (guint i = 0; i < walks->len; i++) {
        const LfStudyWalk *from = walks->pdata[i];
        MaterialWalk *walk =
            material_add_walk(material, from->name, from->participant, from->group);
        walk->id = from->id;
        walk->lens = from->lens;
        walk->interval_s = (double)from->interval_us * 1e-6;
        walk->from_us = material_us(choice->from_s, 0);
        walk->to_us = material_us(choice->to_s, from->end_us);
        if (!choice->span)
            continue;
        walk->spans = lf_draw_choice_spans(study, from, choice, error);
        if (!walk->spans)
            return false;
        /* Times are told from the first span's start. */
        if (walk->spans->len > 0)
            walk->from_us = g_array_index(walk->spans, LfDrawSpan, 0).from_us;
    }
    if (walks->len == 0)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "there is no walk in the study");
    g_ptr_array_sort(material->walks, material_walk_order);
    return walks->len > 0;
}

/* --- looks ------------------------------------------------------------------------------------ */

typedef struct {
    Material *material;
    bool doubtful;
    MaterialWalk *walk; /* of the last row */
    /* Sample before the one at hand: its time is known only now. */
    bool waits;
    LfStudySample last;
    bool last_shown;
} MaterialTake;

static MaterialWalk *material_find(const Material *material, const char *name)
{
    for (guint i = 0; i < material->walks->len; i++) {
        MaterialWalk *walk = material->walks->pdata[i];
        if (strcmp(walk->name, name) == 0)
            return walk;
    }
    return NULL;
}

/* Adds the parts of a look that lie in the choice. */
static void material_add(MaterialWalk *walk, int64_t from_us, int64_t to_us, MaterialLook look)
{
    LfDrawSpan whole = {walk->from_us, walk->to_us};
    guint n = walk->spans ? walk->spans->len : 1;
    for (guint i = 0; i < n; i++) {
        LfDrawSpan span = walk->spans ? g_array_index(walk->spans, LfDrawSpan, i) : whole;
        int64_t from = MAX(from_us, span.from_us), to = MIN(to_us, span.to_us);
        if (from >= to)
            continue;
        look.from_s = (double)(from - walk->from_us) * 1e-6;
        look.to_s = (double)(to - walk->from_us) * 1e-6;
        g_array_append_val(walk->looks, look);
    }
}

static bool material_shows(const MaterialTake *take, const char *photo, LfState state)
{
    bool settled = state == LF_STATE_SURE || state == LF_STATE_PLACED;
    return photo && strcmp(photo, take->material->photo) == 0 &&
           (settled || (take->doubtful && state == LF_STATE_DOUBTFUL));
}

static bool material_take_fixations(const LfStudyFixations *found, void *data,
                                    G_GNUC_UNUSED GError **error)
{
    MaterialTake *take = data;
    MaterialWalk *walk = material_find(take->material, found->walk);
    for (gsize i = 0; walk && i < found->n; i++) {
        const LfFixation *f = &found->fixations[i];
        bool shown = material_shows(take, f->photo, f->state);
        MaterialLook look = {.state = f->state,
                             .shown = shown,
                             .x = shown ? f->x_px : NAN,
                             .y = shown ? f->y_px : NAN,
                             .radius_px = shown ? f->radius_px : NAN};
        material_add(walk, f->from_us, f->to_us, look);
    }
    return true;
}

/* The time of a sample is known when the next one comes. */
static void material_settle(MaterialTake *take, int64_t next_us)
{
    MaterialWalk *walk = take->walk;
    const LfStudySample *s = &take->last;
    if (!take->waits)
        return;
    take->waits = false;
    int64_t interval_us = (int64_t)(1e6 * walk->interval_s);
    int64_t most_us = (int64_t)(MATERIAL_GAP_INTERVALS * (double)interval_us);
    int64_t to_us = next_us - s->t_us > most_us ? s->t_us + interval_us : next_us;
    bool shown = take->last_shown;
    MaterialLook look = {.state = s->result.state,
                         .shown = shown,
                         .x = shown ? s->result.x : NAN,
                         .y = shown ? s->result.y : NAN,
                         .radius_px = shown ? s->result.radius_px : NAN};
    if (s->cast && s->result.state != LF_STATE_LOST)
        material_add(walk, s->t_us, to_us, look);
}

static bool material_take_sample(const LfStudySample *sample, void *data,
                                 G_GNUC_UNUSED GError **error)
{
    MaterialTake *take = data;
    if (!take->walk || strcmp(take->walk->name, sample->walk) != 0) {
        material_settle(take, INT64_MAX / 2);
        take->walk = material_find(take->material, sample->walk);
    } else {
        material_settle(take, sample->t_us);
    }
    if (!take->walk)
        return true;
    take->waits = true;
    take->last = *sample;
    take->last_shown = sample->cast && material_shows(take, sample->photo, sample->result.state);
    return true;
}

/* Samples of each state in the choice, as time. */
static bool material_times(LfStudy *study, Material *material, const LfDrawChoice *choice,
                           GError **error)
{
    for (guint i = 0; i < material->walks->len; i++) {
        MaterialWalk *walk = material->walks->pdata[i];
        LfDrawSpan whole = {isnan(choice->from_s) ? INT64_MIN : walk->from_us,
                            isnan(choice->to_s) ? INT64_MAX : walk->to_us};
        for (guint k = 0; k < (walk->spans ? walk->spans->len : 1); k++) {
            LfDrawSpan span = walk->spans ? g_array_index(walk->spans, LfDrawSpan, k) : whole;
            LfStudyTime time;
            if (!lf_study_time(study, walk->id, span.from_us, span.to_us, &time, error))
                return false;
            for (int state = LF_STATE_LOST; state <= LF_STATE_PLACED; state++)
                walk->time_s[state] += walk->interval_s * (double)time.states[state];
            walk->uncast_s += walk->interval_s * (double)time.uncast;
        }
    }
    return true;
}

static bool material_looks(LfStudy *study, Material *material, const LfDrawChoice *choice,
                           bool samples, GError **error)
{
    MaterialTake take = {.material = material, .doubtful = choice->doubtful};
    g_autofree const char **names = g_new0(const char *, material->walks->len + 1);
    for (guint i = 0; i < material->walks->len; i++)
        names[i] = ((const MaterialWalk *)material->walks->pdata[i])->name;
    if (!samples)
        return lf_study_fixations(study, names, material_take_fixations, &take, material->undone,
                                  error);
    if (!lf_study_export_samples(study, names, material_take_sample, &take, NULL, error))
        return false;
    material_settle(&take, INT64_MAX / 2);
    return true;
}

Material *material_new(LfStudy *study, const LfDrawChoice *choice, bool samples, bool scale,
                       GError **error)
{
    g_autoptr(Material) material = material_photo(study, choice->photo, error);
    if (!material || !material_walks(study, material, choice, error) ||
        !material_looks(study, material, choice, samples, error) ||
        !material_times(study, material, choice, error))
        return NULL;
    material_count(material);
    if (material->n_looks == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "nobody's %s on the photo \"%s\" in this choice of walks and times",
                    samples ? "settled gaze falls" : "settled fixation lies", material->photo);
        return NULL;
    }
    if (scale && !material_scale(study, material, error))
        return NULL;
    return g_steal_pointer(&material);
}
