"""How the block yields under a pad that bears on part of its width, beyond what the side view sees
(docs/theory.md, section 5).

The plate carries the mean over the block's width. The rest of a pad's pressure, taken as even across the
pad, is a sum of cosine waves across the block; each dies out within about a sixth of its length, so for it
the block is a half-space, or a bending shelf where wood is thin.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag
from scipy.special import iti0k0

from fem.geometry.mesh import Block
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad
from fem.joint.shim_layer import PadPoints

WAVES = 24
"""Waves across the width; twice as many move the offset by less than 0.0001 deg."""
LEAST = 1e-7
"""Least yielding that is kept, as a share of the block's own over its width: a pad as wide as it has none."""


def _shear(i: int, j: int) -> int:
    """Place of a shear among xx, yy, zz, yz, xz, xy."""
    return 6 - i - j


@dataclass(frozen=True)
class HalfPlane:
    """A wood under waves of load on its face, strain across the plane being nought.

    ``into`` and ``along`` are its compliances normal to and along the face, ``between`` the two, ``shear``
    in the plane [1/Pa].
    """

    into: float
    along: float
    between: float
    shear: float

    @property
    def product(self) -> float:
        """Of the two decay rates of a wave into the wood, per wave number."""
        return float(np.sqrt(self.into / self.along))

    @property
    def total(self) -> float:
        """Sum of the two decay rates."""
        return float(np.sqrt(2.0 * self.product + (2.0 * self.between + self.shear) / self.along))

    @property
    def under_pressure(self) -> float:
        """Movement under a wave of pressure, per its height and wavelength / 2 pi [1/Pa]."""
        return self.along * self.product * self.total

    @property
    def under_shear(self) -> float:
        """Movement along the face under a wave of shear, likewise [1/Pa]."""
        return self.along * self.total

    def layer(self, depth: float) -> float:
        """``under_pressure`` of a layer with a free face below; ``depth`` is wave number times thickness."""
        if depth > 12.0:
            return self.under_pressure
        apart = np.sqrt(complex(self.total**2 - 4.0 * self.product))
        if abs(apart) < 1e-4 * self.total:
            # equal roots would need another pair of functions; so near, they change nothing
            apart = complex(1e-4 * self.total)
        roots = 0.5 * np.array([self.total + apart, self.total - apart])
        fade = np.exp(-roots * depth)
        # stress function of waves that fade from either face: its value and slope there and below
        system = [
            [1.0, 1.0, *fade],
            [*-roots, *(roots * fade)],
            [*fade, 1.0, 1.0],
            [*(-roots * fade), *roots],
        ]
        parts = np.linalg.solve(np.array(system), np.array([1.0, 0.0, 0.0, 0.0]))
        third = np.concatenate([-(roots**3), roots**3 * fade])
        return float(np.real(self.along * third @ parts))


def half_plane(compliance: Array, *, into: int, along: int) -> HalfPlane:
    """Half-plane of a wood whose own directions are x, y and z.

    Parameters
    ----------
    compliance : (6, 6), order xx, yy, zz, yz, xz, xy [1/Pa].
    into, along : axes (0 x, 1 y, 2 z) normal to the face and along it; the third is held.
    """
    held = 3 - into - along

    def flat(i: int, j: int) -> float:
        return float(compliance[i, j] - compliance[i, held] * compliance[held, j] / compliance[held, held])

    shear = float(compliance[_shear(into, along), _shear(into, along)])
    return HalfPlane(flat(into, into), flat(along, along), flat(into, along), shear)


@dataclass(frozen=True)
class FaceCompliance:
    """A face under one kind of load: movements per height and wave number, along the pad and across it.

    ``across`` and ``along`` [1/Pa] are for waves across the width and along the pad; ``shelf`` (waves,) is
    what a thin shelf adds to ``across`` beyond ``root``, the distance along the face to which wood stands
    below it [m]; None for a shelf that nothing holds at one end.
    """

    across: float
    along: float
    shelf: Array
    root: float | None


def _of_face(
    outline: Outline, block: Block, face: str, compliance: Array, wave: Array
) -> list[FaceCompliance]:
    """Yielding of a face to pressure and to drag along the pad."""
    into, along = (2, 0) if face == "tongue" else (0, 2)
    across_pad = half_plane(compliance, into=into, along=1)
    along_pad = half_plane(compliance, into=into, along=along)
    deep = {
        "tongue": block.shelf,
        "heel": block.stem,
        "end": outline.joint + block.length - outline.tongue_end,
    }[face]
    shelf = np.array([across_pad.layer(k * deep) for k in wave]) - across_pad.under_pressure
    root = block.stem if face == "tongue" else None
    # drag along the pad that varies across it shears the wood out of the plane across it
    twist = [compliance[n, n] for n in (_shear(into, along), _shear(1, along))]
    return [
        FaceCompliance(across_pad.under_pressure, along_pad.under_pressure, shelf, root),
        FaceCompliance(float(np.sqrt(np.prod(twist))), along_pad.under_shear, np.zeros_like(wave), root),
    ]


def _cells(s: Array, length: Array) -> Array:
    """Ends of the lengths that the points stand for, (n + 1,) [m]: two Gauss points halve a mesh cell."""
    first = s[0] - (1.0 - 1.0 / np.sqrt(3.0)) * length[0]
    return np.asarray(first + np.concatenate([[0.0], np.cumsum(length)]))


def _kernels(face: FaceCompliance, wave: Array, s: Array, ends: Array) -> Array:
    """Movement at each point per force per wave height on each cell, (waves, n, n) [m / (N/m)]."""
    bounds = face.along / face.across * wave[:, None, None] * (ends - s[:, None])
    integral = np.sign(bounds) * iti0k0(np.abs(bounds))[1]
    kernels = face.along / np.pi * np.diff(integral) / np.diff(bounds)
    thin = face.shelf > 0.0
    kernels[thin] += (face.shelf * wave**3)[thin, None, None] * _strip(wave[thin], s, face.root)
    return np.asarray(kernels)


def _strip(wave: Array, s: Array, root: float | None) -> Array:
    """Bending of a strip, ``(k^2 - d^2/ds^2)^2 w = p``, clamped at its root: Green's function, (waves, n, n)
    [m3].
    """
    k = wave[:, None]
    x = k * (np.maximum(s - root, 0.0) if root is not None else s)
    one, other = x[:, :, None], x[:, None, :]
    apart, both = np.abs(one - other), one + other
    free = (1.0 + apart) * np.exp(-apart)
    image = 0.0 if root is None else (1.0 + both + 2.0 * one * other) * np.exp(-both)
    return np.asarray((free - image) / (4.0 * k[:, :, None] ** 3))


def _of_pad(face: FaceCompliance, wave: Array, at: PadPoints, bearing: Array, width: float) -> Array:
    """Yielding of one pad to one kind of load, (n, n) symmetric [m/N]."""
    mean = np.sinc(np.outer(wave, bearing) / (2.0 * np.pi))
    shares = mean[:, :, None] * mean[:, None, :]
    kernels = _kernels(face, wave, at.s, _cells(at.s, at.area / bearing))
    whole = 2.0 / width * np.sum(shares * kernels, axis=0)
    return np.asarray(0.5 * (whole + whole.T))


def indentation(
    outline: Outline,
    block: Block,
    pads: tuple[Pad, ...],
    points: tuple[PadPoints, ...],
    *,
    bearing: tuple[Array, ...],
    compliance: Array,
) -> Array:
    """Yielding of the block under all pads, openings first, then slips, (2 n, 2 n) symmetric [m/N].

    Parameters
    ----------
    bearing : width that bears at the points of each pad [m].
    compliance : (6, 6) of the block's wood in x, y and z [1/Pa].
    """
    wave = np.asarray(2.0 * np.pi / block.width * np.arange(1.0, WAVES + 1.0))
    parts: tuple[list[Array], list[Array]] = ([], [])
    for pad, at, width in zip(pads, points, bearing, strict=True):
        faces = _of_face(outline, block, pad.face, compliance, wave)
        for kind, face in zip(parts, faces, strict=True):
            kind.append(_of_pad(face, wave, at, width, block.width))
    area = np.concatenate([at.area for at in points])
    least = LEAST * compliance[0, 0] * block.width / np.tile(area, 2)
    return np.asarray(block_diag(*parts[0], *parts[1]) + np.diag(least))
