"""Shape of neck, heel and tongue: width and depth as functions of position
(docs/theory-model.md, section 2).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.errors import MeshError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Outline:
    """Dimensions of a neck with its heel and tongue, all in metres.

    Axes: x from the nut to the bridge, z up towards the strings, z = 0 at the fretboard's glue line. The
    joint corner, where heel face and tongue underside meet, is at ``(joint, -tongue_depth)``.
    """

    scale: float
    joint: float
    heel_start: float
    tie: float
    board_end: float
    tongue_end: float
    width_nut: float
    width_joint: float
    depth_at: tuple[float, float]
    """x of the two stations with known total depth [m]."""
    depth_total: tuple[float, float]
    """Total depth, board and neck, at those stations [m]."""
    profile_exponent: float
    board_thickness: float
    board_radius: float
    slot_depth: float
    tongue_depth: float
    tongue_width: float
    heel_height: float
    heel_exponent: float
    heel_cap_length: float
    heel_width_top: float
    heel_width_cap: float
    thickness_floor: float = 0.5e-3
    heel_depths: tuple[tuple[float, float], ...] | None = None
    """Measured points (x, depth below the glue line) in place of the heel's curve, from heel start on [m]."""

    def __post_init__(self) -> None:
        if self.heel_depths is None:
            return
        points = np.asarray(self.heel_depths, dtype=float)
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2 or not np.all(np.isfinite(points)):
            raise MeshError("A measured heel needs at least two points of position and depth. Add points.")
        if np.any(np.diff(points[:, 0]) <= 0.0):
            raise MeshError(
                "The measured heel goes back on itself: two depths at one position. "
                "Give its points in order from the heel start to the heel face, each position once."
            )
        if np.any(points[:, 1] <= 0.0):
            raise MeshError(
                "A depth of the measured heel is not above zero. Measure from the glue line down."
            )

    @property
    def corner(self) -> tuple[float, float]:
        """Position of the joint corner [m]."""
        return (self.joint, -self.tongue_depth)

    def width(self, x: Array) -> Array:
        """Width of board and shaft: linear from nut to joint and beyond [m]."""
        return self.width_nut + (self.width_joint - self.width_nut) * np.asarray(x) / self.joint

    def shaft_depth(self, x: Array) -> Array:
        """Depth of neck wood below the glue line along the shaft [m]."""
        (xa, xb), (da, db) = self.depth_at, self.depth_total
        return da + (db - da) * (np.asarray(x) - xa) / (xb - xa) - self.board_thickness

    def depth(self, x: Array) -> Array:
        """Depth of neck wood below the glue line up to the joint: shaft, heel curve, heel cap [m].

        Between heel start and cap the heel adds ``(height - shaft depth) xi**n``, xi running from 0 to 1.
        A monotone cubic through measured points, if any, replaces the curve (F. N. Fritsch and J. Butland,
        SIAM J. Sci. Stat. Comput. 5, 1984, by scipy): it stays between neighbouring points.
        """
        x = np.asarray(x, dtype=float)
        shaft = self.shaft_depth(x)
        if self.heel_depths is not None:
            # imported here, since it takes half of a command's start and few heels are measured
            from scipy.interpolate import PchipInterpolator

            at, deep = np.transpose(self.heel_depths)
            measured = PchipInterpolator(at, deep)(np.clip(x, at[0], at[-1]))
            return np.where(x > at[0] - 1e-9, measured, shaft)
        return shaft + (self.heel_height - shaft) * self._heel_parameter(x) ** self.heel_exponent

    def heel_share(self, x: Array) -> Array:
        """Share of the heel's tapered block at x: 0 on the shaft, rising smoothly to 1 at the cap."""
        xi = self._heel_parameter(np.asarray(x, dtype=float))
        return np.asarray(xi * xi * (3.0 - 2.0 * xi))

    def _heel_parameter(self, x: Array) -> Array:
        run = self.joint - self.heel_cap_length - self.heel_start
        return np.clip((x - self.heel_start) / run, 0.0, 1.0)

    def board_thickness_across(self, x: Array, z: Array) -> Array:
        """Width of the board at height z >= 0, with its playing radius [m]; at least ``thickness_floor``."""
        width = self.width(x)
        if not np.isfinite(self.board_radius):
            return np.broadcast_to(width, np.broadcast(x, z).shape).copy()
        drop = np.clip(self.board_thickness - z, 0.0, self.board_radius)
        chord = 2.0 * np.sqrt(np.maximum(drop * (2.0 * self.board_radius - drop), 0.0))
        return np.maximum(np.minimum(width, chord), self.thickness_floor)

    def neck_thickness_across(self, x: Array, z: Array) -> Array:
        """Width of the neck wood at z <= 0 [m]: superellipse on the shaft, tapered block in the heel, tongue
        beyond the joint; at least ``thickness_floor``.
        """
        x, z = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(z, dtype=float))
        below = np.clip(-z / self.depth(x), 0.0, 1.0)
        n = self.profile_exponent
        round_back = self.width(x) * (1.0 - below**n) ** (1.0 / n)
        tapered = self.heel_width_top + (self.heel_width_cap - self.heel_width_top) * np.clip(
            -z / self.heel_height, 0.0, 1.0
        )
        share = self.heel_share(x)
        thickness = np.where(x > self.joint, self.tongue_width, (1.0 - share) * round_back + share * tapered)
        return np.maximum(thickness, self.thickness_floor)


def fret_positions(scale: float, last: int) -> Array:
    """Distance of frets 1..last from the nut, equal temperament: ``scale (1 - 2**(-n/12))`` [m].

    >>> float(fret_positions(0.6477, 14)[-1])
    0.35918
    """
    return scale * (1.0 - 2.0 ** (-np.arange(1, last + 1) / 12.0))


def merged(positions: Array, *, nearer_than: float = 1e-7) -> Array:
    """Positions in order; of two nearer than ``nearer_than`` [m] only the first, so that no slivers arise."""
    ordered = np.sort(np.asarray(positions, dtype=float))
    return ordered[np.concatenate([[True], np.diff(ordered) > nearer_than])]
