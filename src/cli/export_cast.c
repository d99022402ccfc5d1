/* Exports of what was cast: samples and poses. */
#include "export_out.h"

enum { SAMPLE_X, SAMPLE_Y, SAMPLE_CONFIDENCE, SAMPLE_RADIUS };

static void export_sample_walk(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    csv_line_text(cell, ((const LfStudySample *)row)->walk);
}

static void export_sample_time(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    const LfStudySample *sample = row;
    csv_line_seconds(cell, sample->t_us, sample->time_decimals);
}

static void export_sample_photo(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    const LfStudySample *sample = row;
    csv_line_text(cell, sample->cast ? sample->photo : NULL);
}

static void export_sample_state(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    const LfStudySample *sample = row;
    csv_line_text(cell, sample->cast ? lf_state_name(sample->result.state) : NULL);
}

static void export_sample_number(GString *cell, const void *row, int which)
{
    const LfStudySample *sample = row;
    const double values[] = {
        [SAMPLE_X] = sample->result.x,
        [SAMPLE_Y] = sample->result.y,
        [SAMPLE_CONFIDENCE] = sample->result.confidence,
        [SAMPLE_RADIUS] = sample->result.radius_px,
    };
    if (sample->cast)
        csv_line_fixed(cell, values[which],
                       which == SAMPLE_CONFIDENCE ? EXPORT_SHARE_DECIMALS : EXPORT_PX_DECIMALS);
}

static const ExportColumn *export_sample_columns(gsize *n)
{
    static const ExportColumn columns[] = {
        {"walk", "", "name of the walk", export_sample_walk, 0},
        {"t_s", "s", "time from the start of the walk's video, clock shift applied",
         export_sample_time, 0},
        {"photo", "", "name of the photo the gaze falls on; blank where it is on none",
         export_sample_photo, 0},
        {"x_px", "px", "place on the photo, to the right; 0 is the centre of the first pixel",
         export_sample_number, SAMPLE_X},
        {"y_px", "px", "place on the photo, downwards", export_sample_number, SAMPLE_Y},
        {"confidence", "0 to 1",
         "estimated probability that the point is right to the study's tolerance",
         export_sample_number, SAMPLE_CONFIDENCE},
        {"state", "",
         "lost (no gaze), away (on no photo), blocked (something stands in front), doubtful, sure, "
         "placed (by a person)",
         export_sample_state, 0},
        {"radius_px", "px", "one standard error at the point", export_sample_number, SAMPLE_RADIUS},
    };
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_sample_row(const LfStudySample *sample, void *data, GError **error)
{
    return export_out_row(data, sample, error);
}

static bool export_samples_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                               GPtrArray *undone, GError **error)
{
    return lf_study_export_samples(study, options->walks, export_sample_row, out, undone, error);
}

const ExportKind export_samples = {"samples", "a sample of a gaze file, in the order of the file",
                                   export_sample_columns, export_samples_run,
                                   "not wholly cast, so that rows are blank"};

/* --- poses --------------------------------------------------------------------------------------
 */

static void export_pose_text(GString *cell, const void *row, int which)
{
    const LfStudyPose *pose = row;
    csv_line_text(cell, which == 0 ? pose->walk : pose->photo);
}

static void export_pose_time(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    csv_line_seconds(cell, ((const LfStudyPose *)row)->pose.t_us, 6);
}

static void export_pose_matrix(GString *cell, const void *row, int which)
{
    csv_line_exact(cell, ((const LfStudyPose *)row)->pose.photo_from_frame.m[which]);
}

static void export_pose_confidence(GString *cell, const void *row, G_GNUC_UNUSED int which)
{
    csv_line_fixed(cell, ((const LfStudyPose *)row)->pose.confidence, EXPORT_SHARE_DECIMALS);
}

static const ExportColumn *export_pose_columns(gsize *n)
{
#define MATRIX(i)                                                                                  \
    {                                                                                              \
        "photo_from_frame_" #i, "",                                                                \
            "element " #i " of the 3 x 3 matrix, row by row, from undistorted frame px to photo "  \
            "px",                                                                                  \
            export_pose_matrix, (i)-1                                                              \
    }
    static const ExportColumn columns[] = {
        {"walk", "", "name of the walk", export_pose_text, 0},
        {"t_s", "s", "time of the frame from the start of the walk's video", export_pose_time, 0},
        {"photo", "", "name of the photo found in the frame", export_pose_text, 1},
        MATRIX(1),
        MATRIX(2),
        MATRIX(3),
        MATRIX(4),
        MATRIX(5),
        MATRIX(6),
        MATRIX(7),
        MATRIX(8),
        MATRIX(9),
        {"confidence", "0 to 1", "of the mapping, at the centre of what is seen of the photo",
         export_pose_confidence, 0},
    };
#undef MATRIX
    *n = G_N_ELEMENTS(columns);
    return columns;
}

static bool export_pose_row(const LfStudyPose *pose, void *data, GError **error)
{
    return export_out_row(data, pose, error);
}

static bool export_poses_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                             GPtrArray *undone, GError **error)
{
    return lf_study_export_poses(study, options->walks, export_pose_row, out, undone, error);
}

const ExportKind export_poses = {"poses", "a frame and a photo found in it", export_pose_columns,
                                 export_poses_run, "not wholly cast, so that rows are missing"};
