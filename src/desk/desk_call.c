/* Answers, and the parts of a request, with one sentence for whatever is wrong with them. */
#include "desk/desk_call.h"

#include <math.h>
#include <string.h>

#define DESK_BODY_DEPTH 16

G_DEFINE_QUARK(lookfall - desk - error - quark, desk_error)

bool desk_fail(GError **error, DeskErrorCode code, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *sentence = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error_literal(error, DESK_ERROR, (int)code, sentence);
    return false;
}

static const char *desk_error_word(int code)
{
    switch (code) {
    case DESK_BAD:
        return "bad-request";
    case DESK_NO_SESSION:
        return "no-session";
    case DESK_FORBIDDEN:
        return "forbidden";
    case DESK_NOT_FOUND:
        return "not-found";
    case DESK_METHOD:
        return "method";
    case DESK_CONFLICT:
        return "conflict";
    case DESK_GONE:
        return "gone";
    case DESK_STOPPING:
        return "stopping";
    case DESK_NO_NAME:
        return "no-name";
    case DESK_CHANGED:
        return "changed";
    case DESK_BUSY:
        return "busy";
    default:
        return "failed";
    }
}

/* --- answers ---------------------------------------------------------------------------------- */

void desk_answer_headers(SoupServerMessage *message)
{
    static const char *const headers[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
         "connect-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'; "
         "frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"Cache-Control", "no-store"},
    };
    SoupMessageHeaders *to = soup_server_message_get_response_headers(message);
    for (gsize i = 0; i < G_N_ELEMENTS(headers); i++)
        soup_message_headers_replace(to, headers[i][0], headers[i][1]);
}

void desk_answer_json(SoupServerMessage *message, guint status, const char *json, gsize length)
{
    desk_answer_headers(message);
    soup_server_message_set_status(message, status, NULL);
    soup_server_message_set_response(message, "application/json; charset=utf-8", SOUP_MEMORY_COPY,
                                     json, length);
}

void desk_answer_error(SoupServerMessage *message, const GError *error)
{
    g_autoptr(GString) json = g_string_new(NULL);
    int code = DESK_FAILED;
    /* What the study says is wrong is wrong with the request, but for the machine's own faults. */
    if (error->domain == DESK_ERROR)
        code = error->code;
    else if (error->domain == LF_ERROR && error->code != LF_ERROR_MACHINE)
        code = error->code == LF_ERROR_PART ? DESK_CONFLICT : DESK_BAD;
    desk_json_open(json, '{');
    desk_json_put_string(json, "error", error->message);
    desk_json_put_string(json, "code", desk_error_word(code));
    desk_json_close(json, '}');
    desk_answer_json(message, (guint)(code % 10000), json->str, json->len);
}

void desk_answer_bytes(SoupServerMessage *message, guint status, const char *type, GBytes *bytes)
{
    SoupMessageBody *body = soup_server_message_get_response_body(message);
    desk_answer_headers(message);
    soup_server_message_set_status(message, status, NULL);
    soup_message_headers_set_content_type(soup_server_message_get_response_headers(message), type,
                                          NULL);
    soup_message_body_append_bytes(body, bytes);
    soup_message_body_complete(body);
}

/* --- query ------------------------------------------------------------------------------------ */

const char *desk_query_text(const DeskCall *call, const char *name)
{
    return call->query ? g_hash_table_lookup(call->query, name) : NULL;
}

static bool desk_query_number(const char *name, const char *text, int64_t low, int64_t high,
                              int64_t *value, GError **error)
{
    gint64 number;
    if (!g_ascii_string_to_signed(text, 10, low, high, &number, NULL))
        return desk_fail(error, DESK_BAD,
                         "\"%s\" must be a whole number from %" G_GINT64_FORMAT
                         " to %" G_GINT64_FORMAT ".",
                         name, (gint64)low, (gint64)high);
    *value = number;
    return true;
}

bool desk_query_int(const DeskCall *call, const char *name, int64_t low, int64_t high,
                    int64_t *value, GError **error)
{
    const char *text = desk_query_text(call, name);
    return !text || desk_query_number(name, text, low, high, value, error);
}

bool desk_query_needed(const DeskCall *call, const char *name, int64_t low, int64_t high,
                       int64_t *value, GError **error)
{
    const char *text = desk_query_text(call, name);
    if (!text)
        return desk_fail(error, DESK_BAD, "\"%s\" is missing.", name);
    return desk_query_number(name, text, low, high, value, error);
}

GArray *desk_query_list(const DeskCall *call, const char *name, GError **error)
{
    g_autoptr(GArray) list = g_array_new(FALSE, FALSE, sizeof(int64_t));
    const char *text = desk_query_text(call, name);
    g_auto(GStrv) words = g_strsplit(text ? text : "", ",", 1000);
    for (gsize i = 0; words[i]; i++) {
        int64_t number;
        if (!desk_query_number(name, words[i], 1, G_MAXINT64, &number, error))
            return NULL;
        g_array_append_val(list, number);
    }
    return g_steal_pointer(&list);
}

/* --- body ------------------------------------------------------------------------------------- */

/* Looks over the text before it is parsed. The parser takes more than JSON (single quotes,
 * comments), and goes down nested brackets by recursion, so that a row of them would take it
 * through the end of the stack: outside of strings only what JSON has may stand, and not deeper
 * than any request of the page. A zero in a string would cut it short. */
static bool desk_body_sound(const char *text, gsize length)
{
    int depth = 0;
    bool quoted = false;
    for (gsize i = 0; i < length; i++) {
        if (quoted && text[i] == '\\') {
            if (length - i > 5 && memcmp(text + i + 1, "u0000", 5) == 0)
                return false;
            i++;
        } else if (text[i] == '"')
            quoted = !quoted;
        else if (quoted)
            continue;
        else if (text[i] == '{' || text[i] == '[')
            depth++;
        else if (text[i] == '}' || text[i] == ']')
            depth--;
        else if (!g_ascii_isalnum(text[i]) && !strchr(" \t\r\n:,.+-", text[i]))
            return false;
        if (depth > DESK_BODY_DEPTH)
            return false;
    }
    return true;
}

JsonObject *desk_body_parse(const char *text, gsize length, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new_immutable();
    g_autoptr(GError) why = NULL;
    if (length == 0 || !g_utf8_validate(text, (gssize)length, NULL) || memchr(text, '\0', length)) {
        desk_fail(error, DESK_BAD, "The request's body is not JSON in UTF-8.");
        return NULL;
    }
    if (!desk_body_sound(text, length) ||
        !json_parser_load_from_data(parser, text, (gssize)length, &why)) {
        desk_fail(error, DESK_BAD, "The request's body is not valid JSON.");
        return NULL;
    }
    JsonNode *root = json_parser_get_root(parser);
    if (!root || !JSON_NODE_HOLDS_OBJECT(root)) {
        desk_fail(error, DESK_BAD, "The request's body must be one JSON object.");
        return NULL;
    }
    return json_object_ref(json_node_get_object(root));
}

/* The member, or NULL where it is missing or null: then *there says so, or the call fails. */
static bool desk_body_find(JsonObject *body, const char *name, JsonNode **node, bool *there,
                           GError **error)
{
    *node = body ? json_object_get_member(body, name) : NULL;
    if (*node && json_node_is_null(*node))
        *node = NULL;
    if (there)
        *there = *node != NULL;
    if (*node || there)
        return true;
    return desk_fail(error, DESK_BAD, "\"%s\" is missing.", name);
}

static bool desk_node_number(JsonNode *node, double *value)
{
    if (!JSON_NODE_HOLDS_VALUE(node))
        return false;
    GType type = json_node_get_value_type(node);
    if (type == G_TYPE_INT64)
        *value = (double)json_node_get_int(node);
    else if (type == G_TYPE_DOUBLE)
        *value = json_node_get_double(node);
    else
        return false;
    return isfinite(*value);
}

bool desk_body_int(JsonObject *body, const char *name, int64_t low, int64_t high, int64_t *value,
                   bool *there, GError **error)
{
    JsonNode *node;
    if (!desk_body_find(body, name, &node, there, error))
        return false;
    if (!node)
        return true;
    if (!JSON_NODE_HOLDS_VALUE(node) || json_node_get_value_type(node) != G_TYPE_INT64 ||
        json_node_get_int(node) < low || json_node_get_int(node) > high)
        return desk_fail(error, DESK_BAD,
                         "\"%s\" must be a whole number from %" G_GINT64_FORMAT
                         " to %" G_GINT64_FORMAT ".",
                         name, (gint64)low, (gint64)high);
    *value = json_node_get_int(node);
    return true;
}

bool desk_body_number(JsonObject *body, const char *name, double *value, bool *there,
                      GError **error)
{
    JsonNode *node;
    if (!desk_body_find(body, name, &node, there, error))
        return false;
    if (node && !desk_node_number(node, value))
        return desk_fail(error, DESK_BAD, "\"%s\" must be a number.", name);
    return true;
}

bool desk_body_bool(JsonObject *body, const char *name, bool *value, bool *there, GError **error)
{
    JsonNode *node;
    if (!desk_body_find(body, name, &node, there, error))
        return false;
    if (!node)
        return true;
    if (!JSON_NODE_HOLDS_VALUE(node) || json_node_get_value_type(node) != G_TYPE_BOOLEAN)
        return desk_fail(error, DESK_BAD, "\"%s\" must be true or false.", name);
    *value = json_node_get_boolean(node);
    return true;
}

bool desk_body_text(JsonObject *body, const char *name, const char **value, bool *there,
                    GError **error)
{
    JsonNode *node;
    if (!desk_body_find(body, name, &node, there, error))
        return false;
    if (!node)
        return true;
    if (!JSON_NODE_HOLDS_VALUE(node) || json_node_get_value_type(node) != G_TYPE_STRING)
        return desk_fail(error, DESK_BAD, "\"%s\" must be text.", name);
    /* The parser knows escapes that JSON does not have, and makes bytes of them. */
    if (!g_utf8_validate(json_node_get_string(node), -1, NULL))
        return desk_fail(error, DESK_BAD, "\"%s\" is no text in UTF-8.", name);
    *value = json_node_get_string(node);
    return true;
}

bool desk_body_list(JsonObject *body, const char *name, guint most, JsonArray **value, bool *there,
                    GError **error)
{
    JsonNode *node;
    if (!desk_body_find(body, name, &node, there, error))
        return false;
    if (!node)
        return true;
    if (!JSON_NODE_HOLDS_ARRAY(node) || json_array_get_length(json_node_get_array(node)) > most)
        return desk_fail(error, DESK_BAD, "\"%s\" must be a list of at most %u members.", name,
                         most);
    *value = json_node_get_array(node);
    return true;
}

bool desk_body_point(JsonNode *node, const char *what, double xy[2], GError **error)
{
    JsonArray *pair = node && JSON_NODE_HOLDS_ARRAY(node) ? json_node_get_array(node) : NULL;
    if (!pair || json_array_get_length(pair) != 2 ||
        !desk_node_number(json_array_get_element(pair, 0), &xy[0]) ||
        !desk_node_number(json_array_get_element(pair, 1), &xy[1]))
        return desk_fail(error, DESK_BAD, "\"%s\" must be a point: [x, y].", what);
    return true;
}

bool desk_call_name(const DeskCall *call, const char **name, GError **error)
{
    *name = call->session->reviewer;
    return *name || desk_fail(error, DESK_NO_NAME,
                              "Sign in with a name first: a decision tells who made it.");
}
