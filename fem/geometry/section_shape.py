"""Geometry of a neck's cross-section: fretboard, neck profile, rod channel, bonded bars; exact moments.

Axes: y across the neck, z up towards the strings, z = 0 at the fretboard's glue line (board above, neck
below).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import beta

from materials.errors import InputError

Moments = NDArray[np.float64]
"""The integrals of 1, z and z^2 over an area [m2, m3, m4]; shape (3,)."""

# Across the half board: its top is an arc, smooth enough for rounding accuracy.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(40)


def _require_positive(what: str, value: float, *, remedy: str) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise InputError(f"{what} is {value!r}; it must be a finite number above zero: {remedy}.")


@dataclass(frozen=True)
class SectionMaterial:
    """Young's modulus along the neck, and shear moduli between that direction and y and z [Pa].

    Raises `InputError`: a modulus is not a finite number above zero.
    """

    young: float
    shear_xy: float
    shear_xz: float

    def __post_init__(self) -> None:
        for name in ("young", "shear_xy", "shear_xz"):
            _require_positive(f"The modulus {name}", getattr(self, name), remedy="give it in Pa")


@dataclass(frozen=True)
class Channel:
    """An empty rod channel: a rectangle centred on y = 0, between two heights z at or below zero [m].

    With a filler strip glued over the rod, the channel's top lies below z = 0.

    Raises `InputError`: the channel has no area or reaches above the glue line.
    """

    width: float
    top: float
    bottom: float

    def __post_init__(self) -> None:
        _require_positive(
            "The rod channel's width", self.width, remedy="leave the channel out if there is none"
        )
        if not -math.inf < self.bottom < self.top <= 0.0:
            raise InputError(
                f"The rod channel runs from z = {self.bottom!r} m to {self.top!r} m; its bottom must be below"
                " its top, its top not above the glue line (z = 0): give both as heights, negative downwards."
            )


@dataclass(frozen=True)
class Bar:
    """A bonded bar of rectangular section that replaces neck wood; a pair is given as two bars.

    Parameters
    ----------
    y, z : Centre of the bar [m].
    width, height : Size across the neck and along z [m].
    young : Young's modulus along the bar [Pa].
    shear : Shear modulus [Pa]; None for an isotropic metal with Poisson's ratio 0.3, G = E/2.6. Give it for
      fibre bars, which are far softer in shear.

    Raises `InputError`: a size or modulus is not above zero, or the bar reaches above the glue line.
    """

    y: float
    z: float
    width: float
    height: float
    young: float
    shear: float | None = None

    def __post_init__(self) -> None:
        for name in ("width", "height", "young"):
            _require_positive(
                f"A bonded bar's {name}", getattr(self, name), remedy="leave the bar out if there is none"
            )
        if self.shear is not None:
            _require_positive(
                "A bonded bar's shear modulus", self.shear, remedy="give it in Pa, or None for a metal"
            )
        if not self.top <= 1e-9:
            raise InputError(
                f"A bonded bar's top lies at z = {self.top!r} m, above the glue line (z = 0); bars lie in the"
                " neck wood: lower its centre z or its height."
            )

    @property
    def top(self) -> float:
        """Height of the upper face [m]."""
        return self.z + self.height / 2.0

    @property
    def bottom(self) -> float:
        """Height of the lower face [m]."""
        return self.z - self.height / 2.0

    @property
    def shear_modulus(self) -> float:
        """Shear modulus, by default that of a metal [Pa]."""
        return self.young / 2.6 if self.shear is None else self.shear


@dataclass(frozen=True)
class SectionShape:
    """The geometry of one cross-section of the neck, symmetric about y = 0.

    The half-width of the neck below the glue line is ``width/2 * (1 - (|z|/neck_depth)**n)**(1/n)`` with
    n = `profile_exponent`: 2 a half ellipse, more is fuller, less leans to a V (1 is a V), infinity a
    rectangle. The board is `width` wide; its top is cut to the radius,
    ``z_top(y) = t - (R - sqrt(R**2 - y**2))``.

    Parameters
    ----------
    width : Width at the glue line, of board and neck alike [m].
    neck_depth : Depth of the neck wood below the glue line [m]; 0 means a bare board.
    profile_exponent : The superellipse's exponent n, 1 to 10 or infinity [-].
    board_thickness : Thickness of the board at its centre [m]; 0 means no board.
    board_radius : Radius of the board's top [m]; infinity is flat.
    slot_depth : Depth of the fret slots, measured from the curved top [m].
    slot_fraction : Fraction of its moduli that the slotted layer keeps, 0 to 1 [-];
      `fem.geometry.slots.slot_fraction`.
    channel : The rod channel, or None.
    bars : Bonded bars; every bar off the centre needs its mirror image.

    Raises `InputError`: a size is out of range, or a channel or bar leaves the neck wood, overlaps another,
    or lacks its mirror image.
    """

    width: float
    neck_depth: float
    profile_exponent: float
    board_thickness: float
    board_radius: float
    slot_depth: float = 0.0
    slot_fraction: float = 1.0
    channel: Channel | None = None
    bars: tuple[Bar, ...] = ()

    def __post_init__(self) -> None:
        _check_outline(self)
        _check_inclusions(self)

    def neck_half_width(self, z: float) -> float:
        """Half-width of the neck at the height z <= 0 [m]."""
        if math.isinf(self.profile_exponent):
            return self.width / 2.0
        n = self.profile_exponent
        return self.width / 2.0 * max(1.0 - (abs(z) / self.neck_depth) ** n, 0.0) ** (1.0 / n)

    def neck_depth_at(self, y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Depth of the neck wood below the glue line at y [m]."""
        if math.isinf(self.profile_exponent):
            return np.full_like(y, self.neck_depth)
        n = self.profile_exponent
        inside = np.maximum(1.0 - (2.0 * np.abs(y) / self.width) ** n, 0.0)
        return np.asarray(self.neck_depth * inside ** (1.0 / n))

    def board_top(self, y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height of the board's top at y [m]."""
        # This form of the versine is accurate for a large radius and zero for an infinite one.
        versine = (
            y**2 / self.board_radius / (1.0 + np.sqrt(np.maximum(1.0 - (y / self.board_radius) ** 2, 0.0)))
        )
        return np.asarray(self.board_thickness - versine)


def rectangle_moments(width: float, *, bottom: float, top: float) -> Moments:
    """Moments of a rectangle between two heights."""
    return width * np.array([(top**k - bottom**k) / k for k in (1, 2, 3)])


def neck_moments(shape: SectionShape) -> Moments:
    """Moments of the neck profile, channel and bars included.

    Exact: with z = -d s**(1/n), the integral of |z|^k times the full width is
    ``width d**(k+1)/n B((k+1)/n, 1 + 1/n)``, B being the beta function (an elementary substitution).
    """
    d, n = shape.neck_depth, shape.profile_exponent
    if math.isinf(n):
        return rectangle_moments(shape.width, bottom=-d, top=0.0)
    return np.array(
        [(-1) ** k * shape.width * d ** (k + 1) / n * beta((k + 1) / n, 1.0 + 1.0 / n) for k in range(3)]
    )


def board_moments(shape: SectionShape, *, depth: float | None = None) -> Moments:
    """Moments of the board, or of its top layer of a given depth."""
    if shape.board_thickness == 0.0:
        return np.zeros(3)
    y = shape.width / 4.0 * (_POINTS + 1.0)
    top = shape.board_top(y)
    bottom = np.zeros_like(top) if depth is None else top - depth
    heights = np.array([(top**k - bottom**k) / k for k in (1, 2, 3)])
    return np.asarray(shape.width / 2.0 * heights @ _WEIGHTS)


def _check_outline(shape: SectionShape) -> None:
    _require_positive("The section's width", shape.width, remedy="give the width at the glue line")
    for name in ("neck_depth", "board_thickness", "slot_depth"):
        value = getattr(shape, name)
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(
                f"The section's {name} is {value!r}; it must be a finite length, zero or more: correct it."
            )
    if shape.neck_depth == 0.0 and shape.board_thickness == 0.0:
        raise InputError(
            "The section has neither neck wood nor board: give neck_depth or board_thickness a value."
        )
    n = shape.profile_exponent
    if not (1.0 <= n <= 10.0 or n == math.inf):
        raise InputError(
            f"The profile exponent is {n!r}; it must lie between 1 (a V) and 10, or be infinite (a rectangle)"
            ": start from 2, a half ellipse."
        )
    if not shape.board_radius >= shape.width / 2.0:
        raise InputError(
            f"The board radius is {shape.board_radius!r} m, less than half the width {shape.width!r} m:"
            " enlarge it, or give infinity for a flat board."
        )
    edge = float(shape.board_top(np.array([shape.width / 2.0]))[0])
    if shape.board_thickness > 0.0 and edge < -1e-9 * shape.width:
        raise InputError(
            f"The board radius {shape.board_radius!r} m leaves no thickness at the board's edge ({edge!r} m):"
            " enlarge the radius or board_thickness."
        )
    if not 0.0 < shape.slot_fraction <= 1.0:
        raise InputError(
            f"The slot fraction is {shape.slot_fraction!r}; it must be above 0 and at most 1: give 1 for a"
            " board without slots."
        )
    if shape.slot_depth > 0.0 and shape.slot_depth >= edge:
        raise InputError(
            f"The slot depth {shape.slot_depth!r} m reaches through the board's edge, {edge:.6g} m thick:"
            " make the slots shallower or the board thicker."
        )


def _check_inclusions(shape: SectionShape) -> None:
    boxes = [("A bonded bar", b.y - b.width / 2, b.y + b.width / 2, b.bottom, b.top) for b in shape.bars]
    if shape.channel is not None:
        c = shape.channel
        boxes.append(("The rod channel", -c.width / 2, c.width / 2, c.bottom, c.top))
    for name, left, right, bottom, _top in boxes:
        reach = max(-left, right)
        # A skin of one part in a thousand keeps the elements beside a box from vanishing.
        room = shape.neck_half_width(bottom) if -bottom < shape.neck_depth else 0.0
        if not (reach < 0.999 * room and -bottom < 0.999 * shape.neck_depth):
            raise InputError(
                f"{name} reaches y = {reach:.6g} m at z = {bottom:.6g} m, but there the neck wood ends at"
                f" y = {room:.6g} m, and it is {shape.neck_depth:.6g} m deep: make it shallower or"
                " narrower, or the neck deeper."
            )
    slack = 1e-9 * shape.width
    for i, (name, left, right, bottom, top) in enumerate(boxes):
        for other, left2, right2, bottom2, top2 in boxes[i + 1 :]:
            if (
                min(right, right2) - max(left, left2) > slack
                and min(top, top2) - max(bottom, bottom2) > slack
            ):
                raise InputError(
                    f"{name} near y = {(left + right) / 2:.6g} m and {other[0].lower() + other[1:]} near"
                    f" y = {(left2 + right2) / 2:.6g} m overlap: move them apart."
                )
    for bar in shape.bars:
        if abs(bar.y) > slack and not any(_mirrors(bar, other, slack=slack) for other in shape.bars):
            raise InputError(
                f"The bonded bar at y = {bar.y:.6g} m has no mirror image at y = {-bar.y:.6g} m, but the"
                " section must be symmetric: give the pair as two like bars, or centre the bar."
            )


def _mirrors(bar: Bar, other: Bar, *, slack: float) -> bool:
    lengths = (bar.y + other.y, bar.z - other.z, bar.width - other.width, bar.height - other.height)
    same_material = bar.young == other.young and bar.shear_modulus == other.shear_modulus
    return same_material and all(abs(value) <= slack for value in lengths)
