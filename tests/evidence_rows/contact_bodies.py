"""A rounded and a flat punch pressed on a half-plane by the project's own plates, rows and contact search.

The layer between them is, over a cell, ten times as stiff as the body; the shims of a neck are two to six
times as stiff. Two points a cell bind a quadratic face too much where the layer is far stiffer: at a thousand
times, peak and share come out 12 and 16 % too large, which is why no case may have a rigid layer.
"""

from dataclasses import dataclass

import numpy as np
from skfem import MeshQuad

from fem.geometry.outline import Array
from fem.members.half_plane import half_plane
from tests.evidence_rows.mutation import kept_until_broken
from tests.two_bodies import rig

YOUNG, RIGID, BED = 1000.0, 1e7, 1e5
"""Modulus of half-plane and punch [N/mm2], stiffness of the layer between [N/mm3]: under the peak it yields
by half a per cent of what the half-plane does."""
WOOD, POISSON = 12e9, 0.3
"""Of the half-plane and the layer under a wave of pressure [Pa, -]."""
DEPTH = 2.0 * np.pi * 15.0 / 80.0
"""Depth of that layer times 2 pi over the wavelength."""
SIZE = 40.0
"""Depth and half the length of the body that stands for the half-plane, thickness 1 [mm]."""
HALF, RADIUS = 2.0, 400.0
"""Half of the contact and radius of the rounded punch [mm]."""
LOAD = np.pi * YOUNG * HALF**2 / (4.0 * RADIUS)
"""Load under which the rounded punch meets the half-plane over that half-width [N]."""


@dataclass(frozen=True)
class Pressed:
    """Positions from the middle [mm], forces [N] and areas [mm2] of the points along the contact."""

    s: Array
    force: Array
    area: Array

    @property
    def peak(self) -> float:
        """Largest mean pressure of a cell: its two points share the wiggle of a quadratic face [N/mm2]."""
        return float(np.max(self.force.reshape(-1, 2).sum(axis=1) / self.area.reshape(-1, 2).sum(axis=1)))

    @property
    def half_width(self) -> float:
        """Half-width of the ellipse of pressure that has the same second moment, ``2 sqrt(M2 / P)`` [mm]."""
        return float(2.0 * np.sqrt(np.sum(self.force * self.s**2) / np.sum(self.force)))

    @property
    def in_middle_half(self) -> float:
        """Share of the force within the middle half of a pad that ends at `HALF`."""
        return float(np.sum(self.force[np.abs(self.s) < 0.5 * HALF]) / np.sum(self.force))


def graded(first: float, last: float, least: float) -> Array:
    """Lines between two places, the first cell ``least`` long, each a third longer than the one before."""
    count = int(np.ceil(np.log(1.0 + abs(last - first) / (3.0 * least)) / np.log(4.0 / 3.0)))
    steps = (4.0 / 3.0) ** np.arange(count)
    return np.asarray(first + (last - first) * np.concatenate([[0.0], np.cumsum(steps) / np.sum(steps)]))


def pressed(*, reach: float, cells: int, curvature: float) -> Pressed:
    """A punch that can meet the half-plane within ``reach`` of its middle [mm], pressed down by `LOAD`."""
    middle = np.linspace(-reach, reach, cells + 1)
    outward = graded(reach, SIZE, 2.0 * reach / cells)
    across = np.concatenate([-outward[:0:-1], middle, outward[1:]])
    below = graded(0.0, -SIZE, 2.0 * reach / cells)[::-1]
    # a face begins at the joint corner, so the middle of the contact lies at its reach
    bodies = rig(
        MeshQuad.init_tensor(middle + reach, np.linspace(0.0, reach, 3)),
        MeshQuad.init_tensor(across + reach, below),
        young=(RIGID, YOUNG),
        pad=(0.0, 2.0 * reach),
        floor=-SIZE,
    )
    s = bodies.points.s - reach
    found = bodies.press(bodies.layer(bed=BED, interference=-0.5 * curvature * s**2), (LOAD, 0.0, 0.0))
    return Pressed(s, found.contact.push, bodies.points.area)


@kept_until_broken
def rounded() -> Pressed:
    """Contact of the rounded punch, a quarter wider than it should be, fifty cells."""
    return pressed(reach=1.25 * HALF, cells=50, curvature=1.0 / RADIUS)


def isotropic() -> np.ndarray:
    """Compliance of the wave's isotropic solid, (6, 6) [1/Pa]."""
    shear = 2.0 * (1.0 + POISSON)
    compliance = np.diag([1.0, 1.0, 1.0, shear, shear, shear])
    compliance[:3, :3] -= POISSON * (1.0 - np.eye(3))
    return compliance / WOOD


def layer_on_nothing(depth: float) -> float:
    """Movement of a free layer's face under a wave of pressure, by stress functions of the layer [1/Pa]."""
    sinh, cosh = np.sinh(depth), np.cosh(depth)
    return float(2.0 * (1.0 - POISSON**2) / WOOD * (sinh * cosh + depth) / (sinh**2 - depth**2))


OURS = {
    "contact-hertz-peak": lambda: rounded().peak,
    "contact-hertz-width": lambda: rounded().half_width,
    "contact-flat-punch": lambda: pressed(reach=HALF, cells=40, curvature=0.0).in_middle_half,
    "contact-wave-half-plane": lambda: half_plane(isotropic(), into=0, along=1).under_pressure,
    "contact-wave-layer": lambda: half_plane(isotropic(), into=0, along=1).layer(
        np.array([2.0 * np.pi * 15.0 / 80.0])
    )[0][0],
}
OUTSIDE = {
    "contact-hertz-peak": 2.0 * LOAD / (np.pi * HALF),
    "contact-hertz-width": HALF,
    "contact-flat-punch": 1.0 / 3.0,
    "contact-wave-half-plane": 2.0 * (1.0 - POISSON**2) / WOOD,
    "contact-wave-layer": lambda: layer_on_nothing(DEPTH),
}
