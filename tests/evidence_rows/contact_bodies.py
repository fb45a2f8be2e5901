"""Elastic bodies that meet over an unknown length: a rounded and a flat punch on a half-plane, pressed together by
the project's own plates, rows and contact search.

The layer between them is, over a cell, ten times as stiff as the body; the shims of a neck are two to six times as
stiff. Two points a cell bind a quadratic face too much where the layer is far stiffer than that: at a thousand times
peak and share come out 12 and 16 % too large, which is why no case may have a layer without give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import MeshQuad

from fem.geometry.outline import Array
from tests.evidence_rows.contact import BILATERAL, SQUEEZE_SIGN
from tests.evidence_rows.mutation import Misled, kept_until_broken
from tests.evidence_rows.plate import HALF_SHEAR_STRAIN, TEN_SHEAR
from tests.evidence_rows.row import Row
from tests.two_bodies import rig

YOUNG, RIGID, BED = 1000.0, 1e7, 1e5
"""Modulus of the half-plane and of the punch [N/mm2], stiffness of the layer between them [N/mm3]: under the peak it
gives way by half a per cent of what the half-plane does."""
SIZE = 40.0
"""Depth and half the length of the body that stands for the half-plane, thickness 1 [mm]."""
HALF, RADIUS = 2.0, 400.0
"""Half of the contact and radius of the rounded punch [mm]."""
LOAD = np.pi * YOUNG * HALF**2 / (4.0 * RADIUS)
"""Load under which the rounded punch meets the half-plane over that half-width [N]."""
PLANE_SOFT = Misled("plate's moduli halved", "fem.members.plate:stiffness", "moduli = 0.5 * moduli")


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
    """Lines from a place where cells are ``least`` long to another, each a third longer than the one before."""
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


HERTZ = (
    "line contact of cylinders: a = sqrt(4 P R/(pi E*)), p = 2 P/(pi a); Johnson, Contact Mechanics, section 4.2; "
    "read on two teaching pages on line contact"
)
ROWS = [
    Row(
        "contact-hertz-peak [MPa]",
        f"peak pressure under a rigid cylinder of 400 mm on a half-plane of 1000 N/mm2, {LOAD:.3f} N a millimetre",
        ours=lambda: rounded().peak,
        outside=2.0 * LOAD / (np.pi * HALF),
        tolerance="1 %: the body is 20 contact half-widths deep, (a/h)^2 = 0.3 %; points lie a fortieth of the contact apart",
        source=f"seen: {HERTZ}",
        mutations=(PLANE_SOFT, HALF_SHEAR_STRAIN, TEN_SHEAR),
    ),
    Row(
        "contact-hertz-width [mm]",
        "half-width of that contact, from the second moment of the pressure",
        ours=lambda: rounded().half_width,
        outside=HALF,
        tolerance="1 %: as for the peak; the second moment does not depend on which point is the last to touch",
        source=f"seen: {HERTZ}",
        mutations=(BILATERAL, SQUEEZE_SIGN, PLANE_SOFT),
    ),
    Row(
        "contact-flat-punch [-]",
        "share of the load within the middle half of a flat rigid punch on a half-plane: (2/pi) asin(1/2)",
        ours=lambda: pressed(reach=HALF, cells=40, curvature=0.0).in_middle_half,
        outside=1.0 / 3.0,
        tolerance="2 %: the pressure is without bound at the edges, which the last cells, a fortieth of the width, spread",
        source="memory: p = P/(pi sqrt(a^2 - x^2)), Johnson, Contact Mechanics, section 2.8",
        mutations=(HALF_SHEAR_STRAIN,),
    ),
]
