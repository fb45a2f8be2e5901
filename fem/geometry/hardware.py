"""Bolts and truss rod: position and stiffness."""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array


@dataclass(frozen=True)
class Bolt:
    """A bolt through the block into the neck, square to its face except for a small ``angle``.

    ``position`` is the distance of its axis on the face from the joint corner [m]; ``tension`` is set on the
    bench [N]. With a positive ``angle`` [rad] it also pulls the neck home: a tongue bolt towards the bridge,
    a heel bolt down onto the tongue's seat.
    """

    name: str
    face: str
    position: float
    diameter: float
    washer_diameter: float
    insert_length: float
    insert_diameter: float
    young: float
    tension: float
    angle: float = 0.0

    @property
    def pull(self) -> tuple[float, float]:
        """Unit vector (x, z) of its pull on the neck."""
        square, aside = float(np.cos(self.angle)), float(np.sin(self.angle))
        return (square, -aside) if self.face == "heel" else (aside, -square)


@dataclass(frozen=True)
class Rod:
    """A rod between two anchors; depths are those of its axis below the glue line [m].

    ``arm`` is None for a one-way rod, whose setting is a tension [N]. For a two-way rod it is the distance
    of the two members, and the setting is a couple [N m]. A positive setting counteracts the strings.
    """

    first: float
    last: float
    depth_ends: float
    depth_middle: float
    height: float
    arm: float | None = None

    def z(self, x: Array) -> Array:
        """Height of the axis: a parabola through the two ends and the middle [m]."""
        xi = (np.asarray(x) - self.first) / (self.last - self.first)
        return -(self.depth_ends + (self.depth_middle - self.depth_ends) * 4.0 * xi * (1.0 - xi))

    def slope(self, x: Array) -> Array:
        """Slope dz/dx of the axis."""
        xi = (np.asarray(x) - self.first) / (self.last - self.first)
        return -(self.depth_middle - self.depth_ends) * 4.0 * (1.0 - 2.0 * xi) / (self.last - self.first)
