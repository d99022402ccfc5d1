/* How far each part of a photo stands behind its plane, by multiple-baseline stereo.
 *
 * For each cell of a grid over the photo many depths are tried: in every frame looked at, the patch
 * of the photo is compared with the frame where it would be seen at that depth, and the agreement
 * is added up over the frames (M. Okutomi, T. Kanade, "A multiple-baseline stereo", IEEE PAMI 15
 * (1993) 353-363, doi:10.1109/34.206955). A shelf of look-alike packs agrees at several depths in
 * one frame, but at other ones in the next: only the right one agrees in all. */
#ifndef LF_CAST_SWEEP_H
#define LF_CAST_SWEEP_H

#include "cast/pose.h"

typedef struct LfSweep LfSweep;

/* photo is borrowed. camera: where it was taken from; of its cells every stride-th is swept, along
 * and across. */
LfSweep *lf_sweep_new(const LfPhoto *photo, LfReliefCamera camera, int stride);
void lf_sweep_free(LfSweep *sweep);
/* Adds a frame to n sweeps of the photo seen in it. Any thread, several at once. */
void lf_sweep_add(LfSweep *const *sweeps, int n, const LfMat3 *frame_from_photo, const LfLens *lens,
                  const LfFramePyramid *frame);
/* From now on only depths are tried that the frames so far have left in question. */
void lf_sweep_narrow(LfSweep *sweep);
/* Mean best agreement over all cells, 0..1: the camera under which it is highest is the right one.
 */
double lf_sweep_agreement(const LfSweep *sweep);
/* sweep_teach.c: teaches the relief what the frames so far tell, in place of what it knew before;
 * nothing where the photo was hardly seen in them. */
void lf_sweep_teach(const LfSweep *sweep, LfRelief *relief);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfSweep, lf_sweep_free)

#endif
