"""Readings from the tops of the frets: relief, kink, tongue gap (docs/theory-readings.md, section 10)."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array


def extremes(gaps: Array) -> NDArray[np.int64]:
    """Frets of largest gap and largest hump in gaps (..., joint), which add to the relief; shape (..., 2)."""
    return np.stack([np.argmax(gaps, axis=-1), np.argmin(gaps, axis=-1)], axis=-1)


@dataclass(frozen=True)
class FretLine:
    """Positions of the fret crowns, and the fret at the body joint.

    Heights are those of crowns 1..last above the unloaded line, shape (n,) [m], or (k, n) where rows are
    returned; slopes are dz/dx [rad].
    """

    x: Array
    joint: int
    """Fret number at the joint."""
    planed: Array
    """Height planed into the board itself at each crown, zero for a straight board, (n,) [m]."""

    def heights(self, displacements: Array) -> Array:
        """Crown heights from displacements of the crowns; adds the shape planed into the board."""
        return displacements + self.planed

    @property
    def shaft(self) -> slice:
        """Frets 1..joint as array positions."""
        return slice(0, self.joint)

    @property
    def tongue(self) -> slice:
        """Frets joint + 1..last as array positions."""
        return slice(self.joint, None)

    @cached_property
    def gap_rows(self) -> Array:
        """Rows of the gaps at the shaft frets under a straightedge from fret 1 to the joint, (joint, n)."""
        n, j = len(self.x), self.joint
        share = (self.x[:j] - self.x[0]) / (self.x[j - 1] - self.x[0])
        rows = np.zeros((j, n))
        rows[:, 0] = 1.0 - share
        rows[:, j - 1] += share
        rows[np.arange(j), np.arange(j)] -= 1.0
        return rows

    def relief_row(self, heights: Array) -> Array:
        """Row of the relief at the frets where it stands now, shape of ``heights``."""
        rows = self.gap_rows
        return np.asarray(rows[extremes(heights @ rows.T)].sum(axis=-2))

    def relief(self, heights: Array) -> tuple[float, Array]:
        """Largest gap under the straightedge minus the largest hump (negative for a back-bow) [m], and its
        row.

        A rod can bend the neck into an S, with a gap and a hump; the difference passes through zero smoothly
        as the rod is turned.
        """
        row = self.relief_row(heights)
        return float(row @ heights), row

    def bow(self) -> Array:
        """Shape of the bow per unit relief: ``4 ((x_j - x) / (x_j - x_1))**2`` up to the joint, zero
        beyond, (n,).

        Value and slope at the joint are zero, so the tongue is measured against the arc's tangent there.
        """
        end = self.x[self.joint - 1]
        return np.where(self.x <= end + 1e-12, 4.0 * ((end - self.x) / (end - self.x[0])) ** 2, 0.0)

    def slope_row(self, frets: slice) -> Array:
        """Row of the least-squares slope over some frets, (n,)."""
        row = np.zeros_like(self.x)
        arm = self.x[frets] - self.x[frets].mean()
        row[frets] = arm / np.sum(arm**2)
        return row

    def straightedge_row(self) -> Array:
        """Row of the slope of the tongue line minus that of the shaft line, bow included, (n,)."""
        return self.slope_row(self.tongue) - self.slope_row(self.shaft)

    def bow_part(self) -> float:
        """Correction of the straightedge's kink per unit relief, which takes the bow out [rad/m]."""
        return float(self.slope_row(self.shaft) @ self.bow())

    def kink(self, heights: Array) -> float:
        """Tongue slope minus shaft slope, the bow taken out [rad]; positive = hollow at the joint."""
        return float(self.kink_at(heights, self.relief(heights)[0]))

    def kink_at(self, heights: Array, relief: Array | float) -> Array:
        """Kink of crown heights (..., n) with known relief (...), shape (...) [rad]."""
        return np.asarray(heights @ self.straightedge_row() + self.bow_part() * relief)

    def kink_row(self, heights: Array) -> Array:
        """Row of the kink at the frets where the relief stands now, (n,)."""
        return self.straightedge_row() + self.bow_part() * self.relief_row(heights)

    def shaft_slope(self, heights: Array) -> float:
        """Slope of the shaft line, the bow taken out [rad]."""
        straight = heights - self.relief(heights)[0] * self.bow()
        return float(self.slope_row(self.shaft) @ straight)

    def tongue_gap_row(self, heights: Array) -> Array:
        """Row of the tongue gap at the frets where the relief stands now, shape of ``heights``."""
        row = -self.slope_row(self.shaft) * (self.x[-1] - self.x[self.shaft].mean())
        row[self.shaft] -= 1.0 / self.joint
        row[-1] += 1.0
        return row - (row @ self.bow()) * self.relief_row(heights)

    def tongue_gap(self, heights: Array) -> float:
        """Height of the last crown above the extended shaft line, the bow taken out [m]; positive = rises."""
        return float(self.tongue_gap_row(heights) @ heights)
