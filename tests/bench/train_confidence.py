#!/usr/bin/env python3
"""Fits the confidence model from dumps of the accuracy bench.

    train_confidence.py --train A.csv [A2.csv ...] --test B.csv [...]

Rows of a dump are cast points with the model's features (src/cast/confidence.h) and whether the point was
within a degree of the truth. Training and test dumps must come from different scenes: the split is by
scene, never by frame; the script refuses a scene that appears in both. Prints the table of coefficients
for src/cast/confidence.c and, for the test scenes, the reliability table, expected calibration error (ten
bins), Brier score and AUROC. Needs python3-numpy.
"""
import argparse
import csv
import sys

import numpy as np

# What a feature ought to weigh before any data: the rendered scenes hold few cases in which, say, a rival
# position comes near, and those few must not teach that rivals do no harm. The penalty |w - EXPECTED|^2
# counts like so many samples.
EXPECTED = {"precision": 1.5, "agreement": 2.0, "good_share": 1.0, "support": 1.5, "pose_share": 2.5, "pose_points": 0.7,
            "cover": 0.7, "rival": -3.0, "gap": -0.7, "motion": -0.1, "spread": -0.2, "mismatch": -2.0, "unbacked": -1.0,
            "missing": -2.0, "tint": -2.0, "elsewhere": 1.0}
PENALTY = 100.0
# Neighbouring samples of a walk are alike: 100 Hz gaze on 25 frames a second. Only every STEP-th counts.
STEP = 4
FIRST_FEATURE = "constant"
# From this feature on they belong to the second model, of depth.
DEPTH_FEATURE = "depth"


def read(paths):
    scenes, x, y, states, names = [], [], [], [], None
    for path in paths:
        with open(path, newline="") as handle:
            rows = csv.reader(handle)
            head = next(rows)
            first = head.index(FIRST_FEATURE)
            if names is not None and names != head[first:]:
                sys.exit(f"{path}: other features than the dumps before it")
            names = head[first:]
            for row in rows:
                scenes.append(row[head.index("scene")])
                y.append(float(row[head.index("right")]))
                states.append(row[head.index("state")])
                x.append([float(v) for v in row[first:]])
    return np.array(scenes), np.array(x), np.array(y), np.array(states), names


def fit(x, y, names):
    """Weights of the features; one that would speak the other way than it ought to is left out."""
    used = np.ones(x.shape[1], dtype=bool)
    while True:
        w = np.zeros(x.shape[1])
        w[used] = fit_used(x[:, used], y, [name for name, u in zip(names, used) if u])
        astray = np.array([w[i] * EXPECTED.get(name, 0.0) < 0 for i, name in enumerate(names)])
        if not astray.any():
            return w
        used &= ~astray


def logistic(z):
    return 1 / (1 + np.exp(-np.clip(z, -35, 35)))


def predict(x, w, names):
    """Probability that both models are right: the picture's, and that the look does not end elsewhere."""
    k = names.index(DEPTH_FEATURE)
    return logistic(x[:, :k] @ w[:k]) * logistic(-(x[:, k:] @ w[k:]))


def fit_used(x, y, names):
    """Penalised likelihood of the product by Fisher scoring with step halving."""
    k = names.index(DEPTH_FEATURE)
    expected = np.array([EXPECTED.get(name, 0.0) for name in names])
    ridge = np.array([PENALTY if name in EXPECTED else 1e-6 for name in names])

    def cost(v):
        p = np.clip(predict(x, v, names), 1e-12, 1 - 1e-12)
        return -np.sum(y * np.log(p) + (1 - y) * np.log(1 - p)) + np.sum(ridge * (v - expected) ** 2) / 2

    w = expected.copy()
    for _ in range(200):
        p = np.clip(predict(x, w, names), 1e-9, 1 - 1e-9)
        slope = np.hstack([x[:, :k] * (p * logistic(-(x[:, :k] @ w[:k])))[:, None],
                           -x[:, k:] * (p * logistic(x[:, k:] @ w[k:]))[:, None]])
        weighted = slope / (p * (1 - p))[:, None]
        gradient = weighted.T @ (y - p) - ridge * (w - expected)
        step = np.linalg.solve(weighted.T @ slope + np.diag(ridge), gradient)
        scale = 1.0
        while scale > 1e-6 and cost(w + scale * step) > cost(w):
            scale /= 2
        w = w + scale * step
        if np.abs(scale * step).max() < 1e-8:
            break
    return w


def auroc(p, y):
    order = np.argsort(p, kind="stable")
    ranks = np.empty(len(p))
    sorted_p = p[order]
    _, start, count = np.unique(sorted_p, return_index=True, return_counts=True)
    for s, c in zip(start, count):
        ranks[order[s:s + c]] = s + (c + 1) / 2
    right, wrong = y.sum(), (1 - y).sum()
    return (ranks[y == 1].sum() - right * (right + 1) / 2) / (right * wrong) if right and wrong else float("nan")


def report(p, y, title):
    print(f"\n{title}: {len(y)} points, {100 * (1 - y.mean()):.2f}% wrong")
    print("   confidence    points   mean    right")
    ece = 0
    for b in range(10):
        inside = (np.minimum((p * 10).astype(int), 9) == b)
        if inside.any():
            ece += abs(p[inside].sum() - y[inside].sum()) / len(y)
            print(f"   {b / 10:.1f} to {(b + 1) / 10:.1f} {inside.sum():9d}  {p[inside].mean():.3f}   {y[inside].mean():.3f}")
    print(f"   ECE {ece:.4f}   Brier {np.mean((p - y) ** 2):.4f}   AUROC {auroc(p, y):.4f}")
    print("   threshold   to review   wrong left")
    for t in (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98):
        kept = p >= t
        wrong = 1 - y[kept].mean() if kept.any() else float("nan")
        print(f"   {t:9.2f}   {100 * (1 - kept.mean()):8.2f}%   {100 * wrong:9.3f}%")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--train", nargs="+", required=True)
    parser.add_argument("--test", nargs="+", default=[])
    args = parser.parse_args()
    scenes, x, y, states, names = read(args.train)
    keep = np.arange(len(y)) % STEP == 0
    w = fit(x[keep], y[keep], names)
    print("/* feature, weight */")
    for name, weight in zip(names, w):
        print(f'    {{"{name}", {weight:.3f}}},')
    report(predict(x, w, names), y, "training scenes")
    if args.test:
        other, tx, ty, tstates, tnames = read(args.test)
        both = set(scenes) & set(other)
        if both or tnames != names:
            sys.exit(f"training and test share scenes or differ in features: {sorted(both)}")
        report(predict(tx, w, names), ty, "test scenes")


if __name__ == "__main__":
    main()
