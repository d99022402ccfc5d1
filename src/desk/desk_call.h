/* One request on its way: what it asks, who asks, and the answer as it grows. */
#ifndef LF_DESK_CALL_H
#define LF_DESK_CALL_H

#include <libsoup/soup.h>

#include <json-glib/json-glib.h>

#include "desk/desk_guard.h"
#include "desk/desk_json.h"

#include <lookfall/desk.h>
#include <lookfall/edit.h>
#include <lookfall/study.h>

typedef struct {
    LfDesk *desk;
    SoupServerMessage *message;
    DeskSession *session;
    GHashTable *query; /* may be NULL */
    JsonObject *body;  /* of what is not GET; may be NULL for DELETE */
    int64_t id;        /* the number in the address, where its pattern has one */
    GString *json;     /* the answer, unless `answered` */
    guint status;      /* of the answer; 200 unless the handler says otherwise */
    bool answered;     /* the handler has answered, or will, by itself */
} DeskCall;

/* A handler writes into json, or answers by itself; false with an error otherwise, and then nothing
 * it wrote is sent. */
typedef bool (*DeskHandler)(DeskCall *call, GError **error);

/* --- errors that are answers (desk_call.c) --- */

#define DESK_ERROR (desk_error_quark())
GQuark desk_error_quark(void);
/* A code is a status, and for some of them a nearer word. */
typedef enum {
    DESK_BAD = 400,
    DESK_NO_SESSION = 401,
    DESK_FORBIDDEN = 403,
    DESK_NOT_FOUND = 404,
    DESK_METHOD = 405,
    DESK_CONFLICT = 409,
    DESK_GONE = 410,
    DESK_FAILED = 500,
    DESK_STOPPING = 503,
    DESK_NO_NAME = 10403,
    DESK_CHANGED = 10409,
    DESK_BUSY = 20409,
} DeskErrorCode;
bool desk_fail(GError **error, DeskErrorCode code, const char *format, ...) G_GNUC_PRINTF(3, 4);

/* --- answers --- */

/* The headers that every answer carries. */
void desk_answer_headers(SoupServerMessage *message);
void desk_answer_json(SoupServerMessage *message, guint status, const char *json, gsize length);
void desk_answer_error(SoupServerMessage *message, const GError *error);
void desk_answer_bytes(SoupServerMessage *message, guint status, const char *type, GBytes *bytes);

/* --- the query of an address --- */

/* The text, or NULL. */
const char *desk_query_text(const DeskCall *call, const char *name);
/* Leaves *value as it is where the name is not there; DESK_BAD where it is no whole number from low
 * to high. */
bool desk_query_int(const DeskCall *call, const char *name, int64_t low, int64_t high,
                    int64_t *value, GError **error);
/* DESK_BAD where it is missing. */
bool desk_query_needed(const DeskCall *call, const char *name, int64_t low, int64_t high,
                       int64_t *value, GError **error);
/* Whole numbers parted by commas, int64_t; an empty array where there is none. */
GArray *desk_query_list(const DeskCall *call, const char *name, GError **error);

/* --- the body --- */

/* Each leaves *value as it is and says so in *there (may be NULL: then it is needed) where the
 * member is missing or null; DESK_BAD where it is of another kind, or out of range. Text is
 * borrowed from the body. */
bool desk_body_int(JsonObject *body, const char *name, int64_t low, int64_t high, int64_t *value,
                   bool *there, GError **error);
bool desk_body_number(JsonObject *body, const char *name, double *value, bool *there,
                      GError **error);
bool desk_body_bool(JsonObject *body, const char *name, bool *value, bool *there, GError **error);
bool desk_body_text(JsonObject *body, const char *name, const char **value, bool *there,
                    GError **error);
/* A list of at most `most` members. */
bool desk_body_list(JsonObject *body, const char *name, guint most, JsonArray **value, bool *there,
                    GError **error);
/* [x, y] */
bool desk_body_point(JsonNode *node, const char *what, double xy[2], GError **error);
/* One JSON object; owned by the caller. */
JsonObject *desk_body_parse(const char *text, gsize length, GError **error);

/* The reviewer's name; DESK_NO_NAME where nobody is signed in. */
bool desk_call_name(const DeskCall *call, const char **name, GError **error);

#endif
