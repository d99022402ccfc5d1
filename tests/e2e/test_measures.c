/* Measures of rendered walks, from videos to the exported table, against exact truth.
 *
 * Twice. First the samples of the cast are replaced by their true places, fixations found anew, and
 * the tables compared: what the cast adds. Then against fixations that were never computed: when
 * the renderer held the eye still (w*_truth_fixations.csv), at the mean of the true places of its
 * samples meanwhile: what all of it adds. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/lookfall.h>
#include <sqlite3.h>

#include "e2e/job.h"

/* What the project promises: dwell on each area to 3%, time to first fixation to 40 ms for 95% of
 * participant x area. */
#define MEASURES_DWELL 0.03
#define MEASURES_FIRST_SEEN_S 0.04
#define MEASURES_FIRST_SEEN_SHARE 0.95
/* Areas: a grid over the photo, so that many looks fall near an edge. */
#define MEASURES_COLUMNS 5
#define MEASURES_ROWS 4
#define MEASURES_AREAS (MEASURES_COLUMNS * MEASURES_ROWS)
#define MEASURES_WALKS 3

typedef struct {
    double dwell_s[MEASURES_AREAS], fixated_s[MEASURES_AREAS], first_seen_s[MEASURES_AREAS];
} Walk;

#define RUN(...) g_free(job_run(folder, (const char *[]){__VA_ARGS__, NULL}))

/* Lines of a file of the folder, without the header; each split at commas. */
static GPtrArray *table(const char *folder, const char *name)
{
    g_autofree char *path = g_build_filename(folder, name, NULL), *text = NULL;
    GPtrArray *rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_strfreev);
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 1; lines[i]; i++)
        if (*g_strchomp(lines[i]))
            g_ptr_array_add(rows, g_strsplit(lines[i], ",", -1));
    return rows;
}

static void add_areas(const char *folder, int width, int height)
{
    g_autoptr(GString) text = g_string_new("name,shape,points\n");
    g_autofree char *path = g_build_filename(folder, "areas.csv", NULL);
    for (int i = 0; i < MEASURES_AREAS; i++) {
        double w = (double)width / MEASURES_COLUMNS, h = (double)height / MEASURES_ROWS;
        double x = i % MEASURES_COLUMNS * w - 0.5, y = i / MEASURES_COLUMNS * h - 0.5;
        g_string_append_printf(text, "%d,rect,\"%g,%g %g,%g %g,%g %g,%g\"\n", i, x, y, x + w, y,
                               x + w, y + h, x, y + h);
    }
    assert_true(g_file_set_contents(path, text->str, -1, NULL));
    RUN(LOOKFALL, "aoi", "import", "w.study", "areas.csv");
}

static int area_at(double x, double y, int width, int height)
{
    int column = (int)((x + 0.5) * MEASURES_COLUMNS / width);
    int row = (int)((y + 0.5) * MEASURES_ROWS / height);
    return CLAMP(row, 0, MEASURES_ROWS - 1) * MEASURES_COLUMNS +
           CLAMP(column, 0, MEASURES_COLUMNS - 1);
}

/* The exported table of the study as it is now. */
static void measure(const char *folder, Walk walks[MEASURES_WALKS])
{
    RUN(LOOKFALL, "fixate", "w.study");
    RUN(LOOKFALL, "export", "w.study", "measures", "--level", "area", "--columns",
        "walk,area,dwell_s,fixation_total_s,first_seen_s", "--out", "m.csv", "--force");
    g_autoptr(GPtrArray) rows = table(folder, "m.csv");
    assert_int_equal(rows->len, MEASURES_WALKS * MEASURES_AREAS);
    for (guint i = 0; i < rows->len; i++) {
        char **cell = rows->pdata[i];
        Walk *walk = &walks[i / MEASURES_AREAS];
        guint area = i % MEASURES_AREAS;
        assert_int_equal(atoi(cell[0] + 1), i / MEASURES_AREAS + 1);
        assert_int_equal(atoi(cell[1]), area);
        walk->dwell_s[area] = g_ascii_strtod(cell[2], NULL);
        walk->fixated_s[area] = g_ascii_strtod(cell[3], NULL);
        walk->first_seen_s[area] = *cell[4] ? g_ascii_strtod(cell[4], NULL) : (double)NAN;
    }
}

/* Replaces what was cast by what is true; samples on what the photo does not show stay. */
static void put_truth(const char *folder, const char *truths)
{
    static const char *const states[] = {"lost", "away", "blocked", "-", "visible"};
    g_autofree char *path = g_build_filename(folder, "w.study", NULL);
    sqlite3 *db;
    sqlite3_stmt *put;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(
                         db,
                         "UPDATE cast_sample SET state = ?1, photo = iif(?1 = 4, 1, NULL),"
                         " x_px = iif(?1 = 4, ?2, NULL), y_px = iif(?1 = 4, ?3, NULL),"
                         " radius_px = iif(?1 = 4, 0, NULL) WHERE walk = ?4 AND t_us ="
                         " (SELECT t_us FROM gaze WHERE walk = ?4 ORDER BY t_us LIMIT 1 OFFSET ?5)",
                         -1, &put, NULL),
                     SQLITE_OK);
    sqlite3_exec(db, "BEGIN", NULL, NULL, NULL);
    for (int w = 1; w <= MEASURES_WALKS; w++) {
        g_autofree char *name = g_strdup_printf("w%02d_truth.csv", w);
        g_autoptr(GPtrArray) rows = table(truths, name);
        for (guint i = 0; i < rows->len; i++) {
            char **cell = rows->pdata[i];
            for (int state = 0; state < (int)G_N_ELEMENTS(states); state++) {
                if (strcmp(cell[1], states[state]) != 0)
                    continue;
                sqlite3_bind_int(put, 1, state);
                sqlite3_bind_double(put, 2, g_ascii_strtod(cell[3], NULL));
                sqlite3_bind_double(put, 3, g_ascii_strtod(cell[4], NULL));
                sqlite3_bind_int(put, 4, w);
                sqlite3_bind_int(put, 5, (int)i);
                assert_int_equal(sqlite3_step(put), SQLITE_DONE);
                assert_int_equal(sqlite3_changes(db), 1);
                sqlite3_reset(put);
            }
        }
    }
    /* Fixations know by the chunks' runs whether they are up to date; these were not cast. */
    sqlite3_exec(db, "DELETE FROM fixation_run; COMMIT", NULL, NULL, NULL);
    sqlite3_finalize(put);
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

/* What the renderer meant, without any computation of ours. */
static void held(const char *truths, int width, int height, Walk walks[MEASURES_WALKS])
{
    for (int w = 0; w < MEASURES_WALKS; w++) {
        g_autofree char *rests_name = g_strdup_printf("w%02d_truth_fixations.csv", w + 1);
        g_autofree char *truth_name = g_strdup_printf("w%02d_truth.csv", w + 1);
        g_autoptr(GPtrArray) rests = table(truths, rests_name);
        g_autoptr(GPtrArray) truth = table(truths, truth_name);
        for (int a = 0; a < MEASURES_AREAS; a++) {
            walks[w].fixated_s[a] = 0;
            walks[w].first_seen_s[a] = (double)NAN;
        }
        for (guint i = 0; i < rests->len; i++) {
            char **rest = rests->pdata[i];
            double from_s = g_ascii_strtod(rest[0], NULL), to_s = g_ascii_strtod(rest[1], NULL);
            double x = 0, y = 0;
            int visible = 0, all = 0;
            for (guint k = 0; k < truth->len; k++) {
                char **cell = truth->pdata[k];
                double t_s = g_ascii_strtod(cell[0], NULL);
                if (t_s < from_s || t_s >= to_s)
                    continue;
                all++;
                if (strcmp(cell[1], "visible") == 0) {
                    visible++;
                    x += g_ascii_strtod(cell[3], NULL);
                    y += g_ascii_strtod(cell[4], NULL);
                }
            }
            if (2 * visible <= all)
                continue;
            int area = area_at(x / visible, y / visible, width, height);
            walks[w].fixated_s[area] += to_s - from_s;
            if (isnan(walks[w].first_seen_s[area]))
                walks[w].first_seen_s[area] = from_s;
        }
    }
}

static void expect_first_seen(const Walk *is, const Walk *truth, const char *what)
{
    int seen = 0, right = 0;
    for (int w = 0; w < MEASURES_WALKS; w++)
        for (int a = 0; a < MEASURES_AREAS; a++) {
            double x = is[w].first_seen_s[a], y = truth[w].first_seen_s[a];
            if (isnan(x) && isnan(y))
                continue;
            seen++;
            right += fabs(x - y) <= MEASURES_FIRST_SEEN_S; /* not where one is NaN */
        }
    print_message("%s: first seen right for %d of %d\n", what, right, seen);
    assert_true(seen >= 15);
    assert_true(right >= MEASURES_FIRST_SEEN_SHARE * seen);
}

static void test_measures(void **state)
{
    (void)state;
    const JobRender render = {"small", "411", "3", "10"};
    g_autofree char *truths = job_render(&render);
    char *folder = job_study(truths);
    Walk cast[MEASURES_WALKS], truth[MEASURES_WALKS], meant[MEASURES_WALKS];
    g_autofree char *path = g_build_filename(folder, "w.study", NULL);
    g_autoptr(LfStudy) study = lf_study_open(path, LF_STUDY_READ, NULL);
    g_autoptr(GPtrArray) photos = lf_study_photos(study, NULL);
    assert_int_equal(photos->len, 1);
    const LfStudyPhoto *photo = photos->pdata[0];
    int width = photo->report.width, height = photo->report.height;
    add_areas(folder, width, height);

    measure(folder, cast);
    put_truth(folder, truths);
    measure(folder, truth);
    for (int a = 0; a < MEASURES_AREAS; a++) {
        double is = 0, wanted = 0;
        for (int w = 0; w < MEASURES_WALKS; w++) {
            is += cast[w].dwell_s[a];
            wanted += truth[w].dwell_s[a];
        }
        if (fabs(is - wanted) > MEASURES_DWELL * wanted)
            fail_msg("area %d: dwell %g s, in truth %g s", a, is, wanted);
    }
    expect_first_seen(cast, truth, "cast against true places");

    held(truths, width, height, meant);
    double is = 0, wanted = 0;
    for (int w = 0; w < MEASURES_WALKS; w++)
        for (int a = 0; a < MEASURES_AREAS; a++) {
            is += cast[w].fixated_s[a];
            wanted += meant[w].fixated_s[a];
        }
    print_message("fixated %.3f s, the eye was held for %.3f s\n", is, wanted);
    assert_true(wanted > 10);
    assert_true(fabs(is - wanted) <= MEASURES_DWELL * wanted);
    expect_first_seen(cast, meant, "cast against the eye held");
    job_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_measures)};
    return cmocka_run_group_tests_name("e2e/measures", tests, NULL, NULL);
}
