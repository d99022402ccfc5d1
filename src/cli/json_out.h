/* JSON to stdout. */
#ifndef LF_CLI_JSON_OUT_H
#define LF_CLI_JSON_OUT_H

#include <json-glib/json-glib.h>

/* Member of the object being built; NULL text and NaN become null. Text that is not UTF-8 (a path)
 * is made so. */
void json_out_text(JsonBuilder *builder, const char *name, const char *text);
void json_out_number(JsonBuilder *builder, const char *name, double value);
void json_out_integer(JsonBuilder *builder, const char *name, gint64 value);
void json_out_flag(JsonBuilder *builder, const char *name, gboolean value);

/* Prints what was built and a line break. */
void json_out_print(JsonBuilder *builder);

#endif
