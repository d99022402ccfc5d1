/* JSON to stdout. */
#include "json_out.h"

#include <math.h>
#include <stdio.h>

void json_out_text(JsonBuilder *builder, const char *name, const char *text)
{
    json_builder_set_member_name(builder, name);
    if (!text) {
        json_builder_add_null_value(builder);
        return;
    }
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    json_builder_add_string_value(builder, valid);
}

void json_out_number(JsonBuilder *builder, const char *name, double value)
{
    if (name)
        json_builder_set_member_name(builder, name);
    if (isfinite(value))
        json_builder_add_double_value(builder, value);
    else
        json_builder_add_null_value(builder);
}

void json_out_integer(JsonBuilder *builder, const char *name, gint64 value)
{
    json_builder_set_member_name(builder, name);
    json_builder_add_int_value(builder, value);
}

void json_out_flag(JsonBuilder *builder, const char *name, gboolean value)
{
    json_builder_set_member_name(builder, name);
    json_builder_add_boolean_value(builder, value);
}

void json_out_print(JsonBuilder *builder)
{
    g_autoptr(JsonGenerator) generator = json_generator_new();
    JsonNode *root = json_builder_get_root(builder);
    json_generator_set_root(generator, root);
    json_generator_set_pretty(generator, TRUE);
    g_autofree char *text = json_generator_to_data(generator, NULL);
    puts(text);
    json_node_unref(root);
}
