/* Who may ask: links that work once, sessions, and what a request must look like before anything
 * else is done with it. Knows nothing of HTTP's own machinery, so that it can be tested and fuzzed
 * alone. */
#ifndef LF_DESK_GUARD_H
#define LF_DESK_GUARD_H

#include <stdbool.h>

#include <glib.h>

#define DESK_BODY_MOST (1024 * 1024) /* bytes of a request's body */

/* A browser that came in. */
typedef struct {
    char *reviewer; /* NULL: nobody signed in yet */
    bool blind;
    double blind_share;
} DeskSession;

typedef struct {
    char *cookie; /* its name */
    char *hosts[2];
    GHashTable *keys;     /* set of secrets not used yet */
    GHashTable *sessions; /* token -> DeskSession */
} DeskGuard;

/* What counts of a request; NULL where it has none. */
typedef struct {
    const char *target; /* host:port of the address asked for, which may be a whole one */
    const char *method, *host, *origin, *fetch_site, *content_type, *content_length, *encoding;
} DeskHead;

/* Why a request is turned away; sentence is static. */
typedef struct {
    guint status;
    const char *code, *sentence;
} DeskRefusal;

void desk_guard_init(DeskGuard *guard, int port);
void desk_guard_clear(DeskGuard *guard);

/* A fresh secret for one link; borrowed until it is used. */
const char *desk_guard_key(DeskGuard *guard);
/* Takes a secret that was given out: the token of a new session, or NULL. Borrowed as long as the
 * session lasts. */
const char *desk_guard_enter(DeskGuard *guard, const char *key);
/* The session that a Cookie header names, or NULL. */
DeskSession *desk_guard_session(DeskGuard *guard, const char *cookie_header);
/* Host, Origin, kind and length of the body. */
bool desk_guard_admit(const DeskGuard *guard, const DeskHead *head, DeskRefusal *refusal);

#endif
