/* The desk as a program of its own, asked over a socket. */
#include "desk/server_fixture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include <gio/gio.h>

void server_reply_clear(Reply *reply)
{
    g_clear_pointer(&reply->head, g_free);
    if (reply->body)
        g_string_free(reply->body, TRUE);
    *reply = (Reply){0};
}

/* --- asking ----------------------------------------------------------------------------------- */

Reply send_bytes(const Server *server, const char *bytes, gsize length)
{
    g_autoptr(GSocketClient) client = g_socket_client_new();
    g_autoptr(GSocketConnection) connection =
        g_socket_client_connect_to_host(client, "127.0.0.1", (guint16)server->port, NULL, NULL);
    g_autoptr(GString) text = g_string_new(NULL);
    Reply reply = {0};
    char buffer[65536];
    gssize n;
    assert_non_null(connection);
    g_socket_set_timeout(g_socket_connection_get_socket(connection), 60);
    GIOStream *stream = G_IO_STREAM(connection);
    /* Whoever is refused early may find the door closed while still sending. */
    (void)g_output_stream_write_all(g_io_stream_get_output_stream(stream), bytes, length, NULL,
                                    NULL, NULL);
    while ((n = g_input_stream_read(g_io_stream_get_input_stream(stream), buffer, sizeof buffer,
                                    NULL, NULL)) > 0)
        g_string_append_len(text, buffer, n);
    char *end = strstr(text->str, "\r\n\r\n");
    if (!end || sscanf(text->str, "HTTP/1.%*d %u", &reply.status) != 1)
        fail_msg("no answer: \"%.60s\"", text->str);
    reply.head = g_strndup(text->str, (gsize)(end - text->str));
    reply.body = g_string_new_len(end + 4, (gssize)(text->len - (gsize)(end + 4 - text->str)));
    return reply;
}

Reply ask_raw(const Server *server, const char *line, const char *headers, const char *body)
{
    g_autofree char *usual =
        g_strdup_printf("Host: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\nCookie: %s\r\n",
                        server->port, server->port, server->cookie ? server->cookie : "none=1");
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_append_printf(text, "%s HTTP/1.1\r\nConnection: close\r\n%s", line,
                           headers ? headers : usual);
    if (body)
        g_string_append_printf(text, "Content-Type: application/json\r\nContent-Length: %zu\r\n",
                               strlen(body));
    g_string_append_printf(text, "\r\n%s", body ? body : "");
    return send_bytes(server, text->str, text->len);
}

Reply ask(const Server *server, const char *line, const char *body)
{
    return ask_raw(server, line, NULL, body);
}

JsonObject *ask_json(const Server *server, guint status, const char *line, const char *body)
{
    g_auto(Reply) reply = ask(server, line, body);
    if (reply.status != status)
        fail_msg("%s: %u instead of %u: %s", line, reply.status, status, reply.body->str);
    JsonObject *object = desk_body_parse(reply.body->str, reply.body->len, NULL);
    assert_non_null(object);
    return object;
}

void expect(const Server *server, guint status, const char *code, const char *line,
            const char *body)
{
    g_autoptr(JsonObject) object = ask_json(server, status, line, body);
    if (code)
        assert_string_equal(json_object_get_string_member(object, "code"), code);
}

/* --- the program ------------------------------------------------------------------------------ */

static void server_start(Server *server)
{
    int out;
    const char *const argv[] = {LOOKFALL_PROGRAM, "desk", "r.lookfall", "--no-browser", NULL};
    char line[256] = "";
    gsize n = 0;
    assert_true(g_spawn_async_with_pipes(server->bed->folder, (char **)(gpointer)argv, NULL,
                                         G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDERR_TO_DEV_NULL,
                                         NULL, NULL, &server->child, NULL, &out, NULL, NULL));
    while (n + 1 < sizeof line && read(out, line + n, 1) == 1 && line[n] != '\n')
        n++;
    close(out);
    line[n] = '\0';
    char key[64];
    if (sscanf(line, "http://127.0.0.1:%d/?key=%63s", &server->port, key) != 2)
        fail_msg("no link: \"%s\"", line);
    server->key = g_strdup(key);
}

void server_enter(Server *server)
{
    g_autofree char *line = g_strdup_printf("GET /?key=%s", server->key);
    g_auto(Reply) reply = ask(server, line, NULL);
    assert_int_equal(reply.status, 303);
    char *cookie = strstr(reply.head, "Set-Cookie: ");
    assert_non_null(cookie);
    assert_non_null(strstr(cookie, "HttpOnly"));
    assert_non_null(strstr(cookie, "SameSite=Strict"));
    cookie += strlen("Set-Cookie: ");
    server->cookie = g_strndup(cookie, strcspn(cookie, ";"));
}

static void server_stop(Server *server)
{
    int status;
    kill(server->child, SIGINT);
    assert_int_equal(waitpid(server->child, &status, 0), server->child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    g_clear_pointer(&server->key, g_free);
    g_clear_pointer(&server->cookie, g_free);
}

int server_group_set_up(void **state)
{
    Server *server = g_new0(Server, 1);
    server->bed = bed_new();
    lf_study_close(review_make(server->bed));
    server->fresh = bed_read(server->bed, "r.lookfall");
    *state = server;
    return 0;
}

int server_group_tear_down(void **state)
{
    Server *server = *state;
    g_bytes_unref(server->fresh);
    bed_free(server->bed);
    g_free(server);
    return 0;
}

int server_set_up(void **state)
{
    Server *server = *state;
    gsize size;
    const char *bytes = g_bytes_get_data(server->fresh, &size);
    assert_true(
        g_file_set_contents(bed_path(server->bed, "r.lookfall"), bytes, (gssize)size, NULL));
    server_start(server);
    return 0;
}

int server_tear_down(void **state)
{
    server_stop(*state);
    return 0;
}

void expect_untouched(Server *server)
{
    g_autoptr(GBytes) now = bed_read(server->bed, "r.lookfall");
    assert_true(g_bytes_equal(now, server->fresh));
}

void server_again(Server *server)
{
    server_stop(server);
    server_start(server);
    server_enter(server);
    expect(server, 200, NULL, "POST /api/sign-in", "{\"name\": \"Ana\"}");
}
