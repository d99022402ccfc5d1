/* Placing samples between frames.
 *
 * A sample's gaze point is cast under the poses of the frames around it and the results are joined
 * at the sample's own time: the mapping moves smoothly, the gaze does not. Cubic where two frames
 * on each side are known, else linear. */
#include "cast/place.h"

#include <math.h>
#include <string.h>

#include "cast/doubt.h"
#include "cast/look.h"

/* How far, frames, a pose may be carried to a sample that has no pose on the other side, or across
 * a gap. */
#define PLACE_BRIDGE 12
/* Standard error that a carried pose gains per frame, degrees: the unsteadiness of a standing head
 * (1-2 degrees per second; measured on the rendered walks), on top of the motion itself. */
#define PLACE_CARRY_DEG 0.15
/* The frames around a sample show one surface there, not two: where their looks end further apart
 * than this, tolerances, the likelier end counts for both. */
#define PLACE_ONE_SURFACE 0.3
/* Across a gap the point went from one end to the other in an unknown way: variance along that line
 * as a share of its length squared. Anywhere between would be 1/12; it may also overshoot. */
#define PLACE_BRIDGED 0.2

typedef struct {
    const LfWindowFrame *frame;
    const LfPose *pose;
    LfPoseLocal local;
    int64_t t_us;
    int64_t distance; /* frames between the sample and this pose, 0 for the nearest frame */
    LfLook look;
} PlaceSide;

/* A sample's gaze point. */
typedef struct {
    LfPoint frame, undistorted;
} PlaceGaze;

static LfPoseView place_view(const LfPlaceScene *scene, int photo)
{
    return (LfPoseView){.lens = scene->lens,
                        .relief = scene->reliefs[photo],
                        .photo = scene->photos[photo],
                        .tolerance_deg = scene->settings->tolerance_deg};
}

/* Where the gaze point falls in one frame, and how the picture looks there. */
static bool place_in_frame(const LfPlaceScene *scene, const LfWindowFrame *frame, int photo,
                           const PlaceGaze *gaze, PlaceSide *side)
{
    LfGlimpse glimpse;
    LfPoseView view = place_view(scene, photo);
    lf_glimpse(&glimpse, side->pose, &frame->pyramid, scene->lens, gaze->frame, gaze->undistorted);
    view.glimpse = &glimpse;
    if (!lf_pose_local(side->pose, &view, gaze->undistorted, &side->local))
        return false;
    side->look = lf_look(&glimpse, view.photo, side->local.photo, side->local.larger);
    return true;
}

/* Moves a side onto the surface that the other one's look ended on: what it had taken for likelier
 * is elsewhere now. */
static void place_onto(const LfPlaceScene *scene, const LfWindowFrame *frame, int photo,
                       const PlaceGaze *gaze, const PlaceSide *other, LfPoint at, PlaceSide *side)
{
    LfGlimpse glimpse;
    lf_glimpse(&glimpse, side->pose, &frame->pyramid, scene->lens, gaze->frame, gaze->undistorted);
    side->local.photo = at;
    side->local.surface = other->local.surface;
    side->local.larger = other->local.larger;
    side->local.elsewhere = 1 - side->local.elsewhere;
    side->look = lf_look(&glimpse, scene->photos[photo], at, side->local.larger);
}

/* Brings both sides onto one surface, that of the side which is surer of its own and nearer in
 * time; u: share of the way from a to b. */
static void place_one_surface(const LfPlaceScene *scene, int photo, const PlaceGaze *gaze, double u,
                              PlaceSide *a, PlaceSide *b)
{
    const LfPoseView view = place_view(scene, photo);
    const bool first = (1 - u) * (1 - a->local.elsewhere) >= u * (1 - b->local.elsewhere);
    PlaceSide *keep = first ? a : b, *move = first ? b : a;
    LfPoint at;
    const double apart =
        PLACE_ONE_SURFACE * scene->settings->tolerance_deg * move->local.px_per_degree;
    if (view.relief &&
        lf_pose_on_surface(move->pose, &view, gaze->undistorted, &keep->local.surface, &at) &&
        hypot(at.x - move->local.photo.x, at.y - move->local.photo.y) > apart)
        place_onto(scene, move->frame, photo, gaze, keep, at, move);
}

/* The nearest frame from `number` on (step -1 or 1) in which the photo has a pose. */
static bool place_side(const LfPlaceScene *scene, int64_t number, int step, int photo,
                       const PlaceGaze *gaze, PlaceSide *side)
{
    for (int64_t i = 0; i <= PLACE_BRIDGE; i++) {
        const LfWindowFrame *frame = lf_window_at(scene->window, number + i * step);
        if (!frame)
            return false;
        if (!frame->has[photo])
            continue;
        *side = (PlaceSide){
            .frame = frame, .pose = &frame->pose[photo], .t_us = frame->t_us, .distance = i};
        return place_in_frame(scene, frame, photo, gaze, side);
    }
    return false;
}

/* A point of the gaze point's path over the photo. */
typedef struct {
    LfPoint at;
    double t_us;
} PlaceStop;

/* Where the gaze point falls in frame `number` on the surface it fell on at `side`. */
static bool place_stop(const LfPlaceScene *scene, int64_t number, int photo, const PlaceGaze *gaze,
                       const PlaceSide *side, PlaceStop *stop)
{
    const LfWindowFrame *frame = lf_window_at(scene->window, number);
    if (!frame || !frame->has[photo])
        return false;
    const LfPoseView view = place_view(scene, photo);
    stop->t_us = (double)frame->t_us;
    return lf_pose_on_surface(&frame->pose[photo], &view, gaze->undistorted, &side->local.surface,
                              &stop->at);
}

/* How the gaze point's path bends in frame `number`, that of `side`: half its second derivative,
 * exact for a parabola. On one surface: from one to another the path jumps, which says nothing of
 * how the head moved. */
static bool place_bend(const LfPlaceScene *scene, int64_t number, int photo, const PlaceGaze *gaze,
                       const PlaceSide *side, LfPoint *bend)
{
    const LfPoint p = side->local.photo;
    const double t = (double)side->t_us;
    PlaceStop o, r;
    if (!place_stop(scene, number - 1, photo, gaze, side, &o) ||
        !place_stop(scene, number + 1, photo, gaze, side, &r) || !(o.t_us < t) || !(r.t_us > t))
        return false;
    const double before = t - o.t_us, after = r.t_us - t;
    *bend = (LfPoint){
        ((r.at.x - p.x) / after - (p.x - o.at.x) / before) / (before + after),
        ((r.at.y - p.y) / after - (p.y - o.at.y) / before) / (before + after),
    };
    return true;
}

/* Between frames a and b: the line, and where they are the neighbours `number` and the next, and
 * more are known on both sides, the cubic that bends as the path does in both. */
static LfPoint place_between(const LfPlaceScene *scene, int64_t number, int photo,
                             const PlaceGaze *gaze, const PlaceSide *a, const PlaceSide *b,
                             double t_us)
{
    const double ta = (double)a->t_us, h = (double)b->t_us - ta;
    const double u = h > 0 ? (t_us - ta) / h : 0;
    const LfPoint p = a->local.photo, q = b->local.photo;
    LfPoint line = {p.x + u * (q.x - p.x), p.y + u * (q.y - p.y)}, at_a, at_b;
    if (!(h > 0) || a->distance > 0 || b->distance > 0 ||
        !place_bend(scene, number, photo, gaze, a, &at_a) ||
        !place_bend(scene, number + 1, photo, gaze, b, &at_b))
        return line;
    const double reach = h * h * u * (1 - u);
    return (LfPoint){line.x - reach * ((1 - u) * at_a.x + u * at_b.x),
                     line.y - reach * ((1 - u) * at_a.y + u * at_b.y)};
}

static double place_variance(const PlaceSide *side)
{
    return (side->local.cov.xx + side->local.cov.yy) / 2;
}

static LfEvidence place_evidence(const PlaceSide *side, const LfLens *lens)
{
    const LfPose *pose = side->pose;
    const double degree_px =
        lf_pose_degree_px(lens, (LfPoint){(lens->width - 1) / 2.0, (lens->height - 1) / 2.0});
    return (LfEvidence){
        .agreement = side->local.agreement,
        .support = side->local.support,
        .good_share = side->local.good_share,
        .share_good = pose->share_good,
        .n_good = pose->n_good,
        .cover = pose->cover,
        .rival = pose->rival,
        .gap_frames = (double)side->distance,
        .motion_deg = pose->motion_px / degree_px,
        .spread_deg = pose->residual_px / degree_px,
        .shift_deg = side->local.shift_px / degree_px,
        .rough_deg = side->local.rough_px / degree_px,
        .elsewhere = side->local.elsewhere,
        .mismatch = side->look.mismatch,
        .missing = side->look.missing,
        .tint = side->look.tint,
    };
}

static double place_mix(double a, double b, double u)
{
    return a + u * (b - a);
}

static LfEvidence place_evidence_mix(const LfEvidence *a, const LfEvidence *b, double u)
{
    return (LfEvidence){
        .agreement = place_mix(a->agreement, b->agreement, u),
        .support = place_mix(a->support, b->support, u),
        .good_share = place_mix(a->good_share, b->good_share, u),
        .share_good = place_mix(a->share_good, b->share_good, u),
        .n_good = place_mix(a->n_good, b->n_good, u),
        .cover = place_mix(a->cover, b->cover, u),
        .rival = MAX(a->rival, b->rival),
        .gap_frames = MAX(a->gap_frames, b->gap_frames),
        .motion_deg = MAX(a->motion_deg, b->motion_deg),
        .spread_deg = place_mix(a->spread_deg, b->spread_deg, u),
        .shift_deg = place_mix(a->shift_deg, b->shift_deg, u),
        .rough_deg = MAX(a->rough_deg, b->rough_deg),
        .elsewhere = place_mix(a->elsewhere, b->elsewhere, u),
        .mismatch = place_mix(a->mismatch, b->mismatch, u),
        .missing = place_mix(a->missing, b->missing, u),
        .tint = place_mix(a->tint, b->tint, u),
    };
}

static LfCov2 place_cov_mix(const LfCov2 *a, const LfCov2 *b, double u)
{
    return (LfCov2){place_mix(a->xx, b->xx, u), place_mix(a->xy, b->xy, u),
                    place_mix(a->yy, b->yy, u)};
}

/* Adds what is the same in all directions; variance: per axis. */
static void place_cov_round(LfCov2 *cov, double variance)
{
    cov->xx += variance;
    cov->yy += variance;
}

/* Adds `share` of a displacement, along it. */
static void place_cov_along(LfCov2 *cov, LfPoint moved, double share)
{
    cov->xx += share * moved.x * moved.x;
    cov->xy += share * moved.x * moved.y;
    cov->yy += share * moved.y * moved.y;
}

typedef struct {
    LfPoint point;
    LfCov2 cov; /* photo px^2 */
    double radius_px;
    LfEvidence evidence;
    const LfPose *pose; /* the nearer one in time */
} PlaceCandidate;

/* The sample on one photo, as far as poses reach. */
static bool place_on_photo(const LfPlaceScene *scene, int64_t number, int photo,
                           const PlaceGaze *gaze, int64_t t_us, PlaceCandidate *out)
{
    PlaceSide a, b;
    bool has_a = place_side(scene, number, -1, photo, gaze, &a);
    bool has_b = place_side(scene, number + 1, 1, photo, gaze, &b);
    if (!has_a && !has_b)
        return false;
    double degree_px;
    if (has_a && has_b) {
        double t = (double)t_us;
        double u =
            b.t_us > a.t_us ? CLAMP((t - (double)a.t_us) / (double)(b.t_us - a.t_us), 0, 1) : 0;
        place_one_surface(scene, photo, gaze, u, &a, &b);
        LfEvidence ea = place_evidence(&a, scene->lens), eb = place_evidence(&b, scene->lens);
        out->point = place_between(scene, number, photo, gaze, &a, &b, t);
        out->evidence = place_evidence_mix(&ea, &eb, u);
        out->pose = u < 0.5 ? a.pose : b.pose;
        degree_px = place_mix(a.local.px_per_degree, b.local.px_per_degree, u);
        /* Across a gap the picture may have moved in any way between its ends. */
        double gap = (double)(a.distance + b.distance);
        LfPoint moved = {b.local.photo.x - a.local.photo.x, b.local.photo.y - a.local.photo.y};
        out->cov = place_cov_mix(&a.local.cov, &b.local.cov, u);
        if (gap > 0) {
            place_cov_along(&out->cov, moved, PLACE_BRIDGED);
            place_cov_round(&out->cov,
                            gap * PLACE_CARRY_DEG * PLACE_CARRY_DEG * degree_px * degree_px);
        }
    } else {
        const PlaceSide *side = has_a ? &a : &b;
        /* One side only: what is carried further grows less certain by the motion there was. */
        double frames = (double)side->distance + 1;
        double step = place_evidence(side, scene->lens).motion_deg * side->local.px_per_degree;
        out->point = side->local.photo;
        out->pose = side->pose;
        out->evidence = place_evidence(side, scene->lens);
        out->evidence.gap_frames = frames;
        degree_px = side->local.px_per_degree;
        out->cov = side->local.cov;
        place_cov_round(&out->cov, frames * frames * step * step + frames * PLACE_CARRY_DEG *
                                                                       PLACE_CARRY_DEG * degree_px *
                                                                       degree_px);
    }
    out->radius_px = sqrt((out->cov.xx + out->cov.yy) / 2);
    out->evidence.sigma_deg = degree_px > 0 ? out->radius_px / degree_px : 180;
    return isfinite(out->point.x) && isfinite(out->point.y) && isfinite(out->radius_px);
}

static bool place_inside(const LfPhoto *photo, LfPoint p)
{
    return p.x >= -0.5 && p.y >= -0.5 && p.x < photo->report.width - 0.5 &&
           p.y < photo->report.height - 0.5;
}

static LfDoubt place_doubt(const LfPlaceScene *scene, const PlaceCandidate *one, int photo,
                           const PlaceGaze *gaze, LfState state)
{
    const LfDoubtSigns signs = {.changed = lf_changed_at(scene->changed[photo], one->point),
                                .displaced =
                                    lf_doubt_displaced(one->pose, scene->lens, gaze->undistorted)};
    return lf_doubt(&one->evidence, &signs, scene->settings->tolerance_deg,
                    state == LF_STATE_BLOCKED);
}

LfPlaced lf_place_sample(const LfPlaceScene *scene, int64_t number, const LfGazeSample *sample,
                         gsize index)
{
    LfPlaced best = {.cast = {.sample = index,
                              .photo = -1,
                              .state = sample->lost ? LF_STATE_LOST : LF_STATE_AWAY,
                              .x = NAN,
                              .y = NAN,
                              .confidence = NAN,
                              .radius_px = NAN,
                              .cov = {NAN, NAN, NAN}}};
    PlaceGaze gaze = {.frame = {sample->x, sample->y}};
    if (sample->lost || !lf_lens_undistort(scene->lens, gaze.frame, &gaze.undistorted))
        return best;
    for (int p = 0; p < scene->window->n_photos; p++) {
        PlaceCandidate one;
        if (!place_on_photo(scene, number, p, &gaze, sample->t_us, &one) ||
            !place_inside(scene->photos[p], one.point))
            continue;
        double confidence = lf_confidence(&one.evidence, scene->settings->tolerance_deg);
        if (best.cast.photo >= 0 && best.cast.confidence >= confidence)
            continue;
        best.cast = (LfSampleCast){.sample = index,
                                   .photo = p,
                                   .x = one.point.x,
                                   .y = one.point.y,
                                   .confidence = confidence,
                                   .radius_px = one.radius_px,
                                   .cov = one.cov};
        best.evidence = one.evidence;
        best.cast.state = lf_confidence_blocked(&one.evidence)     ? LF_STATE_BLOCKED
                          : confidence >= scene->settings->sure_at ? LF_STATE_SURE
                                                                   : LF_STATE_DOUBTFUL;
        if (best.cast.state != LF_STATE_SURE)
            best.cast.doubt = place_doubt(scene, &one, p, &gaze, best.cast.state);
        /* What is never there has been taken away: nothing stands in front of it. */
        if (best.cast.state == LF_STATE_BLOCKED && best.cast.doubt == LF_DOUBT_CHANGED)
            best.cast.state = LF_STATE_DOUBTFUL;
    }
    return best;
}

LfPoseCast lf_place_pose(const LfPlaceScene *scene, const LfPose *pose, int64_t t_us)
{
    const LfLens *lens = scene->lens;
    LfPoseCast out = {
        .t_us = t_us,
        .photo = pose->photo,
        .photo_from_frame = pose->photo_from_frame,
        .n_rivals = pose->n_rivals,
    };
    memcpy(out.rivals, pose->rivals, sizeof out.rivals);
    LfPoint middle = {0, 0};
    for (int i = 0; i < pose->n_points; i++)
        if (pose->points[i].good) {
            middle.x += pose->points[i].laid.x / pose->n_good;
            middle.y += pose->points[i].laid.y / pose->n_good;
        }
    PlaceSide side = {.pose = pose, .t_us = t_us, .look = {1, 0, 1, 1}};
    const LfPoseView view = place_view(scene, pose->photo);
    if (lf_pose_local(pose, &view, middle, &side.local)) {
        LfEvidence evidence = place_evidence(&side, lens);
        evidence.sigma_deg = sqrt(place_variance(&side)) / MAX(side.local.px_per_degree, 1e-9);
        /* The pose as a whole, not what happens to be around its middle. */
        evidence.agreement = evidence.good_share = evidence.share_good;
        out.confidence = lf_confidence(&evidence, scene->settings->tolerance_deg);
    }
    return out;
}
