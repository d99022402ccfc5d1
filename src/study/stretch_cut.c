/* From the results of a walk to its stretches.
 *
 * Doubt flickers from sample to sample, and so does its reason; a person decides about what looks
 * like one thing. So short gaps are bridged, and a run is split by reason or photo only where both
 * sides last. The limits are common practice of what a person perceives as one look. */
#include "study/stretch_cut.h"

#include <math.h>

#define STRETCH_GAP_US 200000    /* samples that are not in doubt, bridged */
#define STRETCH_BLINK_US 600000  /* with lost samples in between */
#define STRETCH_SPLIT_US 500000  /* a reason that lasts so long stands for itself */
#define STRETCH_LONG_US 20000000 /* longer ones are cut into equal parts */

typedef enum { STRETCH_DOUBT, STRETCH_BLOCKED, STRETCH_UNSEEN, STRETCH_KINDS } StretchKind;

typedef struct {
    const StretchSample *samples;
    gsize n;
    int64_t interval_us;
    bool *taken; /* samples of a stretch already cut */
    GArray *stretches;
} StretchCut;

static bool stretch_cut_is(const StretchCut *cut, StretchKind kind, gsize i)
{
    const StretchSample *sample = &cut->samples[i];
    if (cut->taken[i])
        return false;
    return kind == STRETCH_DOUBT     ? sample->state == LF_STATE_DOUBTFUL
           : kind == STRETCH_BLOCKED ? sample->state == LF_STATE_BLOCKED
                                     : sample->unseen;
}

static int stretch_cut_reason(StretchKind kind, const StretchSample *sample)
{
    return kind == STRETCH_DOUBT     ? sample->doubt
           : kind == STRETCH_BLOCKED ? LF_REASON_BLOCKED
                                     : LF_REASON_UNSEEN;
}

/* The end of what sample i stands for: an interval later, or where the next sample comes first. */
static int64_t stretch_cut_end_us(const StretchCut *cut, gsize i)
{
    int64_t end_us = cut->samples[i].t_us + MAX(cut->interval_us, 1);
    return i + 1 < cut->n ? MIN(end_us, cut->samples[i + 1].t_us) : end_us;
}

/* One label's share of a stretch. */
typedef struct {
    int reason;
    int64_t photo;
    gsize count;
} StretchLabel;

static int64_t stretch_cut_most(const GArray *labels, bool photos)
{
    gsize best = 0;
    int64_t value = 0;
    for (guint i = 0; i < labels->len; i++) {
        const StretchLabel *label = &g_array_index(labels, StretchLabel, i);
        int64_t mine = photos ? label->photo : label->reason;
        gsize count = 0;
        for (guint k = 0; k < labels->len; k++) {
            const StretchLabel *other = &g_array_index(labels, StretchLabel, k);
            count += (photos ? other->photo : other->reason) == mine ? other->count : 0;
        }
        if (count > best) {
            best = count;
            value = mine;
        }
    }
    return value;
}

/* Samples first to last, both of the kind, become one stretch. */
static void stretch_cut_add(StretchCut *cut, StretchKind kind, gsize first, gsize last)
{
    g_autoptr(GArray) labels = g_array_new(FALSE, FALSE, sizeof(StretchLabel));
    LfStretch stretch = {.from_us = cut->samples[first].t_us,
                         .to_us = stretch_cut_end_us(cut, last),
                         .interval_us = cut->interval_us};
    double sum = 0;
    gsize n = 0;
    for (gsize i = first; i <= last; i++) {
        const StretchSample *sample = &cut->samples[i];
        bool mine = stretch_cut_is(cut, kind, i);
        cut->taken[i] = true;
        stretch.samples += sample->state != LF_STATE_LOST;
        if (!isnan(sample->confidence)) {
            sum += (double)sample->confidence;
            n++;
        }
        if (!mine)
            continue;
        guint k = 0;
        int reason = stretch_cut_reason(kind, sample);
        while (k < labels->len && (g_array_index(labels, StretchLabel, k).reason != reason ||
                                   g_array_index(labels, StretchLabel, k).photo != sample->photo))
            k++;
        if (k == labels->len) {
            const StretchLabel label = {reason, sample->photo, 0};
            g_array_append_val(labels, label);
        }
        g_array_index(labels, StretchLabel, k).count++;
    }
    stretch.reason = (int)stretch_cut_most(labels, false);
    stretch.photo = stretch_cut_most(labels, true);
    stretch.confidence = n > 0 ? sum / (double)n : (double)NAN;
    stretch.left = stretch.samples;
    g_array_append_val(cut->stretches, stretch);
}

/* A stretch of any length, in equal parts where it is long. */
static void stretch_cut_parts(StretchCut *cut, StretchKind kind, gsize first, gsize last)
{
    int64_t from_us = cut->samples[first].t_us;
    int64_t length_us = stretch_cut_end_us(cut, last) - from_us;
    int64_t parts = (length_us + STRETCH_LONG_US - 1) / STRETCH_LONG_US;
    gsize begin = first;
    for (int64_t part = 1; part <= parts; part++) {
        int64_t until_us = from_us + length_us * part / parts;
        gsize end = begin, next;
        for (next = begin; next <= last && (part == parts || cut->samples[next].t_us < until_us);
             next++)
            if (stretch_cut_is(cut, kind, next))
                end = next;
        while (next <= last && !stretch_cut_is(cut, kind, next))
            next++;
        if (begin <= last && stretch_cut_is(cut, kind, begin))
            stretch_cut_add(cut, kind, begin, end);
        begin = next;
    }
}

/* Splits a run where another label lasts. The label of a piece is that of its first run that does.
 */
static void stretch_cut_split(StretchCut *cut, StretchKind kind, gsize first, gsize last)
{
    gsize piece = first, run = first, at = first; /* where each begins; the sample of kind before */
    int reason = -1;
    int64_t photo = 0;
    for (gsize i = first; i <= last; i++) {
        const StretchSample *sample = &cut->samples[i], *start = &cut->samples[run];
        if (!stretch_cut_is(cut, kind, i))
            continue;
        if (stretch_cut_reason(kind, sample) != stretch_cut_reason(kind, start) ||
            sample->photo != start->photo)
            run = i;
        start = &cut->samples[run];
        at = i;
        if (stretch_cut_end_us(cut, at) - start->t_us < STRETCH_SPLIT_US)
            continue;
        int lasting = stretch_cut_reason(kind, start);
        if (reason >= 0 && (lasting != reason || start->photo != photo)) {
            gsize before = run - 1; /* the last of the kind before this run */
            while (!stretch_cut_is(cut, kind, before))
                before--;
            stretch_cut_parts(cut, kind, piece, before);
            piece = run;
        }
        reason = lasting;
        photo = start->photo;
    }
    stretch_cut_parts(cut, kind, piece, last);
}

static void stretch_cut_kind(StretchCut *cut, StretchKind kind)
{
    bool open = false, lost = false;
    gsize first = 0, last = 0;
    for (gsize i = 0; i < cut->n; i++) {
        if (!stretch_cut_is(cut, kind, i)) {
            lost = lost || cut->samples[i].state == LF_STATE_LOST;
            /* What another kind has taken is no gap to be bridged. */
            if (open && cut->taken[i]) {
                stretch_cut_split(cut, kind, first, last);
                open = false;
            }
            continue;
        }
        int64_t gap_us = open ? cut->samples[i].t_us - stretch_cut_end_us(cut, last) : 0;
        if (open && gap_us > (lost ? STRETCH_BLINK_US : STRETCH_GAP_US)) {
            stretch_cut_split(cut, kind, first, last);
            open = false;
        }
        if (!open)
            first = i;
        open = true;
        lost = false;
        last = i;
    }
    if (open)
        stretch_cut_split(cut, kind, first, last);
}

void stretch_cut(const StretchSample *samples, gsize n, int64_t interval_us, GArray *stretches)
{
    g_autofree bool *taken = g_new0(bool, MAX(n, 1));
    StretchCut cut = {samples, n, interval_us, taken, stretches};
    for (int kind = 0; kind < STRETCH_KINDS; kind++)
        stretch_cut_kind(&cut, (StretchKind)kind);
}
