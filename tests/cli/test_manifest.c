/* Manifests: separators, quotes, blank rows, faults of rows and of the whole table. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "cli/manifest.h"
#include "study/bed.h"

static GPtrArray *read_text(Bed *bed, const char *text, GError **error)
{
    bed_write(bed, "m.csv", text);
    return manifest_read(bed_path(bed, "m.csv"), error);
}

static void test_good(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "name,video,gaze,clock-shift,group\nw1,v.mp4,/g.csv,-20,\"a, b\"\n\nw2,u.mp4,h.csv,,\n",
        "name;video;gaze;clock-shift;group\r\nw1;v.mp4;/g.csv;-20;a, b\r\n\r\nw2;u.mp4;h.csv;;\r\n",
        "\xef\xbb\xbfname\tvideo\tgaze\tclock-shift\tgroup\nw1\tv.mp4\t/g.csv\t-20\ta, b\n"
        "\t\t\t\t\nw2\tu.mp4\th.csv",
    };
    g_autoptr(Bed) bed = bed_new();
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) rows = read_text(bed, texts[i], &error);
        assert_null(error);
        assert_int_equal(rows->len, 2);
        const ManifestRow *first = rows->pdata[0], *second = rows->pdata[1];
        assert_null(first->fault);
        assert_null(second->fault);
        assert_int_equal(first->row, 2);
        assert_int_equal(second->row, 4);
        assert_string_equal(first->options.name, "w1");
        assert_string_equal(first->options.video, bed_path(bed, "v.mp4"));
        assert_string_equal(first->options.gaze, "/g.csv");
        assert_string_equal(first->options.clock_shift, "-20");
        assert_string_equal(first->options.group, "a, b");
        assert_string_equal(second->options.gaze, bed_path(bed, "h.csv"));
        assert_null(second->options.clock_shift);
        assert_null(second->options.group);
        assert_null(second->options.camera);
    }
}

static void test_every_column(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(GPtrArray) rows =
        read_text(bed,
                  "name,video,gaze,time,x,y,valid,clock-shift,clock,camera,participant,group\n"
                  "n,v,g,t:ns,x:norm,y:norm,ok:1,1.5,stamp,c.yml,p,q\n",
                  NULL);
    const ManifestRow *row = rows->pdata[0];
    LfWalkInput input;
    assert_null(row->fault);
    assert_true(walk_options_input(&row->options, &input, NULL));
    assert_string_equal(input.format.time, "t:ns");
    assert_string_equal(input.format.x, "x:norm");
    assert_string_equal(input.format.y, "y:norm");
    assert_string_equal(input.format.valid, "ok:1");
    assert_true(input.format.clock_shift_ms == 1.5);
    assert_int_equal(input.clock, LF_CLOCK_STAMP);
    assert_string_equal(input.camera, bed_path(bed, "c.yml"));
    assert_string_equal(input.participant, "p");
    assert_string_equal(input.group, "q");
}

static void test_faulty_rows(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(GPtrArray) rows = read_text(bed,
                                          "name,video,gaze,clock-shift,clock\n"
                                          "a,v,g,,\n"
                                          ",v,,,\n"
                                          "c,v,g,1.5 s,\n"
                                          "d,v,g,,soon\n"
                                          "e,v,g,,,,\n",
                                          NULL);
    static const char *const faults[] = {NULL, "name is blank; gaze is blank", "milliseconds",
                                         "clock is start, stamp or auto", "7 fields"};
    assert_int_equal(rows->len, G_N_ELEMENTS(faults));
    for (guint i = 0; i < rows->len; i++) {
        const ManifestRow *row = rows->pdata[i];
        assert_int_equal(row->fault != NULL, faults[i] != NULL);
        if (faults[i] && !strstr(row->fault, faults[i]))
            fail_msg("\"%s\" is not in \"%s\"", faults[i], row->fault);
    }
}

static void test_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *fault;
    } cases[] = {
        {"", "empty"},
        {"name,video,gaze\n", "no walk"},
        {"name,video\nw,v\n", "the column gaze is missing"},
        {"name,video,gaze,colour\nw,v,g,red\n", "no option called \"colour\""},
        {"name,video,gaze,gaze\nw,v,g,g\n", "gaze is there twice"},
        {"name,video,gaze\nw,\"v,g\n", "quote"},
        {"name,video,gaze\nw,v\"w\"x,g\n", "quote"},
    };
    g_autoptr(Bed) bed = bed_new();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) rows = read_text(bed, cases[i].text, &error);
        assert_null(rows);
        assert_int_equal(error->code, LF_ERROR_INPUT);
        if (!strstr(error->message, cases[i].fault))
            fail_msg("\"%s\" is not in \"%s\"", cases[i].fault, error->message);
    }
    g_autoptr(GError) error = NULL;
    assert_null(manifest_read(bed_path(bed, "missing.csv"), &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good),
        cmocka_unit_test(test_every_column),
        cmocka_unit_test(test_faulty_rows),
        cmocka_unit_test(test_refused),
    };
    return cmocka_run_group_tests_name("cli/manifest", tests, NULL, NULL);
}
