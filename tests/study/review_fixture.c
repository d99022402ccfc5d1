/* A study with results of its own making. */
#include "study/review_fixture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>

#include <cmocka.h>

#include "study/study_recipe.h"

void review_sql(LfStudy *study, const char *sql)
{
    char *why = NULL;
    if (sqlite3_exec(study->db, sql, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s: %s", sql, why);
}

/* All chunks of all walks count as cast by today's recipe. */
static void review_close_chunks(LfStudy *study)
{
    g_autofree char *head = study_recipe_head(study, NULL);
    g_autoptr(GArray) ids = study_walk_ids(study, NULL, NULL);
    assert_true(study_db_begin(study, NULL));
    for (guint i = 0; i < ids->len; i++) {
        g_autoptr(StudyWalk) walk = study_walk_load(study, g_array_index(ids, int64_t, i), NULL);
        int64_t recipe, run;
        assert_true(study_recipe_put(study, head, walk, &recipe, NULL));
        assert_true(study_db_log(study, "cast", "made for a test", &run, NULL));
        assert_true(study_db_run(study, NULL,
                                 "UPDATE chunk SET recipe = ?, run = ?, frames = frames_due,"
                                 " damaged = 0, lost = 0, away = 0, blocked = 0, doubtful = 0,"
                                 " sure = 0 WHERE walk = ?",
                                 "iii", recipe, run, walk->id));
    }
    assert_true(study_db_end(study, true, NULL));
}

void review_cast_again(LfStudy *study, double other)
{
    g_autofree char *results = g_strdup_printf(
        "DELETE FROM cast_sample; DELETE FROM pose; DELETE FROM pose_rival;"
        "INSERT INTO cast_sample(walk, t_us, photo, state, x_px, y_px, confidence, radius_px,"
        " doubt, cov_xx, cov_xy, cov_yy)"
        " SELECT walk, t_us, 1, 4, x_px + %d, y_px + %d, 0.95, 2, 0, 4, 0, 4 FROM gaze;"
        "UPDATE cast_sample SET state = 0, photo = NULL, x_px = NULL, y_px = NULL,"
        " confidence = NULL, radius_px = NULL, cov_xx = NULL, cov_xy = NULL, cov_yy = NULL"
        " WHERE (walk, t_us) IN (SELECT walk, t_us FROM gaze WHERE x_px IS NULL);"
        "UPDATE cast_sample SET state = 3, doubt = 3, confidence = 0.4, x_px = x_px + %g"
        " WHERE state = 4 AND t_us >= 1000000 AND t_us < 2000000;"
        "UPDATE cast_sample SET state = 3, doubt = 1, confidence = 0.5, x_px = x_px + %g"
        " WHERE state = 4 AND t_us >= 4000000 AND t_us < 4500000;"
        "UPDATE cast_sample SET state = 2, doubt = 2, confidence = 0.6"
        " WHERE state = 4 AND t_us >= 6000000 AND t_us < 6400000;"
        "UPDATE cast_sample SET state = 1, photo = NULL, x_px = NULL, y_px = NULL,"
        " confidence = NULL, radius_px = NULL, cov_xx = NULL, cov_xy = NULL, cov_yy = NULL"
        " WHERE state = 4 AND t_us >= 7000000 AND t_us < 7600000;"
        "WITH RECURSIVE frame(t) AS (VALUES(0) UNION ALL SELECT t + 40000 FROM frame"
        " WHERE t < 8960000) INSERT INTO pose SELECT walk.id, t, 1, 0.9, 1, 0, %d, 0, 1, %d,"
        " 0, 0, 1 FROM frame, walk WHERE t < 6900000 OR t > 7700000;"
        "INSERT INTO pose_rival SELECT walk, t_us, photo, 0, %d, 0, 0.9 FROM pose"
        " WHERE t_us >= 900000 AND t_us < 2100000;",
        REVIEW_DX, REVIEW_DY, other, other, REVIEW_DX, REVIEW_DY, REVIEW_RIVAL);
    review_sql(study, results);
    review_close_chunks(study);
}

LfStudy *review_make(Bed *bed)
{
    LfCastSettings settings = lf_cast_settings_default();
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "a.mp4", "shelf.ppm", 9);
    bed_gaze(bed, "a.csv", 0, 9);
    LfStudy *study = lf_study_create(bed_path(bed, "r.lookfall"), &settings, NULL);
    assert_non_null(study);
    assert_true(
        lf_study_photo_add(study, "shelf", bed_path(bed, "shelf.ppm"), (double)NAN, NULL, NULL));
    LfWalkInput input = {
        .name = "a", .video = bed_path(bed, "a.mp4"), .gaze = bed_path(bed, "a.csv")};
    assert_true(lf_study_walk_add(study, &input, NULL, NULL, NULL));
    review_cast_again(study, 0);
    review_sql(study, "INSERT INTO fixation(walk, from_us, to_us, photo, state, x_px, y_px, "
                      "radius_px, samples) VALUES(1, 1100000, 1300000, 1, 3, 0, 0, 1, 9),"
                      " (1, 1400000, 1800000, 1, 3, 0, 0, 1, 18)");
    int left;
    assert_true(lf_study_stretches_refresh(study, 0, &left, NULL));
    assert_int_equal(left, 0);
    return study;
}

LfStretch review_stretch(LfStudy *study, const LfReviewer *reviewer, int64_t t_us)
{
    g_autoptr(GArray) list = lf_study_stretches(study, reviewer, NULL);
    assert_non_null(list);
    for (guint i = 0; i < list->len; i++) {
        LfStretch stretch = g_array_index(list, LfStretch, i);
        if (stretch.from_us <= t_us && t_us < stretch.to_us)
            return stretch;
    }
    fail_msg("no stretch holds %.3f s", (double)t_us / 1e6);
    return (LfStretch){0};
}

int64_t review_decide(LfStudy *study, const LfReviewer *reviewer, const LfDecision *decision,
                      LfDecided outcome)
{
    g_autoptr(GError) error = NULL;
    LfDecided decided = LF_DECIDED;
    int64_t placement = 0;
    if (!lf_study_decide(study, reviewer, decision, &decided, &placement, &error))
        fail_msg("%s", error->message);
    assert_int_equal(decided, outcome);
    assert_true((placement != 0) == (outcome == LF_DECIDED));
    return placement;
}
