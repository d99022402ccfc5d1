/* From an address to what answers it. */
#ifndef LF_DESK_ROUTE_H
#define LF_DESK_ROUTE_H

#include "desk/desk_call.h"

/* The handler, and the number in the path; or NULL, with DESK_NOT_FOUND or DESK_METHOD. */
DeskHandler desk_route_find(const char *method, const char *path, int64_t *id, GError **error);

/* desk_file.c: a file of the page. False where there is none of that name. */
bool desk_file_answer(SoupServerMessage *message, const char *path);
/* What a browser without a session is told. */
void desk_file_turn_away(SoupServerMessage *message);

/* desk_study.c */
bool desk_get_study(DeskCall *call, GError **error);
bool desk_post_sign_in(DeskCall *call, GError **error);
bool desk_post_invite(DeskCall *call, GError **error);
bool desk_get_pulse(DeskCall *call, GError **error);

#endif
