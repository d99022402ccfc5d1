/* Areas and marks in a study: all or nothing, undo by number, what is refused. No video is needed:
 * the walks are rows made here. */
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
    GString *notes;
} Fixture;

/* A photo of 1,000 x 800 px and walks of 10 s, as rows alone. */
static const char rows[] =
    "INSERT INTO file VALUES(1, '/f', 'f', '', 0, 0);"
    "INSERT INTO photo VALUES(1, 'shelf', 1, 1000, 800, NULL, 500, 1, 0, 1, '', x'');"
    "INSERT INTO photo VALUES(2, 'sign', 1, 400, 400, NULL, 500, 1, 0, 1, '', x'');"
    "INSERT INTO walk SELECT value, 'w' || value, NULL, NULL, 0, 1, 1, NULL, NULL, NULL, NULL, "
    "NULL,"
    " 0, 'start', 640, 360, 0, 'h264', 25, 0, 250, 0, 10000000, 0, 0, 500, 500, 320, 180, '', 4, 0,"
    " 0, 0, 10000 FROM (SELECT 1 AS value UNION SELECT 2)";

static int set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    LfCastSettings settings = lf_cast_settings_default();
    sqlite3 *db;
    f->bed = bed_new();
    f->notes = g_string_new(NULL);
    f->study = lf_study_create(bed_path(f->bed, "s.lookfall"), &settings, NULL);
    assert_non_null(f->study);
    assert_int_equal(sqlite3_open(bed_path(f->bed, "s.lookfall"), &db), SQLITE_OK);
    if (sqlite3_exec(db, rows, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s", sqlite3_errmsg(db));
    sqlite3_close(db);
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lf_study_close(f->study);
    g_string_free(f->notes, TRUE);
    bed_free(f->bed);
    g_free(f);
    return 0;
}

static void note(const char *sentence, void *data)
{
    g_string_append(((Fixture *)data)->notes, sentence);
}

static LfArea *box(const char *photo, const char *name, const char *points)
{
    LfArea *area = lf_area_new(photo, name, "top", LF_AREA_RECT, points, NULL);
    assert_non_null(area);
    return area;
}

/* Puts areas, which it takes; demands the fault, or that there is none. */
static void put(Fixture *f, GPtrArray *areas, const char *fault)
{
    g_autoptr(GError) error = NULL;
    bool ok = lf_study_area_put(f->study, areas, NULL, &error);
    if (ok != !fault || (fault && !strstr(error->message, fault)))
        fail_msg("%s", ok ? "was taken" : error->message);
    if (!ok)
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
}

static GPtrArray *list_of(LfArea *area)
{
    GPtrArray *areas = lf_area_list_new();
    g_ptr_array_add(areas, area);
    return areas;
}

/* "a b c" of a photo, in its order. */
static void expect_names(Fixture *f, const char *photo, const char *wanted)
{
    g_autoptr(GPtrArray) areas = lf_study_areas(f->study, photo, NULL);
    g_autoptr(GString) names = g_string_new(NULL);
    assert_non_null(areas);
    for (guint i = 0; i < areas->len; i++)
        g_string_append_printf(names, "%s%s", i ? " " : "", ((LfArea *)areas->pdata[i])->name);
    assert_string_equal(names->str, wanted);
}

#define BOX "0,0 10,0 10,10 0,10"

static void test_put(void **state)
{
    Fixture *f = *state;
    g_autoptr(GPtrArray) areas = lf_area_list_new();
    g_ptr_array_add(areas, box("shelf", "a", BOX));
    g_ptr_array_add(areas, box("shelf", "b", BOX));
    g_ptr_array_add(areas, box("sign", "a", BOX));
    put(f, areas, NULL);
    expect_names(f, "shelf", "a b");
    expect_names(f, NULL, "a b a");
    LfArea *a = areas->pdata[0], *b = areas->pdata[1];
    assert_true(a->id > 0 && b->id > a->id);

    g_free(a->name);
    a->name = g_strdup("A");
    assert_true(lf_area_set_points(a, LF_AREA_ELLIPSE, "50,50 60,50 50,70", NULL));
    put(f, areas, NULL);
    g_autoptr(GPtrArray) read = lf_study_areas(f->study, "shelf", NULL);
    const LfArea *changed = read->pdata[0];
    g_autofree char *points = lf_area_points(changed);
    assert_string_equal(changed->name, "A");
    assert_string_equal(changed->group_path, "top");
    assert_int_equal(changed->shape, LF_AREA_ELLIPSE);
    assert_string_equal(points, "50,50 60,50 50,70");

    /* Removed, and put back under its number. */
    int64_t id = a->id;
    assert_true(lf_study_area_remove(f->study, &id, 1, NULL, NULL));
    expect_names(f, "shelf", "b");
    put(f, areas, NULL);
    assert_true(a->id == id);
    expect_names(f, "shelf", "b A");
    const int64_t order[] = {id, b->id};
    assert_true(lf_study_area_order(f->study, "shelf", order, 2, NULL, NULL));
    expect_names(f, "shelf", "A b");
}

static void test_put_refused(void **state)
{
    Fixture *f = *state;
    static const struct {
        const char *photo, *name, *points, *fault;
    } cases[] = {
        {"shelf", "a", BOX, "an area called a on photo shelf already"},
        {"wall", "c", BOX, "no photo called wall"},
        {"shelf", "", BOX, "name"},
        {"shelf", "c", "0,0 10,10 10,0 0,10", "crosses"},
        {"shelf", "c", "5000,0 5010,0 5010,10 5000,10", "lies off the photo"},
        {"shelf", "c", "0,0 10,0 20,0 30,0", "no surface"},
    };
    g_autoptr(GPtrArray) first = list_of(box("shelf", "a", BOX));
    put(f, first, NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GPtrArray) areas = list_of(box("shelf", "fine", BOX));
        g_ptr_array_add(areas, box(cases[i].photo, cases[i].name, cases[i].points));
        put(f, areas, cases[i].fault);
        expect_names(f, NULL, "a"); /* nothing was written */
        assert_true(((LfArea *)areas->pdata[0])->id == 0);
    }
    const int64_t twice[] = {1, 1}, other[] = {7}, none[] = {99};
    assert_false(lf_study_area_order(f->study, "shelf", twice, 2, NULL, NULL));
    assert_false(lf_study_area_order(f->study, "shelf", other, 1, NULL, NULL));
    assert_false(lf_study_area_remove(f->study, none, 1, NULL, NULL));
    expect_names(f, "shelf", "a");
}

static void test_import(void **state)
{
    Fixture *f = *state;
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) areas = list_of(box("", "a", BOX));
    g_ptr_array_add(areas, box("", "b", "990,0 1040,0 1040,10 990,10"));
    assert_true(lf_study_area_import(f->study, "shelf", areas, false, note, f, NULL));
    expect_names(f, "shelf", "a b");
    assert_string_equal(f->notes->str, "1 of the areas reaches beyond the photo, where no gaze can "
                                       "fall: b");
    assert_false(lf_study_area_import(f->study, "shelf", areas, false, note, f, &error));
    assert_non_null(strstr(error->message, "already"));
    assert_true(lf_study_area_import(f->study, "shelf", areas, true, NULL, NULL, NULL));
    expect_names(f, "shelf", "a b");
    /* One that cannot be used leaves all as it was, those to be replaced too. */
    g_autoptr(GPtrArray) bad = list_of(box("", "c", BOX));
    g_ptr_array_add(bad, box("", "c", BOX));
    assert_false(lf_study_area_import(f->study, "shelf", bad, true, NULL, NULL, NULL));
    expect_names(f, "shelf", "a b");
    assert_false(lf_study_area_import(f->study, "wall", areas, true, NULL, NULL, NULL));
}

/* --- marks
 * ---------------------------------------------------------------------------------------- */

static GPtrArray *mark_of(const char *walk, const char *name, int64_t from_us, int64_t to_us,
                          bool span)
{
    GPtrArray *marks = lf_mark_list_new();
    g_ptr_array_add(marks, lf_mark_new(walk, name, from_us, to_us, span, "Ida"));
    return marks;
}

static void expect_marks(Fixture *f, const char *const *walks, const char *wanted)
{
    g_autoptr(GPtrArray) marks = lf_study_marks(f->study, walks, NULL);
    g_autoptr(GString) text = g_string_new(NULL);
    assert_non_null(marks);
    for (guint i = 0; i < marks->len; i++) {
        const LfMark *mark = marks->pdata[i];
        g_string_append_printf(text, "%s%s %s %.1f", i ? ", " : "", mark->walk, mark->name,
                               (double)mark->from_us * 1e-6);
        if (mark->span)
            g_string_append_printf(text, "-%.1f", (double)mark->to_us * 1e-6);
    }
    assert_string_equal(text->str, wanted);
}

static void test_marks(void **state)
{
    Fixture *f = *state;
    static const char *const second[] = {"w2", NULL};
    g_autoptr(GPtrArray) marks = mark_of("w1", "door", 2000000, 0, false);
    g_ptr_array_add(marks, lf_mark_new("w1", "talk", 1000000, 3000000, true, NULL));
    g_ptr_array_add(marks, lf_mark_new("w2", "door", 0, 0, false, NULL));
    assert_true(lf_study_mark_put(f->study, marks, NULL, NULL));
    expect_marks(f, NULL, "w1 talk 1.0-3.0, w1 door 2.0, w2 door 0.0");
    expect_marks(f, second, "w2 door 0.0");

    LfMark *door = marks->pdata[0];
    int64_t id = door->id;
    door->from_us = 4000000;
    door->to_us = 5000000;
    door->span = true;
    assert_true(lf_study_mark_put(f->study, marks, NULL, NULL));
    expect_marks(f, NULL, "w1 talk 1.0-3.0, w1 door 4.0-5.0, w2 door 0.0");
    assert_true(lf_study_mark_remove(f->study, &id, 1, NULL, NULL));
    expect_marks(f, NULL, "w1 talk 1.0-3.0, w2 door 0.0");
    assert_true(lf_study_mark_put(f->study, marks, NULL, NULL)); /* undone: under its number */
    assert_true(door->id == id);
    expect_marks(f, NULL, "w1 talk 1.0-3.0, w1 door 4.0-5.0, w2 door 0.0");
    assert_false(lf_study_mark_remove(f->study, (const int64_t[]){id, 99}, 2, NULL, NULL));
    expect_marks(f, NULL, "w1 talk 1.0-3.0, w1 door 4.0-5.0, w2 door 0.0");
}

static void test_marks_refused(void **state)
{
    Fixture *f = *state;
    static const struct {
        const char *walk, *name;
        int64_t from_us, to_us;
        bool span;
        const char *fault;
    } cases[] = {
        {"w9", "a", 0, 0, false, "no walk called w9"},
        {"w1", "", 0, 0, false, "name"},
        {"w1", "a", -1, 0, false, "outside walk w1, which goes from 0 to 10 s"},
        {"w1", "a", 10000001, 0, false, "outside walk w1"},
        {"w1", "a", 9000000, 10000001, true, "outside walk w1"},
        {"w1", "a", 5000000, 5000000, true, "not after its start"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) marks = mark_of("w1", "fine", 0, 0, false);
        g_ptr_array_add(marks, lf_mark_new(cases[i].walk, cases[i].name, cases[i].from_us,
                                           cases[i].to_us, cases[i].span, NULL));
        bool ok = lf_study_mark_put(f->study, marks, NULL, &error);
        if (ok || !strstr(error->message, cases[i].fault))
            fail_msg("case %zu: %s", i, ok ? "was taken" : error->message);
        expect_marks(f, NULL, "");
    }
}

static void test_mark_names(void **state)
{
    Fixture *f = *state;
    assert_true(lf_study_mark_name_put(f->study, "door", "d", NULL));
    assert_true(lf_study_mark_name_put(f->study, "talk", "t", NULL));
    assert_true(lf_study_mark_name_put(f->study, "door", "e", NULL)); /* another key */
    assert_false(lf_study_mark_name_put(f->study, "till", "t", NULL));
    assert_false(lf_study_mark_name_put(f->study, "till", "", NULL));
    assert_false(lf_study_mark_name_put(f->study, "", NULL, NULL));
    g_autoptr(GPtrArray) marks = mark_of("w1", "door", 0, 0, false);
    assert_true(lf_study_mark_put(f->study, marks, NULL, NULL));
    assert_false(lf_study_mark_name_remove(f->study, "door", NULL)); /* a mark bears it */
    assert_false(lf_study_mark_name_rename(f->study, "door", "talk", NULL));
    assert_false(lf_study_mark_name_rename(f->study, "nobody", "x", NULL));
    assert_true(lf_study_mark_name_rename(f->study, "door", "gate", NULL));
    expect_marks(f, NULL, "w1 gate 0.0");
    assert_true(lf_study_mark_name_remove(f->study, "talk", NULL));
    assert_false(lf_study_mark_name_remove(f->study, "talk", NULL));
    g_autoptr(GPtrArray) names = lf_study_mark_names(f->study, NULL);
    assert_int_equal(names->len, 1);
    assert_string_equal(((LfMarkName *)names->pdata[0])->name, "gate");
    assert_string_equal(((LfMarkName *)names->pdata[0])->key, "e");
}

static void test_mark_import(void **state)
{
    Fixture *f = *state;
    static const char text[] = "walk,name,from_s,to_s\nw1,door,2,\nw1,talk,3,4\nw2,door,2,\n";
    static const char other[] = "walk,name,from_s,to_s\nw1,door,5,\n";
    static const char bad[] = "walk,name,from_s,to_s\nw1,door,6,\nw2,door,60,\n";
    for (int round = 0; round < 2; round++) {
        g_autoptr(GArray) at = g_array_new(FALSE, FALSE, sizeof(gsize));
        g_autoptr(GPtrArray) marks = lf_mark_read_csv(text, strlen(text), "m.csv", at, NULL);
        gsize added;
        assert_true(lf_study_mark_import(f->study, marks, "m.csv", at, false, &added, NULL));
        assert_int_equal(added, round ? 0 : 3); /* not added twice */
        expect_marks(f, NULL, "w1 door 2.0, w1 talk 3.0-4.0, w2 door 2.0");
    }
    g_autoptr(GArray) at = g_array_new(FALSE, FALSE, sizeof(gsize));
    g_autoptr(GPtrArray) broken = lf_mark_read_csv(bad, strlen(bad), "m.csv", at, NULL);
    g_autoptr(GError) error = NULL;
    assert_false(lf_study_mark_import(f->study, broken, "m.csv", at, true, NULL, &error));
    assert_non_null(strstr(error->message, "m.csv, row 3: the mark door at 60 s lies outside"));
    expect_marks(f, NULL, "w1 door 2.0, w1 talk 3.0-4.0, w2 door 2.0");
    g_array_set_size(at, 0);
    g_autoptr(GPtrArray) replacing = lf_mark_read_csv(other, strlen(other), "m.csv", at, NULL);
    assert_true(lf_study_mark_import(f->study, replacing, "m.csv", at, true, NULL, NULL));
    expect_marks(f, NULL, "w1 door 5.0, w2 door 2.0"); /* w2 is not named in it */
}

int main(void)
{
#define WITH(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        WITH(test_put),           WITH(test_put_refused), WITH(test_import),      WITH(test_marks),
        WITH(test_marks_refused), WITH(test_mark_names),  WITH(test_mark_import),
    };
    return cmocka_run_group_tests_name("study/areas", tests, NULL, NULL);
}
