/* What a desk holds. */
#ifndef LF_DESK_STATE_H
#define LF_DESK_STATE_H

#include "desk/desk_call.h"

struct LfDesk {
    char *path; /* of the study */
    LfStudy *study;
    SoupServer *server;
    int port;
    DeskGuard guard;
};

#endif
