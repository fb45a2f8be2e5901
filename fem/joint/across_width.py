"""Rows of contact points across the width of a pad, and the local compliance of neck and block that joins
them (docs/theory-joint.md, section 5).

The plates carry the means over the widths of neck and block. What is left of the load on a row is a sum of
cosine waves across each of the two bodies. Each wave decays within about a sixth of its length, so for it the
body is a half-space, or a bending shelf where the wood is thin.
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import Chebyshev
from scipy.special import iti0k0

from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.members.half_plane import HalfPlane, half_plane, shear_place

WAVES = 24
"""Waves across the width; twice as many change the offset by less than 0.0001 deg."""
NUMBERS = 2.0 * np.pi * np.arange(1.0, WAVES + 1.0)
"""Wave numbers times the width."""
ROWS = np.array([0.25, 0.35, 0.40])
"""Widths of the rows from the middle of a pad outwards, as parts of its half width: narrower where the bolts
pull. Ten rows change a frictionless transfer by less than one per cent, one with friction by less than a
tenth of that."""


NEAR, FADED = 2.0, 40.0
"""Arguments from which the integral of the Bessel function K0 follows its `_tail`, and from which K0 is below
rounding."""


@dataclass(frozen=True)
class FaceCompliance:
    """Compliance of a face under pressure or shear, per wave number.

    ``across`` and ``along`` [1/Pa] are for waves across the width and along the pad. ``shelf`` (waves,) is
    the addition of a thin shelf to ``across`` beyond its ``root``, a distance along the face [m]; None for a
    shelf free at both ends.
    """

    across: float
    along: float
    shelf: tuple[float, ...]
    root: float | None

    @property
    def thin(self) -> tuple[Array, Array]:
        """Numbers of the waves for which the shelf is thin, from 1, and its additions for them."""
        shelf = np.array(self.shelf)
        which = np.flatnonzero(shelf > 0.0)
        return np.asarray(which + 1.0, dtype=float), np.asarray(shelf[which])


@dataclass(frozen=True)
class Side:
    """One of the two bodies under a pad: its width at each point (n,) [m], the wood in the plane across the
    pad, its depth below the face [m], and its compliances.
    """

    width: Array
    plane: HalfPlane
    depth: float
    pressure: FaceCompliance
    shear: FaceCompliance

    @property
    def wave(self) -> Array:
        """Wave numbers across the width at each point, (waves, n) [1/m]."""
        return np.asarray(NUMBERS[:, None] / self.width)


@cache
def _tail() -> Chebyshev:
    """Integral of K0 from x to infinity, times ``sqrt(x) e^x``, by 1/x, to 1e-11.

    From ``K0(x) = int_0^inf e^(-x cosh t) dt`` ([dlmf2026], 10.32.9), by the trapezoidal rule in t, whose
    error vanishes faster than any power of its step.
    """
    t, step = np.linspace(0.0, 4.0, 81, retstep=True)
    weight = np.where(t > 0.0, step, 0.5 * step) / np.cosh(t)

    def scaled(inverse: Array) -> Array:
        decay = np.exp(np.outer(1.0 / inverse, 1.0 - np.cosh(t)))
        return np.asarray(np.sqrt(1.0 / inverse) * (decay @ weight))

    return Chebyshev.interpolate(scaled, 16, domain=[1.0 / FADED, 1.0 / NEAR])


def integral_of_k0(to: Array) -> Array:
    """Integral of the Bessel function K0 from zero, odd, shape of ``to``."""
    size = np.abs(to)
    found, near = np.full(size.shape, 0.5 * np.pi), size < NEAR
    found[near] = iti0k0(size[near])[1]
    beyond = ~near & (size < FADED)
    far = size[beyond]
    found[beyond] -= np.exp(-far) / np.sqrt(far) * _tail()(1.0 / far)
    return np.asarray(np.copysign(found, to))


def kernels(face: FaceCompliance, width: Array, s: Array, ends: Array) -> Array:
    """Displacement at each point per force in a wave on each other, symmetric, (waves, n, n) [m/N].

    ``width`` (n,) is the body's, ``ends`` (n + 1,) those of the points' lengths along the pad [m].
    """
    at_ends = np.interp(ends, s, width)
    number = face.along / face.across * NUMBERS[:, None, None]
    bounds = number / np.sqrt(np.outer(width, at_ends)) * (ends - s[:, None])
    found = face.along / np.pi * np.diff(integral_of_k0(bounds)) / np.diff(bounds)
    waves, shelf = face.thin
    if len(waves):
        mean = 2.0 * np.pi * waves / float(np.mean(width))
        bent = (shelf * mean**3)[:, None, None] * strip(mean, s, s, face.root)
        found[waves.astype(int) - 1] += bent
    return np.asarray((found + found.transpose(0, 2, 1)) / np.sqrt(np.outer(width, width)))


def strip(wave: Array, s: Array, other: Array, root: float | None) -> Array:
    """Deflection at ``s`` (n,) under a load at ``other`` (m,) of a strip clamped at its root, ``(k^2 -
    d^2/ds^2)^2 w = p``, (waves, n, m) [m3].
    """
    k = wave[:, None]
    one = (k * (np.maximum(s - root, 0.0) if root is not None else s))[:, :, None]
    two = (k * (np.maximum(other - root, 0.0) if root is not None else other))[:, None, :]
    apart, both = np.abs(one - two), one + two
    free = (1.0 + apart) * np.exp(-apart)
    image = 0.0 if root is None else (1.0 + both + 2.0 * one * two) * np.exp(-both)
    return np.asarray((free - image) / (4.0 * k[:, :, None] ** 3))


def cells(s: Array, length: Array) -> Array:
    """Ends of each point's length, (n + 1,) [m]: two Gauss points halve a mesh cell."""
    first = s[0] - (1.0 - 1.0 / np.sqrt(3.0)) * length[0]
    return np.asarray(first + np.concatenate([[0.0], np.cumsum(length)]))


def row_means(wave: Array, bearing: Array, rows: Array) -> Array:
    """Mean of each wave over each row of a pad ``bearing`` wide, (waves, n, rows)."""
    each = 0.5 * bearing[:, None] * rows
    middle = np.cumsum(each, axis=1) - 0.5 * each
    number = wave[:, :, None]
    return np.asarray(np.cos(number * middle) * np.sinc(number * each / (2.0 * np.pi)))


class Body(NamedTuple):
    """What a `Side` is made from, hashable: ``part`` is ``neck`` or ``block``, ``wood`` its compliance (6, 6)
    and ``width`` (n,) as bytes; ``depth`` and ``root`` [m] see `Side` and `FaceCompliance`.
    """

    part: str
    face: str
    wood: bytes
    width: bytes
    depth: float
    root: float | None


def bodies(structure: Structure, pad: Pad, s: Array, bearing: Array) -> list[Body]:
    """Block and neck under a pad at its points, in contact over the widths ``bearing`` (n,) [m]; without a
    body whose solid wood is unknown.
    """
    outline, block = structure.outline, structure.block
    found = []
    if structure.block_wood.solid is not None and block.width > 0.0:
        deep = {
            "tongue": block.shelf,
            "heel": block.stem,
            "end": outline.joint + block.length - outline.tongue_end,
        }[pad.face]
        root = block.stem if pad.face == "tongue" else None
        width = np.full_like(s, block.width)
        wood = structure.block_wood.solid.tobytes()
        found.append(Body("block", pad.face, wood, width.tobytes(), deep, root))
    if structure.neck.solid is not None:
        width, deep, root = bearing, np.inf, None
        if pad.face == "tongue":
            # a thin part with its board, clamped where the heel begins
            width = np.maximum(width, outline.tongue_width)
            deep, root = outline.tongue_depth + outline.board_thickness, 0.0
        elif pad.face == "heel":
            xj, zc = outline.corner
            width = np.maximum(width, outline.neck_thickness_across(np.full_like(s, xj), zc - s))
        found.append(Body("neck", pad.face, structure.neck.solid.tobytes(), width.tobytes(), deep, root))
    return found


# an answer solves about twenty neighbours of its joint, most of them with some of the same pads
@lru_cache(maxsize=64)
def side_of(body: Body) -> Side:
    """A body's width and compliances."""
    _, face, wood, widths, depth, root = body
    compliance, width = np.frombuffer(wood).reshape(6, 6), np.frombuffer(widths)
    into, along = (2, 0) if face == "tongue" else (0, 2)
    across_pad = half_plane(compliance, into=into, along=1)
    along_pad = half_plane(compliance, into=into, along=along)
    wave = NUMBERS / float(np.mean(width))
    shelf = tuple(across_pad.layer(wave * depth)[0] - across_pad.under_pressure)
    # shear along the pad that varies across it shears the wood out of the plane across the pad
    twist = [compliance[n, n] for n in (shear_place(into, along), shear_place(1, along))]
    return Side(
        width=width,
        plane=across_pad,
        depth=depth,
        pressure=FaceCompliance(across_pad.under_pressure, along_pad.under_pressure, shelf, root),
        shear=FaceCompliance(float(np.sqrt(np.prod(twist))), along_pad.under_shear, (), root),
    )


def row_compliance(
    side: Side, face: FaceCompliance, s: Array, length: Array, *, bearing: Array, rows: Array
) -> Array:
    """Local displacement of each row per force on each other, (n rows, n rows) symmetric [m/N].

    ``length`` (n,) is that of each point along the pad and ``bearing`` (n,) the width in contact [m].
    """
    return _row_compliance(face, *(one.tobytes() for one in (side.width, s, length, bearing, rows)))


@lru_cache(maxsize=256)
def _row_compliance(face: FaceCompliance, *given: bytes) -> Array:
    width, s, length, bearing, rows = (np.frombuffer(one) for one in given)
    means = row_means(NUMBERS[:, None] / width, bearing, rows)
    flat = means.reshape(len(means), -1)
    many = np.repeat(np.repeat(kernels(face, width, s, cells(s, length)), len(rows), 1), len(rows), 2)
    whole = np.einsum("wi,wj,wij->ij", flat, flat, many)
    return np.asarray(0.5 * (whole + whole.T))
