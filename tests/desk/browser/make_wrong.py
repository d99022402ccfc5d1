#!/usr/bin/env python3
"""A copy of a cast study in which ten stretches of walk w01 are wrong in a known way.

make_wrong.py CAST.study WRONG.study TRUTH.csv WRONG.json

Four are taken for the wrong one of two look-alike places (the right one is among the rivals), three
lie a fixed way off with no rival, one drifts, and two are on no photo and told as a place on one. All are written as doubtful, with the error in the poses too. What was
done goes to WRONG.json, so that a test knows the ten; the answers it takes from the truth."""
import csv
import json
import shutil
import sqlite3
import sys

DOUBTFUL, SURE = 3, 4
GAP_US = 620_000      # between two of them, and to anything else that is doubtful
LENGTH_US = 560_000
BLUR, ALIKE, LITTLE, GAP = 1, 3, 4, 6  # LfDoubt

cast, wrong, truth_path, told = sys.argv[1:5]
shutil.copyfile(cast, wrong)
db = sqlite3.connect(wrong)
walk = db.execute("SELECT id FROM walk WHERE name = 'w01'").fetchone()[0]
photo = db.execute("SELECT id FROM photo ORDER BY id").fetchone()[0]
samples = db.execute("SELECT t_us, state, photo, x_px, y_px FROM cast_sample WHERE walk = ?"
                     " ORDER BY t_us", (walk,)).fetchall()
truth = {round(float(row["t_s"]) * 1e6): row for row in csv.DictReader(open(truth_path))}

taken = []


def free(start, end):
    if any(start - GAP_US < b and a < end + GAP_US for a, b in taken):
        return False
    return all(state != DOUBTFUL for t, state, *_ in samples if start - GAP_US < t < end + GAP_US)


def runs(fits):
    """Spans in which every sample with gaze fits."""
    start = last = None
    for t, state, *rest in samples + [(1 << 60, None, None, None, None)]:
        good = state is not None and (state == 0 or fits(t, state, *rest))
        if good and start is None:
            start = t
        if not good and start is not None:
            yield start, last
            start = None
        last = t


def right(t, state, on, x, y):
    row = truth[t]
    if state != SURE or row["state"] != "visible":
        return False
    return max(abs(x - float(row["x_px"])), abs(y - float(row["y_px"]))) \
        < 0.5 * float(row["px_per_degree_photo"])


def spans(fits, length, count):
    found = []
    for start, end in runs(fits):
        t = start
        while t + length <= end and len(found) < count:
            if free(t, t + length):
                found.append((t, t + length))
                taken.append((t, t + length))
                t += length + GAP_US
            else:
                t += 20_000
    return found


# What is rare is taken first.
away = spans(lambda t, state, *_: truth[t]["state"] == "away", LENGTH_US, 2)
seen = spans(right, LENGTH_US, 8)
if len(away) + len(seen) != 10:
    sys.exit(f"the walk has no room for ten: {len(away)} + {len(seen)}")

kinds = ["alike"] * 4 + ["off"] * 3 + ["drift"]
plan = [(span, kind) for span, kind in zip(seen, kinds)]
plan += [(span, "away") for span in away]
shifts = [(160, 0), (-150, 5), (140, -4), (-170, 0), (120, 90), (-95, 110), (-130, -80)]
reasons = {"alike": ALIKE, "off": LITTLE, "drift": GAP, "away": BLUR}
for i, ((start, end), kind) in enumerate(plan):
    dx, dy = shifts[i] if kind in ("alike", "off") else (0, 0)
    place = next(((x, y) for t, state, on, x, y in samples if t >= start and x is not None), (900, 500))
    for t, state, on, x, y in samples:
        if not start <= t < end or state == 0:
            continue
        if kind == "drift":
            share = (t - start) / (end - start)
            dx, dy = 90 + 160 * share, 60 - 40 * share
        if x is None:
            x, y = place
        db.execute("UPDATE cast_sample SET photo = ?, state = ?, x_px = ?, y_px = ?, confidence = 0.4,"
                   " radius_px = 12, cov_xx = 200, cov_xy = 40, cov_yy = 90, doubt = ?"
                   " WHERE walk = ? AND t_us = ?",
                   (photo, DOUBTFUL, x + dx, y + dy, reasons[kind], walk, t))
    if kind in ("alike", "off"):
        rows = db.execute("SELECT t_us, m1, m2, m3, m4, m5, m6, m7, m8, m9 FROM pose WHERE walk = ? AND"
                          " photo = ? AND t_us >= ? AND t_us < ?",
                          (walk, photo, start - 40_000, end)).fetchall()
        for t, *m in rows:
            for k in range(3):
                m[k] += dx * m[6 + k]
                m[3 + k] += dy * m[6 + k]
            db.execute("UPDATE pose SET m1=?, m2=?, m3=?, m4=?, m5=?, m6=? WHERE walk = ? AND photo = ?"
                       " AND t_us = ?", (*m[:6], walk, photo, t))
            db.execute("DELETE FROM pose_rival WHERE walk = ? AND photo = ? AND t_us = ?",
                       (walk, photo, t))
            if kind == "alike":
                db.execute("INSERT INTO pose_rival VALUES (?, ?, ?, 0, ?, ?, 0.93)",
                           (walk, t, photo, -dx, -dy))
                db.execute("INSERT INTO pose_rival VALUES (?, ?, ?, 1, ?, ?, 0.71)",
                           (walk, t, photo, dx, dy))
# The stretches are worked out anew from what is there now.
db.execute("DELETE FROM stretch")
db.execute("DELETE FROM stretch_walk")
db.commit()
json.dump([{"from_us": a, "to_us": b, "kind": kind} for (a, b), kind in plan], open(told, "w"))
