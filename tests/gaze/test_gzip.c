/* Packed gaze files: known by their bytes, several members, cut off, damaged. */
#include "gaze/check.h"

#include <gio/gio.h>
#include <glib/gstdio.h>

#define ROWS 50000

/* A gaze file of some blocks; the caller frees it. */
static GString *test_gzip_text(void)
{
    GString *text = g_string_new("t_s,x_px,y_px\n");
    for (int i = 0; i < ROWS; i++) {
        g_string_append_printf(text, "%d.%02d,%d,%d\n", i / 100, i % 100, i * 7 % 1920,
                               i * 3 % 1080);
    }
    return text;
}

static GByteArray *test_gzip_pack(const char *data, gsize n)
{
    g_autoptr(GConverter) pack =
        G_CONVERTER(g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP, 6));
    GByteArray *out = g_byte_array_new();
    GConverterResult result;
    do {
        char block[10000];
        gsize used, written;
        result = g_converter_convert(pack, data, n, block, sizeof block, G_CONVERTER_INPUT_AT_END,
                                     &used, &written, NULL);
        assert_true(result != G_CONVERTER_ERROR);
        data += used;
        n -= used;
        g_byte_array_append(out, (const guint8 *)block, (guint)written);
    } while (result != G_CONVERTER_FINISHED);
    return out;
}

static LfGaze *test_gzip_read(const GByteArray *bytes, gsize n, GError **error)
{
    return lf_gaze_read_memory(bytes->data, n, "walk.csv.gz", NULL, CHECK_WIDTH, CHECK_HEIGHT,
                               error);
}

static void test_gzip_check(const LfGaze *gaze)
{
    assert_non_null(gaze);
    assert_int_equal(gaze->n_samples, ROWS);
    for (int i = 0; i < ROWS; i++) {
        assert_int_equal(gaze->samples[i].t_us, 10000 * i);
        assert_true(gaze->samples[i].x == i * 7 % 1920 && gaze->samples[i].y == i * 3 % 1080);
    }
}

static void test_gzip_whole(void **state)
{
    (void)state;
    g_autoptr(GString) text = test_gzip_text();
    g_autoptr(GByteArray) packed = test_gzip_pack(text->str, text->len);
    g_autoptr(LfGaze) gaze = test_gzip_read(packed, packed->len, NULL);
    test_gzip_check(gaze);

    /* from a file whose name does not tell */
    g_autofree char *path = NULL;
    int fd = g_file_open_tmp("lookfall-gzip-XXXXXX.txt", &path, NULL);
    assert_true(fd >= 0);
    g_close(fd, NULL);
    assert_true(g_file_set_contents(path, (const char *)packed->data, (gssize)packed->len, NULL));
    g_autoptr(LfGaze) read = lf_gaze_read(path, NULL, CHECK_WIDTH, CHECK_HEIGHT, NULL);
    g_remove(path);
    test_gzip_check(read);
}

/* Members in a row are one text (RFC 1952, section 2.2). */
static void test_gzip_members(void **state)
{
    (void)state;
    g_autoptr(GString) text = test_gzip_text();
    g_autoptr(GByteArray) all = g_byte_array_new();
    for (gsize at = 0; at < text->len; at += 100001) {
        g_autoptr(GByteArray) part = test_gzip_pack(text->str + at, MIN(100001, text->len - at));
        g_byte_array_append(all, part->data, part->len);
    }
    g_autoptr(LfGaze) gaze = test_gzip_read(all, all->len, NULL);
    test_gzip_check(gaze);
}

static void test_gzip_refuse(const GByteArray *bytes, gsize n, const char *says)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(LfGaze) gaze = test_gzip_read(bytes, n, &error);
    assert_null(gaze);
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    if (!strstr(error->message, says) || !strstr(error->message, "walk.csv.gz")) {
        fail_msg("cut to %zu bytes: does not say \"%s\": %s", n, says, error->message);
    }
}

static void test_gzip_cut_off(void **state)
{
    (void)state;
    g_autoptr(GString) text = test_gzip_text();
    g_autoptr(GByteArray) packed = test_gzip_pack(text->str, text->len);
    const gsize cuts[] = {
        2, 9, 10, 11, 1000, 65536, packed->len / 2, packed->len - 8, packed->len - 1};
    assert_true(packed->len > 2 * 65536);
    for (gsize i = 0; i < G_N_ELEMENTS(cuts); i++) {
        test_gzip_refuse(packed, cuts[i], "cut off");
    }
}

static void test_gzip_damaged(void **state)
{
    (void)state;
    g_autoptr(GString) text = test_gzip_text();
    g_autoptr(GByteArray) packed = test_gzip_pack(text->str, text->len);
    g_byte_array_append(packed, (const guint8 *)"tail", 4);
    test_gzip_refuse(packed, packed->len, "follows the gzip data");
    packed->data[packed->len - 4 - 6] ^= 1; /* in the checksum of RFC 1952, section 2.3.1 */
    test_gzip_refuse(packed, packed->len - 4, "damaged");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gzip_whole),
        cmocka_unit_test(test_gzip_members),
        cmocka_unit_test(test_gzip_cut_off),
        cmocka_unit_test(test_gzip_damaged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
