/* Writing JSON (RFC 8259). */
#include "desk/desk_json.h"

#include <math.h>
#include <string.h>

/* Every value and name that does not open a list comes after a comma. */
static void desk_json_part(GString *json)
{
    if (json->len > 0 && !strchr("{[:,", json->str[json->len - 1]))
        g_string_append_c(json, ',');
}

void desk_json_number(GString *json, double value, int decimals)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    char format[8];

    /* Readers take a row of digits for a whole number of 64 bits. */
    if (!isfinite(value) || fabs(value) >= 1e15) {
        desk_json_exact(json, value);
        return;
    }
    desk_json_part(json);
    g_snprintf(format, sizeof format, "%%.%df", CLAMP(decimals, 0, 9));
    g_ascii_formatd(digits, (int)sizeof digits, format, value);
    if (strchr(digits, '.')) {
        char *end = digits + strlen(digits);
        while (end[-1] == '0')
            *--end = '\0';
        if (end[-1] == '.')
            end[-1] = '\0';
    }
    g_string_append(json, strcmp(digits, "-0") == 0 ? "0" : digits);
}

void desk_json_exact(GString *json, double value)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    if (!isfinite(value)) {
        desk_json_null(json);
        return;
    }
    desk_json_part(json);
    g_string_append(json, g_ascii_dtostr(digits, sizeof digits, value));
}

void desk_json_int(GString *json, int64_t value)
{
    desk_json_part(json);
    g_string_append_printf(json, "%" G_GINT64_FORMAT, (gint64)value);
}

void desk_json_bool(GString *json, bool value)
{
    desk_json_part(json);
    g_string_append(json, value ? "true" : "false");
}

void desk_json_null(GString *json)
{
    desk_json_part(json);
    g_string_append(json, "null");
}

void desk_json_string(GString *json, const char *text)
{
    if (!text) {
        desk_json_null(json);
        return;
    }
    desk_json_part(json);
    g_string_append_c(json, '"');
    for (const char *c = text; *c; c++) {
        switch (*c) {
        case '"':
        case '\\':
            g_string_append_c(json, '\\');
            g_string_append_c(json, *c);
            break;
        default:
            if ((unsigned char)*c < 0x20 || *c == 0x7f)
                g_string_append_printf(json, "\\u%04x", (unsigned)*c);
            else
                g_string_append_c(json, *c);
        }
    }
    g_string_append_c(json, '"');
}

void desk_json_open(GString *json, char bracket)
{
    desk_json_part(json);
    g_string_append_c(json, bracket);
}

void desk_json_close(GString *json, char bracket)
{
    g_string_append_c(json, bracket);
}

void desk_json_key(GString *json, const char *name)
{
    desk_json_string(json, name);
    g_string_append_c(json, ':');
}

void desk_json_key_open(GString *json, const char *name, char bracket)
{
    desk_json_key(json, name);
    desk_json_open(json, bracket);
}

void desk_json_put_number(GString *json, const char *name, double value, int decimals)
{
    desk_json_key(json, name);
    desk_json_number(json, value, decimals);
}

void desk_json_put_int(GString *json, const char *name, int64_t value)
{
    desk_json_key(json, name);
    desk_json_int(json, value);
}

void desk_json_put_bool(GString *json, const char *name, bool value)
{
    desk_json_key(json, name);
    desk_json_bool(json, value);
}

void desk_json_put_string(GString *json, const char *name, const char *text)
{
    desk_json_key(json, name);
    desk_json_string(json, text);
}

void desk_json_put_id(GString *json, const char *name, int64_t id)
{
    desk_json_key(json, name);
    if (id)
        desk_json_int(json, id);
    else
        desk_json_null(json);
}

void desk_json_put_raw(GString *json, const char *name, const char *raw)
{
    desk_json_key(json, name);
    g_string_append(json, raw);
}
