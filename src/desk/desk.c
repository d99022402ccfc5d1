/* The desk's server: lets browsers in, finds what answers a request, and sends the answer. */
#include "desk/desk_state.h"

#include <string.h>

#include "desk/desk_route.h"

static void desk_refuse(SoupServerMessage *message, const DeskRefusal *refusal)
{
    g_autoptr(GString) json = g_string_new(NULL);
    desk_json_open(json, '{');
    desk_json_put_string(json, "error", refusal->sentence);
    desk_json_put_string(json, "code", refusal->code);
    desk_json_close(json, '}');
    desk_answer_json(message, refusal->status, json->str, json->len);
}

/* After the headers, before the body: what is turned away here is not kept in memory. */
static void desk_early(SoupServer *server, SoupServerMessage *message, const char *path,
                       GHashTable *query, gpointer data)
{
    LfDesk *desk = data;
    SoupMessageHeaders *from = soup_server_message_get_request_headers(message);
    DeskRefusal refusal;
    GUri *uri = soup_server_message_get_uri(message);
    g_autofree char *target = g_strdup_printf("%s:%d", g_uri_get_host(uri), g_uri_get_port(uri));
    const DeskHead head = {
        .method = soup_server_message_get_method(message),
        .target = target,
        .host = soup_message_headers_get_one(from, "Host"),
        .origin = soup_message_headers_get_one(from, "Origin"),
        .fetch_site = soup_message_headers_get_one(from, "Sec-Fetch-Site"),
        .content_type = soup_message_headers_get_one(from, "Content-Type"),
        .content_length = soup_message_headers_get_one(from, "Content-Length"),
        .encoding = soup_message_headers_get_one(from, "Transfer-Encoding"),
    };
    (void)server;
    (void)path;
    (void)query;
    if (desk_guard_admit(&desk->guard, &head, &refusal))
        return;
    soup_message_body_set_accumulate(soup_server_message_get_request_body(message), FALSE);
    soup_message_headers_set_expectations(soup_server_message_get_request_headers(message), 0);
    soup_message_headers_replace(soup_server_message_get_response_headers(message), "Connection",
                                 "close");
    desk_refuse(message, &refusal);
}

/* "/?key=SECRET": in, and on to the page under an address that holds no secret. */
static bool desk_enter(LfDesk *desk, SoupServerMessage *message, const char *key)
{
    const char *token = desk_guard_enter(&desk->guard, key);
    if (!token)
        return false;
    g_autofree char *cookie =
        g_strdup_printf("%s=%s; HttpOnly; SameSite=Strict; Path=/", desk->guard.cookie, token);
    SoupMessageHeaders *to = soup_server_message_get_response_headers(message);
    desk_answer_headers(message);
    soup_message_headers_replace(to, "Set-Cookie", cookie);
    soup_message_headers_replace(to, "Location", "/");
    soup_server_message_set_status(message, SOUP_STATUS_SEE_OTHER, NULL);
    return true;
}

static bool desk_call_run(DeskCall *call, const char *method, const char *path, GError **error)
{
    DeskHandler handler = desk_route_find(method, path, &call->id, error);
    SoupMessageBody *body = soup_server_message_get_request_body(call->message);
    if (!handler)
        return false;
    if (strcmp(method, "GET") != 0 && body->length > 0) {
        g_autoptr(GBytes) bytes = soup_message_body_flatten(body);
        gsize length;
        const char *text = g_bytes_get_data(bytes, &length);
        if (!(call->body = desk_body_parse(text, length, error)))
            return false;
    } else if (strcmp(method, "GET") != 0 && strcmp(method, "DELETE") != 0) {
        return desk_fail(error, DESK_BAD, "The request's body must be one JSON object.");
    }
    return handler(call, error);
}

static void desk_serve_api(LfDesk *desk, SoupServerMessage *message, DeskSession *session,
                           const char *path, GHashTable *query)
{
    g_autoptr(GString) json = g_string_new(NULL);
    g_autoptr(GError) error = NULL;
    const char *method = soup_server_message_get_method(message);
    DeskCall call = {.desk = desk,
                     .message = message,
                     .session = session,
                     .query = query,
                     .json = json,
                     .status = SOUP_STATUS_OK};
    if (!desk_call_run(&call, strcmp(method, "HEAD") == 0 ? "GET" : method, path, &error))
        desk_answer_error(message, error);
    else if (!call.answered)
        desk_answer_json(message, call.status, json->str, json->len);
    g_clear_pointer(&call.body, json_object_unref);
}

static void desk_serve(SoupServer *server, SoupServerMessage *message, const char *path,
                       GHashTable *query, gpointer data)
{
    LfDesk *desk = data;
    const char *method = soup_server_message_get_method(message);
    const char *cookie =
        soup_message_headers_get_list(soup_server_message_get_request_headers(message), "Cookie");
    DeskSession *session = desk_guard_session(&desk->guard, cookie);
    const char *key = query ? g_hash_table_lookup(query, "key") : NULL;
    bool api = g_str_has_prefix(path, "/api/"),
         reads = !strcmp(method, "GET") || !strcmp(method, "HEAD");

    (void)server;
    if (strcmp(path, "/") == 0 && key && reads) {
        if (desk_enter(desk, message, key))
            return;
        if (session) { /* a link used before, by a browser that is in already */
            desk_answer_headers(message);
            soup_server_message_set_redirect(message, SOUP_STATUS_SEE_OTHER, "/");
            return;
        }
    }
    if (!session && !api) {
        desk_file_turn_away(message);
    } else if (!session) {
        const DeskRefusal refusal = {SOUP_STATUS_UNAUTHORIZED, "no-session",
                                     "This browser is not let in; open the link that \"lookfall "
                                     "desk\" printed."};
        desk_refuse(message, &refusal);
    } else if (api) {
        desk_serve_api(desk, message, session, path, query);
    } else if (!reads || !desk_file_answer(message, path)) {
        const DeskRefusal refusal = {reads ? SOUP_STATUS_NOT_FOUND : SOUP_STATUS_METHOD_NOT_ALLOWED,
                                     reads ? "not-found" : "method",
                                     "There is nothing at this address."};
        desk_refuse(message, &refusal);
    }
}

LfDesk *lf_desk_new(const char *study, int port, GError **error)
{
    g_autoptr(LfDesk) desk = g_new0(LfDesk, 1);
    g_autoptr(GError) why = NULL;

    desk->path = g_canonicalize_filename(study, NULL);
    if (!(desk->study = lf_study_open(study, LF_STUDY_WRITE, error)))
        return NULL;
    desk->videos = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free,
                                         (GDestroyNotify)desk_video_unref);
    desk->pictures =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_bytes_unref);
    desk->lists = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, desk_list_free);
    desk->ahead = g_array_new(FALSE, FALSE, sizeof(LfStretch));
    desk->frames = desk_frames_new();
    desk->ties = desk_ties_new();
    desk->server = soup_server_new(NULL, NULL);
    soup_server_add_early_handler(desk->server, NULL, desk_early, desk, NULL);
    soup_server_add_handler(desk->server, NULL, desk_serve, desk, NULL);
    if (!soup_server_listen_local(desk->server, (guint)port, SOUP_SERVER_LISTEN_IPV4_ONLY, &why)) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "the desk cannot listen on port %d of this machine: %s", port, why->message);
        return NULL;
    }
    GSList *uris = soup_server_get_uris(desk->server);
    desk->port = g_uri_get_port(uris->data);
    g_slist_free_full(uris, (GDestroyNotify)g_uri_unref);
    desk_guard_init(&desk->guard, desk->port);
    return g_steal_pointer(&desk);
}

void lf_desk_free(LfDesk *desk)
{
    if (!desk)
        return;
    if (desk->server)
        soup_server_disconnect(desk->server);
    g_clear_object(&desk->server);
    if (desk->refresh_source)
        g_source_remove(desk->refresh_source);
    if (desk->ahead_source)
        g_source_remove(desk->ahead_source);
    while (desk->pending > 0)
        g_main_context_iteration(NULL, TRUE);
    desk_frames_free(desk->frames);
    desk_ties_free(desk->ties);
    g_clear_pointer(&desk->walks, g_ptr_array_unref);
    g_clear_pointer(&desk->photos, g_ptr_array_unref);
    g_clear_pointer(&desk->videos, g_hash_table_unref);
    g_clear_pointer(&desk->pictures, g_hash_table_unref);
    g_clear_pointer(&desk->lists, g_hash_table_unref);
    g_clear_pointer(&desk->ahead, g_array_unref);
    desk_guard_clear(&desk->guard);
    lf_study_close(desk->study);
    g_free(desk->path);
    g_free(desk);
}

int lf_desk_port(const LfDesk *desk)
{
    return desk->port;
}

char *lf_desk_link(LfDesk *desk)
{
    return g_strdup_printf("http://127.0.0.1:%d/?key=%s", desk->port, desk_guard_key(&desk->guard));
}
