/* Reading the truth a scene was rendered with. */
#include "accuracy.h"

#include <stdio.h>
#include <string.h>

const char *const ACCURACY_TRUTH_STATES[TRUTH_STATES] = {"lost",    "away",   "blocked",
                                                         "visible", "hidden", "beside"};

static int truth_photo(const char *name, char *const *photo_names, int n)
{
    for (int i = 0; i < n; i++)
        if (g_str_equal(name, photo_names[i]))
            return i;
    return -1;
}

static bool truth_state(const char *name, TruthState *state)
{
    for (int i = 0; i < TRUTH_STATES; i++)
        if (g_str_equal(name, ACCURACY_TRUTH_STATES[i])) {
            *state = (TruthState)i;
            return true;
        }
    return false;
}

/* Four cells: photo, x, y, px per degree. */
static TruthPlace truth_place(char *const *cell, char *const *photo_names, int n)
{
    return (TruthPlace){truth_photo(cell[0], photo_names, n), g_ascii_strtod(cell[1], NULL),
                        g_ascii_strtod(cell[2], NULL), g_ascii_strtod(cell[3], NULL)};
}

GArray *accuracy_truth_read(const char *path, char *const *photo_names, int n)
{
    g_autofree char *text = NULL;
    g_autoptr(GError) error = NULL;
    if (!g_file_get_contents(path, &text, NULL, &error)) {
        fprintf(stderr, "%s\n", error->message);
        return NULL;
    }
    GArray *out = g_array_new(FALSE, FALSE, sizeof(Truth));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 1; lines[i]; i++) {
        g_strchomp(lines[i]);
        if (!*lines[i])
            continue;
        g_auto(GStrv) cell = g_strsplit(lines[i], ",", -1);
        Truth truth = {0};
        if (g_strv_length(cell) < 11 || !truth_state(cell[1], &truth.state)) {
            fprintf(stderr, "%s: line %d cannot be read\n", path, i + 1);
            g_array_unref(out);
            return NULL;
        }
        truth.at = truth_place(cell + 2, photo_names, n);
        truth.also = truth_place(cell + 7, photo_names, n);
        g_array_append_val(out, truth);
    }
    return out;
}
