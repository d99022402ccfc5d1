"""The second implementation of densities and clusters: scipy (Debian's python3-scipy).

Reads a task from standard input and answers with numbers. Exit status 77 where scipy is not there.

density WIDTH HEIGHT SIGMA N, then N lines x y weight radius (whole px): the Gaussian filter of the
weights, one filter for each radius, row by row.
cluster NX NY N1 N2 CELL_P, then N1 + N2 maps: sign and mass of all clusters, heaviest first.
"""
import sys

try:
    import numpy as np
    from scipy import ndimage, stats
except ImportError as error:
    print(error, file=sys.stderr)
    sys.exit(77)


def density(head, numbers):
    width, height, sigma, n = int(head[0]), int(head[1]), float(head[2]), int(head[3])
    points = np.array(numbers).reshape(n, 4)
    total = np.zeros((height, width))
    for radius in np.unique(points[:, 3]):
        weights = np.zeros((height, width))
        for x, y, weight, _ in points[points[:, 3] == radius]:
            weights[int(y), int(x)] += weight
        # mode="reflect" and truncate=4 are scipy's own defaults
        total += ndimage.gaussian_filter(weights, np.hypot(sigma, radius))
    return total.ravel()


def cluster(head, numbers):
    nx, ny, n1, n2 = (int(v) for v in head[:4])
    maps = np.array(numbers).reshape(n1 + n2, ny, nx)
    t, p = stats.ttest_ind(maps[:n1], maps[n1:], axis=0)
    found = []
    for sign in (1, -1):
        labels, count = ndimage.label((p <= float(head[4])) & (np.sign(t) == sign))
        found += [(sign, mass) for mass in ndimage.sum(abs(t), labels, range(1, count + 1))]
    return [v for pair in sorted(found, key=lambda c: -c[1]) for v in pair]


head, numbers = sys.stdin.readline().split(), [float(v) for v in sys.stdin.read().split()]
answer = {"density": density, "cluster": cluster}[head[0]](head[1:], numbers)
print(" ".join(repr(float(v)) for v in answer))
