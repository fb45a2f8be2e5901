"""The faces where neck and block meet, and the shim pads on them (docs/theory-joint.md, section 5)."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array, Outline


@dataclass(frozen=True)
class Pad:
    """A shim between neck and block.

    ``face`` is ``tongue`` (under the tongue, faces down), ``heel`` (the heel face, faces the bridge) or
    ``end`` (the tongue's end against a pocket's wall, faces the bridge); ``start`` and ``end`` are distances
    along the face from its origin (`face_of`) [m]; ``bearing_width`` is the width in contact [m].
    """

    name: str
    face: str
    start: float
    end: float
    bearing_width: float
    middle: float
    """Thickness in the middle of the pad, the same for every angle [m]; 0 = bare wood, which has no angle."""
    young: float
    """Modulus of the shim across its thickness [Pa]."""
    shear: float
    """Shear modulus of the shim [Pa]."""
    compliance: float
    """Compliance of the two bedding surfaces, added to t/E [m/Pa]."""
    pivot: float = 0.0
    """Distance along the face where the taper does not change the interference [m]."""
    lift: float = 0.0
    """Interference of shim and neck at the pivot [m]; negative leaves a gap."""


@dataclass(frozen=True)
class Face:
    """A face: the origin (x, z) of its distances [m], and unit vectors along it, from block to neck and in
    the direction of positive slip.
    """

    origin: tuple[float, float]
    along: tuple[float, float]
    normal: tuple[float, float]
    slip_direction: tuple[float, float]

    def points(self, s: Array) -> Array:
        """Positions at distances ``s`` (n,), shape (2, n) [m]."""
        return np.asarray(self.origin)[:, None] + np.asarray(self.along)[:, None] * np.asarray(s)


def face_of(outline: Outline, face: str) -> Face:
    """Geometry of a face by its name."""
    corner, end = outline.corner, (outline.tongue_end, outline.corner[1])
    return {
        "tongue": Face(corner, along=(1.0, 0.0), normal=(0.0, 1.0), slip_direction=(1.0, 0.0)),
        "heel": Face(corner, along=(0.0, -1.0), normal=(-1.0, 0.0), slip_direction=(0.0, 1.0)),
        "end": Face(end, along=(0.0, 1.0), normal=(-1.0, 0.0), slip_direction=(0.0, 1.0)),
    }[face]
