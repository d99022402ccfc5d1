/* The way back for areas and marks: each person their own, after the study was closed too, and
 * never over what somebody else has done since. Studies from before it are read and brought up to
 * date. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

#include <lookfall/area.h>
#include <lookfall/mark.h>

#include "study/bed.h"

typedef struct {
    Bed *bed;
    LfStudy *study;
} Fixture;

/* A photo of 1,000 x 800 px and a walk of 10 s, as rows alone. */
static const char rows[] =
    "INSERT INTO file VALUES(1, '/f', 'f', '', 0, 0);"
    "INSERT INTO photo VALUES(1, 'shelf', 1, 1000, 800, NULL, 500, 1, 0, 1, '', x'');"
    "INSERT INTO photo VALUES(2, 'sign', 1, 400, 400, NULL, 500, 1, 0, 1, '', x'');"
    "INSERT INTO walk VALUES(1, 'w', NULL, NULL, 0, 1, 1, NULL, NULL, NULL, NULL, NULL, 0, 'start',"
    " 640, 360, 0, 'h264', 25, 0, 250, 0, 10000000, 0, 0, 500, 500, 320, 180, '', 4, 0, 0, 0,"
    " 10000)";

/* Runs SQL on the study behind its back. */
static void run_sql(Fixture *f, const char *sql)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open(bed_path(f->bed, "s.lookfall"), &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(db));
    sqlite3_close(db);
}

static int set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    LfCastSettings settings = lf_cast_settings_default();
    f->bed = bed_new();
    f->study = lf_study_create(bed_path(f->bed, "s.lookfall"), &settings, NULL);
    assert_non_null(f->study);
    run_sql(f, rows);
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lf_study_close(f->study);
    bed_free(f->bed);
    g_free(f);
    return 0;
}

static void open_again(Fixture *f)
{
    lf_study_close(f->study);
    f->study = lf_study_open(bed_path(f->bed, "s.lookfall"), LF_STUDY_WRITE, NULL);
    assert_non_null(f->study);
}

/* --- areas --------------------------------------------------------------------------------------
 */

/* Puts a box of this name and left edge; id 0: a new one. Gives its number. */
static int64_t put_area(Fixture *f, const char *who, int64_t id, const char *name, int x)
{
    g_autofree char *points = g_strdup_printf("%d,0 %d,0 %d,10 %d,10", x, x + 10, x + 10, x);
    g_autofree char *what = g_strdup_printf("putting %s", name);
    g_autoptr(GPtrArray) list = lf_area_list_new();
    g_autoptr(GError) error = NULL;
    LfArea *area = lf_area_new("shelf", name, "", LF_AREA_RECT, points, NULL);
    area->id = id;
    g_ptr_array_add(list, area);
    if (!lf_study_area_put(f->study, list, &(LfEdit){who, what}, &error))
        fail_msg("%s", error->message);
    return area->id;
}

static void remove_area(Fixture *f, const char *who, int64_t id)
{
    assert_true(lf_study_area_remove(f->study, &id, 1, &(LfEdit){who, "removing one"}, NULL));
}

/* "name@left name@left" in the order of drawing. */
static void expect_areas(Fixture *f, const char *wanted)
{
    g_autoptr(GPtrArray) areas = lf_study_areas(f->study, "shelf", NULL);
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        g_string_append_printf(text, "%s%s@%.0f", i ? " " : "", area->name, area->points[0].x);
    }
    assert_string_equal(text->str, wanted);
}

static void go(Fixture *f, LfEditKind kind, const char *who, bool back, LfEdited wanted)
{
    LfEdited edited;
    g_autoptr(GError) error = NULL;
    if (!lf_study_edit_go(f->study, kind, kind == LF_EDIT_AREAS ? "shelf" : "w", who, back, &edited,
                          &error))
        fail_msg("%s", error->message);
    assert_int_equal(edited, wanted);
}

static void expect_steps(Fixture *f, const char *who, const char *undo, const char *redo)
{
    g_autofree char *u = NULL, *r = NULL;
    assert_true(lf_study_edit_steps(f->study, LF_EDIT_AREAS, "shelf", who, &u, &r, NULL));
    if (g_strcmp0(u, undo) != 0 || g_strcmp0(r, redo) != 0)
        fail_msg("undo %s, redo %s", u ? u : "-", r ? r : "-");
}

static void test_areas(void **state)
{
    Fixture *f = *state;
    int64_t a = put_area(f, "Ana", 0, "a", 0), b = put_area(f, "Ana", 0, "b", 100);
    put_area(f, "Ana", a, "A", 50);
    assert_true(lf_study_area_order(f->study, "shelf", (const int64_t[]){b, a}, 2,
                                    &(LfEdit){"Ana", "ordering"}, NULL));
    remove_area(f, "Ana", b);
    expect_areas(f, "A@50");
    static const struct {
        const char *areas, *undo, *redo;
    } steps[] = {
        {"A@50", "removing one", NULL},          {"b@100 A@50", "ordering", "removing one"},
        {"A@50 b@100", "putting A", "ordering"}, {"a@0 b@100", "putting b", "putting A"},
        {"a@0", "putting a", "putting b"},       {"", NULL, "putting a"},
    };
    /* All the way back and forth, over restarts. */
    for (gsize i = 1; i < G_N_ELEMENTS(steps); i++) {
        open_again(f);
        go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED);
        expect_areas(f, steps[i].areas);
        expect_steps(f, "Ana", steps[i].undo, steps[i].redo);
    }
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDIT_NONE);
    for (gsize i = G_N_ELEMENTS(steps) - 1; i-- > 0;) {
        open_again(f);
        go(f, LF_EDIT_AREAS, "Ana", false, LF_EDITED);
        expect_areas(f, steps[i].areas);
        expect_steps(f, "Ana", steps[i].undo, steps[i].redo);
    }
    go(f, LF_EDIT_AREAS, "Ana", false, LF_EDIT_NONE);
    /* Their numbers are the old ones. */
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED);
    g_autoptr(GPtrArray) areas = lf_study_areas(f->study, "shelf", NULL);
    assert_true(((LfArea *)areas->pdata[0])->id == b && ((LfArea *)areas->pdata[1])->id == a);
}

static void test_new_change_ends_redo(void **state)
{
    Fixture *f = *state;
    put_area(f, "Ana", 0, "a", 0);
    put_area(f, "Ana", 0, "b", 100);
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED);
    put_area(f, "Ana", 0, "c", 200);
    go(f, LF_EDIT_AREAS, "Ana", false, LF_EDIT_NONE);
    expect_areas(f, "a@0 c@200");
}

static void test_no_change_no_step(void **state)
{
    Fixture *f = *state;
    int64_t a = put_area(f, "Ana", 0, "a", 0);
    put_area(f, "Ana", a, "a", 0);
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED);
    expect_areas(f, "");
}

/* Each goes their own way; what the other has changed since stays. */
static void test_two_people(void **state)
{
    Fixture *f = *state;
    int64_t a = put_area(f, "Ana", 0, "a", 0);
    int64_t b = put_area(f, "Ana", 0, "b", 100);
    put_area(f, "Ben", 0, "c", 200);
    expect_steps(f, "Ben", "putting c", NULL);
    put_area(f, "Ben", b, "b", 150);
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDIT_CHANGED);
    expect_areas(f, "a@0 b@150 c@200");
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED); /* goes on from there */
    expect_areas(f, "b@150 c@200");
    /* A name that was free is not any more. */
    put_area(f, "Ben", 0, "a", 300);
    go(f, LF_EDIT_AREAS, "Ana", false, LF_EDIT_CHANGED);
    expect_areas(f, "b@150 c@200 a@300");
    /* Removed by somebody else: nothing to change back. */
    int64_t d = put_area(f, "Ana", 0, "d", 400);
    put_area(f, "Ana", d, "d", 450);
    remove_area(f, "Ben", d);
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDIT_CHANGED);
    expect_areas(f, "b@150 c@200 a@300");
    go(f, LF_EDIT_AREAS, "Ben", true, LF_EDITED);
    expect_areas(f, "b@150 c@200 a@300 d@450");
    assert_true(a > 0);
}

static void test_refused(void **state)
{
    Fixture *f = *state;
    char *undo, *redo;
    LfEdited edited;
    int64_t a = put_area(f, "Ana", 0, "a", 0);
    g_autoptr(GError) error = NULL;
    assert_false(lf_study_edit_go(f->study, LF_EDIT_AREAS, "none", "Ana", true, &edited, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    assert_false(lf_study_edit_steps(f->study, LF_EDIT_MARKS, "none", "Ana", &undo, &redo, NULL));
    /* A change that is refused leaves no step. */
    assert_false(lf_study_area_remove(f->study, (const int64_t[]){a, 99}, 2,
                                      &(LfEdit){"Ana", "removing two"}, NULL));
    expect_steps(f, "Ana", "putting a", NULL);
    expect_areas(f, "a@0");
}

/* --- marks --------------------------------------------------------------------------------------
 */

static int64_t put_mark(Fixture *f, int64_t id, const char *name, int64_t from_us, int64_t to_us)
{
    g_autoptr(GPtrArray) list = lf_mark_list_new();
    LfMark *mark = lf_mark_new("w", name, from_us, to_us, to_us > 0, "Ana");
    mark->id = id;
    g_ptr_array_add(list, mark);
    assert_true(lf_study_mark_put(f->study, list, &(LfEdit){"Ana", "noting"}, NULL));
    return mark->id;
}

/* "name from to name from to", s; 0 for a moment. */
static void expect_marks(Fixture *f, const char *wanted)
{
    g_autoptr(GPtrArray) marks = lf_study_marks(f->study, NULL, NULL);
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < marks->len; i++) {
        const LfMark *mark = marks->pdata[i];
        g_string_append_printf(text, "%s%s %d %d", i ? " " : "", mark->name,
                               (int)(mark->from_us / 1000000),
                               mark->span ? (int)(mark->to_us / 1000000) : 0);
    }
    assert_string_equal(text->str, wanted);
}

static void test_marks(void **state)
{
    Fixture *f = *state;
    int64_t a = put_mark(f, 0, "door", 1000000, 0);
    put_mark(f, a, "door", 1000000, 3000000);
    assert_true(lf_study_mark_remove(f->study, &a, 1, &(LfEdit){"Ana", "removing"}, NULL));
    expect_marks(f, "");
    open_again(f);
    go(f, LF_EDIT_MARKS, "Ana", true, LF_EDITED);
    expect_marks(f, "door 1 3");
    go(f, LF_EDIT_MARKS, "Ana", true, LF_EDITED);
    expect_marks(f, "door 1 0");
    go(f, LF_EDIT_MARKS, "Ana", true, LF_EDITED);
    expect_marks(f, "");
    go(f, LF_EDIT_MARKS, "Ana", false, LF_EDITED);
    go(f, LF_EDIT_MARKS, "Ana", false, LF_EDITED);
    expect_marks(f, "door 1 3");
    /* Under another name it still is the same mark, before and after. */
    assert_true(lf_study_mark_name_rename(f->study, "door", "gate", NULL));
    go(f, LF_EDIT_MARKS, "Ana", true, LF_EDITED);
    expect_marks(f, "gate 1 0");
    /* Its name is there again with it. */
    go(f, LF_EDIT_MARKS, "Ana", true, LF_EDITED);
    assert_true(lf_study_mark_name_remove(f->study, "gate", NULL));
    go(f, LF_EDIT_MARKS, "Ana", false, LF_EDITED);
    expect_marks(f, "gate 1 0");
    /* Nobody else's. */
    go(f, LF_EDIT_MARKS, "Ben", true, LF_EDIT_NONE);
}

/* --- older studies ------------------------------------------------------------------------------
 */

static void test_older_study(void **state)
{
    Fixture *f = *state;
    g_autoptr(GError) error = NULL;
    put_area(f, "Ana", 0, "a", 0);
    lf_study_close(f->study);
    /* As version 2 was. */
    run_sql(f, "DROP TABLE area_was; DROP TABLE mark_was; DROP TABLE edit_step;"
               "PRAGMA user_version = 2");
    f->study = lf_study_open(bed_path(f->bed, "s.lookfall"), LF_STUDY_READ, &error);
    if (!f->study)
        fail_msg("%s", error->message);
    expect_areas(f, "a@0");
    open_again(f);
    expect_steps(f, "Ana", NULL, NULL);
    put_area(f, "Ana", 0, "b", 100);
    go(f, LF_EDIT_AREAS, "Ana", true, LF_EDITED);
    expect_areas(f, "a@0");
    /* One from before ellipses cannot be read as it is. */
    lf_study_close(f->study);
    run_sql(f, "PRAGMA user_version = 1");
    f->study = lf_study_open(bed_path(f->bed, "s.lookfall"), LF_STUDY_READ, &error);
    assert_null(f->study);
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    assert_non_null(strstr(error->message, "older"));
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(test_areas),
        TEST(test_new_change_ends_redo),
        TEST(test_no_change_no_step),
        TEST(test_two_people),
        TEST(test_refused),
        TEST(test_marks),
        TEST(test_older_study),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
