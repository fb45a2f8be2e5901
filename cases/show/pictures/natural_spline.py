"""The natural cubic spline through the crowns' heights (scipy's takes a tenth of a second to import)."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array


@dataclass(frozen=True)
class NaturalSpline:
    """Cubic pieces, one from each of the places ``x`` (n,) to the next; ``factors`` (4, n - 1)
    are those of the powers 0 to 3 of the distance from the piece's start.
    """

    x: Array
    factors: Array

    def __call__(self, at: Array | float) -> Array:
        """Heights at places, shape of ``at``."""
        along, (height, slope, half, sixth) = self._piece(at)
        return np.asarray(height + along * (slope + along * (half + along * sixth)))

    def slope(self, at: Array | float) -> Array:
        """Slopes at places, shape of ``at``."""
        along, (_, slope, half, sixth) = self._piece(at)
        return np.asarray(slope + along * (2.0 * half + 3.0 * along * sixth))

    def _piece(self, at: Array | float) -> tuple[Array, Array]:
        """Distance from the start of each place's piece, and its factors."""
        piece = np.clip(np.searchsorted(self.x, at, side="right") - 1, 0, len(self.x) - 2)
        return np.asarray(at - self.x[piece]), self.factors[:, piece]


def natural_spline(x: Array, heights: Array) -> NaturalSpline:
    """Spline without curvature at its ends through heights (n,) at rising places (n,).

    Curvatures c follow from equal slopes of neighbours: ``h_1 c_0 + 2 (h_1 + h_2) c_1 + h_2 c_2 =
    6 (d_2 - d_1)`` for pieces of length h and mean slope d.
    """
    length = np.diff(x)
    mean = np.diff(heights) / length
    inner = np.diag(2.0 * (length[1:] + length[:-1])) + np.diag(length[1:-1], 1) + np.diag(length[1:-1], -1)
    curvature = np.zeros(len(x))
    curvature[1:-1] = np.linalg.solve(inner, 6.0 * np.diff(mean))
    first, last = curvature[:-1], curvature[1:]
    slope = mean - length * (2.0 * first + last) / 6.0
    return NaturalSpline(x, np.stack([heights[:-1], slope, 0.5 * first, (last - first) / (6.0 * length)]))
