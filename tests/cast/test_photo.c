/* Photos: the bank's way to bytes and back, what is refused, how findable a photo is said to be. */
#include "cast/scene.h"

#include <string.h>

#include "cast/photo_bank.h"

typedef struct {
    char *folder;
    char *path; /* a small textured photo */
    LfPhoto *photo;
    GBytes *bank;
} PhotoState;

static int photo_setup(void **state)
{
    PhotoState *s = g_new0(PhotoState, 1);
    s->folder = scene_folder_new();
    LfPlane plane = scene_photo(21, 320, 240);
    s->path = scene_write_pgm(s->folder, "photo.pgm", &plane);
    lf_plane_clear(&plane);
    s->photo = lf_photo_load(s->path, NULL, NULL);
    assert_non_null(s->photo);
    s->bank = lf_photo_bank(s->photo);
    *state = s;
    return 0;
}

static int photo_teardown(void **state)
{
    PhotoState *s = *state;
    lf_photo_free(s->photo);
    g_bytes_unref(s->bank);
    scene_folder_remove(s->folder);
    g_free(s->path);
    g_free(s);
    return 0;
}

static void test_photo_round_trip(void **state)
{
    PhotoState *s = *state;
    g_autoptr(LfPhoto) again = lf_photo_load(s->path, NULL, NULL);
    g_autoptr(GBytes) again_bank = lf_photo_bank(again);
    assert_true(g_bytes_equal(again_bank, s->bank));

    g_autoptr(LfPhoto) restored = lf_photo_load(s->path, s->bank, NULL);
    assert_non_null(restored);
    g_autoptr(GBytes) handed = lf_photo_bank(restored);
    assert_true(g_bytes_equal(handed, s->bank));
    /* not the bytes that were handed in, but those made of what was read */
    g_autoptr(GBytes) stored = lf_photo_store(restored);
    assert_true(g_bytes_equal(stored, s->bank));
    LfPhotoReport a = lf_photo_report(s->photo), b = lf_photo_report(restored);
    assert_int_equal(a.width, 320);
    assert_int_equal(a.height, 240);
    assert_memory_equal(&a, &b, sizeof a);
    assert_int_equal(s->photo->n_shifts, restored->n_shifts);
    assert_int_equal(s->photo->features.n, restored->features.n);
    assert_true(restored->features.n > 0);
}

/* Restores into a photo that has only its size, as the picture would have given it. */
static bool photo_try(const guint8 *data, gsize size, int width, int height)
{
    g_autoptr(LfPhoto) photo = g_new0(LfPhoto, 1);
    g_autoptr(GBytes) bytes = g_bytes_new(data, size);
    g_autoptr(GError) error = NULL;
    photo->report.width = width;
    photo->report.height = height;
    bool good = lf_photo_restore(photo, bytes, &error);
    assert_true(good == (error == NULL));
    if (!good)
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    return good;
}

static void test_photo_bank_cut(void **state)
{
    PhotoState *s = *state;
    gsize size;
    const guint8 *data = g_bytes_get_data(s->bank, &size);
    assert_true(photo_try(data, size, 320, 240));
    /* every length at both ends, where the counts and the last records are, and many between */
    for (gsize length = 0; length < size; length += length < 2048 || length + 512 > size ? 1 : 61)
        if (photo_try(data, length, 320, 240))
            fail_msg("a bank cut to %zu of %zu bytes is taken", length, size);
    g_autofree guint8 *longer = g_malloc0(size + 1);
    memcpy(longer, data, size);
    assert_false(photo_try(longer, size + 1, 320, 240));
}

static void test_photo_bank_flipped(void **state)
{
    PhotoState *s = *state;
    gsize size;
    const guint8 *data = g_bytes_get_data(s->bank, &size);
    g_autofree guint8 *copy = g_memdup2(data, size);
    /* The first eight bytes are the magic number and the version: any change there is another kind
     * or version of bank. Further on a flip may pass, but must never lead out of the bytes. */
    for (gsize bit = 0; bit < 8 * MIN(size, 512); bit++) {
        copy[bit / 8] ^= (guint8)(1U << (bit % 8));
        if (photo_try(copy, size, 320, 240) && bit < 64)
            fail_msg("a bank with bit %zu flipped is taken", bit);
        copy[bit / 8] ^= (guint8)(1U << (bit % 8));
    }
    assert_true(photo_try(copy, size, 320, 240));
    assert_false(photo_try(copy, size, 321, 240));
    assert_false(photo_try(copy, size, 240, 320));
}

static void test_photo_bank_of_another(void **state)
{
    PhotoState *s = *state;
    LfPlane plane = scene_photo(22, 300, 240);
    g_autofree char *path = scene_write_pgm(s->folder, "other.pgm", &plane);
    g_autoptr(GError) error = NULL;
    lf_plane_clear(&plane);
    assert_null(lf_photo_load(path, s->bank, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
}

/* What kind of file to make. */
typedef enum { FILE_NONE, FILE_FOLDER, FILE_BYTES, FILE_FLAT, FILE_RAMP, FILE_PHOTO } PhotoFile;

static void test_photo_refuses(void **state)
{
    PhotoState *s = *state;
    static const struct {
        const char *name;
        PhotoFile kind;
        int width, height;
        const char *bytes;
        const char *says; /* what the sentence must hold */
    } cases[] = {
        {"missing.png", FILE_NONE, 0, 0, NULL, "There is no photo"},
        {"folder.png", FILE_FOLDER, 0, 0, NULL, "cannot be read as a picture"},
        {"empty.png", FILE_BYTES, 0, 0, "", "cannot be read as a picture"},
        {"text.png", FILE_BYTES, 0, 0, "t_s,x_px,y_px\n", "cannot be read as a picture"},
        {"head.png", FILE_BYTES, 0, 0, "\x89PNG\r\n\x1a\n", "cannot be read as a picture"},
        {"flat.pgm", FILE_FLAT, 800, 600, NULL, "too few features to find this photo again"},
        {"ramp.pgm", FILE_RAMP, 800, 600, NULL, "too few features to find this photo again"},
        {"tiny.pgm", FILE_PHOTO, 63, 400, NULL, "63 x 400 px"},
        {"pixel.pgm", FILE_PHOTO, 8, 8, NULL, "8 x 8 px"},
        {"line.pgm", FILE_RAMP, 4000, 2, NULL, "4000 x 2 px"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *path = g_build_filename(s->folder, cases[i].name, NULL);
        g_autoptr(GError) error = NULL;
        LfPlane plane = {0};
        if (cases[i].kind == FILE_FOLDER)
            assert_int_equal(g_mkdir_with_parents(path, 0700), 0);
        if (cases[i].kind == FILE_BYTES)
            assert_true(g_file_set_contents(path, cases[i].bytes, -1, NULL));
        if (cases[i].kind == FILE_PHOTO)
            plane = scene_photo(5, cases[i].width, cases[i].height);
        if (cases[i].kind == FILE_FLAT || cases[i].kind == FILE_RAMP) {
            assert_true(lf_plane_init(&plane, cases[i].width, cases[i].height, 1, 1));
            for (int p = 0; p < plane.width * plane.height; p++)
                plane.data[p] = cases[i].kind == FILE_FLAT
                                    ? 128
                                    : (uint8_t)(40 + 150 * (p % plane.width) / plane.width);
        }
        if (plane.data)
            g_free(scene_write_pgm(s->folder, cases[i].name, &plane));
        lf_plane_clear(&plane);
        assert_null(lf_photo_load(path, NULL, &error));
        if (!g_error_matches(error, LF_ERROR, LF_ERROR_INPUT) ||
            !strstr(error->message, cases[i].says) || !strstr(error->message, cases[i].name))
            fail_msg("%s: \"%s\"", cases[i].name, error->message);
    }
}

static void test_photo_report(void **state)
{
    PhotoState *s = *state;
    /* 600 x 450 px: nothing repeats, everything repeats, and texture in one corner only */
    LfPlane once = scene_photo(31, 600, 450), tiles = scene_tiles(32, 600, 450, 75);
    LfPlane corner = scene_photo(33, 600, 450);
    for (int y = 0; y < 450; y++)
        for (int x = 0; x < 600; x++)
            if (x >= 240 || y >= 180)
                corner.data[y * 600 + x] = 128;
    const LfPlane *planes[] = {&once, &tiles, &corner};
    LfPhotoReport report[3];
    for (int i = 0; i < 3; i++) {
        g_autofree char *path = scene_write_pgm(s->folder, "report.pgm", planes[i]);
        g_autoptr(GError) error = NULL;
        g_autoptr(LfPhoto) photo = lf_photo_load(path, NULL, &error);
        if (!photo)
            fail_msg("photo %d: %s", i, error->message);
        report[i] = lf_photo_report(photo);
        print_message("features %d, spread %.2f, alike %.2f\n", report[i].features,
                      report[i].spread, report[i].alike);
        assert_int_equal(report[i].width, 600);
        assert_int_equal(report[i].height, 450);
        assert_true(report[i].alike >= 0 && report[i].alike <= 1);
        assert_true(report[i].features >= 40);
    }
    assert_true(report[0].alike < 0.4);
    assert_true(report[1].alike > 0.9);
    assert_true(report[0].spread > 0.8);
    /* 4 of 8 columns (240 of 75 px each: 3.2) and 4 of 8 rows (3.2) at most hold texture */
    assert_true(report[2].spread <= 16.0 / 64);
    assert_true(report[2].spread >= 9.0 / 64);
    lf_plane_clear(&once);
    lf_plane_clear(&tiles);
    lf_plane_clear(&corner);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_photo_round_trip),   cmocka_unit_test(test_photo_bank_cut),
        cmocka_unit_test(test_photo_bank_flipped), cmocka_unit_test(test_photo_bank_of_another),
        cmocka_unit_test(test_photo_refuses),      cmocka_unit_test(test_photo_report),
    };
    return cmocka_run_group_tests(tests, photo_setup, photo_teardown);
}
