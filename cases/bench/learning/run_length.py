"""Average run length of the EWMA chart: interval of false alarms, delay of true ones.

Sources: Crowder [crowder1987] (the integral equation of the EWMA chart); Lucas and Saccucci [lucas1990]
(tables, used in the tests).
"""

import math

import numpy as np
from scipy.special import roots_legendre

_NODES = 48


def ewma_run_length(*, smoothing: float, width: float, shift: float = 0.0) -> float:
    """Return the average number of values until the EWMA chart signals, started at its centre.

    Solves L(u) = 1 + (1/lambda) int L(y) phi((y - (1 - lambda) u)/lambda - shift) dy over +-h, with
    h = width sqrt(lambda/(2 - lambda)), by Gauss-Legendre quadrature (Crowder 1987). Independent normal
    values, their standard deviation known, limits at their final width.

    Parameters
    ----------
    smoothing : lambda, 0 < lambda <= 1; below 0.01 more quadrature points would be needed.
    width : half width of the limits [standard deviations of the EWMA].
    shift : shift of the mean [standard deviations of one value].

    Examples
    --------
    >>> round(ewma_run_length(smoothing=0.5, width=3.071, shift=1.0), 1)
    17.5
    """
    half = width * math.sqrt(smoothing / (2.0 - smoothing))
    nodes, weights = roots_legendre(_NODES)
    y = half * nodes
    step = (y[None, :] - (1.0 - smoothing) * y[:, None]) / smoothing - shift
    kernel = half * weights[None, :] * _density(step) / smoothing
    lengths = np.linalg.solve(np.eye(_NODES) - kernel, np.ones(_NODES))
    from_centre = half * weights * _density(y / smoothing - shift) / smoothing
    return float(1.0 + from_centre @ lengths)


def _density(z: np.ndarray) -> np.ndarray:
    density: np.ndarray = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    return density
