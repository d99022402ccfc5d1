/* Secrets, sessions, and the checks that keep other web pages out.
 *
 * A page of another site, open in the same browser, can send requests here but not read this site's
 * cookie. SameSite=Strict keeps the cookie out of its requests; Host is checked against DNS
 * rebinding, Origin against forged requests (OWASP, "Cross-Site Request Forgery Prevention Cheat
 * Sheet"). */
#include "desk/desk_guard.h"

#include <errno.h>
#include <string.h>
#include <sys/random.h>

#define DESK_GUARD_BYTES 24    /* 192 random bits for secrets and tokens */
#define DESK_GUARD_KEYS_MOST 8 /* links given out and not used */

static void desk_session_free(gpointer data)
{
    DeskSession *session = data;
    g_free(session->reviewer);
    g_free(session);
}

void desk_guard_init(DeskGuard *guard, int port)
{
    guard->cookie = g_strdup_printf("lookfall_%d", port);
    guard->hosts[0] = g_strdup_printf("127.0.0.1:%d", port);
    guard->hosts[1] = g_strdup_printf("localhost:%d", port);
    guard->keys = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    guard->sessions = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, desk_session_free);
}

void desk_guard_clear(DeskGuard *guard)
{
    g_clear_pointer(&guard->cookie, g_free);
    g_clear_pointer(&guard->hosts[0], g_free);
    g_clear_pointer(&guard->hosts[1], g_free);
    g_clear_pointer(&guard->keys, g_hash_table_unref);
    g_clear_pointer(&guard->sessions, g_hash_table_unref);
}

/* Random letters from the kernel, safe in URLs and cookies. */
static char *desk_guard_random(void)
{
    guint8 bytes[DESK_GUARD_BYTES];
    gsize have = 0;
    while (have < sizeof bytes) {
        ssize_t got = getrandom(bytes + have, sizeof bytes - have, 0);
        if (got < 0 && errno != EINTR)
            g_error("no random numbers: %s", g_strerror(errno)); /* nothing is safe without */
        have += got > 0 ? (gsize)got : 0;
    }
    char *text = g_base64_encode(bytes, sizeof bytes); /* a multiple of 3: no padding */
    for (char *c = text; *c; c++)
        *c = *c == '+' ? '-' : *c == '/' ? '_' : *c;
    return text;
}

const char *desk_guard_key(DeskGuard *guard)
{
    char *key = desk_guard_random();
    if (g_hash_table_size(guard->keys) >= DESK_GUARD_KEYS_MOST)
        g_hash_table_remove_all(guard->keys);
    g_hash_table_add(guard->keys, key);
    return key;
}

const char *desk_guard_enter(DeskGuard *guard, const char *key)
{
    if (!key || !g_hash_table_remove(guard->keys, key))
        return NULL;
    DeskSession *session = g_new0(DeskSession, 1);
    char *token = desk_guard_random();
    g_hash_table_insert(guard->sessions, token, session);
    return token;
}

DeskSession *desk_guard_session(DeskGuard *guard, const char *cookie_header)
{
    if (!cookie_header)
        return NULL;
    g_auto(GStrv) pairs = g_strsplit(cookie_header, ";", 64);
    gsize length = strlen(guard->cookie);
    for (gsize i = 0; pairs[i]; i++) {
        const char *pair = g_strstrip(pairs[i]);
        if (strncmp(pair, guard->cookie, length) == 0 && pair[length] == '=') {
            DeskSession *session = g_hash_table_lookup(guard->sessions, pair + length + 1);
            if (session)
                return session;
        }
    }
    return NULL;
}

static bool desk_guard_is_host(const DeskGuard *guard, const char *host)
{
    return host && (g_ascii_strcasecmp(host, guard->hosts[0]) == 0 ||
                    g_ascii_strcasecmp(host, guard->hosts[1]) == 0);
}

static bool desk_guard_refuse(DeskRefusal *refusal, guint status, const char *code,
                              const char *sentence)
{
    *refusal = (DeskRefusal){status, code, sentence};
    return false;
}

static bool desk_guard_admit_body(const DeskHead *head, DeskRefusal *refusal)
{
    guint64 length;
    if (head->encoding || !head->content_length)
        return desk_guard_refuse(refusal, 411, "length",
                                 "The request does not say how long its body is.");
    if (!g_ascii_string_to_unsigned(head->content_length, 10, 0, G_MAXUINT64, &length, NULL))
        return desk_guard_refuse(refusal, 400, "bad-request",
                                 "The length of the request's body is no number.");
    if (length > DESK_BODY_MOST)
        return desk_guard_refuse(refusal, 413, "too-large",
                                 "The request is larger than the 1 MiB the desk takes.");
    g_auto(GStrv) type = g_strsplit(head->content_type ? head->content_type : "", ";", 2);
    if (!type[0] || g_ascii_strcasecmp(g_strstrip(type[0]), "application/json") != 0)
        return desk_guard_refuse(refusal, 415, "type", "The request's body must be JSON.");
    return true;
}

bool desk_guard_admit(const DeskGuard *guard, const DeskHead *head, DeskRefusal *refusal)
{
    bool reads = strcmp(head->method, "GET") == 0 || strcmp(head->method, "HEAD") == 0;

    if (!desk_guard_is_host(guard, head->host) ||
        (head->target && !desk_guard_is_host(guard, head->target)))
        return desk_guard_refuse(refusal, 403, "forbidden",
                                 "The desk answers under 127.0.0.1 only; open the link that "
                                 "\"lookfall desk\" printed.");
    if (head->origin) {
        if (!g_str_has_prefix(head->origin, "http://") ||
            g_ascii_strcasecmp(head->origin + strlen("http://"), head->host) != 0)
            return desk_guard_refuse(refusal, 403, "forbidden",
                                     "The desk does not answer to other web pages.");
    } else if (!reads) {
        return desk_guard_refuse(refusal, 403, "forbidden",
                                 "The request does not say which page it comes from.");
    }
    if (head->fetch_site && strcmp(head->fetch_site, "same-origin") != 0 &&
        strcmp(head->fetch_site, "none") != 0)
        return desk_guard_refuse(refusal, 403, "forbidden",
                                 "The desk does not answer to other web pages.");
    if (!reads && (head->content_length || head->encoding || strcmp(head->method, "DELETE") != 0))
        return desk_guard_admit_body(head, refusal);
    if (head->encoding || (head->content_length && strcmp(head->content_length, "0") != 0))
        return desk_guard_refuse(refusal, 400, "bad-request",
                                 "A request that only asks must have no body.");
    return true;
}
