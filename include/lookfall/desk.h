/* The desk: a web page on this machine, served from a study (docs/desk.md).
 *
 * A desk listens on 127.0.0.1 alone and answers from the default main context: run a main loop in
 * the thread that made it. All calls belong to that thread. Several desks may serve one study. */
#ifndef LOOKFALL_DESK_H
#define LOOKFALL_DESK_H

#include <stdbool.h>

#include <lookfall/error.h>

G_BEGIN_DECLS

typedef struct LfDesk LfDesk;

/* port 0: any that is free. LF_ERROR_INPUT or LF_ERROR_MACHINE as lf_study_open; LF_ERROR_MACHINE
 * where the port is taken. */
LF_API LfDesk *lf_desk_new(const char *study, int port, GError **error);
/* Stops listening, lets what is in work end, and closes the study. */
LF_API void lf_desk_free(LfDesk *desk);
LF_API int lf_desk_port(const LfDesk *desk);
/* A link that lets one browser in, once; owned by the caller. Each call makes another. */
LF_API char *lf_desk_link(LfDesk *desk);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfDesk, lf_desk_free)

G_END_DECLS

#endif
