/* Wrong usage: exit status 2 and a hint; help: exit status 0, on stdout, with an example. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "study/bed.h"

static void test_wrong_usage(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *text;
    } cases[] = {
        {"exprot s", "did you mean \"export\"?"},
        {"zzz s", "\"lookfall --help\" lists"},
        {"photo", "photo add"},
        {"walk imprt s", "did you mean \"walk import\"?"},
        {"new", "STUDY is missing"},
        {"new a b", "do not know what to do with \"b\""},
        {"new a --tolerence 1", "did you mean --tolerance?"},
        {"new a --tolerance much", "--tolerance needs a number"},
        {"new a --tolerance 0", "tolerance must be over 0"},
        {"new a --sure-at 1.5", "--sure-at must lie between 0 and 1"},
        {"new a --sure-at 0,5", "needs a number (with a decimal point)"},
        {"photo add s --name a", "--image is missing"},
        {"photo add s --image a", "--name is missing"},
        {"photo add s --name a --image b --width-mm wide", "--width-mm needs a number"},
        {"walk add s --name a --video v", "--gaze is missing"},
        {"walk add s --name a --video v --gaze g --clock never", "clock is start, stamp or auto"},
        {"walk add s --name a --video v --gaze g --clock-shift 1s", "milliseconds"},
        {"walk import s", "MANIFEST.csv is missing"},
        {"walk remove s", "--name is missing"},
        {"cast s --jobs 0", "--jobs must lie between 1"},
        {"cast s --jobs 1.5", "--jobs needs a whole number"},
        {"cast s --jobs many", "--jobs needs a number"},
        {"export s", "what to export is missing"},
        {"export s sample", "did you mean samples"},
        {"export s samples --jsno", "Unknown option --jsno"},
        {"export s measures --jobs 1.5", "--jobs needs a whole number"},
        {"export s measures --radii -1", "--radii must lie between 0 and 10"},
        {"export s measures --span door", "\"door\" is no span"},
        {"export s measures --span around:door,x,2", "is no span"},
        {"export s measures --level shelf", "--level is area, photo, or group N"},
        {"export s transitions --transitions runs", "--transitions is fixations or visits"},
        {"export s measures --matrix distance", "only comparisons"},
        {"aoi import s", "FILE is missing"},
        {"aoi import s f --format xml", "--format is svg, csv or planogram"},
        {"aoi export s --format planogram", "--format is svg or csv"},
        {"aoi imprt s", "did you mean \"aoi import\"?"},
        {"mark import s", "FILE is missing"},
        {"locate --photo a", "--image is missing"},
        {"locate s --photo a --image b", "do not know what to do with \"s\""},
    };
    g_autoptr(Bed) bed = bed_new();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(BedRun) run = bed_run(bed, cases[i].arguments);
        if (run.status != 2 || !strstr(run.err, cases[i].text) || run.out[0])
            fail_msg("lookfall %s: status %d\n%s%s", cases[i].arguments, run.status, run.out,
                     run.err);
    }
    g_autoptr(GDir) dir = g_dir_open(bed->folder, 0, NULL);
    assert_null(g_dir_read_name(dir)); /* nothing was made on the way */
}

static void test_help(void **state)
{
    (void)state;
    static const char *const commands[] = {"new",      "photo add", "photo list",  "photo remove",
                                           "walk add", "walk list", "walk remove", "walk import",
                                           "cast",     "fixate",    "export",      "info",
                                           "locate"};
    g_autoptr(Bed) bed = bed_new();
    g_autofree char *list = bed_output(bed, "--help");
    for (gsize i = 0; i < G_N_ELEMENTS(commands); i++) {
        g_autofree char *arguments = g_strconcat(commands[i], " --help", NULL);
        g_autofree char *example = g_strconcat("Example:\n  lookfall ", commands[i], NULL);
        g_autofree char *help = bed_output(bed, arguments);
        g_autofree char *listed = g_strconcat("\n  ", commands[i], " ", NULL);
        assert_non_null(strstr(help, "Usage:"));
        assert_non_null(strstr(help, example));
        assert_non_null(strstr(list, listed));
    }
    g_autofree char *version = bed_output(bed, "--version");
    assert_true(g_str_has_prefix(version, "lookfall " LOOKFALL_VERSION));
    g_autofree char *group = bed_output(bed, "walk --help");
    assert_non_null(strstr(group, "walk import"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_wrong_usage),
        cmocka_unit_test(test_help),
    };
    return cmocka_run_group_tests_name("cli/usage", tests, NULL, NULL);
}
