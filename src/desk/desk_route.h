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
bool desk_get_agreement(DeskCall *call, GError **error);

/* desk_list.c */
bool desk_get_worklist(DeskCall *call, GError **error);

/* desk_stretch.c */
bool desk_get_stretch(DeskCall *call, GError **error);
bool desk_get_after(DeskCall *call, GError **error);
bool desk_get_around(DeskCall *call, GError **error);
bool desk_get_placements(DeskCall *call, GError **error);

/* desk_decide.c */
bool desk_post_decision(DeskCall *call, GError **error);
bool desk_post_lift(DeskCall *call, GError **error);
bool desk_post_undo(DeskCall *call, GError **error);
bool desk_post_redo(DeskCall *call, GError **error);

/* desk_tie.c */
bool desk_post_tie(DeskCall *call, GError **error);
bool desk_get_tie(DeskCall *call, GError **error);
bool desk_delete_tie(DeskCall *call, GError **error);

/* desk_picture.c */
bool desk_get_frame(DeskCall *call, GError **error);
bool desk_get_photo(DeskCall *call, GError **error);
bool desk_get_warp(DeskCall *call, GError **error);

/* desk_draw.c */
bool desk_get_draw(DeskCall *call, GError **error);

/* desk_walk.c */
bool desk_get_walk_frames(DeskCall *call, GError **error);
bool desk_get_walk_strip(DeskCall *call, GError **error);

/* desk_marks.c */
bool desk_get_mark_names(DeskCall *call, GError **error);
bool desk_post_mark_names(DeskCall *call, GError **error);
bool desk_put_mark_names(DeskCall *call, GError **error);
bool desk_delete_mark_names(DeskCall *call, GError **error);
bool desk_get_marks(DeskCall *call, GError **error);
bool desk_post_marks(DeskCall *call, GError **error);
bool desk_put_mark(DeskCall *call, GError **error);
bool desk_delete_mark(DeskCall *call, GError **error);

/* desk_areas.c */
bool desk_get_areas(DeskCall *call, GError **error);
bool desk_post_areas(DeskCall *call, GError **error);
bool desk_put_area(DeskCall *call, GError **error);
bool desk_delete_area(DeskCall *call, GError **error);
bool desk_put_areas(DeskCall *call, GError **error);
bool desk_delete_areas(DeskCall *call, GError **error);
bool desk_post_areas_order(DeskCall *call, GError **error);
bool desk_post_areas_copy(DeskCall *call, GError **error);

/* desk_edit.c */
bool desk_post_areas_undo(DeskCall *call, GError **error);
bool desk_post_areas_redo(DeskCall *call, GError **error);
bool desk_post_marks_undo(DeskCall *call, GError **error);
bool desk_post_marks_redo(DeskCall *call, GError **error);

#endif
