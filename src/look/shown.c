/* Text of others inside our sentences. */
#include "look/shown.h"

#include <string.h>

#define LOOK_SHOWN_MOST 60

char *look_shown(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text ? text : "", -1);
    g_autoptr(GString) shown = g_string_new(NULL);
    glong n = 0;
    for (const char *c = valid; *c; c = g_utf8_next_char(c)) {
        if (n++ == LOOK_SHOWN_MOST) {
            g_string_append(shown, "...");
            break;
        }
        gunichar letter = g_utf8_get_char(c);
        g_string_append_unichar(shown, g_unichar_iscntrl(letter) ? ' ' : letter);
    }
    return g_string_free(g_steal_pointer(&shown), FALSE);
}
