"""Local indentation of the block under a pad narrower than the block, which the side view leaves out
(docs/theory.md, section 5).

The plate carries the mean over the block's width. The rest of a pad's pressure, uniform across the pad, is a
sum of cosine waves across the block. Each wave decays within about a sixth of its length, so for it the block
is a half-space, or a bending shelf where the wood is thin.
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
"""Waves across the width; twice as many change the offset by less than 0.0001 deg."""
LEAST = 1e-7
"""Smallest indentation, as a fraction of the block's own compression over its width; without it a pad as wide
as the block would have none."""


def _shear(i: int, j: int) -> int:
    """Position of a shear in the order xx, yy, zz, yz, xz, xy."""
    return 6 - i - j


@dataclass(frozen=True)
class HalfPlane:
    """A wood under waves of load on its face, in plane strain.

    Compliances normal to (``into``) and along the face, between the two, and in shear [1/Pa].
    """

    into: float
    along: float
    between: float
    shear: float

    @property
    def product(self) -> float:
        """Product of the two decay rates of a wave into the wood, per wave number."""
        return float(np.sqrt(self.into / self.along))

    @property
    def total(self) -> float:
        """Sum of the two decay rates."""
        return float(np.sqrt(2.0 * self.product + (2.0 * self.between + self.shear) / self.along))

    @property
    def under_pressure(self) -> float:
        """Displacement under a wave of pressure per amplitude and wavelength / 2 pi [1/Pa]."""
        return self.along * self.product * self.total

    @property
    def under_shear(self) -> float:
        """Displacement along the face under a wave of shear, likewise [1/Pa]."""
        return self.along * self.total

    def layer(self, depth: float) -> float:
        """``under_pressure`` of a layer with a free face below; ``depth`` is wave number times thickness."""
        if depth > 12.0:
            return self.under_pressure
        apart = np.sqrt(complex(self.total**2 - 4.0 * self.product))
        if abs(apart) < 1e-4 * self.total:
            # equal roots would need other functions; roots this close give the same result
            apart = complex(1e-4 * self.total)
        roots = 0.5 * np.array([self.total + apart, self.total - apart])
        fade = np.exp(-roots * depth)
        # stress function of waves that decay from either face: value and slope at both faces
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
    """Half-plane of a wood of compliance (6, 6), order xx, yy, zz, yz, xz, xy [1/Pa].

    Axes (0 x, 1 y, 2 z) ``into`` the face and ``along`` it; no strain along the third.
    """
    held = 3 - into - along

    def flat(i: int, j: int) -> float:
        return float(compliance[i, j] - compliance[i, held] * compliance[held, j] / compliance[held, held])

    shear = float(compliance[_shear(into, along), _shear(into, along)])
    return HalfPlane(flat(into, into), flat(along, along), flat(into, along), shear)


@dataclass(frozen=True)
class FaceCompliance:
    """Compliance of a face under pressure or shear, per wave number.

    ``across`` and ``along`` [1/Pa] are for waves across the width and along the pad. ``shelf`` (waves,) is
    the addition of a thin shelf to ``across`` beyond its ``root``, a distance along the face [m]; None for a
    shelf free at both ends.
    """

    across: float
    along: float
    shelf: Array
    root: float | None


def _of_face(
    outline: Outline, block: Block, face: str, compliance: Array, wave: Array
) -> list[FaceCompliance]:
    """Compliance of a face under pressure and under shear along the pad."""
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
    # shear along the pad that varies across it shears the wood out of the plane across the pad
    twist = [compliance[n, n] for n in (_shear(into, along), _shear(1, along))]
    return [
        FaceCompliance(across_pad.under_pressure, along_pad.under_pressure, shelf, root),
        FaceCompliance(float(np.sqrt(np.prod(twist))), along_pad.under_shear, np.zeros_like(wave), root),
    ]


def _cells(s: Array, length: Array) -> Array:
    """Ends of each point's length, (n + 1,) [m]: two Gauss points halve a mesh cell."""
    first = s[0] - (1.0 - 1.0 / np.sqrt(3.0)) * length[0]
    return np.asarray(first + np.concatenate([[0.0], np.cumsum(length)]))


def _kernels(face: FaceCompliance, wave: Array, s: Array, ends: Array) -> Array:
    """Displacement at each point per force per wave amplitude on each cell, (waves, n, n) [m / (N/m)]."""
    bounds = face.along / face.across * wave[:, None, None] * (ends - s[:, None])
    integral = np.sign(bounds) * iti0k0(np.abs(bounds))[1]
    kernels = face.along / np.pi * np.diff(integral) / np.diff(bounds)
    thin = face.shelf > 0.0
    kernels[thin] += (face.shelf * wave**3)[thin, None, None] * _strip(wave[thin], s, face.root)
    return np.asarray(kernels)


def _strip(wave: Array, s: Array, root: float | None) -> Array:
    """Green's function of a strip clamped at its root, ``(k^2 - d^2/ds^2)^2 w = p``, (waves, n, n) [m3]."""
    k = wave[:, None]
    x = k * (np.maximum(s - root, 0.0) if root is not None else s)
    one, other = x[:, :, None], x[:, None, :]
    apart, both = np.abs(one - other), one + other
    free = (1.0 + apart) * np.exp(-apart)
    image = 0.0 if root is None else (1.0 + both + 2.0 * one * other) * np.exp(-both)
    return np.asarray((free - image) / (4.0 * k[:, :, None] ** 3))


def _of_pad(face: FaceCompliance, wave: Array, at: PadPoints, bearing: Array, width: float) -> Array:
    """Compliance of one pad under pressure or shear, (n, n) symmetric [m/N]."""
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
    """Compliance of the block under all pads, openings first, then slips, (2 n, 2 n) symmetric [m/N].

    ``bearing`` is the contact width at the points of each pad [m], ``compliance`` (6, 6) that of the block's
    wood in x, y and z [1/Pa].
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
