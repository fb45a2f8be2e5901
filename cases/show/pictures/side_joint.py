"""The joint as drawn: the faces of heel and tongue with their gaps, shims, block, bolts [mm]."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import radians, tan

import numpy as np
from scipy.interpolate import CubicSpline

from cases.offset.build import MM
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad, face_of
from fem.geometry.structure import Structure
from fem.joint.shim_layer import taper_rates

SHIM_MM = 2.5
"""Drawn thickness of a shim without taper [mm], so that it stays visible."""
THIN_MM = 1.0
"""Smallest drawn thickness of a shim where the neck presses on it [mm]."""
LAST_POINTS = 6
"""Points at the end of a pad whose slope the face keeps beyond it."""


def slope(x: Array, y: Array) -> float:
    """Slope of the line through points by least squares."""
    arm = x - x.mean()
    return float(arm @ y / (arm @ arm))


@dataclass(frozen=True)
class Seat:
    """One face of the joint in one state, true size: shim (or bare wood) against neck, along ``s_mm``.

    ``shim_mm`` is the height of the shim's free surface over the face at rest, ``neck_mm`` that of the neck's
    face, (points,) [mm]. The seat is open where the neck's face is the higher one.
    """

    pad: Pad
    s_mm: Array
    shim_mm: Array
    neck_mm: Array

    @property
    def open(self) -> Array:
        """Whether neck and shim are apart at each point, (points,)."""
        return np.asarray(self.neck_mm > self.shim_mm)

    @property
    def surface_mm(self) -> Array:
        """Height of the shim's surface, pressed in where the neck bears on it, (points,) [mm]."""
        return np.minimum(self.shim_mm, self.neck_mm)

    def neck_at(self, s_mm: Array) -> Array:
        """Height of the neck's face at any distance, straight on beyond the ends of the pad [mm]."""
        s, h, (first, last) = self.s_mm, self.neck_mm, self.end_slopes
        beyond = first * np.minimum(s_mm - s[0], 0.0) + last * np.maximum(s_mm - s[-1], 0.0)
        return np.asarray(np.interp(s_mm, s, h) + beyond)

    @cached_property
    def end_slopes(self) -> tuple[float, float]:
        """Slope of the neck's face at the first and the last points of the pad [mm/mm]."""
        s, h = self.s_mm, self.neck_mm
        return slope(s[:LAST_POINTS], h[:LAST_POINTS]), slope(s[-LAST_POINTS:], h[-LAST_POINTS:])

    @cached_property
    def turn(self) -> float:
        """Mean slope of the neck's face along the pad [rad]."""
        return slope(self.s_mm, self.neck_mm)


def seats_of(
    structure: Structure, points_mm: Sequence[Array], gaps_mm: Sequence[Array], angles_deg: Sequence[float]
) -> dict[str, Seat]:
    """The seats by the name of their face, from the gaps at the pads' points and the angles of the shims.

    Bare wood that is pressed is drawn as touching.
    """
    left, found = list(angles_deg), {}
    for pad, s_mm, gap in zip(structure.pads, points_mm, gaps_mm, strict=True):
        angle = radians(left.pop(0)) if pad.middle > 0.0 else 0.0
        shim = (pad.lift + angle * taper_rates(pad, s_mm * MM)[0]) / MM
        found[pad.face] = Seat(pad, s_mm, shim, shim + (gap if pad.middle > 0.0 else np.maximum(gap, 0.0)))
    return found


@dataclass(frozen=True)
class Movement:
    """Displacement of the neck: a smooth curve through the heights of its crowns, and at the seats the faces
    as computed. The heel follows its face, ``turn`` is the body's rotation [rad].
    """

    curve: CubicSpline
    outline: Outline
    seats: dict[str, Seat]
    factor: float
    turn: float

    def of(self, points: Array) -> Array:
        """Displaced points; a point of a face lies on the face's computed place, at its own new position."""
        o, factor = self.outline, self.factor
        (xj, zc), start, end = np.array(o.corner) / MM, o.heel_start / MM, o.tongue_end / MM
        x, z = points[:, 0], points[:, 1]
        aside = -(self.curve(x, 1) + self.turn) * z + self.turn * zc
        up = self.curve(x) + self.turn * (x - xj)
        inside, below = np.clip((x - start) / (xj - start), 0.0, 1.0), np.clip(z / zc, 0.0, 1.0)
        beyond = x > xj + 1e-9
        tongue, corner_up = self.seats["tongue"], float(self.seats["tongue"].neck_at(np.zeros(1))[0])
        under = tongue.neck_at(np.maximum(x + factor * np.where(beyond, aside, 0.0) - xj, 0.0))
        up = up + below * inside * np.where(beyond, under - up, corner_up - float(self.curve(xj)))
        if "heel" in self.seats:
            heel, shallow = self.seats["heel"], float(o.depth(np.array([o.heel_start]))[0]) / MM
            deep = np.clip((-z - shallow) / (o.heel_height / MM - shallow), 0.0, 1.0)
            share = below * (1.0 - (1.0 - inside) * (1.0 - deep * deep * (3.0 - 2.0 * deep)))
            share = np.where((x > start) & ~beyond, share, 0.0)
            up = (1.0 - share) * up + share * (corner_up + heel.turn * (xj - x))
            aside = (1.0 - share) * aside - share * heel.neck_at(zc - z - factor * up)
        if "end" in self.seats:
            wall, far = self.seats["end"], np.clip((2.0 * x - xj - end) / (end - xj), 0.0, 1.0)
            share = far * np.clip(z / (zc + wall.s_mm[-1]), 0.0, 1.0)
            aside = (1.0 - share) * aside - share * wall.neck_at(z + factor * up - zc)
        return points + factor * (np.stack([aside, up], axis=1) + turned(points, o, self.turn))


def turned(points: Array, outline: Outline, turn: float) -> Array:
    """Displacement of points (..., 2) that turn about the joint corner, nut up [mm]."""
    from_corner = points - np.array(outline.corner) / MM
    return from_corner[..., ::-1] * (turn, -turn)


def shim_thickness(seats: dict[str, Seat], factor: float, *, least: float) -> dict[str, float]:
    """Drawn thickness of each shim at zero height by its face: ``least`` is left at its thinnest [mm]."""
    return {
        face: least + max(0.0, -factor * float(seat.surface_mm.min()))
        for face, seat in seats.items()
        if seat.pad.middle > 0.0
    }


def shim_shapes(
    structure: Structure, seats: dict[str, Seat], factor: float, thick: dict[str, float]
) -> tuple[Array, ...]:
    """Closed outlines of the shims; the first half of the points lies towards the neck."""
    shapes = []
    for face_name, thickness in thick.items():
        seat, face = seats[face_name], face_of(structure.outline, face_name)
        ends = np.array([seat.pad.start, seat.pad.end]) / MM
        s = np.concatenate([ends[:1], seat.s_mm, ends[1:]])
        # beyond the last points of contact the gap is that of the last point
        free = seat.shim_mm[0] + (s - seat.s_mm[0]) * np.diff(seat.shim_mm[[0, -1]]) / np.diff(
            seat.s_mm[[0, -1]]
        )
        surface = free + np.interp(s, seat.s_mm, seat.surface_mm - seat.shim_mm)
        at, normal = face.points(s * MM).T / MM, np.array(face.normal)
        shapes.append(
            np.concatenate([at + factor * surface[:, None] * normal, (at - thickness * normal)[::-1]])
        )
    return tuple(shapes)


def open_seams(structure: Structure, seats: dict[str, Seat], factor: float) -> tuple[Array, ...]:
    """Lines along the stretches where a seat is open, each (n, 2), half way across the gap."""
    lines = []
    for name, seat in seats.items():
        face = face_of(structure.outline, name)
        middle = 0.5 * factor * (seat.shim_mm + seat.neck_mm)[:, None] * np.array(face.normal)
        on_face = face.points(seat.s_mm * MM).T / MM + middle
        edges = np.flatnonzero(np.diff(seat.open)) + 1
        lines += [
            points
            for points, apart in zip(np.split(on_face, edges), np.split(seat.open, edges), strict=True)
            if apart[0] and len(points) > 1
        ]
    return tuple(lines)


def room_for(structure: Structure, thick: dict[str, float]) -> Array:
    """Shift of the block that makes room for the shims, (2,) [mm]."""
    room = np.zeros(2)
    for face, thickness in thick.items():
        room = np.maximum(np.abs(room), thickness * np.abs(face_of(structure.outline, face).normal)) * (
            1.0,
            -1.0,
        )
    return room


def block_shape(structure: Structure, room: Array, factor: float) -> Array:
    """Closed outline of the block; the gap planned before a pocket's end wall is drawn ``factor`` times."""
    (xj, zc), b = structure.outline.corner, structure.block
    end, low = structure.outline.tongue_end - xj, -b.height - zc
    wall = end - factor * sum(pad.lift for pad in structure.pads if pad.face == "end")
    corners = [
        (0.0, 0.0), (wall, 0.0), (wall, b.wall), (b.length, b.wall if b.wall > 0.0 else 0.0),
        (b.length, -b.shelf), (b.stem, -b.shelf), (b.stem, low), (0.0, low),
    ]  # fmt: skip
    return np.array([(xj + x, zc + z) for x, z in corners]) / MM + room


def fastenings(structure: Structure, room: Array) -> list[tuple[Array, Array, Array]]:
    """Middle of the washer, end of the insert and outline of the washer of each bolt [mm].

    A bolt at an angle leaves the block aside of its position.
    """
    found, b, thick = [], structure.block, 2.0
    for bolt in structure.bolts:
        face = face_of(structure.outline, bolt.face)
        along, normal = np.array(face.along), np.array(face.normal)
        at = face.points(np.array([bolt.position]))[:, 0]
        grip = b.stem if bolt.face == "heel" else b.shelf
        middle = (at - grip * normal + grip * tan(bolt.angle) * along) / MM + room * np.abs(normal)
        across, deep = 0.5 * bolt.washer_diameter * along / MM, thick * normal
        washer = np.array([middle - across, middle + across, middle + across - deep, middle - across - deep])
        found.append((middle, (at + bolt.insert_length * normal) / MM, washer))
    return found
