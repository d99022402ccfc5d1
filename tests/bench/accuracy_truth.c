/* Reading the truth a scene was rendered with. */
#include "accuracy.h"

#include <stdio.h>
#include <string.h>

static int truth_photo(const char *name, char *const *photo_names, int n)
{
    for (int i = 0; i < n; i++)
        if (g_str_equal(name, photo_names[i]))
            return i;
    return -1;
}

static bool truth_state(const char *name, TruthState *state)
{
    static const char *const NAMES[] = {"lost", "away", "blocked", "visible", "hidden"};
    for (int i = 0; i < (int)G_N_ELEMENTS(NAMES); i++)
        if (g_str_equal(name, NAMES[i])) {
            *state = (TruthState)i;
            return true;
        }
    return false;
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
        Truth truth = {.photo = -1};
        if (g_strv_length(cell) < 6 || !truth_state(cell[1], &truth.state)) {
            fprintf(stderr, "%s: line %d cannot be read\n", path, i + 1);
            g_array_unref(out);
            return NULL;
        }
        truth.photo = truth_photo(cell[2], photo_names, n);
        truth.x = g_ascii_strtod(cell[3], NULL);
        truth.y = g_ascii_strtod(cell[4], NULL);
        truth.px_per_degree = g_ascii_strtod(cell[5], NULL);
        g_array_append_val(out, truth);
    }
    return out;
}
