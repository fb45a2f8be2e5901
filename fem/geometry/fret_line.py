"""What is read from the tops of the frets: relief, kink, the two lines (docs/theory.md, section 10)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array


def extremes(gaps: Array) -> NDArray[np.int64]:
    """Where the largest gap and the largest hump stand, of gaps (..., joint), shape (..., 2); relief is the
    sum of the gaps there.
    """
    return np.stack([np.argmax(gaps, axis=-1), np.argmin(gaps, axis=-1)], axis=-1)


@dataclass(frozen=True)
class FretLine:
    """Positions of the fret crowns and which fret stands at the body joint.

    All heights are those of crowns 1..last above the line they had before loading, shape (n,) [m]; slopes
    are dz/dx [rad].
    """

    x: Array
    joint: int
    """Fret number at the joint."""
    planed: Array
    """Height planed into the board itself at each crown, zero for a straight board, (n,) [m]."""

    def heights(self, displacements: Array) -> Array:
        """Crown heights for given movements of the crowns: the board's own shape is added."""
        return displacements + self.planed

    @property
    def shaft(self) -> slice:
        """Frets 1..joint as array positions."""
        return slice(0, self.joint)

    @property
    def tongue(self) -> slice:
        """Frets joint + 1..last as array positions."""
        return slice(self.joint, None)

    def gap_rows(self) -> Array:
        """Rows that give, from crown heights, the gap under a straightedge from fret 1 to the joint at
        each shaft fret, (joint, n).
        """
        n, j = len(self.x), self.joint
        share = (self.x[:j] - self.x[0]) / (self.x[j - 1] - self.x[0])
        rows = np.zeros((j, n))
        rows[:, 0] = 1.0 - share
        rows[:, j - 1] += share
        rows[np.arange(j), np.arange(j)] -= 1.0
        return rows

    def relief(self, heights: Array) -> tuple[float, Array]:
        """Largest gap under the straightedge (negative for a back-bow) [m], and the row that gives it.

        A neck that a rod bends into an S stands below the straightedge here and above it there: its relief is
        the largest gap less the largest hump, so that it runs through zero without a jump as the rod is set.
        """
        rows = self.gap_rows()
        row = rows[extremes(rows @ heights)].sum(axis=0)
        return float(row @ heights), row

    def bow(self) -> Array:
        """Shape of the bow per unit relief: ``4 ((x_j - x) / (x_j - x_1))**2`` up to the joint, nothing
        beyond, (n,).

        It leaves value and slope at the joint alone, so the tongue is measured against the arc's tangent
        there.
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
        """Row of the slope of the tongue line minus that of the shaft line, nothing subtracted, (n,)."""
        return self.slope_row(self.tongue) - self.slope_row(self.shaft)

    def bow_part(self) -> float:
        """Kink that unit relief alone shows on the straightedge: what must be added to it to take the bow
        out [rad/m].
        """
        return float(self.slope_row(self.shaft) @ self.bow())

    def kink(self, heights: Array) -> float:
        """Slope of the tongue line minus slope of the shaft line, the bow taken out [rad]; positive =
        hollow at the joint.
        """
        relief, _ = self.relief(heights)
        return float(self.straightedge_row() @ heights + self.bow_part() * relief)

    def kink_row(self, heights: Array) -> Array:
        """Row of the kink at the fret where the relief stands now, (n,)."""
        _, row = self.relief(heights)
        return self.straightedge_row() + self.bow_part() * row

    def shaft_slope(self, heights: Array) -> float:
        """Slope of the shaft line, the bow taken out [rad]."""
        relief, _ = self.relief(heights)
        return float(self.slope_row(self.shaft) @ (heights - relief * self.bow()))

    def tongue_gap(self, heights: Array) -> float:
        """Height of the last crown above the shaft line carried on, the bow taken out [m]; positive =
        rises.
        """
        relief, _ = self.relief(heights)
        straight = heights - relief * self.bow()
        slope = float(self.slope_row(self.shaft) @ straight)
        return float(
            straight[-1] - straight[self.shaft].mean() - slope * (self.x[-1] - self.x[self.shaft].mean())
        )
