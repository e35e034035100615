"""Writes willsky_jones.csv: a jump of unknown time and size in a random walk, its size marginalised, to hold the opening's belief against.

    python3 -m venv v && v/bin/pip install numpy==2.4.6 scipy==1.17.1 && v/bin/python willsky_jones.py > willsky_jones.csv

Every hypothesis is conditioned at once as one Gaussian of the whole vector of samples (scipy.stats.multivariate_normal), without a
recursion: level at the first sample N(0, 4 cm²), a random walk of 0.04 cm²/h, white noise of 0.09 cm², and, from the jump's hour
on, an amplitude N(40 cm, 144 cm²) times the course.
"""

import numpy as np
import scipy
from scipy.stats import multivariate_normal

LEVEL, WALK, NOISE, MEAN, SIZE = 4.0, 0.04, 0.09, 40.0, 144.0


def course(hours, began, takes):
    through = np.clip((hours - began) / takes, 0, 1)
    return 0.5 - 0.5 * np.cos(np.pi * through)


random = np.random.default_rng(1976)
hours = np.sort(random.uniform(0, 6, 40)).round(3)
steps = np.diff(hours, prepend=hours[0])
y = (np.cumsum(random.normal(0, np.sqrt(WALK * steps))) + 33 * course(hours, 2.2, 7.0)
     + random.normal(0, np.sqrt(NOISE), len(hours))).round(4)

print("# A jump of unknown time and size (Willsky & Jones 1976), the size marginalised: samples of a random walk with a course that begins at an unknown hour")
print("# y = level + amplitude * (1 - cos(pi (t - began) / takes)) / 2 + noise, cm and h; level N(0, 4) at the first sample and a walk of 0.04 cm^2/h, noise variance 0.09 cm^2, amplitude N(40, 144)")
print("# each row: after sample i, for the course that begins at `began` and takes `takes` (empty: none), the logarithm of the density of all samples so far (per cm each), and mean and covariance of level and amplitude")
print("# computed by dense Gaussian conditioning of the whole vector (no recursion) by tests/reference/willsky_jones.py; the samples are synthetic, seed 1976")
print(f"# numpy {np.__version__}; scipy {scipy.__version__}")
print("i,t_h,y_cm,began_h,takes_h,log_density,level_cm,amplitude_cm,p11,p12,p22")
for began, takes in [(None, None), (1.5, 5.0), (1.5, 9.0), (2.2, 7.0), (3.0, 5.0)]:
    for i in range(len(hours)):
        t = hours[: i + 1]
        share = np.zeros(i + 1) if began is None else course(t, began, takes)
        size, mean = (0.0, 0.0) if began is None else (SIZE, MEAN)
        walk = WALK * (np.minimum.outer(t, t) - t[0]) + LEVEL
        covariance = walk + size * np.outer(share, share) + NOISE * np.eye(i + 1)
        expected = mean * share
        log_density = multivariate_normal.logpdf(y[: i + 1], expected, covariance)
        # level now and amplitude, jointly Gaussian with the samples
        cross = np.vstack([walk[-1], size * share])
        gain = np.linalg.solve(covariance, cross.T).T
        state = np.array([0.0, mean]) + gain @ (y[: i + 1] - expected)
        left = np.diag([walk[-1, -1], size]) - gain @ cross.T
        cells = [log_density, *state, left[0, 0], left[0, 1], left[1, 1]]
        named = ["", ""] if began is None else [f"{began:g}", f"{takes:g}"]
        print(",".join([str(i), f"{hours[i]:g}", f"{y[i]:g}", *named, *(f"{cell:.12g}" for cell in cells)]))
