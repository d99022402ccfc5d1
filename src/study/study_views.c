/* Views for readers of the file: names instead of numbers, seconds instead of microseconds. They
 * hold nothing, so they are made anew whenever the schema is; docs/study.md tells what they show.
 */
#include "study/study_db.h"

static const char *const study_views_names[] = {"view_walk",     "view_sample", "view_pose",
                                                "view_fixation", "view_area",   "view_mark"};

static const char study_views_sql[] =
    "CREATE VIEW view_walk AS SELECT name AS walk, participant, group_name AS \"group\","
    "  end_us / 1e6 AS end_s, samples, lost, interval_us / 1e6 AS interval_s FROM walk;\n"

    /* A placement that holds lies on top of the engine's result. */
    "CREATE VIEW view_sample AS SELECT walk.name AS walk, gaze.t_us / 1e6 AS t_s,\n"
    "  photo.name AS photo,\n"
    "  CASE WHEN s.t_us IS NULL THEN c.x_px ELSE s.x_px END AS x_px,\n"
    "  CASE WHEN s.t_us IS NULL THEN c.y_px ELSE s.y_px END AS y_px,\n"
    "  CASE WHEN s.t_us IS NULL THEN c.confidence END AS confidence,\n"
    "  state.name AS state,\n"
    "  CASE WHEN s.t_us IS NULL THEN c.radius_px ELSE s.radius_px END AS radius_px,\n"
    "  s.placement AS placement\n"
    "FROM gaze JOIN walk ON walk.id = gaze.walk\n"
    "LEFT JOIN cast_sample c ON c.walk = gaze.walk AND c.t_us = gaze.t_us\n"
    "LEFT JOIN placed_sample s ON s.t_us = gaze.t_us AND s.placement = (\n"
    "  SELECT max(p.id) FROM placement p\n"
    "  JOIN placed_sample q ON q.placement = p.id AND q.t_us = gaze.t_us\n"
    "  WHERE p.walk = gaze.walk AND p.from_us <= gaze.t_us AND gaze.t_us < p.to_us\n"
    "  AND NOT p.lifted AND NOT p.blind AND p.inputs = (\n"
    "    SELECT v.sha256 || ' ' || g.sha256 FROM file v, file g\n"
    "    WHERE v.id = walk.video AND g.id = walk.gaze))\n"
    "LEFT JOIN photo ON photo.id = CASE WHEN s.t_us IS NULL THEN c.photo ELSE s.photo END\n"
    "LEFT JOIN state ON state.id = CASE WHEN s.t_us IS NULL THEN c.state ELSE s.state END;\n"

    "CREATE VIEW view_pose AS SELECT walk.name AS walk, t_us / 1e6 AS t_s, photo.name AS photo,"
    "  m1, m2, m3, m4, m5, m6, m7, m8, m9, confidence"
    "  FROM pose JOIN walk ON walk.id = pose.walk JOIN photo ON photo.id = pose.photo;\n"

    "CREATE VIEW view_fixation AS SELECT walk.name AS walk, participant, group_name AS \"group\","
    "  from_us / 1e6 AS from_s, to_us / 1e6 AS to_s, (to_us - from_us) / 1e6 AS duration_s,"
    "  photo.name AS photo, x_px, y_px, radius_px, state.name AS state, fixation.samples"
    "  FROM fixation JOIN walk ON walk.id = fixation.walk"
    "  LEFT JOIN photo ON photo.id = fixation.photo LEFT JOIN state ON state.id = fixation.state;\n"

    "CREATE VIEW view_area AS SELECT photo.name AS photo, place, area.name AS area,"
    "  group_path AS \"group\", shape, points FROM area JOIN photo ON photo.id = area.photo;\n"

    "CREATE VIEW view_mark AS SELECT walk.name AS walk, participant, group_name AS \"group\","
    "  mark.name AS mark, from_us / 1e6 AS from_s, to_us / 1e6 AS to_s, who, at"
    "  FROM mark JOIN walk ON walk.id = mark.walk;\n";

bool study_views_apply(LfStudy *study, GError **error)
{
    for (gsize i = 0; i < G_N_ELEMENTS(study_views_names); i++) {
        g_autofree char *drop = g_strdup_printf("DROP VIEW IF EXISTS %s", study_views_names[i]);
        int code = sqlite3_exec(study->db, drop, NULL, NULL, NULL);
        if (code != SQLITE_OK)
            return study_db_fail(study, code, error);
    }
    int code = sqlite3_exec(study->db, study_views_sql, NULL, NULL, NULL);
    return code == SQLITE_OK || study_db_fail(study, code, error);
}
