/* The tables of a study, and the steps from older versions. docs/study.md explains them.
 *
 * A step is never edited once released: a change of the schema is a new step at the end. The number
 * of steps is the version, kept in the file's user_version. */
#include "study/study_db.h"

static const char study_schema_1[] =
    /* One row: how the study is cast. revision counts what makes results stale for all walks at
     * once (settings, photos), so that a cast notices when somebody changes them meanwhile. */
    "CREATE TABLE study(\n"
    "  id INTEGER PRIMARY KEY CHECK (id = 1),\n"
    "  tolerance_deg REAL NOT NULL,\n"
    "  sure_at REAL NOT NULL,\n"
    "  revision INTEGER NOT NULL DEFAULT 0\n"
    ") STRICT;\n"

    /* Who did what and when; program is lookfall's version. */
    "CREATE TABLE log(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  at TEXT NOT NULL,\n" /* ISO 8601, UTC */
    "  who TEXT NOT NULL,\n"
    "  program TEXT NOT NULL,\n"
    "  engine INTEGER NOT NULL,\n"
    "  action TEXT NOT NULL,\n"
    "  detail TEXT NOT NULL\n"
    ") STRICT;\n"

    /* An input as it was when last read. */
    "CREATE TABLE file(\n"
    "  id INTEGER PRIMARY KEY,\n"
    "  path TEXT NOT NULL,\n"            /* absolute */
    "  path_from_study TEXT NOT NULL,\n" /* relative to the study's folder */
    "  sha256 TEXT NOT NULL,\n"
    "  bytes INTEGER NOT NULL,\n"
    "  changed_ns INTEGER NOT NULL\n" /* time of last change, ns since 1970 */
    ") STRICT;\n"

    /* The bank comes last, so that reading the rest does not walk through it. */
    "CREATE TABLE photo(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n" /* never used again after a removal */
    "  name TEXT NOT NULL UNIQUE,\n"
    "  image INTEGER NOT NULL REFERENCES file(id),\n"
    "  width_px INTEGER NOT NULL,\n"
    "  height_px INTEGER NOT NULL,\n"
    "  width_mm REAL,\n"
    "  features INTEGER NOT NULL,\n"
    "  spread REAL NOT NULL,\n"
    "  alike REAL NOT NULL,\n"
    "  engine INTEGER NOT NULL,\n" /* engine version that made the bank */
    "  bank_sha256 TEXT NOT NULL,\n"
    "  bank BLOB NOT NULL\n"
    ") STRICT;\n"

    /* revision counts changes of the walk's inputs, like study.revision. */
    "CREATE TABLE walk(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  name TEXT NOT NULL UNIQUE,\n"
    "  participant TEXT,\n"
    "  group_name TEXT,\n"
    "  revision INTEGER NOT NULL DEFAULT 0,\n"
    "  video INTEGER NOT NULL REFERENCES file(id),\n"
    "  gaze INTEGER NOT NULL REFERENCES file(id),\n"
    "  camera INTEGER REFERENCES file(id),\n"
    "  gaze_time TEXT,\n" /* how the gaze file was read; NULL: the default */
    "  gaze_x TEXT,\n"
    "  gaze_y TEXT,\n"
    "  gaze_valid TEXT,\n"
    "  clock_shift_ms REAL NOT NULL,\n"
    "  clock TEXT NOT NULL CHECK (clock IN ('start', 'stamp')),\n"
    "  width_px INTEGER NOT NULL,\n" /* frame as shown */
    "  height_px INTEGER NOT NULL,\n"
    "  rotation_deg INTEGER NOT NULL,\n"
    "  codec TEXT NOT NULL,\n"
    "  frame_rate REAL NOT NULL,\n"
    "  stamp_zero_us INTEGER NOT NULL,\n"
    "  frames INTEGER NOT NULL,\n"
    "  first_us INTEGER NOT NULL,\n"
    "  end_us INTEGER NOT NULL,\n"
    "  cut_off INTEGER NOT NULL,\n"
    "  lens_calibrated INTEGER NOT NULL,\n"
    "  lens_fx_px REAL NOT NULL,\n"
    "  lens_fy_px REAL NOT NULL,\n"
    "  lens_cx_px REAL NOT NULL,\n"
    "  lens_cy_px REAL NOT NULL,\n"
    "  lens_distortion TEXT NOT NULL,\n" /* k1 k2 p1 p2 ..., blank-separated */
    "  time_decimals INTEGER NOT NULL,\n"
    "  samples INTEGER NOT NULL,\n"
    "  lost INTEGER NOT NULL,\n"
    "  outside INTEGER NOT NULL,\n"
    "  interval_us INTEGER NOT NULL\n" /* median time between samples */
    ") STRICT;\n"

    /* The walk's samples in frame px; NULL where lost. The keys of this table and the next two are
     * the order in which they are written and read, so both run along the B-tree. */
    "CREATE TABLE gaze(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  t_us INTEGER NOT NULL,\n"
    "  x_px REAL,\n"
    "  y_px REAL,\n"
    "  PRIMARY KEY (walk, t_us)\n"
    ") STRICT, WITHOUT ROWID;\n"

    /* Everything that can change a result, as text, once for each walk and state of the inputs. */
    "CREATE TABLE recipe(\n"
    "  id INTEGER PRIMARY KEY,\n"
    "  sha256 TEXT NOT NULL UNIQUE,\n"
    "  text TEXT NOT NULL\n"
    ") STRICT;\n"
    "CREATE TABLE recipe_photo(\n"
    "  recipe INTEGER NOT NULL REFERENCES recipe(id) ON DELETE CASCADE,\n"
    "  photo INTEGER NOT NULL REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  PRIMARY KEY (photo, recipe)\n"
    ") STRICT, WITHOUT ROWID;\n"

    /* The unit of work and of transaction: from_us <= t < to_us. Everything from recipe on is NULL
     * until it is cast. */
    "CREATE TABLE chunk(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  number INTEGER NOT NULL,\n"
    "  key_us INTEGER NOT NULL,\n" /* key frame where decoding starts */
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER NOT NULL,\n"
    "  frames_due INTEGER NOT NULL,\n" /* frames the video's index lists in it */
    "  recipe INTEGER REFERENCES recipe(id),\n"
    "  run INTEGER REFERENCES log(id),\n"
    "  frames INTEGER,\n"
    "  damaged INTEGER,\n"
    "  broken_us INTEGER,\n" /* where the video broke off inside this chunk */
    "  lost INTEGER,\n"      /* samples by state */
    "  away INTEGER,\n"
    "  blocked INTEGER,\n"
    "  doubtful INTEGER,\n"
    "  sure INTEGER,\n"
    "  PRIMARY KEY (walk, number)\n"
    ") STRICT, WITHOUT ROWID;\n"

    "CREATE TABLE state(\n"
    "  id INTEGER PRIMARY KEY,\n"
    "  name TEXT NOT NULL UNIQUE\n"
    ") STRICT;\n"
    "INSERT INTO state VALUES (0, 'lost'), (1, 'away'), (2, 'blocked'), (3, 'doubtful'),"
    " (4, 'sure'), (5, 'placed');\n"

    /* What the cast made of each gaze sample; x, y and radius in photo px. */
    "CREATE TABLE cast_sample(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  t_us INTEGER NOT NULL,\n"
    "  photo INTEGER REFERENCES photo(id),\n"
    "  state INTEGER NOT NULL,\n"
    "  x_px REAL,\n"
    "  y_px REAL,\n"
    "  confidence REAL,\n"
    "  radius_px REAL,\n"
    "  PRIMARY KEY (walk, t_us)\n"
    ") STRICT, WITHOUT ROWID;\n"

    /* photo_from_frame, row by row, from undistorted frame px. */
    "CREATE TABLE pose(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  t_us INTEGER NOT NULL,\n"
    "  photo INTEGER NOT NULL REFERENCES photo(id),\n"
    "  confidence REAL,\n"
    "  m1 REAL NOT NULL, m2 REAL NOT NULL, m3 REAL NOT NULL,\n"
    "  m4 REAL NOT NULL, m5 REAL NOT NULL, m6 REAL NOT NULL,\n"
    "  m7 REAL NOT NULL, m8 REAL NOT NULL, m9 REAL NOT NULL,\n"
    "  PRIMARY KEY (walk, t_us, photo)\n"
    ") STRICT, WITHOUT ROWID;\n";

static const char study_schema_2[] =
    /* Why the engine doubted a sample (LfDoubt), and the error ellipse at its point, photo px^2. */
    "ALTER TABLE cast_sample ADD COLUMN doubt INTEGER;\n"
    "ALTER TABLE cast_sample ADD COLUMN cov_xx REAL;\n"
    "ALTER TABLE cast_sample ADD COLUMN cov_xy REAL;\n"
    "ALTER TABLE cast_sample ADD COLUMN cov_yy REAL;\n"

    /* How far what a photo shows stands behind its plane, as a survey of the walks found. */
    "CREATE TABLE photo_relief(\n"
    "  photo INTEGER PRIMARY KEY REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  sha256 TEXT NOT NULL,\n"
    "  relief BLOB NOT NULL\n"
    ") STRICT;\n"

    /* Other places on the photo that explain a frame nearly as well: how far everything would move,
     * photo px, and how well (0..1) against the pose itself. */
    "CREATE TABLE pose_rival(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  t_us INTEGER NOT NULL,\n"
    "  photo INTEGER NOT NULL REFERENCES photo(id),\n"
    "  number INTEGER NOT NULL,\n"
    "  dx_px REAL NOT NULL,\n"
    "  dy_px REAL NOT NULL,\n"
    "  strength REAL NOT NULL,\n"
    "  PRIMARY KEY (walk, t_us, photo, number)\n"
    ") STRICT, WITHOUT ROWID;\n"

    /* Areas of interest, photo px. group_path: outermost first, parted by '/'; '' for none. points:
     * "x,y x,y ...": the corners of a rect (4) or polygon, centre and the ends of two conjugate
     * semi-axes of an ellipse (3); rings of a path are parted by ';' and filled even-odd. */
    "CREATE TABLE area(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  photo INTEGER NOT NULL REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  place INTEGER NOT NULL,\n" /* order in lists; later ones lie on top */
    "  name TEXT NOT NULL,\n"
    "  group_path TEXT NOT NULL DEFAULT '',\n"
    "  shape TEXT NOT NULL CHECK (shape IN ('rect', 'ellipse', 'polygon', 'path')),\n"
    "  points TEXT NOT NULL,\n"
    "  UNIQUE (photo, name)\n"
    ") STRICT;\n"

    /* What somebody noted on a walk; to_us is NULL for a moment. */
    "CREATE TABLE mark_name(\n"
    "  name TEXT PRIMARY KEY,\n"
    "  key TEXT UNIQUE\n" /* on the desk's keyboard */
    ") STRICT;\n"
    "CREATE TABLE mark(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  name TEXT NOT NULL REFERENCES mark_name(name) ON UPDATE CASCADE,\n"
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER,\n"
    "  who TEXT NOT NULL,\n"
    "  at TEXT NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX mark_by_walk ON mark(walk, from_us);\n"

    /* What a reviewer decided about from_us <= t < to_us. It lies on top of the engine's results
     * and never replaces them; the newest that is not lifted holds, as long as the walk's video and
     * gaze file are those of `inputs`. blind: a second opinion, which counts for agreement alone.
     * detail: JSON, all of what was said. settled: stretches that were done with it. */
    "CREATE TABLE placement(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER NOT NULL,\n"
    "  kind TEXT NOT NULL,\n"
    "  detail TEXT NOT NULL,\n"
    "  who TEXT NOT NULL,\n"
    "  at TEXT NOT NULL,\n"
    "  program TEXT NOT NULL,\n"
    "  inputs TEXT NOT NULL,\n"
    "  blind INTEGER NOT NULL DEFAULT 0,\n"
    "  settled INTEGER NOT NULL DEFAULT 0,\n"
    "  lifted INTEGER NOT NULL DEFAULT 0\n"
    ") STRICT;\n"
    "CREATE INDEX placement_by_walk ON placement(walk, from_us);\n"
    "CREATE TABLE placed_sample(\n"
    "  placement INTEGER NOT NULL REFERENCES placement(id) ON DELETE CASCADE,\n"
    "  t_us INTEGER NOT NULL,\n"
    "  photo INTEGER REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  state INTEGER NOT NULL,\n"
    "  x_px REAL,\n"
    "  y_px REAL,\n"
    "  radius_px REAL,\n"
    "  PRIMARY KEY (placement, t_us)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX placed_sample_by_photo ON placed_sample(photo) WHERE photo IS NOT NULL;\n"
    /* The way back and forth: each row made a placement (lifts 0) or lifted one (1). undone: 1 it
     * may be done again, 2 it may not, for its reviewer has decided something else since. */
    "CREATE TABLE placement_step(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  who TEXT NOT NULL,\n"
    "  blind INTEGER NOT NULL,\n"
    "  at TEXT NOT NULL,\n"
    "  placement INTEGER NOT NULL REFERENCES placement(id) ON DELETE CASCADE,\n"
    "  lifts INTEGER NOT NULL,\n"
    "  undone INTEGER NOT NULL DEFAULT 0\n"
    ") STRICT;\n"
    "CREATE INDEX placement_step_by_who ON placement_step(who, blind, undone, id);\n"
    "CREATE INDEX placement_step_by_placement ON placement_step(placement);\n"

    /* What is to be reviewed, worked out of the results: stretch_walk.source says which. left:
     * samples without a placement that holds. version: the review (below) when it last changed. */
    "CREATE TABLE stretch_walk(\n"
    "  walk INTEGER PRIMARY KEY REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  source TEXT NOT NULL\n"
    ") STRICT;\n"
    "CREATE TABLE stretch(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n" /* never used again */
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER NOT NULL,\n"
    "  photo INTEGER REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  reason INTEGER NOT NULL,\n"  /* LfReason */
    "  samples INTEGER NOT NULL,\n" /* with gaze */
    "  left INTEGER NOT NULL,\n"
    "  confidence REAL,\n"
    "  version INTEGER NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX stretch_by_walk ON stretch(walk, from_us);\n"
    "CREATE INDEX stretch_by_photo ON stretch(photo);\n"
    /* Counts every change of placements and stretches. */
    "CREATE TABLE review(\n"
    "  id INTEGER PRIMARY KEY CHECK (id = 1),\n"
    "  version INTEGER NOT NULL\n"
    ") STRICT;\n"
    "INSERT INTO review VALUES (1, 0);\n"

    /* When the frames of a video are shown: for each the time since the one before (the first:
     * since 0), doubled, plus 1 where decoding can start at it; as zigzag LEB128. */
    "CREATE TABLE frame_times(\n"
    "  walk INTEGER PRIMARY KEY REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  video_sha256 TEXT NOT NULL,\n"
    "  times BLOB NOT NULL\n"
    ") STRICT;\n"

    /* Fixations of a walk and how they were found; used: what was worked out from the walk itself,
     * thresholds from its noise. source: what they were computed from; another
     * source today means that they are out of date. */
    "CREATE TABLE fixation_run(\n"
    "  walk INTEGER PRIMARY KEY REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  settings TEXT NOT NULL,\n"
    "  used TEXT NOT NULL,\n"
    "  source TEXT NOT NULL,\n"
    "  run INTEGER NOT NULL REFERENCES log(id)\n"
    ") STRICT;\n"
    "CREATE TABLE fixation(\n"
    "  walk INTEGER NOT NULL REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER NOT NULL,\n"
    "  photo INTEGER REFERENCES photo(id) ON DELETE CASCADE,\n" /* NULL: on none */
    "  state INTEGER NOT NULL,\n" /* the state of most of its samples */
    "  x_px REAL,\n"
    "  y_px REAL,\n"
    "  radius_px REAL,\n"
    "  samples INTEGER NOT NULL,\n"
    "  PRIMARY KEY (walk, from_us)\n"
    ") STRICT, WITHOUT ROWID;\n";

static const char study_schema_3[] =
    /* The way back for areas (of a photo) and marks (of a walk): each row a change that can be
     * undone, or, where undone is 1, done again. */
    "CREATE TABLE edit_step(\n"
    "  id INTEGER PRIMARY KEY AUTOINCREMENT,\n"
    "  photo INTEGER REFERENCES photo(id) ON DELETE CASCADE,\n"
    "  walk INTEGER REFERENCES walk(id) ON DELETE CASCADE,\n"
    "  who TEXT NOT NULL,\n"
    "  at TEXT NOT NULL,\n"
    "  what TEXT NOT NULL,\n" /* in words */
    "  undone INTEGER NOT NULL DEFAULT 0,\n"
    "  CHECK ((photo IS NULL) <> (walk IS NULL))\n"
    ") STRICT;\n"
    "CREATE INDEX edit_step_by_photo ON edit_step(photo, who, undone, id);\n"
    "CREATE INDEX edit_step_by_walk ON edit_step(walk, who, undone, id);\n"
    /* What a step touched, before it (after 0) and after it (after 1). */
    "CREATE TABLE area_was(\n"
    "  step INTEGER NOT NULL REFERENCES edit_step(id) ON DELETE CASCADE,\n"
    "  id INTEGER NOT NULL,\n"
    "  after INTEGER NOT NULL,\n"
    "  place INTEGER NOT NULL,\n"
    "  name TEXT NOT NULL,\n"
    "  group_path TEXT NOT NULL,\n"
    "  shape TEXT NOT NULL,\n"
    "  points TEXT NOT NULL,\n"
    "  PRIMARY KEY (step, id, after)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE mark_was(\n"
    "  step INTEGER NOT NULL REFERENCES edit_step(id) ON DELETE CASCADE,\n"
    "  id INTEGER NOT NULL,\n"
    "  after INTEGER NOT NULL,\n"
    "  name TEXT NOT NULL,\n"
    "  from_us INTEGER NOT NULL,\n"
    "  to_us INTEGER,\n"
    "  who TEXT NOT NULL,\n"
    "  at TEXT NOT NULL,\n"
    "  PRIMARY KEY (step, id, after)\n"
    ") STRICT, WITHOUT ROWID;\n";

static const char *const study_schema_steps[] = {study_schema_1, study_schema_2, study_schema_3};

int study_schema_version(void)
{
    return (int)G_N_ELEMENTS(study_schema_steps);
}

/* Steps after this one only add tables that nobody reads who does not write. */
int study_schema_readable(void)
{
    return 2;
}

bool study_schema_apply(LfStudy *study, int version, GError **error)
{
    for (int i = version; i < study_schema_version(); i++) {
        int code = sqlite3_exec(study->db, study_schema_steps[i], NULL, NULL, NULL);
        if (code != SQLITE_OK)
            return study_db_fail(study, code, error);
    }
    g_autofree char *marks =
        g_strdup_printf("PRAGMA application_id = %d; PRAGMA user_version = %d;",
                        LF_STUDY_APPLICATION_ID, study_schema_version());
    int code = sqlite3_exec(study->db, marks, NULL, NULL, NULL);
    return (code == SQLITE_OK || study_db_fail(study, code, error)) &&
           study_views_apply(study, error);
}
