/* Measures, visits, sequences and transitions of one walk, worked out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "look/expect.h"
#include "look/measure_walk.h"
#include "look/sequence.h"

/* --- a walk
 * --------------------------------------------------------------------------------------- */

/* Two areas side by side, a smaller one inside the first, one on another photo. */
static const char *const AREAS[][4] = {
    {"shelf", "left", "top", "0,0 100,0 100,100 0,100"},
    {"shelf", "right", "top", "100,0 200,0 200,100 100,100"},
    {"shelf", "tag", "", "20,20 40,20 40,40 20,40"},
    {"sign", "word", "", "0,0 100,0 100,100 0,100"},
};
enum { LEFT, RIGHT, TAG, WORD, TOP, SHELF, SIGN, N_TARGETS };
static const int64_t PHOTO_IDS[] = {1, 1, 1, 2};

/* The walk lasts 4 s; a position may be off by 2 of its radii. */
static const LfFixation FIXATIONS[] = {
    {200000, 500000, 1, "shelf", LF_STATE_SURE, 50, 50, 2, 30},
    {550000, 750000, 1, "shelf", LF_STATE_SURE, 30, 30, 2, 20},     /* on the tag */
    {800000, 1200000, 1, "shelf", LF_STATE_PLACED, 150, 50, 2, 40}, /* right */
    {1250000, 1450000, 1, "shelf", LF_STATE_SURE, 300, 300, 2, 20}, /* nowhere */
    {2000000, 2300000, 1, "shelf", LF_STATE_SURE, 99, 50, 2, 30},   /* left, by a pixel */
    {2400000, 2600000, 1, "shelf", LF_STATE_DOUBTFUL, 50, 50, 40, 20},
    {2700000, 3000000, 1, "shelf", LF_STATE_SURE, 60, 60, 2, 30}, /* left */
    {3050000, 3250000, 2, "sign", LF_STATE_SURE, 50, 50, NAN, 20},
    {3400000, 3700000, 0, NULL, LF_STATE_BLOCKED, NAN, NAN, NAN, 30},
};

typedef struct {
    GPtrArray *areas;
    LookPlan *plan;
    LookTime *time;
    LookHits *hits;
    LfSpanRule *rule;
    LookWalk walk;
    LookSpan span;
    LfMeasureHead head;
} Fixture;

static void fixture_walk(Fixture *f, const LfFixation *fixations, gsize n)
{
    g_clear_pointer(&f->hits, look_hits_free);
    f->hits = look_hits_new(f->plan, fixations, n, 2);
    f->walk = (LookWalk){f->plan, f->time, f->hits, lf_measure_settings_default()};
}

static int fixture_set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    f->areas = lf_area_list_new();
    for (gsize i = 0; i < G_N_ELEMENTS(AREAS); i++)
        g_ptr_array_add(f->areas, lf_area_new(AREAS[i][0], AREAS[i][1], AREAS[i][2], LF_AREA_RECT,
                                              AREAS[i][3], NULL));
    f->plan = look_plan_new(f->areas, PHOTO_IDS);
    f->time = look_time_new(10000);
    /* 100 Hz from 0 to 3.7 s; between fixations on the shelf; lost from 1.5 to 1.9 s. */
    for (int64_t t_us = 0; t_us < 3700000; t_us += 10000) {
        LookTimeKind kind = LOOK_TIME_ON_PHOTO;
        if (t_us >= 1500000 && t_us < 1900000)
            kind = LOOK_TIME_LOST;
        if (t_us >= 2400000 && t_us < 2600000)
            kind = LOOK_TIME_DOUBTFUL;
        if (t_us >= 3400000)
            kind = LOOK_TIME_BLOCKED;
        look_time_add(f->time, t_us, kind);
    }
    look_time_close(f->time);
    f->rule = lf_span_rule_parse("walk", NULL);
    f->span = (LookSpan){f->rule, 1, 0, 4000000};
    fixture_walk(f, FIXATIONS, G_N_ELEMENTS(FIXATIONS));
    f->head = (LfMeasureHead){.walk = "w", .span = "walk", .span_number = 1, .to_us = 4000000};
    f->head.time = look_time_between(f->time, 0, 4000000);
    *state = f;
    return 0;
}

static int fixture_tear_down(void **state)
{
    Fixture *f = *state;
    look_hits_free(f->hits);
    look_time_free(f->time);
    look_plan_free(f->plan);
    lf_span_rule_free(f->rule);
    g_ptr_array_unref(f->areas);
    g_free(f);
    return 0;
}

/* --- time
 * ----------------------------------------------------------------------------------------- */

static void test_time(void **state)
{
    const Fixture *f = *state;
    static const struct {
        double from_s, to_s;
        double span, on_photo, blocked, away, doubtful, lost, known, unknown;
    } cases[] = {
        {0, 4, 4, 2.8, 0.3, 0, 0.2, 0.7, 3.1, 0.9}, /* lost: 0.4 and after the last sample 0.3 */
        {0, 1, 1, 1, 0, 0, 0, 0, 1, 0},
        {1.4, 1.95, 0.55, 0.15, 0, 0, 0, 0.4, 0.15, 0.4},
        {2.5, 2.505, 0.005, 0, 0, 0, 0.005, 0, 0, 0.005},
        {3.5, 4, 0.5, 0, 0.2, 0, 0, 0.3, 0.2, 0.3},
        {-1, 0.5, 1.5, 0.5, 0, 0, 0, 1, 0.5, 1}, /* before the first sample */
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        int64_t from_us = llround(cases[i].from_s * 1e6), to_us = llround(cases[i].to_s * 1e6);
        LfKnownTime time = look_time_between(f->time, from_us, to_us);
        expect("span", time.span_s, cases[i].span);
        expect("on photo", time.on_photo_s, cases[i].on_photo);
        expect("blocked", time.blocked_s, cases[i].blocked);
        expect("away", time.away_s, cases[i].away);
        expect("doubtful", time.doubtful_s, cases[i].doubtful);
        expect("lost", time.lost_s, cases[i].lost);
        expect("known", time.known_s, cases[i].known);
        expect("unknown", time.unknown_s, cases[i].unknown);
        assert_int_equal(look_time_unknown_us(f->time, from_us, to_us),
                         llround(cases[i].unknown * 1e6));
    }
}

/* A gap in the recording is lost, but for two intervals after its last sample. */
static void test_time_gap(void **state)
{
    (void)state;
    g_autoptr(LookTime) time = look_time_new(10000);
    g_autoptr(LookTime) none = look_time_new(10000);
    look_time_add(time, 0, LOOK_TIME_AWAY);
    look_time_add(time, 10000, LOOK_TIME_AWAY);
    look_time_add(time, 500000, LOOK_TIME_AWAY);
    look_time_close(time);
    look_time_close(none);
    LfKnownTime is = look_time_between(time, 0, 1000000);
    expect("away", is.away_s, 0.03 + 0.01);
    expect("lost", is.lost_s, 0.96);
    expect("lost, no sample", look_time_between(none, 0, 1000000).lost_s, 1);
}

/* --- measures
 * ------------------------------------------------------------------------------------- */

typedef struct {
    LfMeasure measure;
    double value, low, high;
} Wanted;

static void expect_row(const LfMeasureRow *row, const Wanted *wanted, gsize n)
{
    for (gsize i = 0; i < n; i++) {
        const LfMeasured *is = &row->values[wanted[i].measure];
        g_autofree char *what =
            g_strdup_printf("%s of %s", lf_measure_info(wanted[i].measure)->name, row->target);
        expect(what, is->value, wanted[i].value);
        expect(what, is->low, wanted[i].low);
        expect(what, is->high, wanted[i].high);
    }
}

/* On the left area lie, by position, the fixations at 0.2, 0.55, 2.0 and 2.7 s; that at 2.0 s may
 * be on the right one. Visits: 0.2 to 0.75; 2.0 to 2.3; 2.7 to 3.0. */
static void test_measures(void **state)
{
    const Fixture *f = *state;
    static const Wanted left[] = {
        {LF_MEASURE_NOTICED, 1, 1, 1},
        {LF_MEASURE_FIRST_SEEN, 0.2, 0.2, 0.2},
        {LF_MEASURE_FIRST_FIXATION, 0.3, 0.3, 0.3},
        {LF_MEASURE_FIXATIONS, 4, 3, 4},
        {LF_MEASURE_FIXATION_TOTAL, 1.1, 0.8, 1.1},
        {LF_MEASURE_FIXATION_MEAN, 0.275, 0.8 / 3, 0.275},
        {LF_MEASURE_VISITS, 3, 2, 3},
        {LF_MEASURE_REVISITS, 2, 1, 2},
        {LF_MEASURE_DWELL, 1.15, 0.85, 1.15},
        {LF_MEASURE_VISIT_MEAN, 1.15 / 3, 1.15 / 3, 0.425},
        /* The whole shelf: 0.2 to 1.45, 2.0 to 2.3, 2.7 to 3.0. */
        {LF_MEASURE_DWELL_SHARE, 1.15 / 1.85, 0.85 / 1.85, 1.15 / 1.85},
        {LF_MEASURE_ENTRY, 1, 1, 1},
        /* Moves towards it: none known before 0.2 and 2.0 (a gap of 0.55), 0.1 before 2.7. */
        {LF_MEASURE_GLANCES, 3, 2, 3},
        {LF_MEASURE_GLANCE_TOTAL, 1.25, 0.95, 1.25},
        {LF_MEASURE_GLANCE_MEAN, 1.25 / 3, 1.25 / 3, 0.475},
        {LF_MEASURE_GLANCE_LONGEST, 0.55, 0.55, 0.55},
        {LF_MEASURE_GLANCE_RATE, 45, 30, 45},
        {LF_MEASURE_GLANCE_SHARE, 1.25 / 4, 0.95 / 4, 1.25 / 4},
    };
    static const Wanted right[] = {
        {LF_MEASURE_NOTICED, 1, 1, 1},
        {LF_MEASURE_FIRST_SEEN, 0.8, 0.8, 0.8},
        {LF_MEASURE_FIRST_FIXATION, 0.4, 0.4, 0.4},
        {LF_MEASURE_FIXATIONS, 1, 1, 2},
        {LF_MEASURE_FIXATION_TOTAL, 0.4, 0.4, 0.7},
        {LF_MEASURE_FIXATION_MEAN, 0.4, 0.35, 0.4},
        {LF_MEASURE_VISITS, 1, 1, 2},
        {LF_MEASURE_REVISITS, 0, 0, 1},
        {LF_MEASURE_DWELL, 0.4, 0.4, 0.7},
        {LF_MEASURE_VISIT_MEAN, 0.4, 0.35, 0.4},
        {LF_MEASURE_DWELL_SHARE, 0.4 / 1.85, 0.4 / 1.85, 0.7 / 1.85},
        {LF_MEASURE_ENTRY, 3, 3, 3}, /* after left and tag */
        {LF_MEASURE_GLANCE_TOTAL, 0.45, 0.45, 0.75},
        {LF_MEASURE_GLANCE_LONGEST, 0.45, 0.45, 0.45},
    };
    static const Wanted tag[] = {
        {LF_MEASURE_FIXATIONS, 1, 1, 1},
        {LF_MEASURE_FIRST_SEEN, 0.55, 0.55, 0.55},
        {LF_MEASURE_ENTRY, 2, 2, 2},
        {LF_MEASURE_GLANCE_TOTAL, 0.25, 0.25, 0.25},
    };
    /* On the group the fixation at 99,50 is certain: what may be right of left is on right. */
    static const Wanted top[] = {
        {LF_MEASURE_FIXATIONS, 5, 5, 5},   {LF_MEASURE_FIXATION_TOTAL, 1.5, 1.5, 1.5},
        {LF_MEASURE_VISITS, 3, 3, 3}, /* 0.2 to 1.2; 2.0 to 2.3; 2.7 to 3.0 */
        {LF_MEASURE_DWELL, 1.6, 1.6, 1.6}, {LF_MEASURE_ENTRY, 1, 1, 1},
    };
    static const Wanted shelf[] = {
        {LF_MEASURE_FIXATIONS, 6, 6, 6},
        {LF_MEASURE_DWELL, 1.85, 1.85, 1.85},
        {LF_MEASURE_DWELL_SHARE, 1, 1, 1},
        {LF_MEASURE_ENTRY, 1, 1, 1},
    };
    static const Wanted word[] = {
        {LF_MEASURE_FIXATIONS, 1, 1, 1}, /* without a radius its position counts alone */
        {LF_MEASURE_FIRST_SEEN, 3.05, 3.05, 3.05},
        {LF_MEASURE_ENTRY, 4, 4, 4},
        {LF_MEASURE_DWELL_SHARE, 1, 1, 1},
    };
    g_autoptr(GArray) rows = look_measures(&f->walk, &f->span, &f->head);
    assert_int_equal(rows->len, N_TARGETS);
    const LfMeasureRow *all = (const LfMeasureRow *)(gpointer)rows->data;
    expect_row(&all[LEFT], left, G_N_ELEMENTS(left));
    expect_row(&all[RIGHT], right, G_N_ELEMENTS(right));
    expect_row(&all[TAG], tag, G_N_ELEMENTS(tag));
    expect_row(&all[WORD], word, G_N_ELEMENTS(word));
    expect_row(&all[TOP], top, G_N_ELEMENTS(top));
    expect_row(&all[SHELF], shelf, G_N_ELEMENTS(shelf));
    expect("unknown before the word", all[WORD].unknown_before_s, 0.6);
    expect("unknown before the left", all[LEFT].unknown_before_s, 0);
    assert_int_equal(all[LEFT].blank, LF_BLANK_NOT);
}

/* A span cuts fixations to itself: 0.4 to 2.1 s holds 0.4 to 0.5, 0.55 to 0.75, 2.0 to 2.1. */
static void test_cut(void **state)
{
    const Fixture *f = *state;
    static const Wanted left[] = {
        {LF_MEASURE_FIRST_SEEN, 0, 0, 0},     {LF_MEASURE_FIRST_FIXATION, 0.1, 0.1, 0.1},
        {LF_MEASURE_FIXATIONS, 3, 2, 3},      {LF_MEASURE_FIXATION_TOTAL, 0.4, 0.3, 0.4},
        {LF_MEASURE_DWELL, 0.45, 0.35, 0.45},
    };
    static const Wanted word[] = {
        {LF_MEASURE_NOTICED, 0, 0, 0},
        {LF_MEASURE_FIRST_SEEN, NAN, NAN, NAN},
        {LF_MEASURE_FIRST_FIXATION, NAN, NAN, NAN},
        {LF_MEASURE_FIXATIONS, 0, 0, 0},
        {LF_MEASURE_FIXATION_TOTAL, 0, 0, 0},
        {LF_MEASURE_FIXATION_MEAN, NAN, NAN, NAN},
        {LF_MEASURE_VISITS, 0, 0, 0},
        {LF_MEASURE_REVISITS, 0, 0, 0},
        {LF_MEASURE_DWELL, 0, 0, 0},
        {LF_MEASURE_VISIT_MEAN, NAN, NAN, NAN},
        {LF_MEASURE_DWELL_SHARE, NAN, NAN, NAN}, /* its photo was not looked at either */
        {LF_MEASURE_ENTRY, NAN, NAN, NAN},
        {LF_MEASURE_GLANCE_MEAN, NAN, NAN, NAN},
        {LF_MEASURE_GLANCE_LONGEST, NAN, NAN, NAN},
        {LF_MEASURE_GLANCE_RATE, 0, 0, 0},
    };
    LookSpan span = {f->rule, 1, 400000, 2100000};
    LfMeasureHead head = f->head;
    head.time = look_time_between(f->time, span.from_us, span.to_us);
    g_autoptr(GArray) rows = look_measures(&f->walk, &span, &head);
    const LfMeasureRow *all = (const LfMeasureRow *)(gpointer)rows->data;
    expect_row(&all[LEFT], left, G_N_ELEMENTS(left));
    expect_row(&all[WORD], word, G_N_ELEMENTS(word));
    assert_int_equal(all[WORD].blank, LF_BLANK_NEVER);
    expect("unknown in the span", all[WORD].unknown_before_s, 0.4);
}

/* What is never on an area by its position, but may be: no value, and a range. */
static void test_maybe(void **state)
{
    Fixture *f = *state;
    static const LfFixation one[] = {
        {1000000, 1300000, 1, "shelf", LF_STATE_SURE, 203, 50, 2, 30},
        {1400000, 1500000, 1, "shelf", LF_STATE_SURE, 203, 50, 1, 10}, /* not even maybe */
    };
    static const Wanted right[] = {
        {LF_MEASURE_NOTICED, 0, 0, 1},
        {LF_MEASURE_FIRST_SEEN, NAN, 1, NAN},
        {LF_MEASURE_FIRST_FIXATION, NAN, 0.3, 0.3},
        {LF_MEASURE_FIXATIONS, 0, 0, 1},
        {LF_MEASURE_FIXATION_MEAN, NAN, 0.3, 0.3},
        {LF_MEASURE_VISITS, 0, 0, 1},
        {LF_MEASURE_REVISITS, 0, 0, 0},
        {LF_MEASURE_DWELL, 0, 0, 0.3},
        {LF_MEASURE_VISIT_MEAN, NAN, 0.3, 0.3},
        {LF_MEASURE_ENTRY, NAN, 1, NAN},
    };
    fixture_walk(f, one, 2);
    g_autoptr(GArray) rows = look_measures(&f->walk, &f->span, &f->head);
    const LfMeasureRow *all = (const LfMeasureRow *)(gpointer)rows->data;
    expect_row(&all[RIGHT], right, G_N_ELEMENTS(right));
}

static void expect_blank(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head,
                         LfBlank blank)
{
    g_autoptr(GArray) rows = look_measures(walk, span, head);
    assert_int_equal(rows->len, N_TARGETS);
    for (guint i = 0; i < rows->len; i++) {
        const LfMeasureRow *row = &g_array_index(rows, LfMeasureRow, i);
        assert_int_equal(row->blank, blank);
        assert_true(*lf_blank_name(row->blank));
        for (int m = 0; m < LF_MEASURES; m++)
            assert_true(isnan(row->values[m].value) && isnan(row->values[m].low) &&
                        isnan(row->values[m].high));
    }
}

static void test_blank(void **state)
{
    const Fixture *f = *state;
    LookWalk unfixated = f->walk;
    unfixated.hits = NULL;
    expect_blank(&unfixated, &f->span, &f->head, LF_BLANK_NO_FIXATED);
    LookSpan none = {.rule = f->rule};
    expect_blank(&f->walk, &none, &f->head, LF_BLANK_NO_SPAN);
    LookSpan dark = {f->rule, 1, 1500000, 1900000};
    LfMeasureHead head = f->head;
    head.time = look_time_between(f->time, dark.from_us, dark.to_us);
    expect_blank(&f->walk, &dark, &head, LF_BLANK_UNKNOWN);
}

/* --- visits, sequences, transitions
 * --------------------------------------------------------------- */

static void test_visits(void **state)
{
    const Fixture *f = *state;
    static const struct {
        const char *target;
        int level, number;
        double from_s, to_s, glance_s;
        gsize fixations;
        bool certain;
    } wanted[] = {
        {"left", 0, 1, 0.2, 0.75, 0.55, 2, true},   {"left", 0, 2, 2, 2.3, 0.3, 1, false},
        {"left", 0, 3, 2.7, 3, 0.4, 1, true},       {"right", 0, 1, 0.8, 1.2, 0.45, 1, true},
        {"tag", 0, 1, 0.55, 0.75, 0.25, 1, true},   {"word", 0, 1, 3.05, 3.25, 0.25, 1, true},
        {"top", 1, 1, 0.2, 1.2, 1, 3, true},        {"top", 1, 2, 2, 2.3, 0.3, 1, true},
        {"top", 1, 3, 2.7, 3, 0.4, 1, true},        {"shelf", -1, 1, 0.2, 1.45, 1.25, 4, true},
        {"shelf", -1, 2, 2, 2.3, 0.3, 1, true},     {"shelf", -1, 3, 2.7, 3, 0.4, 1, true},
        {"sign", -1, 1, 3.05, 3.25, 0.25, 1, true},
    };
    g_autoptr(GArray) rows = look_visits(&f->walk, &f->span, &f->head);
    assert_int_equal(rows->len, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < rows->len; i++) {
        const LfVisitRow *row = &g_array_index(rows, LfVisitRow, i);
        assert_string_equal(row->target, wanted[i].target);
        assert_int_equal(row->level, wanted[i].level);
        assert_int_equal(row->number, wanted[i].number);
        expect("from", (double)row->visit_from_us * 1e-6, wanted[i].from_s);
        expect("to", (double)row->visit_to_us * 1e-6, wanted[i].to_s);
        expect("glance", row->glance_s, wanted[i].glance_s);
        assert_int_equal(row->fixations, wanted[i].fixations);
        assert_int_equal(row->certain, wanted[i].certain);
    }
}

static void test_sequence(void **state)
{
    const Fixture *f = *state;
    static const struct {
        const char *target;
        double from_s, to_s;
        bool after_unknown;
    } wanted[] = {
        {"left", 0.2, 0.5, false},   {"tag", 0.55, 0.75, false}, /* the smaller one counts */
        {"right", 0.8, 1.2, false},  {"left", 2, 2.3, true},     /* 0.4 s lost before */
        {"left", 2.7, 3, true},                                  /* after a doubtful fixation */
        {"word", 3.05, 3.25, false}, {"top", 0.2, 1.2, false},
        {"top", 2, 2.3, true},       {"top", 2.7, 3, true},
    };
    g_autoptr(GArray) rows = look_sequences(&f->walk, &f->span, &f->head);
    assert_int_equal(rows->len, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < rows->len; i++) {
        const LfSequenceRow *row = &g_array_index(rows, LfSequenceRow, i);
        assert_string_equal(row->target, wanted[i].target);
        expect("from", (double)row->element_from_us * 1e-6, wanted[i].from_s);
        expect("to", (double)row->element_to_us * 1e-6, wanted[i].to_s);
        assert_int_equal(row->after_unknown, wanted[i].after_unknown);
    }
}

static void test_transitions(void **state)
{
    Fixture *f = *state;
    static const struct {
        const char *from, *to;
        gsize count, certain;
        double probability;
    } areas[] = {
        {"left", "tag", 1, 1, 0.5}, {"left", "word", 1, 1, 0.5}, {"right", "tag", 0, 0, NAN},
        {"tag", "right", 1, 1, 1},  {"top", "top", 2, 2, 1}, /* within the group: fixation to
                                                                fixation */
    };
    g_autoptr(GArray) rows = look_transitions(&f->walk, &f->span, &f->head);
    guint i = 0;
    for (gsize k = 0; k < G_N_ELEMENTS(areas); k++) {
        if (areas[k].count == 0)
            continue;
        const LfTransitionRow *row = &g_array_index(rows, LfTransitionRow, i++);
        assert_string_equal(row->from, areas[k].from);
        assert_string_equal(row->to, areas[k].to);
        assert_int_equal(row->count, areas[k].count);
        assert_int_equal(row->certain, areas[k].certain);
        expect("probability", row->probability, areas[k].probability);
    }
    assert_int_equal(i, rows->len);
    g_autoptr(GArray) entropies = look_entropies(&f->walk, &f->span, &f->head);
    const LfEntropyRow *of = &g_array_index(entropies, LfEntropyRow, 0);
    assert_int_equal(of->states, 4);
    assert_int_equal(of->transitions, 3);
    assert_int_equal(of->broken, 2);
    assert_int_equal(of->filled, 2); /* right and word were not left */
    /* Met: left 3, right, tag, word 1 of 6. */
    expect("visited", of->visited_bit, 0.5 * log2(2) + 3 * log2(6) / 6);
    /* From visit to visit the group is never left. */
    f->walk.settings.by_visits = true;
    g_autoptr(GArray) visits = look_transitions(&f->walk, &f->span, &f->head);
    assert_int_equal(visits->len, 3);
}

int main(void)
{
#define WITH(test) cmocka_unit_test_setup_teardown(test, fixture_set_up, fixture_tear_down)
    const struct CMUnitTest tests[] = {
        WITH(test_time),        cmocka_unit_test(test_time_gap),
        WITH(test_measures),    WITH(test_cut),
        WITH(test_maybe),       WITH(test_blank),
        WITH(test_visits),      WITH(test_sequence),
        WITH(test_transitions),
    };
    return cmocka_run_group_tests_name("look/measure", tests, NULL, NULL);
}
