/* Areas being read from a file: each checked, and its name against the others'. */
#ifndef LF_LOOK_AREA_LIST_H
#define LF_LOOK_AREA_LIST_H

#include <lookfall/area.h>

typedef struct AreaList AreaList;

AreaList *area_list_new(const LfAreaPhoto *photo);
void area_list_free(AreaList *list);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(AreaList, area_list_free)
/* Takes the area, in any case. place: where it is in the file ("row 3"). LF_ERROR_INPUT where it
 * cannot be used or its name is there already, without file and place. */
bool area_list_add(AreaList *list, LfArea *area, const char *place, GError **error);
/* The areas; owned by the caller. LF_ERROR_INPUT where there is none. */
GPtrArray *area_list_finish(AreaList *list, const char *file, GError **error);

#endif
