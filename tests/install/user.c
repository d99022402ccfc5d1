/* A user of the installed library. Returns 0 where it works. */
#include <lookfall/lookfall.h>

int main(void)
{
    LfMat3 shift = lf_mat3_translation(3, 4);
    LfPoint p = {1, 2}, q;
    GError *error = NULL;
    LfPhoto *photo = lf_photo_load("missing.png", NULL, &error);
    if (photo || !g_error_matches(error, LF_ERROR, LF_ERROR_INPUT))
        return 1;
    g_error_free(error);
    return lf_mat3_apply(&shift, p, &q) && q.x == 4 && q.y == 6 ? 0 : 1;
}
