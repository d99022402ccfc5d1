"""A second implementation of the homography fit and the lens: OpenCV through python3-opencv.

Reads cases from standard input, numbers separated by blanks, and writes numbers to standard output:
  homography N, then N times "src_x src_y dst_x dst_y"
      -> the 9 elements of cv2.findHomography(src, dst, 0)
  lens FX FY CX CY N_K K..., M, then M times "u v" (undistorted px)
      -> M times "x y", cv2.projectPoints of the rays through them
  undistort FX FY CX CY N_K K..., M, then M times "x y" (frame px)
      -> M times "u v", cv2.undistortPointsIter with the camera matrix as new camera matrix
Exit status 77 where python3-opencv is not installed.
"""
import sys

try:
    import cv2
    import numpy as np
except ImportError as missing:
    print(missing, file=sys.stderr)
    sys.exit(77)

words = iter(sys.stdin.read().split())


def numbers(n):
    return np.array([float(next(words)) for _ in range(n)])


def show(values):
    print(" ".join(repr(float(v)) for v in np.ravel(values)))


def read_lens():
    fx, fy, cx, cy = numbers(4)
    k = numbers(int(next(words)))
    points = numbers(2 * int(next(words))).reshape(-1, 2)
    return np.array([[fx, 0, cx], [0, fy, cy], [0, 0, 1]]), k if len(k) else None, points


for word in words:
    if word == "homography":
        rows = numbers(4 * int(next(words))).reshape(-1, 4)
        matrix, _ = cv2.findHomography(rows[:, :2].copy(), rows[:, 2:].copy(), 0)
        show(matrix)
    elif word == "lens":
        matrix, k, points = read_lens()
        rays = (points - [matrix[0, 2], matrix[1, 2]]) / [matrix[0, 0], matrix[1, 1]]
        rays = np.hstack([rays, np.ones((len(rays), 1))])
        zero = np.zeros(3)
        show(cv2.projectPoints(rays.reshape(-1, 1, 3), zero, zero, matrix, k)[0])
    elif word == "undistort":
        matrix, k, points = read_lens()
        criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 500, 1e-12)
        show(cv2.undistortPointsIter(points.reshape(-1, 1, 2), matrix, k, None, matrix, criteria))
    else:
        sys.exit("unknown case: " + word)
