/* Decisions on stretches: what each places, what lies on top, the way back, other reviewers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "study/review_fixture.h"

static const LfReviewer ana = {"Ana", false}, ben = {"Ben", false}, eve = {"Eve", true};

typedef struct {
    Bed *bed;
    GBytes *fresh; /* the study as made */
    LfStudy *study;
} Fixture;

static int group_set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    f->bed = bed_new();
    lf_study_close(review_make(f->bed));
    f->fresh = bed_read(f->bed, "r.lookfall");
    *state = f;
    return 0;
}

static int group_tear_down(void **state)
{
    Fixture *f = *state;
    g_bytes_unref(f->fresh);
    bed_free(f->bed);
    g_free(f);
    return 0;
}

static int set_up(void **state)
{
    Fixture *f = *state;
    gsize size;
    const char *bytes = g_bytes_get_data(f->fresh, &size);
    assert_true(g_file_set_contents(bed_path(f->bed, "r.lookfall"), bytes, (gssize)size, NULL));
    f->study = lf_study_open(bed_path(f->bed, "r.lookfall"), LF_STUDY_WRITE, NULL);
    assert_non_null(f->study);
    return 0;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lf_study_close(f->study);
    return 0;
}

static void reopen(Fixture *f)
{
    lf_study_close(f->study);
    f->study = lf_study_open(bed_path(f->bed, "r.lookfall"), LF_STUDY_WRITE, NULL);
    assert_non_null(f->study);
}

/* --- what an export says ---------------------------------------------------------------------- */

typedef struct {
    int64_t from_us, to_us;
    GString *text;
    GArray *samples; /* LfStudySample, without names */
} Seen;

static bool seen_sink(const LfStudySample *sample, void *data, GError **error)
{
    Seen *seen = data;
    (void)error;
    if (sample->t_us >= seen->from_us && sample->t_us < seen->to_us)
        g_array_append_val(seen->samples, *sample);
    g_string_append_printf(seen->text, "%d %s %d %.3f %.3f %.4f\n", (int)sample->t_us,
                           sample->photo ? sample->photo : "-", (int)sample->result.state,
                           sample->result.x, sample->result.y, sample->result.confidence);
    return true;
}

static Seen seen_of(LfStudy *study, int64_t from_us, int64_t to_us)
{
    Seen seen = {from_us, to_us, g_string_new(NULL),
                 g_array_new(FALSE, FALSE, sizeof(LfStudySample))};
    assert_true(lf_study_export_samples(study, NULL, seen_sink, &seen, NULL, NULL));
    return seen;
}

static void seen_clear(Seen *seen)
{
    g_string_free(seen->text, TRUE);
    g_array_unref(seen->samples);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Seen, seen_clear)

/* All samples with gaze of a span have this state and lie (dx, dy) from the engine's place, or at
 * (x, y) where `still`. */
static void expect_span(LfStudy *study, int64_t from_us, int64_t to_us, LfState wanted, bool still,
                        double x, double y)
{
    g_auto(Seen) seen = seen_of(study, from_us, to_us);
    gsize n = 0;
    for (guint i = 0; i < seen.samples->len; i++) {
        const LfStudySample *sample = &g_array_index(seen.samples, LfStudySample, i);
        if (isnan(sample->gaze_px.x)) {
            assert_int_equal(sample->result.state, LF_STATE_LOST);
            continue;
        }
        n++;
        assert_int_equal(sample->result.state, wanted);
        if (wanted == LF_STATE_AWAY) {
            assert_true(isnan(sample->result.x));
            continue;
        }
        double gx = still ? x : sample->gaze_px.x + REVIEW_DX + x;
        double gy = still ? y : sample->gaze_px.y + REVIEW_DY + y;
        assert_true(fabs(sample->result.x - gx) < 1e-9);
        assert_true(fabs(sample->result.y - gy) < 1e-9);
    }
    assert_true(n > 0);
}

static LfDecision decision_on(LfStudy *study, const LfReviewer *who, int64_t t_us,
                              LfDecisionKind kind)
{
    LfStretch stretch = review_stretch(study, who, t_us);
    return (LfDecision){.stretch = stretch.id,
                        .version = stretch.version,
                        .kind = kind,
                        .t_us = t_us,
                        .radius_px = NAN};
}

/* --- tests ------------------------------------------------------------------------------------ */

static void test_stretches(void **state)
{
    Fixture *f = *state;
    static const struct {
        int64_t from_us, to_us;
        int reason;
        int64_t samples, photo;
    } wanted[] = {
        {1000000, 1980000, LF_DOUBT_ALIKE, 45, 1}, /* the sample at 1.98 s is lost */
        {4000000, 4500000, LF_DOUBT_BLUR, 23, 1},
        {6000000, 6380000, LF_REASON_BLOCKED, 18, 1},
        {7000000, 7580000, LF_REASON_UNSEEN, 27, 0},
    };
    g_autoptr(GArray) list = lf_study_stretches(f->study, NULL, NULL);
    assert_int_equal(list->len, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < list->len; i++) {
        const LfStretch *stretch = &g_array_index(list, LfStretch, i);
        assert_int_equal(stretch->from_us, wanted[i].from_us);
        assert_int_equal(stretch->to_us, wanted[i].to_us);
        assert_int_equal(stretch->reason, wanted[i].reason);
        assert_int_equal(stretch->samples, wanted[i].samples);
        assert_int_equal(stretch->left, wanted[i].samples);
        assert_int_equal(stretch->photo, wanted[i].photo);
        assert_int_equal(stretch->interval_us, 20000);
    }
}

/* Each kind of decision, for all of a stretch, and that it can be lifted to the byte. */
static void test_kinds(void **state)
{
    Fixture *f = *state;
    static const struct {
        LfDecisionKind kind;
        LfMove move;
        double x, y; /* of a point, as a shift of the engine's */
        LfState state;
        bool still;
        double wanted_x, wanted_y;
    } cases[] = {
        {LF_DECIDE_ACCEPT, 0, 0, 0, LF_STATE_PLACED, false, 0, 0},
        {LF_DECIDE_RIVAL, 0, 0, 0, LF_STATE_PLACED, false, REVIEW_RIVAL, 0},
        {LF_DECIDE_POINT, LF_MOVE_AUTO, 30, -20, LF_STATE_PLACED, false, 30, -20},
        {LF_DECIDE_POINT, LF_MOVE_SHIFT, -7, 5, LF_STATE_PLACED, false, -7, 5},
        {LF_DECIDE_AWAY, 0, 0, 0, LF_STATE_AWAY, false, 0, 0},
        {LF_DECIDE_BLOCKED, 0, 0, 0, LF_STATE_BLOCKED, false, 0, 0},
    };
    g_auto(Seen) before = seen_of(f->study, 0, 0);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfDecision decision = decision_on(f->study, &ana, 1500000, cases[i].kind);
        LfReviewStep step;
        g_autoptr(LfSpan) span = lf_study_span(f->study, &ana, 1, 1500000, 1500001, NULL);
        const LfSpanSample *sample = &g_array_index(span->samples, LfSpanSample, 0);
        decision.photo = 1;
        decision.x = sample->guess.x + cases[i].x;
        decision.y = sample->guess.y + cases[i].y;
        decision.move = cases[i].move;
        review_decide(f->study, &ana, &decision, LF_DECIDED);
        expect_span(f->study, 1000000, 2000000, cases[i].state, cases[i].still, cases[i].wanted_x,
                    cases[i].wanted_y);
        assert_int_equal(review_stretch(f->study, &ana, 1500000).left, 0);
        assert_int_equal(review_stretch(f->study, &ana, 4200000).left, 23);
        assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
        g_auto(Seen) after = seen_of(f->study, 0, 0);
        assert_string_equal(after.text->str, before.text->str);
        assert_int_equal(review_stretch(f->study, &ana, 1500000).left, 45);
    }
}

static void test_accept_blocked(void **state)
{
    Fixture *f = *state;
    LfDecision decision = decision_on(f->study, &ana, 6200000, LF_DECIDE_ACCEPT);
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    expect_span(f->study, 6000000, 6400000, LF_STATE_BLOCKED, false, 0, 0);
    assert_int_equal(review_stretch(f->study, &ana, 6200000).left, 0);
}

static void test_still_and_scopes(void **state)
{
    Fixture *f = *state;
    LfDecision decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_POINT);
    decision.photo = 1;
    decision.x = 333;
    decision.y = 222;
    decision.radius_px = 3;
    decision.move = LF_MOVE_STILL;
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    expect_span(f->study, 1000000, 2000000, LF_STATE_PLACED, true, 333, 222);

    /* The fixation only, on top of that. */
    decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_POINT);
    decision.photo = 1;
    decision.x = 10;
    decision.y = 20;
    decision.scope = LF_SCOPE_FIXATION;
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    expect_span(f->study, 1000000, 1400000, LF_STATE_PLACED, true, 333, 222);
    expect_span(f->study, 1400000, 1800000, LF_STATE_PLACED, true, 10, 20);
    expect_span(f->study, 1800000, 2000000, LF_STATE_PLACED, true, 333, 222);

    /* The sample nearest to the moment: 1.62 s. */
    decision = decision_on(f->study, &ana, 1625000, LF_DECIDE_AWAY);
    decision.scope = LF_SCOPE_SAMPLE;
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    expect_span(f->study, 1620000, 1620001, LF_STATE_AWAY, false, 0, 0);
    expect_span(f->study, 1640000, 1640001, LF_STATE_PLACED, true, 10, 20);
    expect_span(f->study, 1600000, 1600001, LF_STATE_PLACED, true, 10, 20);
}

static void test_part_left(void **state)
{
    Fixture *f = *state;
    LfDecision decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_ACCEPT);
    decision.scope = LF_SCOPE_FIXATION;
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    /* 20 samples in 0.4 s, two of them lost */
    assert_int_equal(review_stretch(f->study, &ana, 1500000).left, 45 - 18);
}

/* A weak rival of some frames beside the rival of all of them is no place of its own; one a pack
 * further on is. */
static void test_rivals_meet(void **state)
{
    Fixture *f = *state;
    LfSpanRival rivals[LF_SPAN_RIVALS_MAX];
    review_sql(f->study, "INSERT INTO pose_rival SELECT walk, t_us, photo, 1, 64, 0, 0.5 FROM pose"
                         " WHERE t_us >= 1200000 AND t_us < 1300000;"
                         "INSERT INTO pose_rival SELECT walk, t_us, photo, 2, 110, 0, 0.5 FROM pose"
                         " WHERE t_us >= 1200000 AND t_us < 1300000;");
    g_autoptr(LfSpan) span = lf_study_span(f->study, &ana, 1, 1000000, 2000000, NULL);
    assert_non_null(span);
    assert_int_equal(lf_span_rivals(span, 1000000, 2000000, rivals), 2);
    assert_true(rivals[0].dx == REVIEW_RIVAL);
    assert_true(rivals[1].dx == 110);
}

static void test_nonsense(void **state)
{
    Fixture *f = *state;
    static const struct {
        int64_t t_us;
        LfDecision change;
        const char *text;
    } cases[] = {
        {1900000, {.kind = LF_DECIDE_ACCEPT, .scope = LF_SCOPE_FIXATION}, "no fixation"},
        {4200000, {.kind = LF_DECIDE_RIVAL}, "no such rival"},
        {1500000, {.kind = LF_DECIDE_RIVAL, .rival = 1}, "no such rival"},
        {1500000, {.kind = LF_DECIDE_POINT, .photo = 99}, "no such photo"},
        {7300000, {.kind = LF_DECIDE_POINT, .photo = 1, .move = LF_MOVE_SHIFT}, "could be shifted"},
        {1500000, {.kind = LF_DECIDE_TIE}, "place nothing"},
    };
    g_autoptr(GBytes) before = bed_read(f->bed, "r.lookfall");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfDecision decision = cases[i].change;
        g_autoptr(GError) error = NULL;
        LfDecided decided;
        int64_t placement;
        LfStretch stretch = review_stretch(f->study, &ana, cases[i].t_us);
        decision.stretch = stretch.id;
        decision.version = stretch.version;
        decision.t_us = cases[i].t_us;
        assert_false(lf_study_decide(f->study, &ana, &decision, &decided, &placement, &error));
        assert_non_null(error);
        assert_int_equal(error->code, LF_ERROR_USAGE);
        if (!strstr(error->message, cases[i].text))
            fail_msg("\"%s\" is not in \"%s\"", cases[i].text, error->message);
        assert_int_equal(placement, 0);
    }
    g_autoptr(GBytes) after = bed_read(f->bed, "r.lookfall");
    assert_true(g_bytes_equal(before, after));
}

static void test_nobody(void **state)
{
    Fixture *f = *state;
    static const char *const names[] = {NULL, "", " Ana", "A\nna"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
        const LfReviewer who = {names[i], false};
        LfDecision decision = decision_on(f->study, NULL, 1500000, LF_DECIDE_ACCEPT);
        g_autoptr(GError) error = NULL;
        LfDecided decided;
        int64_t placement;
        assert_false(lf_study_decide(f->study, &who, &decision, &decided, &placement, &error));
        assert_int_equal(error->code, LF_ERROR_INPUT);
    }
}

/* Back and forth over three decisions, with the study closed in between. */
static void test_back_and_forth(void **state)
{
    Fixture *f = *state;
    static const int64_t moments[] = {1500000, 4200000, 6200000};
    LfReviewStep step, undo, redo;
    g_autoptr(GPtrArray) texts = g_ptr_array_new_with_free_func(g_free);
    for (int i = 0; i <= 3; i++) {
        g_auto(Seen) seen = seen_of(f->study, 0, 0);
        g_ptr_array_add(texts, g_strdup(seen.text->str));
        if (i == 3)
            break;
        LfDecision decision = decision_on(f->study, &ana, moments[i], LF_DECIDE_AWAY);
        review_decide(f->study, &ana, &decision, LF_DECIDED);
    }
    for (int i = 2; i >= 0; i--) {
        reopen(f);
        assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
        assert_int_equal(step.walk, 1);
        assert_true(step.from_us <= moments[i] && moments[i] < step.to_us);
        g_auto(Seen) seen = seen_of(f->study, 0, 0);
        assert_string_equal(seen.text->str, texts->pdata[i]);
    }
    assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
    assert_int_equal(step.placement, 0);
    for (int i = 1; i <= 2; i++) {
        reopen(f);
        assert_true(lf_study_review_redo(f->study, &ana, &step, NULL));
        assert_true(step.from_us <= moments[i - 1] && moments[i - 1] < step.to_us);
        g_auto(Seen) seen = seen_of(f->study, 0, 0);
        assert_string_equal(seen.text->str, texts->pdata[i]);
    }
    /* Something new ends what could be done again, and can itself be undone. */
    LfDecision decision = decision_on(f->study, &ana, 7300000, LF_DECIDE_ACCEPT);
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    assert_true(lf_study_review_steps(f->study, &ana, &undo, &redo, NULL));
    assert_string_equal(undo.kind, "accept");
    assert_int_equal(redo.placement, 0);
    assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
    assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
    g_auto(Seen) seen = seen_of(f->study, 0, 0);
    assert_string_equal(seen.text->str, texts->pdata[1]);
}

static void test_two_reviewers(void **state)
{
    Fixture *f = *state;
    LfReviewStep step;
    LfDecided decided;
    /* Both have opened the same stretch. */
    LfDecision of_ana = decision_on(f->study, &ana, 1500000, LF_DECIDE_ACCEPT);
    LfDecision of_ben = decision_on(f->study, &ben, 1500000, LF_DECIDE_AWAY);
    g_autoptr(LfStudy) other = lf_study_open(bed_path(f->bed, "r.lookfall"), LF_STUDY_WRITE, NULL);
    assert_non_null(other);
    int64_t first = review_decide(f->study, &ana, &of_ana, LF_DECIDED);
    review_decide(other, &ben, &of_ben, LF_DECIDED_CHANGED);
    expect_span(f->study, 1000000, 2000000, LF_STATE_PLACED, false, 0, 0);
    /* Ben has looked again: his word is newer. */
    of_ben = decision_on(other, &ben, 1500000, LF_DECIDE_AWAY);
    review_decide(other, &ben, &of_ben, LF_DECIDED);
    expect_span(f->study, 1000000, 2000000, LF_STATE_AWAY, false, 0, 0);
    g_autoptr(GPtrArray) by = lf_study_placed_by(f->study, &ana, 1, 1000000, 2000000, NULL);
    assert_int_equal(by->len, 2);
    /* Undo goes back over one's own alone. */
    assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
    assert_int_equal(step.placement, first);
    expect_span(f->study, 1000000, 2000000, LF_STATE_AWAY, false, 0, 0);
    assert_true(lf_study_review_redo(f->study, &ana, &step, NULL));
    /* Ana lifts what Ben said; that is a step of hers. */
    g_autoptr(GPtrArray) placements = lf_study_placements(f->study, &ana, 1, NULL);
    assert_int_equal(placements->len, 2);
    int64_t of_bens = ((const LfPlacement *)placements->pdata[0])->id;
    assert_true(lf_study_lift(f->study, &ana, of_bens, &decided, NULL));
    assert_int_equal(decided, LF_DECIDED);
    expect_span(f->study, 1000000, 2000000, LF_STATE_PLACED, false, 0, 0);
    assert_true(lf_study_lift(f->study, &ana, of_bens, &decided, NULL));
    assert_int_equal(decided, LF_DECIDED_GONE);
    assert_true(lf_study_review_undo(f->study, &ana, &step, NULL));
    assert_true(step.lifts);
    expect_span(f->study, 1000000, 2000000, LF_STATE_AWAY, false, 0, 0);
}

static void test_blind(void **state)
{
    Fixture *f = *state;
    LfDecision decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_ACCEPT);
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    g_auto(Seen) before = seen_of(f->study, 0, 0);
    LfStretch seen_by_ana = review_stretch(f->study, &ana, 1500000);
    /* Eve sees nothing of it. */
    LfStretch stretch = review_stretch(f->study, &eve, 1500000);
    assert_int_equal(stretch.left, 45);
    g_autoptr(LfSpan) span = lf_study_span(f->study, &eve, 1, stretch.from_us, stretch.to_us, NULL);
    assert_int_equal(span->placements->len, 0);
    for (guint i = 0; i < span->samples->len; i++)
        assert_int_equal(g_array_index(span->samples, LfSpanSample, i).placement, 0);
    /* And what she says changes nothing for anybody else. */
    decision = decision_on(f->study, &eve, 1500000, LF_DECIDE_AWAY);
    review_decide(f->study, &eve, &decision, LF_DECIDED);
    assert_int_equal(review_stretch(f->study, &eve, 1500000).left, 0);
    g_auto(Seen) after = seen_of(f->study, 0, 0);
    assert_string_equal(after.text->str, before.text->str);
    assert_int_equal(review_stretch(f->study, &ana, 1500000).version, seen_by_ana.version);
    /* What she placed with open eyes is not hers to judge blind. */
    const LfReviewer open = {"Eve", false};
    decision = decision_on(f->study, &open, 4200000, LF_DECIDE_ACCEPT);
    review_decide(f->study, &open, &decision, LF_DECIDED);
    g_autoptr(GArray) list = lf_study_stretches(f->study, &eve, NULL);
    for (guint i = 0; i < list->len; i++)
        assert_int_not_equal(g_array_index(list, LfStretch, i).from_us, 4000000);
    assert_int_equal(list->len, 3);
}

/* A cast done anew: placements stay on top, stretches that are other ones are gone. */
static void test_cast_again(void **state)
{
    Fixture *f = *state;
    int left;
    LfDecision decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_ACCEPT);
    LfDecision late = decision_on(f->study, &ana, 4200000, LF_DECIDE_ACCEPT);
    LfStretch kept = review_stretch(f->study, &ana, 4200000);
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    /* The same results from another run: the same stretches, and what was open stays good. */
    review_cast_again(f->study, 0);
    assert_true(lf_study_stretches_refresh(f->study, 0, &left, NULL));
    assert_int_equal(review_stretch(f->study, &ana, 4200000).id, kept.id);
    assert_int_equal(review_stretch(f->study, &ana, 1500000).left, 0);
    review_decide(f->study, &ana, &late, LF_DECIDED);
    /* Other ones: what a person said holds, the stretch they saw does not. */
    review_cast_again(f->study, 25);
    review_sql(f->study, "UPDATE cast_sample SET confidence = 0.3 WHERE state = 3");
    assert_true(lf_study_stretches_refresh(f->study, 0, &left, NULL));
    expect_span(f->study, 1000000, 2000000, LF_STATE_PLACED, false, 0, 0);
    assert_int_equal(review_stretch(f->study, &ana, 1500000).left, 0);
    late.version = review_stretch(f->study, &ana, 4200000).version;
    review_decide(f->study, &ana, &late, LF_DECIDED_GONE);
}

/* Placements hold as long as video and gaze file are those they were made on. */
static void test_other_gaze(void **state)
{
    Fixture *f = *state;
    LfDecision decision = decision_on(f->study, &ana, 1500000, LF_DECIDE_AWAY);
    g_auto(Seen) before = seen_of(f->study, 0, 0);
    review_decide(f->study, &ana, &decision, LF_DECIDED);
    review_sql(f->study, "UPDATE file SET sha256 = 'other' WHERE id = (SELECT gaze FROM walk)");
    review_cast_again(f->study, 0);
    g_auto(Seen) after = seen_of(f->study, 0, 0);
    assert_string_equal(after.text->str, before.text->str);
    g_autoptr(GPtrArray) names = lf_study_reviewers(f->study, NULL);
    assert_int_equal(names->len, 1); /* nothing is lost, it only counts no more */
}

/* Ten decisions 6 s apart, a pause of ten minutes, five more: 6 s each. */
static void test_pace(void **state)
{
    Fixture *f = *state;
    double seconds;
    assert_true(lf_study_review_pace(f->study, &ana, &seconds, NULL));
    assert_true(isnan(seconds));
    for (int i = 0; i < 15; i++) {
        int at = 6 * i + (i >= 10 ? 600 : 0);
        g_autofree char *sql = g_strdup_printf(
            "INSERT INTO placement(walk, from_us, to_us, kind, detail, who, at, program, inputs,"
            " settled) VALUES(1, 0, 1, 'away', '{}', '%s',"
            " strftime('%%Y-%%m-%%dT%%H:%%M:%%SZ', 1700000000 + %d, 'unixepoch'), '', '', 1)",
            "Ana", at);
        review_sql(f->study, sql);
    }
    assert_true(lf_study_review_pace(f->study, &ana, &seconds, NULL));
    assert_true(fabs(seconds - 6) < 1e-9);
    /* Who has none of their own yet is told by what others took. */
    assert_true(lf_study_review_pace(f->study, &ben, &seconds, NULL));
    assert_true(fabs(seconds - 6) < 1e-9);
    assert_true(lf_study_review_pace(f->study, &eve, &seconds, NULL));
    assert_true(isnan(seconds));
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_stretches),      TEST(test_kinds),
        TEST(test_accept_blocked), TEST(test_still_and_scopes),
        TEST(test_part_left),      TEST(test_nonsense),
        TEST(test_nobody),         TEST(test_back_and_forth),
        TEST(test_two_reviewers),  TEST(test_blind),
        TEST(test_cast_again),     TEST(test_other_gaze),
        TEST(test_pace),           TEST(test_rivals_meet),
    };
    return cmocka_run_group_tests(tests, group_set_up, group_tear_down);
}
