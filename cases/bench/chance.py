"""The chance that two errors, normal together, both stay within their limits."""

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Array = NDArray[np.float64]
POINTS = 96


def both_within(mean: Array, covariance: Array, half: Array) -> float:
    """Chance that |x| <= half[0] and |y| <= half[1] for (x, y) normal about ``mean`` (2,).

    The inner integral is exact, the outer by Gauss-Legendre points where x lies; `scipy.stats` has the same
    by random points.
    """
    sx = float(np.sqrt(covariance[0, 0]))
    low, high = max(-half[0], mean[0] - 9.0 * sx), min(half[0], mean[0] + 9.0 * sx)
    if low >= high:
        return 0.0
    nodes, weights = np.polynomial.legendre.leggauss(POINTS)
    x = 0.5 * (low + high) + 0.5 * (high - low) * nodes
    slope = covariance[0, 1] / covariance[0, 0]
    rest = float(np.sqrt(max(covariance[1, 1] - slope * covariance[0, 1], 1e-30)))
    middle = mean[1] + slope * (x - mean[0])
    inside = norm.cdf((half[1] - middle) / rest) - norm.cdf((-half[1] - middle) / rest)
    density = norm.pdf(x, mean[0], sx)
    return float(np.clip(0.5 * (high - low) * np.sum(weights * density * inside), 0.0, 1.0))
