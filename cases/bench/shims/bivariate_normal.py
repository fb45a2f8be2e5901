"""Chance that two jointly normal errors are both within their limits."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]
NODES, WEIGHTS = np.polynomial.legendre.leggauss(96)


def both_within(mean: Array, covariance: Array, half: Array) -> float:
    """Chance that |x| <= half[0] and |y| <= half[1] for (x, y) normal about ``mean`` (2,).

    Inner integral exact, outer by Gauss-Legendre quadrature; `scipy.stats` uses random points instead.
    """
    sx = float(np.sqrt(covariance[0, 0]))
    low, high = max(-half[0], mean[0] - 9.0 * sx), min(half[0], mean[0] + 9.0 * sx)
    if low >= high:
        return 0.0
    x = 0.5 * (low + high) + 0.5 * (high - low) * NODES
    slope = covariance[0, 1] / covariance[0, 0]
    rest = float(np.sqrt(max(covariance[1, 1] - slope * covariance[0, 1], 1e-30)))
    middle = mean[1] + slope * (x - mean[0])
    inside = ndtr((half[1] - middle) / rest) - ndtr((-half[1] - middle) / rest)
    density = np.exp(-0.5 * ((x - mean[0]) / sx) ** 2) / (sx * np.sqrt(2.0 * np.pi))
    return float(np.clip(0.5 * (high - low) * np.sum(WEIGHTS * density * inside), 0.0, 1.0))
