/* Writing JSON: answers are mostly columns of numbers, which a tree of nodes would make ten times
 * as large and slow. Commas are set where they belong; strings must be UTF-8. */
#ifndef LF_DESK_JSON_H
#define LF_DESK_JSON_H

#include <stdbool.h>
#include <stdint.h>

#include <glib.h>

/* A number: rounded to so many decimals, trailing zeros left out; null where it is not finite. */
void desk_json_number(GString *json, double value, int decimals);
/* All digits. */
void desk_json_exact(GString *json, double value);
void desk_json_int(GString *json, int64_t value);
void desk_json_bool(GString *json, bool value);
/* NULL writes null. */
void desk_json_string(GString *json, const char *text);
void desk_json_null(GString *json);

/* '{' or '[', and their ends. */
void desk_json_open(GString *json, char bracket);
void desk_json_close(GString *json, char bracket);
/* A name inside an object; its value comes next. */
void desk_json_key(GString *json, const char *name);
/* A name and what opens its value. */
void desk_json_key_open(GString *json, const char *name, char bracket);

/* Name and value in one. */
void desk_json_put_number(GString *json, const char *name, double value, int decimals);
void desk_json_put_int(GString *json, const char *name, int64_t value);
void desk_json_put_bool(GString *json, const char *name, bool value);
void desk_json_put_string(GString *json, const char *name, const char *text);
/* Null where the id is 0. */
void desk_json_put_id(GString *json, const char *name, int64_t id);
/* Text that is JSON already. */
void desk_json_put_raw(GString *json, const char *name, const char *raw);

#endif
