/* Cells in company: a photo of two colours, of which one is known in front. */
#include "cast/survey_company.h"

#include <stdlib.h>

#include "cast/relief_cells.h"
#include "cast/scene.h"

#define WIDTH 400
#define HEIGHT 300
#define BACK_PX 60.0
#define BACK_ROW 100

/* Left half red, right half grey; every cell tells the depth 0 but for one row, which tells the
 * back. */
static LfPhoto *bed_open(void)
{
    LfPhoto *photo = g_new0(LfPhoto, 1);
    uint8_t *planes[3];
    const uint8_t left[3] = {90, 100, 200}, right[3] = {90, 128, 128};
    for (int c = 0; c < 3; c++) {
        planes[c] = malloc((size_t)WIDTH * HEIGHT);
        assert_non_null(planes[c]);
        for (int i = 0; i < WIDTH * HEIGHT; i++)
            planes[c][i] = i % WIDTH < WIDTH / 2 ? left[c] : right[c];
    }
    assert_true(lf_photo_pyramid_init(photo, planes, WIDTH, HEIGHT, NULL));
    photo->relief = lf_relief_new(WIDTH, HEIGHT);
    for (int i = 0; i < photo->relief->columns * photo->relief->rows; i++)
        lf_relief_tell(photo->relief, i, i / photo->relief->columns == BACK_ROW ? BACK_PX : 0, 1);
    lf_relief_told(photo->relief, false);
    return photo;
}

static void test_company(void **state)
{
    (void)state;
    LfPhoto *photo = bed_open();
    const LfRelief *relief = photo->relief;
    const int columns = relief->columns, n = columns * relief->rows;
    g_autofree double *trust = g_new0(double, n);
    for (int i = 0; i < n; i++) /* what is red tells, of what is grey only the back */
        trust[i] = i % columns < columns / 2 || i / columns == BACK_ROW ? 1 : 0;
    g_autofree double *company = lf_survey_company(photo, trust);
    const int red = columns * 3 + 3, grey = columns * 4 - 4;
    const int red_back = columns * BACK_ROW + 3, grey_back = columns * (BACK_ROW + 1) - 4;
    assert_true(company[red] > 0.9);
    assert_true(company[grey] < 0.1);
    assert_true(company[red_back] < 0.1);
    /* One row of the grey cells is what there is of the back. */
    check_near(company[grey_back], 1.0 / relief->rows, 0.02);
    lf_photo_free(photo);
}

/* A photo without colours is in no company. */
static void test_company_grey(void **state)
{
    (void)state;
    LfPhoto *photo = bed_open();
    const int n = photo->relief->columns * photo->relief->rows;
    g_autofree double *trust = g_new0(double, n);
    for (int i = 0; i < LF_PHOTO_LEVELS; i++)
        for (int c = 0; c < 2; c++)
            lf_plane_clear(&photo->tint[i][c]);
    g_autofree double *company = lf_survey_company(photo, trust);
    for (int i = 0; i < n; i++)
        check_near(company[i], 0.5, 0);
    lf_photo_free(photo);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_company),
        cmocka_unit_test(test_company_grey),
    };
    return cmocka_run_group_tests_name("cast/company", tests, NULL, NULL);
}
