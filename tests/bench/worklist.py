#!/usr/bin/env python3
"""How fast the desk opens the worklist of a large study: 200 walks of two minutes with 20,000 doubtful
stretches, in headless Chromium (worklist.mjs beside this).

    worklist.py BUILD-FOLDER WORK-FOLDER [RUNS]

The study is made by look_load in the work folder (300 MB) and removed. Every second 0.6 s of each walk
are made doubtful, for one reason after the other."""
import os
import sqlite3
import subprocess
import sys

WALKS, MINUTES, SPAN_US = 200, 2, 600_000
REASONS = 7  # LfDoubt

here = os.path.dirname(os.path.abspath(__file__))
build, work = os.path.abspath(sys.argv[1]), os.path.abspath(sys.argv[2])
study = os.path.join(work, "worklist.lookfall")
if os.path.exists(study):
    os.remove(study)
try:
    subprocess.run([os.path.join(build, "tests/bench/look_load"), study, str(WALKS), str(MINUTES), "1"],
                   check=True)
    db = sqlite3.connect(study)
    db.execute("UPDATE cast_sample SET state = CASE WHEN t_us / ?1 % 2 THEN 3 ELSE 4 END,"
               " doubt = CASE WHEN t_us / ?1 % 2 THEN 1 + (walk + t_us / ?1) / 2 % ?2 END,"
               " confidence = CASE WHEN t_us / ?1 % 2 THEN 0.5 ELSE 0.97 END WHERE state > 0",
               (SPAN_US, REASONS))
    db.commit()
    db.close()
    subprocess.run([os.path.join(here, "../desk/browser/run.sh"), build, "--with",
                    os.path.join(here, "worklist.mjs"), study, *sys.argv[3:]], check=True)
finally:
    if os.path.exists(study):
        os.remove(study)
