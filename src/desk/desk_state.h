/* What a desk holds, and the steps its handlers share. */
#ifndef LF_DESK_STATE_H
#define LF_DESK_STATE_H

#include "desk/desk_call.h"
#include "desk/desk_video.h"

#include <lookfall/placement.h>

/* Stretches as one kind of reviewer sees them, as long as nothing changes. */
typedef struct {
    int64_t version;
    GArray *stretches; /* LfStretch */
    GString *progress; /* JSON */
} DeskList;

struct LfDesk {
    char *path; /* of the study */
    LfStudy *study;
    SoupServer *server;
    int port;
    DeskGuard guard;

    GPtrArray *walks, *photos; /* LfStudyWalk, LfStudyPhoto; read again where the study changed */
    GHashTable *videos;        /* walk -> DeskVideo */
    GHashTable *pictures;      /* "photo width" -> GBytes, JPEG */
    GHashTable *lists;         /* "" or a blind reviewer -> DeskList */
    DeskFrames *frames;

    int64_t changes;      /* lf_study_changes at the last refresh */
    int64_t refreshed_us; /* monotonic time of it */
    int preparing;        /* walks whose stretches are still to be worked out */
    guint refresh_source;

    int64_t last_walk; /* whose frame was asked for last, and which one */
    gsize last_frame;

    int drawing;   /* pictures asked for and not made yet */
    int pending;   /* jobs in threads that will come back to the desk */
    GArray *ahead; /* LfStretch whose frames are likely to be asked for */
    guint ahead_source;

    struct DeskTies *ties;
};

/* --- the study as it is now (desk_fresh.c) --- */

/* Takes in what other programs have changed; cheap where they have not. */
bool desk_fresh(LfDesk *desk, GError **error);
/* After a change of one's own to walks or photos that the desk keeps in memory. */
const LfStudyWalk *desk_walk(LfDesk *desk, int64_t id, GError **error); /* DESK_NOT_FOUND */
const LfStudyPhoto *desk_photo(LfDesk *desk, int64_t id, GError **error);
/* Answers with the areas of a photo, or the marks of a walk (NULL: of all), and what of these could
 * be undone and redone. */
bool desk_areas_list(DeskCall *call, const LfStudyPhoto *photo, GError **error);
bool desk_marks_list(DeskCall *call, const LfStudyWalk *walk, GError **error);
/* Borrowed; DESK_NOT_FOUND or what the study says. */
DeskVideo *desk_walk_video(LfDesk *desk, int64_t walk, GError **error);

LfReviewer desk_reviewer(const DeskSession *session);

/* --- the worklist (desk_list.c) --- */

/* Borrowed until the study changes. */
const DeskList *desk_list(LfDesk *desk, const DeskSession *session, GError **error);
void desk_list_free(gpointer list);
/* Whether a reason is listed without being asked for. */
bool desk_reason_listed(int reason);
/* "reasons": all of them, with words. */
void desk_json_reasons(GString *json);
/* SUMMARY without its closing bracket, so that more can be put into it. */
bool desk_list_summary(LfDesk *desk, const DeskSession *session, GString *json,
                       const LfStretch *stretch, GError **error);
/* The next `count` unsettled stretches after (or before) this one under the call's filters, as a
 * list named `name`. Their first frames are decoded ahead. */
bool desk_list_neighbours(DeskCall *call, const LfStretch *stretch, bool before, int64_t count,
                          const char *name, GError **error);
/* "progress", "undo" and "redo". */
bool desk_list_progress(DeskCall *call, GError **error);

/* --- one stretch (desk_stretch.c) --- */

/* DESK_GONE where it is no more. */
bool desk_stretch_find(DeskCall *call, int64_t id, LfStretch *stretch, GError **error);
/* The moment to be shown first: the middle of its longest fixation, or its own. */
int64_t desk_stretch_show_us(const LfSpan *span, const LfStretch *stretch);
/* [a, b, ...] */
void desk_json_matrix(GString *json, const char *name, const LfMat3 *m);
void desk_json_pose(GString *json, int64_t photo, const LfPoseCast *pose);
void desk_json_step(GString *json, const char *name, const LfReviewStep *step);

/* --- ties (desk_tie.c) --- */

/* What a finished job gave, for a decision of the same stretch; borrowed. DESK_CONFLICT or
 * DESK_NOT_FOUND otherwise. *said takes the ties as JSON, borrowed. */
bool desk_tie_result(LfDesk *desk, int64_t job, const LfStretch *stretch,
                     const LfTiedPlace **places, gsize *n, const char **said, GError **error);
/* The pose of a job's frame nearest to t_us; false where it has none. */
bool desk_tie_pose(LfDesk *desk, int64_t job, int64_t t_us, LfMat3 *photo_from_frame);
struct DeskTies *desk_ties_new(void);
void desk_ties_free(struct DeskTies *ties);

#endif
