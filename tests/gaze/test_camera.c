/* Camera files: OpenCV calibrations as its FileStorage writes them. */
#include "gaze/check.h"

#include <glib/gstdio.h>

#define YAML "%YAML:1.0\n---\n"
#define SIZE "image_width: 1920\nimage_height: 1080\n"
#define MATRIX_OF(values)                                                                          \
    "camera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n   dt: d\n   data: [ " values " ]\n"
#define MATRIX MATRIX_OF("1010., 0., 950.5, 0., 990., 547.25, 0., 0., 1.")
#define K_OF(rows, cols, values)                                                                   \
    "distortion_coefficients: !!opencv-matrix\n   rows: " rows "\n   cols: " cols                  \
    "\n   dt: d\n   data: [ " values " ]\n"
#define K5 K_OF("1", "5", "-0.32, 0.12, 0.001, 0.0006, -0.005")

/* Writes text to a file of its own and reads it as a camera file for width x height. */
static bool test_camera_read(const char *text, const char *ending, int width, int height,
                             LfLens *lens, GError **error)
{
    g_autofree char *folder = g_dir_make_tmp("lookfall-camera-XXXXXX", NULL);
    assert_non_null(folder);
    g_autofree char *name = g_strconcat("cam", ending, NULL);
    g_autofree char *path = g_build_filename(folder, name, NULL);
    assert_true(g_file_set_contents(path, text, -1, NULL));
    bool ok = lf_camera_read(path, width, height, lens, error);
    g_remove(path);
    g_rmdir(folder);
    return ok;
}

typedef struct {
    const char *what, *ending, *text;
    int n_k;
    double k[12];
} TestCameraGood;

#define XML_MATRIX(name, rows, cols, values)                                                       \
    "<" name " type_id=\"opencv-matrix\"><rows>" rows "</rows><cols>" cols                         \
    "</cols><dt>d</dt><data>" values "</data></" name ">\n"

static const TestCameraGood test_camera_good[] = {
    {"YAML", ".yml", YAML SIZE MATRIX K5, 5, {-0.32, 0.12, 0.001, 0.0006, -0.005}},
    {"other entries around",
     ".yaml",
     YAML "calibration_time: \"today\"\nfisheye_model: 0\n" SIZE MATRIX
          "avg_reprojection_error: 3.1e-01\n" K5,
     5,
     {-0.32, 0.12, 0.001, 0.0006, -0.005}},
    {"a column of four",
     ".yml",
     YAML SIZE MATRIX K_OF("4", "1", "-0.28, 0.07, 0.0008, -0.0005"),
     4,
     {-0.28, 0.07, 0.0008, -0.0005}},
    {"eight",
     ".yml",
     YAML SIZE MATRIX K_OF("1", "8", "1.9, 0.7, 0.0003, -0.0002, 0.05, 2.2, 1.3, 0.2"),
     8,
     {1.9, 0.7, 0.0003, -0.0002, 0.05, 2.2, 1.3, 0.2}},
    {"twelve",
     ".yml",
     YAML SIZE MATRIX K_OF("12", "1",
                           "-0.2, 0.05, 0.001, -0.001, -0.003, 0.02, -0.01, 0.001, 0.002, -0.001, "
                           "-0.0015, 0.0007"),
     12,
     {-0.2, 0.05, 0.001, -0.001, -0.003, 0.02, -0.01, 0.001, 0.002, -0.001, -0.0015, 0.0007}},
    {"fourteen without a tilt",
     ".yml",
     YAML SIZE MATRIX K_OF("1", "14", "-0.2, 0.05, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0"),
     12,
     {-0.2, 0.05}},
    {"none, an empty list", ".yml", YAML SIZE MATRIX "distortion_coefficients: []\n", 0, {0}},
    {"none, an empty matrix", ".yml", YAML SIZE MATRIX K_OF("0", "0", ""), 0, {0}},
    {"XML",
     ".xml",
     "<?xml version=\"1.0\"?>\n<opencv_storage>\n<image_width>1920</image_width>\n"
     "<image_height>1080</image_height>\n" XML_MATRIX("camera_matrix", "3", "3",
                                                      "1010. 0. 950.5 0. 990. 547.25 0. 0. 1.")
         XML_MATRIX("distortion_coefficients", "5", "1",
                    "-0.32 0.12 0.001 0.0006 -0.005") "</opencv_storage>\n",
     5,
     {-0.32, 0.12, 0.001, 0.0006, -0.005}},
};

static void test_camera_reads(void **state)
{
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(test_camera_good); i++) {
        const TestCameraGood *t = &test_camera_good[i];
        g_autoptr(GError) error = NULL;
        LfLens lens;
        if (!test_camera_read(t->text, t->ending, 1920, 1080, &lens, &error)) {
            fail_msg("%s: %s", t->what, error->message);
        }
        assert_true(lens.calibrated && lens.width == 1920 && lens.height == 1080);
        assert_true(lens.fx == 1010 && lens.fy == 990 && lens.cx == 950.5 && lens.cy == 547.25);
        if (lens.n_k != t->n_k || memcmp(lens.k, t->k, sizeof lens.k) != 0) {
            fail_msg("%s: other coefficients", t->what);
        }
    }
}

static void test_camera_scales(void **state)
{
    (void)state;
    LfLens lens;
    assert_true(test_camera_read(YAML SIZE MATRIX K5, ".yml", 960, 540, &lens, NULL));
    assert_true(lens.width == 960 && lens.height == 540);
    assert_true(lens.fx == 505 && lens.fy == 495);
    assert_true(fabs(lens.cx - 475) < 1e-12 && fabs(lens.cy - 273.375) < 1e-12);
    /* 853.3 px rounded to even */
    assert_true(test_camera_read(YAML SIZE MATRIX K5, ".yml", 854, 480, &lens, NULL));
}

static const struct {
    const char *what, *text;
    int width, height;
    const char *says[3];
} test_camera_bad[] = {
    {"not a camera file", "hello\n", 1920, 1080, {"not a calibration file"}},
    {"empty", "", 1920, 1080, {"not a calibration file"}},
    {"broken YAML",
     YAML SIZE "camera_matrix: !!opencv-matrix\n  rows: [\n",
     1920,
     1080,
     {"not a calibration file"}},
    {"no size", YAML MATRIX K5, 1920, 1080, {"image_width"}},
    {"half a size", YAML "image_width: 1920\n" MATRIX K5, 1920, 1080, {"image_height"}},
    {"a size of zero",
     YAML "image_width: 0\nimage_height: 1080\n" MATRIX K5,
     1920,
     1080,
     {"image_width"}},
    {"a size in words",
     YAML "image_width: wide\nimage_height: 1080\n" MATRIX K5,
     1920,
     1080,
     {"image_width"}},
    {"no matrix", YAML SIZE K5, 1920, 1080, {"camera_matrix", "3 x 3"}},
    {"a matrix that is a number", YAML SIZE "camera_matrix: 3\n" K5, 1920, 1080, {"camera_matrix"}},
    {"a matrix of another shape",
     YAML SIZE
     "camera_matrix: !!opencv-matrix\n   rows: 2\n   cols: 2\n   dt: d\n   data: [ 1., 0., "
     "0., 1. ]\n" K5,
     1920,
     1080,
     {"camera_matrix", "3 x 3"}},
    {"too few data",
     YAML SIZE
     "camera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n   dt: d\n   data: [ 1., 0. "
     "]\n" K5,
     1920,
     1080,
     {"cam.yml"}},
    {"no coefficients", YAML SIZE MATRIX, 1920, 1080, {"distortion_coefficients are missing"}},
    {"six coefficients",
     YAML SIZE MATRIX K_OF("1", "6", "0,0,0,0,0,0"),
     1920,
     1080,
     {"distortion_coefficients", "4, 5, 8, 12"}},
    {"a block of coefficients",
     YAML SIZE MATRIX K_OF("2", "2", "0,0,0,0"),
     1920,
     1080,
     {"row or a column"}},
    {"a tilt",
     YAML SIZE MATRIX K_OF("1", "14", "0,0,0,0,0,0,0,0,0,0,0,0,0,0.01"),
     1920,
     1080,
     {"tilt", "not supported"}},
    {"NaN coefficient",
     YAML SIZE MATRIX K_OF("1", "4", "0,0,.Nan,0"),
     1920,
     1080,
     {"distortion_coefficients", "not finite"}},
    {"infinite focal length",
     YAML SIZE MATRIX_OF(".Inf, 0., 950.5, 0., 990., 547.25, 0., 0., 1.") K5,
     1920,
     1080,
     {"camera_matrix", "not finite"}},
    {"negative focal length",
     YAML SIZE MATRIX_OF("-1010., 0., 950.5, 0., 990., 547.25, 0., 0., 1.") K5,
     1920,
     1080,
     {"-1010", "not positive"}},
    {"focal length in mm",
     YAML SIZE MATRIX_OF("4.2, 0., 950.5, 0., 4.2, 547.25, 0., 0., 1.") K5,
     1920,
     1080,
     {"4.2", "1920 x 1080", "pixels"}},
    {"centre outside",
     YAML SIZE MATRIX_OF("1010., 0., 2950.5, 0., 990., 547.25, 0., 0., 1.") K5,
     1920,
     1080,
     {"(2950.5, 547.25)", "outside"}},
    {"skew",
     YAML SIZE MATRIX_OF("1010., 3., 950.5, 0., 990., 547.25, 0., 0., 1.") K5,
     1920,
     1080,
     {"fx 0 cx"}},
    {"not a camera matrix",
     YAML SIZE MATRIX_OF("1010., 0., 950.5, 0., 990., 547.25, 0., 0., 2.") K5,
     1920,
     1080,
     {"fx 0 cx"}},
    {"another shape of frame",
     YAML SIZE MATRIX K5,
     1280,
     960,
     {"1920 x 1080", "1280 x 960", "this mode"}},
    {"turned", YAML SIZE MATRIX K5, 1080, 1920, {"1920 x 1080", "1080 x 1920", "turned"}},
    {"coefficients that fold",
     YAML SIZE MATRIX K_OF("1", "4", "-3., 0, 0, 0"),
     1920,
     1080,
     {"fold", "calibrate again"}},
    {"fisheye flag",
     YAML "fisheye_model: 1\n" SIZE MATRIX K_OF("1", "4", "0,0,0,0"),
     1920,
     1080,
     {"fisheye", "not supported"}},
    {"fisheye by name",
     YAML "distortion_model: \"Equidistant\"\n" SIZE MATRIX K_OF("1", "4", "0,0,0,0"),
     1920,
     1080,
     {"fisheye", "not supported"}},
};

static void test_camera_refuses(void **state)
{
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(test_camera_bad); i++) {
        g_autoptr(GError) error = NULL;
        LfLens lens = lf_lens_plain(7, 7), before = lens;
        if (test_camera_read(test_camera_bad[i].text, ".yml", test_camera_bad[i].width,
                             test_camera_bad[i].height, &lens, &error)) {
            fail_msg("%s: was read", test_camera_bad[i].what);
        }
        assert_memory_equal(&lens, &before, sizeof lens);
        if (!g_error_matches(error, LF_ERROR, LF_ERROR_INPUT) ||
            !strstr(error->message, "cam.yml: ") || strchr(error->message, '\n')) {
            fail_msg("%s: %s", test_camera_bad[i].what, error->message);
        }
        for (gsize j = 0; j < 3 && test_camera_bad[i].says[j]; j++) {
            if (!strstr(error->message, test_camera_bad[i].says[j])) {
                fail_msg("%s: does not say %s: %s", test_camera_bad[i].what,
                         test_camera_bad[i].says[j], error->message);
            }
        }
    }
}

static void test_camera_no_file(void **state)
{
    (void)state;
    g_autoptr(GError) error = NULL;
    LfLens lens;
    g_autofree char *folder = g_dir_make_tmp("lookfall-camera-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "no-such.yml", NULL);
    assert_false(lf_camera_read(path, 1920, 1080, &lens, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    assert_non_null(strstr(error->message, "no such file"));
    g_clear_error(&error);
    assert_false(lf_camera_read(folder, 1920, 1080, &lens, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    assert_non_null(strstr(error->message, "folder"));
    g_rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_camera_reads),
        cmocka_unit_test(test_camera_scales),
        cmocka_unit_test(test_camera_refuses),
        cmocka_unit_test(test_camera_no_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
