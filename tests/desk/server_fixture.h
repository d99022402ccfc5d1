/* The desk as a program of its own on the study of review_fixture.h, asked over a socket. */
#ifndef LF_TEST_DESK_SERVER_FIXTURE_H
#define LF_TEST_DESK_SERVER_FIXTURE_H

#include "desk/desk_call.h"
#include "study/review_fixture.h"

typedef struct {
    Bed *bed;
    GBytes *fresh; /* the study as made */

    GPid child;
    int port;
    char *key, *cookie;
} Server;

typedef struct {
    guint status;
    char *head;
    GString *body;
} Reply;

void server_reply_clear(Reply *reply);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Reply, server_reply_clear)

/* For cmocka: the study is made once for a group, and put back before each test, which finds the
 * program running. */
int server_group_set_up(void **state);
int server_group_tear_down(void **state);
int server_set_up(void **state);
int server_tear_down(void **state);

/* Lets the test in by the program's link. */
void server_enter(Server *server);
/* The program ends and begins again; Ana signs in. */
void server_again(Server *server);
/* Demands that the study's file holds the same bytes as before the test. */
void expect_untouched(Server *server);

/* Sends these bytes and reads the answer until the other end closes. */
Reply send_bytes(const Server *server, const char *bytes, gsize length);
/* line: "GET /api/study". headers: lines that end in CR LF, instead of the usual Host, Origin and
 * Cookie. body: JSON, or NULL. */
Reply ask_raw(const Server *server, const char *line, const char *headers, const char *body);
Reply ask(const Server *server, const char *line, const char *body);
/* Demands the status; the answer is owned by the caller. */
JsonObject *ask_json(const Server *server, guint status, const char *line, const char *body);
/* Demands the status, and the code where one is given. */
void expect(const Server *server, guint status, const char *code, const char *line,
            const char *body);

#endif
