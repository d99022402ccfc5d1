/* Areas, marks and measures through the command line, on one small study that is cast once. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "study/bed.h"

static const char areas[] = "name,group,shape,points\n"
                            "left,top,rect,\"-0.5,-0.5 399.5,-0.5 399.5,499.5 -0.5,499.5\"\n"
                            "right,top,rect,\"399.5,-0.5 799.5,-0.5 799.5,499.5 399.5,499.5\"\n";

/* bed_video shows photo pixels one to one, its window's corner at (160 + 150 sin(0.6 t), 70 +
 * 60 cos(0.8 t)). The eye rests on 320,250 (left) and 460,250 (right) of the photo in turn, 0.6 s
 * each, though the head moves: 8 rests on the left and 7 on the right. */
static void write_gaze(Bed *bed)
{
    g_autoptr(GString) text = g_string_new("t_s,x_px,y_px\n");
    for (int i = 0; i < 900; i++) {
        double t_s = i / 100.0, x = i / 60 % 2 ? 460 : 320;
        g_string_append_printf(text, "%.3f,%.2f,%.2f\n", t_s, x - (160 + 150 * sin(0.6 * t_s)),
                               250 - (70 + 60 * cos(0.8 * t_s)));
    }
    bed_write(bed, "w.csv", text->str);
}

static int set_up(void **state)
{
    Bed *bed = bed_new();
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 9);
    write_gaze(bed);
    bed_expect(bed, 0, NULL, "new s.lookfall");
    bed_expect(bed, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add s.lookfall --name w --video w.mp4 --gaze w.csv");
    *state = bed;
    return 0;
}

static int tear_down(void **state)
{
    bed_free(*state);
    return 0;
}

static const char *const kinds[] = {"samples",     "poses",     "fixations",
                                    "visits",      "measures",  "sequences",
                                    "transitions", "entropies", "comparisons"};

/* What is still missing is said, in the order of work. */
static void test_order(void **state)
{
    Bed *bed = *state;
    bed_write(bed, "areas.csv", areas);
    bed_expect(bed, 3, "there is no area in this study yet", "export s.lookfall measures");
    bed_expect(bed, 0, "2 areas read onto photo shelf", "aoi import s.lookfall areas.csv");
    bed_expect(bed, 3, "there are no fixations", "export s.lookfall measures");
    bed_expect(bed, 3, "lookfall fixate", "export s.lookfall fixations");
    bed_expect(bed, 0, NULL, "cast s.lookfall");
    bed_expect(bed, 3, "there are no fixations", "export s.lookfall measures");
    bed_expect(bed, 0, NULL, "fixate s.lookfall");
    bed_expect(bed, 0, NULL, "export s.lookfall measures");
}

static void test_areas(void **state)
{
    Bed *bed = *state;
    g_autofree char *csv = bed_output(bed, "aoi export s.lookfall");
    bed_expect(bed, 0, NULL, "aoi export s.lookfall --out a.svg");
    bed_expect(bed, 3, "already", "aoi import s.lookfall a.svg");
    bed_expect(bed, 0, "2 areas", "aoi import s.lookfall a.svg --replace --photo shelf");
    g_autofree char *again = bed_output(bed, "aoi export s.lookfall");
    assert_string_equal(csv, again);
    g_autofree char *list = bed_output(bed, "aoi list s.lookfall");
    assert_non_null(strstr(list, "50.00%"));
    bed_expect(bed, 3, "no photo called wall", "aoi import s.lookfall areas.csv --photo wall");
    bed_expect(bed, 2, "--mm is for planograms", "aoi import s.lookfall areas.csv --mm --replace");
    bed_expect(bed, 3, "no such file", "aoi import s.lookfall none.svg");
    bed_write(bed, "plan.csv", "shelf,position,facings,item,x,y,width,height\nu,1,2,a,0,0,9,9\n");
    bed_expect(bed, 3, "width of photo shelf is not known", "aoi import s.lookfall plan.csv --mm");
    bed_expect(bed, 0, "2 areas",
               "aoi import s.lookfall plan.csv --mm --photo-width-mm 400 --replace");
    bed_expect(bed, 0, NULL, "aoi import s.lookfall areas.csv --replace");
}

static double number(const char *line, guint column)
{
    g_auto(GStrv) cells = g_strsplit(line, ",", -1);
    assert_true(column < g_strv_length(cells));
    return *cells[column] ? g_ascii_strtod(cells[column], NULL) : (double)NAN;
}

/* The whole job on a walk whose answer is known. Edges of rests are good to a few samples. */
static void test_measures(void **state)
{
    Bed *bed = *state;
    g_autofree char *table =
        bed_output(bed, "export s.lookfall measures --columns "
                        "area,fixations,visits,first_seen_s,dwell_s,entry_order,known_s");
    g_auto(GStrv) lines = g_strsplit(table, "\r\n", -1);
    static const struct {
        const char *area;
        double fixations, visits, first_seen_s, dwell_s, entry;
    } wanted[] = {{"left,", 8, 8, 0, 4.8, 1},
                  {"right,", 7, 7, 0.6, 4.2, 2},
                  {"top,", 15, 1, 0, 9, 1},
                  {"shelf,", 15, 1, 0, 9, 1}};
    for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
        const char *line = lines[1 + i];
        if (!g_str_has_prefix(line, wanted[i].area) || number(line, 1) != wanted[i].fixations ||
            number(line, 2) != wanted[i].visits ||
            fabs(number(line, 3) - wanted[i].first_seen_s) > 0.04 ||
            fabs(number(line, 4) - wanted[i].dwell_s) > 0.05 * wanted[i].dwell_s ||
            number(line, 5) != wanted[i].entry || !(number(line, 6) > 8.5))
            fail_msg("%s", line);
    }
    g_autofree char *matrix = bed_output(
        bed,
        "export s.lookfall transitions --level area --columns from_area,to_area,count,probability");
    assert_string_equal(matrix, "from_area,to_area,count,probability\r\n"
                                "left,right,7,1.000000\r\nright,left,7,1.000000\r\n");
    /* Two areas in turn: what comes next is certain. */
    g_autofree char *entropy =
        bed_output(bed, "export s.lookfall entropies --level area --columns transition_entropy_bit,"
                        "stationary_entropy_bit");
    assert_string_equal(entropy, "transition_entropy_bit,stationary_entropy_bit\r\n"
                                 "0.000000,1.000000\r\n");
}

/* The data dictionary names the columns that are there, and chosen columns come as they were asked
 * for. */
static void test_columns(void **state)
{
    Bed *bed = *state;
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        g_autofree char *ask = g_strdup_printf("export s.lookfall %s --dictionary", kinds[i]);
        g_autofree char *export = g_strdup_printf("export s.lookfall %s", kinds[i]);
        g_autofree char *dictionary = bed_output(bed, ask), *table = bed_output(bed, export);
        g_auto(GStrv) lines = g_strsplit(dictionary, "\r\n", -1);
        g_autoptr(GString) header = g_string_new(NULL);
        assert_string_equal(lines[0], "column,unit,definition");
        for (int k = 1; *lines[k]; k++) {
            g_auto(GStrv) cells = g_strsplit(lines[k], ",", 3);
            assert_true(g_strv_length(cells) == 3 && *cells[2]);
            g_string_append_printf(header, "%s%s", k > 1 ? "," : "", cells[0]);
        }
        g_string_append(header, "\r\n");
        if (!g_str_has_prefix(table, header->str))
            fail_msg("%s: %s", kinds[i], header->str);
    }
    g_autofree char *chosen =
        bed_output(bed, "export s.lookfall measures --level area --columns blank,area,noticed");
    assert_true(g_str_has_prefix(chosen, "blank,area,noticed\r\n,left,1\r\n,right,1\r\n"));
    bed_expect(bed, 2, "have no column \"colour\"", "export s.lookfall visits --columns colour");
}

/* Nobody drops out: a walk with nothing to say has rows that say why. */
static void test_spans(void **state)
{
    Bed *bed = *state;
    bed_write(bed, "m.csv", "walk,name,from_s,to_s\nw,door,2,\nw,talk,3,5\n");
    bed_write(bed, "late.csv", "walk,name,from_s,to_s\nw,door,99,\n");
    bed_expect(bed, 0, "2 marks added", "mark import s.lookfall m.csv");
    bed_expect(bed, 0, "0 marks added; 2", "mark import s.lookfall m.csv");
    bed_expect(bed, 3, "late.csv, row 2: the mark door at 99 s lies outside walk w",
               "mark import s.lookfall late.csv");
    g_autofree char *marks = bed_output(bed, "mark export s.lookfall");
    assert_true(g_str_has_prefix(marks, "walk,name,from_s,to_s,who,at\r\nw,door,2.000000,,"));
    g_autofree char *spans = bed_output(
        bed, "export s.lookfall measures --level photo --columns span,span_number,span_s,blank "
             "--span walk --span mark:talk --span mark:door --span around:door,1,0.5");
    assert_string_equal(spans, "span,span_number,span_s,blank\r\n"
                               "walk,1,9.000000,\r\n"
                               "mark:talk,1,2.000000,\r\n"
                               "mark:door,0,,no such mark in this walk\r\n"
                               "\"around:door,1,0.5\",1,1.500000,\r\n");
    bed_expect(bed, 3, "no mark in the study is called \"till\"",
               "export s.lookfall measures --span mark:till");
}

/* A walk without fixations is named, its rows are blank, and the exit status says so. */
static void test_part(void **state)
{
    Bed *bed = *state;
    bed_expect(bed, 0, NULL, "walk add s.lookfall --name v --video w.mp4 --gaze w.csv");
    g_auto(BedRun) run = bed_run(
        bed, "export s.lookfall measures --level photo --columns walk,noticed,blank,uncast_s");
    assert_int_equal(run.status, 1);
    assert_non_null(strstr(run.err, ": v."));
    assert_non_null(strstr(run.out, "\r\nw,1,,0.000000\r\n"));
    assert_non_null(strstr(run.out, "\r\nv,,no fixations of the walk as it is now,9.000000\r\n"));
    bed_expect(bed, 0, NULL, "walk remove s.lookfall --name v");
}

/* The views of the file show what the export gives. */
static void test_views(void **state)
{
    Bed *bed = *state;
    static const struct {
        const char *sql, *export;
    } cases[] = {
        {"SELECT walk || ',' || printf('%.4f', t_s) || ',' || ifnull(photo, '') || ',' || state"
         " FROM view_sample ORDER BY t_s",
         "export s.lookfall samples --columns walk,t_s,photo,state"},
        {"SELECT walk || ',' || printf('%.4f', from_s) || ',' || printf('%.4f', duration_s) || ','"
         " || samples FROM view_fixation ORDER BY from_s",
         "export s.lookfall fixations --columns walk,from_s,duration_s,samples"},
        {"SELECT photo || ',' || printf('%.6f', t_s) FROM view_pose ORDER BY t_s",
         "export s.lookfall poses --columns photo,t_s"},
    };
    sqlite3 *db;
    assert_int_equal(sqlite3_open(bed_path(bed, "s.lookfall"), &db), SQLITE_OK);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        sqlite3_stmt *rows;
        g_autofree char *text = bed_output(bed, cases[i].export);
        const char *at = strstr(text, "\r\n") + 2;
        if (sqlite3_prepare_v2(db, cases[i].sql, -1, &rows, NULL) != SQLITE_OK)
            fail_msg("%s", sqlite3_errmsg(db));
        int n = 0;
        for (; sqlite3_step(rows) == SQLITE_ROW; n++) {
            const char *line = (const char *)sqlite3_column_text(rows, 0);
            if (!g_str_has_prefix(at, line))
                fail_msg("\"%s\" is not at \"%.60s\"", line, at);
            at += strlen(line) + 2;
        }
        sqlite3_finalize(rows);
        assert_true(n > 0);
        assert_string_equal(at, "");
    }
    char **table;
    int n_rows, n_columns;
    assert_int_equal(sqlite3_get_table(db,
                                       "SELECT area FROM view_area UNION ALL"
                                       " SELECT mark FROM view_mark UNION ALL"
                                       " SELECT walk FROM view_walk",
                                       &table, &n_rows, &n_columns, NULL),
                     SQLITE_OK);
    assert_int_equal(n_rows, 2 + 2 + 1);
    sqlite3_free_table(table);
    sqlite3_close(db);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),    cmocka_unit_test(test_areas),
        cmocka_unit_test(test_measures), cmocka_unit_test(test_columns),
        cmocka_unit_test(test_spans),    cmocka_unit_test(test_part),
        cmocka_unit_test(test_views),
    };
    return cmocka_run_group_tests_name("cli/look", tests, set_up, tear_down);
}
