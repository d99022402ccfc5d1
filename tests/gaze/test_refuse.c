/* Gaze files and column texts that are refused, each with the words that say where and why. */
#include "gaze/check.h"

#include <glib/gstdio.h>

typedef struct {
    const char *what;
    const char *text;
    LfGazeFormat format;
    LfErrorCode code;
    const char *says[5]; /* all of these are in the message */
} TestRefuse;

#define HEAD "t_s,x_px,y_px\n"

static const TestRefuse test_refuse_cases[] = {
    {"empty file", "", {0}, LF_ERROR_INPUT, {"walk.csv", "empty"}},
    {"blank lines only", "\n\n  \n", {0}, LF_ERROR_INPUT, {"empty"}},
    {"header only", HEAD, {0}, LF_ERROR_INPUT, {"walk.csv", "no samples"}},
    {"all lost",
     HEAD "0,nan,1\n1,,\n",
     {0},
     LF_ERROR_INPUT,
     {"walk.csv", "all 2 samples are lost"}},
    {"none valid",
     "t_s,x_px,y_px,v\n0,1,1,0\n",
     {.valid = "v:1"},
     LF_ERROR_INPUT,
     {"all 1 samples are lost", "\"1\" in column \"v\""}},
    {"no such column",
     "t_s,gx,gy\n0,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"walk.csv", "column \"x_px\"", "t_s, gx, gy"}},
    {"no such column number",
     "t_s,gx,gy\n0,1,2\n",
     {.x = "2", .y = "4"},
     LF_ERROR_INPUT,
     {"no column 4 for y", "it has 3", "t_s, gx, gy"}},
    {"no such valid column",
     HEAD "0,1,2\n",
     {.valid = "v:1"},
     LF_ERROR_INPUT,
     {"column \"v\" for valid"}},
    {"no header row",
     "0.0,512,300\n0.1,513,300\n",
     {0},
     LF_ERROR_INPUT,
     {"no header row", "\"t_s\"", "3 columns: 0.0, 512, 300", "by number"}},
    {"a name twice",
     "t_s,x_px,x_px,y_px\n0,1,2,3\n",
     {0},
     LF_ERROR_INPUT,
     {"column \"x_px\" is there twice", "2 and 3"}},
    {"one column for x and y",
     HEAD "0,1,2\n",
     {.y = "x_px"},
     LF_ERROR_INPUT,
     {"walk.csv:", "column \"x_px\" is given for both x and y"}},
    {"one column for time and x, by name and number",
     HEAD "0,1,2\n",
     {.x = "1"},
     LF_ERROR_INPUT,
     {"walk.csv:", "column 1 is given for both time and x"}},
    {"text for x",
     HEAD "0,1,2\n1,abc,2\n",
     {0},
     LF_ERROR_INPUT,
     {"walk.csv, line 3:", "column \"x_px\"", "\"abc\"", "not a number"}},
    {"text for y, in a file with empty lines",
     "\r\n" HEAD "\r\n0,1,2\r\n1,1,12px\r\n",
     {0},
     LF_ERROR_INPUT,
     {"line 5:", "column \"y_px\"", "\"12px\""}},
    {"text for a column by number",
     "0,1,2\n1,1,x\n",
     {.time = "1", .x = "2", .y = "3"},
     LF_ERROR_INPUT,
     {"line 2:", "column 3", "\"x\""}},
    {"text in the first row where the rest are numbers",
     "zero,1,2\n1,1,2\n",
     {.time = "1", .x = "2", .y = "3"},
     LF_ERROR_INPUT,
     {"line 1:", "column 1", "\"zero\""}},
    {"text for time",
     HEAD "0,1,2\nsoon,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "column \"t_s\"", "\"soon\""}},
    {"the row after a line break in quotes",
     "t_s,x_px,y_px,n\n0,1,2,\"a\nb\nc\"\n1,x,2,d\n",
     {0},
     LF_ERROR_INPUT,
     {"line 5:", "\"x\""}},
    {"no time", HEAD "0,1,2\n,1,2\n", {0}, LF_ERROR_INPUT, {"line 3:", "column \"t_s\" is blank"}},
    {"NaN for time", HEAD "nan,1,2\n", {0}, LF_ERROR_INPUT, {"line 2:", "column \"t_s\" is blank"}},
    {"infinite x",
     HEAD "0,inf,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "column \"x_px\"", "\"inf\"", "finite"}},
    {"infinite time", HEAD "-inf,1,2\n", {0}, LF_ERROR_INPUT, {"line 2:", "finite"}},
    {"overflow", HEAD "0,1e999,2\n", {0}, LF_ERROR_INPUT, {"line 2:", "1e999", "out of range"}},
    {"a placeholder",
     HEAD "0,-3.4028235e38,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "-3.4028235e38", "out of range"}},
    {"time out of range",
     HEAD "1700000000123456789,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "1700000000123456789 s", "unit"}},
    {"earlier time",
     HEAD "0.04,1,2\n\n0.02,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 4:", "0.02 s is earlier than 0.04 s in line 2", "sort"}},
    {"repeated time",
     HEAD "0.02,1,2\n0.0200,,\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "0.0200 s is repeated", "line 2 has 0.02 s", "keep one"}},
    {"the same microsecond",
     HEAD "0.0200001,1,2\n0.0200002,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "0.0200002 s is the same microsecond as 0.0200001 s in line 2"}},
    {"the same microsecond in long numbers",
     "t,x_px,y_px\n1700000000123456788,1,2\n"
     "1700000000123456789,1,2\n",
     {.time = "t:ns"},
     LF_ERROR_INPUT,
     {"line 3:", "same microsecond", "1700000000123456788 ns in line 2"}},
    {"decimal comma among commas",
     "t_s,x_px,y_px\n0,5,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "more than the 3 columns", "semicolons"}},
    {"too many columns",
     "t_s;x_px;y_px\n0;5;1;2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "more than the 3 columns"}},
    {"decimal comma and decimal point",
     "t_s;x_px;y_px\n0.5;1.5;2\n1.5;1,024;2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "\"1,024\"", "line 2", "'.'"}},
    {"quoted decimal comma among commas",
     HEAD "\"0,5\",1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 2:", "\"0,5\"", "not a number"}},
    {"a quotation mark inside",
     HEAD "0,1,2\n1,1\"2,3\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "quotation mark"}},
    {"a quotation mark never closed",
     HEAD "0,1,2\n1,\"1,2\n2,1,2\n",
     {0},
     LF_ERROR_INPUT,
     {"line 3:", "quotation mark"}},
    {"UTF-16", "\xff\xfet", {0}, LF_ERROR_INPUT, {"walk.csv", "UTF-16", "UTF-8"}},
    {"UTF-16, other order", "\xfe\xfft", {0}, LF_ERROR_INPUT, {"UTF-16"}},
    {"unit of x",
     HEAD "0,1,2\n",
     {.x = "x_px:furlong"},
     LF_ERROR_USAGE,
     {"x column", "\"furlong\"", "px or norm"}},
    {"unit of time",
     HEAD "0,1,2\n",
     {.time = "t_s:min"},
     LF_ERROR_USAGE,
     {"time column", "\"min\"", "s, ms, us or ns"}},
    {"a position's unit for time", HEAD "0,1,2\n", {.time = "t_s:px"}, LF_ERROR_USAGE, {"\"px\""}},
    {"a colon of the name taken for the unit's",
     "gaze:x,t_s,y_px\n0,1,2\n",
     {.x = "gaze:x"},
     LF_ERROR_USAGE,
     {"\"x\" is no unit", "\"gaze:x:px\""}},
    {"no unit after the colon", HEAD "0,1,2\n", {.y = "y_px:"}, LF_ERROR_USAGE, {"y column"}},
    {"no column", HEAD "0,1,2\n", {.y = ":px"}, LF_ERROR_USAGE, {"y column", "missing"}},
    {"empty", HEAD "0,1,2\n", {.time = ""}, LF_ERROR_USAGE, {"time column", "missing"}},
    {"column 0", HEAD "0,1,2\n", {.time = "0:s"}, LF_ERROR_USAGE, {"numbered from 1"}},
    {"a column number past all bounds",
     HEAD "0,1,2\n",
     {.time = "99999999999999999999:s"},
     LF_ERROR_USAGE,
     {"numbered from 1"}},
    {"valid without a value", HEAD "0,1,2\n", {.valid = "x_px"}, LF_ERROR_USAGE, {"COLUMN:VALUE"}},
    {"valid with an empty value",
     HEAD "0,1,2\n",
     {.valid = "x_px:"},
     LF_ERROR_USAGE,
     {"COLUMN:VALUE"}},
    {"valid without a column", HEAD "0,1,2\n", {.valid = ":1"}, LF_ERROR_USAGE, {"missing"}},
    {"clock shift", HEAD "0,1,2\n", {.clock_shift_ms = NAN}, LF_ERROR_USAGE, {"clock shift"}},
    {"clock shift too large",
     HEAD "0,1,2\n",
     {.clock_shift_ms = -1e15},
     LF_ERROR_USAGE,
     {"clock shift"}},
};

static void test_refuse_one(const char *what, const LfGaze *gaze, const GError *error,
                            LfErrorCode code, const char *const *says, gsize n)
{
    if (gaze) {
        fail_msg("%s: was read", what);
        return;
    }
    if (!error || error->domain != LF_ERROR || error->code != (int)code) {
        fail_msg("%s: code %d, %s", what, error ? error->code : 0, error ? error->message : "-");
        return;
    }
    for (gsize i = 0; i < n && says[i]; i++) {
        if (!strstr(error->message, says[i])) {
            fail_msg("%s: does not say %s: %s", what, says[i], error->message);
        }
    }
    if (strchr(error->message, '\n') || !g_utf8_validate(error->message, -1, NULL)) {
        fail_msg("%s: not one line of text: %s", what, error->message);
    }
}

static void test_refuse_table(void **state)
{
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(test_refuse_cases); i++) {
        const TestRefuse *t = &test_refuse_cases[i];
        g_autoptr(GError) error = NULL;
        g_autoptr(LfGaze) gaze = check_read(t->text, &t->format, &error);
        test_refuse_one(t->what, gaze, error, t->code, t->says, G_N_ELEMENTS(t->says));
    }
}

/* What cannot be written as a string. */
static void test_refuse_bytes(void **state)
{
    (void)state;
    g_autoptr(GString) long_field = g_string_new("t_s,x_px,y_px\n0,1,\"");
    for (int i = 0; i < 3000000; i++) {
        g_string_append_c(long_field, i % 20 ? 'a' : '\n');
    }
    const struct {
        const char *what, *data;
        gsize n;
        const char *says[2];
    } cases[] = {
        {"zero bytes", "t_s,x_px\0,y_px\n", 15, {"zero bytes", "UTF-8"}},
        {"a quotation mark before megabytes",
         long_field->str,
         long_field->len,
         {"line 2:", "quotation mark"}},
        {"bytes that are no UTF-8", "t_s,x\xff\x80,y_px\n0,1,2\n", 19, {"x_px", "t_s, x"}},
        {"control characters", "t_s,x_px,y_px\n0,1,\"a\x1b[1m\nb\"\n", 28, {"line 2:", "a?[1m?b"}},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(LfGaze) gaze = lf_gaze_read_memory(cases[i].data, cases[i].n, "walk.csv", NULL,
                                                     CHECK_WIDTH, CHECK_HEIGHT, &error);
        test_refuse_one(cases[i].what, gaze, error, LF_ERROR_INPUT, cases[i].says, 2);
    }
}

static void test_refuse_files(void **state)
{
    (void)state;
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("lookfall-gaze-XXXXXX", &error);
    assert_non_null(folder);
    g_autofree char *path = g_build_filename(folder, "no-such.csv", NULL);
    LfGaze *gaze = lf_gaze_read(path, NULL, CHECK_WIDTH, CHECK_HEIGHT, &error);
    const char *const missing[] = {"no-such.csv", "no such file"};
    test_refuse_one("missing", gaze, error, LF_ERROR_INPUT, missing, 2);
    g_clear_error(&error);

    gaze = lf_gaze_read(folder, NULL, CHECK_WIDTH, CHECK_HEIGHT, &error);
    const char *const is_folder[] = {folder, "folder"};
    test_refuse_one("folder", gaze, error, LF_ERROR_INPUT, is_folder, 2);

    assert_true(g_file_set_contents(path, HEAD "0,1,2\n", -1, NULL));
    gaze = lf_gaze_read(path, NULL, CHECK_WIDTH, CHECK_HEIGHT, NULL);
    assert_non_null(gaze);
    lf_gaze_free(gaze);
    g_remove(path);
    g_rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_refuse_table),
        cmocka_unit_test(test_refuse_bytes),
        cmocka_unit_test(test_refuse_files),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
