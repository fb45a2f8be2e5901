"""Bolts pinch a pad in the middle of its width: opening of its rows per bolt force (docs/theory.md, section
5).

The plates carry a bolt's force as a mean over the width. The waves left over reach the face from the insert
in the neck and from the washer on the block's back, decayed over their depth.
"""

import numpy as np
from scipy.special import k0, kv

from fem.geometry.hardware import Bolt
from fem.geometry.outline import Array
from fem.joint.across_width import NUMBERS, Side, row_means, strip

DISC = np.polynomial.legendre.leggauss(6)
DOWN = np.polynomial.legendre.leggauss(3)


def pinch(bolt: Bolt, body: str, side: Side, s: Array, *, bearing: Array, rows: Array) -> Array:
    """Local opening of each row per bolt force by one body, ``neck`` or ``block``, (n rows,) [m/N]."""
    moved = insert(bolt, side, s) if body == "neck" else washer(bolt, side, s)
    return np.asarray(np.einsum("wir,wi->ir", row_means(side.wave, bearing, rows), moved).ravel())


def disc(radius: float) -> tuple[Array, Array, Array]:
    """Offsets along the face, weights and half chords of a disc seen from the side [m]."""
    nodes, weights = DISC
    chord = np.sqrt(1.0 - nodes**2)
    return radius * nodes, weights * chord / np.sum(weights * chord), radius * chord


def insert(bolt: Bolt, side: Side, s: Array) -> Array:
    """Displacement of the face in each wave per force on the insert, (waves, n) [m/N].

    The load lies along the insert; each depth reaches the face by the two decay rates of the wood.
    """
    offset, weight, chord = disc(0.5 * bolt.insert_diameter)
    depth = 0.5 * bolt.insert_length * (1.0 + DOWN[0])
    here = float(np.interp(bolt.position, s, side.width))
    both = np.sqrt(here * side.width)
    number = NUMBERS
    face, rates = side.pressure, side.plane.rates
    # axes: wave, point, place on the disc, depth, decay rate
    along = face.along / face.across * (s[:, None] - bolt.position - offset)
    far = np.sqrt(along[:, :, None, None] ** 2 + (depth[:, None] * rates) ** 2)
    phase = (number[:, None] / both)[:, :, None, None, None] * far
    value = (_k0(phase) @ side.plane.buried()).real @ (0.5 * DOWN[1])
    mean = weight * np.sinc(np.outer(number / here, chord) / np.pi)
    found = face.along / np.pi * np.einsum("wpd,wd->wp", value, mean)
    # a part as thin as the insert is long bends as a whole
    waves, shelf = face.thin
    if len(waves):
        one = 2.0 * np.pi * waves / float(np.mean(side.width))
        middle = np.sinc(2.0 * waves / here * 0.4 * bolt.insert_diameter)
        bent = strip(one, s, np.array([bolt.position]), face.root)[:, :, 0]
        found[waves.astype(int) - 1] += (shelf * one**3 * middle)[:, None] * bent
    return np.asarray(2.0 / both * found)


def washer(bolt: Bolt, side: Side, s: Array) -> Array:
    """The same from the washer on the far face of the body, (waves, n) [m/N].

    A wave of pressure on the far face of a layer moves this one by the layer's own compliance; along the pad
    it spreads as under a load at that depth.
    """
    offset, weight, chord = disc(0.5 * bolt.washer_diameter)
    number, face, depth = side.wave[:, 0], side.pressure, side.depth
    through = np.array([side.plane.layer(k * depth)[1] for k in number])
    bends = np.array(face.shelf) if face.root is not None else np.zeros_like(number)
    straight = np.maximum(through - bends, 0.0) / (face.across * np.exp(-number * depth))
    along = face.along / face.across * (s[:, None] - bolt.position - offset)
    value = k0(number[:, None, None] * np.sqrt(along**2 + depth**2))
    mean = weight * np.sinc(np.outer(number, chord) / np.pi)
    found = face.along / np.pi * straight[:, None] * np.einsum("wpd,wd->wp", value, mean)
    if face.root is not None:
        waves, shelf = face.thin
        thin = waves.astype(int) - 1
        bent = strip(number[thin], s, bolt.position + offset, face.root)
        found[thin] += (shelf * number[thin] ** 3)[:, None] * np.einsum("wpd,wd->wp", bent, mean[thin])
    return np.asarray(2.0 / side.width * found)


def _k0(phase: Array) -> Array:
    """K0 of complex numbers; those of most woods are real, which is thirty times as fast."""
    if np.abs(phase.imag).max() < 1e-12 * np.abs(phase.real).max():
        return np.asarray(k0(phase.real), dtype=complex)
    return np.asarray(kv(0, phase))
