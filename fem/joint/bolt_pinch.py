"""Bolts pinch a pad in the middle of its width: opening of its rows per bolt force, and the yield of the wood
around insert and washer (docs/theory-joint.md, section 5).

The plates carry a bolt's force as a mean over the width. The waves left over reach the face from the insert
in the neck and from the washer on the block's back, decayed over their depth.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np
from scipy.special import k0, kv

from fem.geometry.hardware import Bolt
from fem.geometry.outline import Array
from fem.joint.across_width import NUMBERS, Body, Side, integral_of_k0, row_means, side_of, strip
from fem.members.half_plane import DEEP

DISC = np.polynomial.legendre.leggauss(6)
BESIDE = np.polynomial.legendre.leggauss(7)[0][3:], np.polynomial.legendre.leggauss(7)[1][3:] * [1, 2, 2, 2]
"""Points of a second disc, none of them on the first: a load's displacement at its own place is unbounded.
One half of them, with the weights of both: it sees the whole first disc as the other half does."""
STRIPS = 12
"""Strips of a disc, each with an even pressure."""
DOWN, BELOW = np.polynomial.legendre.leggauss(3), np.polynomial.legendre.leggauss(4)
BENDING = 0.4
"""Half the part of the insert's diameter over which its bending load is spread: that of a disc seen from the
side, nearly."""


def pinch(bolt: Bolt, body: Body, s: Array, *, bearing: Array, rows: Array) -> tuple[Array, float]:
    """Local opening of each row per bolt force, (n rows,), and local elongation under it [m/N]."""
    # the bolt's other end, its angle and its shank do not matter to this body
    shape = replace(bolt, name="", face="", tension=0.0, young=0.0, diameter=0.0, angle=0.0)
    if body.part == "neck":
        shape = replace(shape, washer_diameter=0.0)
    else:
        shape = replace(shape, insert_length=0.0, insert_diameter=0.0)
    return _pinch(shape, body, *(one.tobytes() for one in (s, bearing, rows)))


@lru_cache(maxsize=256)
def _pinch(bolt: Bolt, body: Body, *given: bytes) -> tuple[Array, float]:
    s, bearing, rows = (np.frombuffer(one) for one in given)
    side = side_of(body)
    moved, own = (insert if body.part == "neck" else washer)(bolt, side, s)
    return np.asarray(np.einsum("wir,wi->ir", row_means(side.wave, bearing, rows), moved).ravel()), own


def disc(radius: float, rule: tuple[Array, Array]) -> tuple[Array, Array, Array]:
    """Offsets along the face, weights and half chords of a disc seen from the side [m]."""
    nodes, weights = rule
    chord = np.sqrt(1.0 - nodes**2)
    return radius * nodes, weights * chord / np.sum(weights * chord), radius * chord


def insert(bolt: Bolt, side: Side, s: Array) -> tuple[Array, float]:
    """Displacement of the face in each wave per force on the insert, (waves, n), and of the insert [m/N].

    The load lies along the insert; each depth reaches the face by the two decay rates of the wood. Two depths
    reach each other by the mean of their distance's decay and that of their sum: exact where one is the face,
    half of a half-space's far below it.
    """
    here = float(np.interp(bolt.position, s, side.width))
    both = np.sqrt(here * side.width)
    offset, weight, chord = disc(0.5 * bolt.insert_diameter, DISC)
    beside, share, beside_chord = disc(0.5 * bolt.insert_diameter, BESIDE)
    deep, below = (0.5 * bolt.insert_length * (1.0 + rule[0]) for rule in (DOWN, BELOW))
    down, under = 0.5 * DOWN[1], 0.5 * BELOW[1]
    face, ratio = side.pressure, side.pressure.along / side.pressure.across
    mean = weight * np.sinc(np.outer(NUMBERS / here, chord) / np.pi)
    seen = share * np.sinc(np.outer(NUMBERS / here, beside_chord) / np.pi)
    aside = ratio * (s[:, None] - bolt.position - offset)
    reached = _faded(side, NUMBERS[:, None] / both, aside, deep) @ down
    found = face.along / np.pi * np.einsum("wpd,wd->wp", reached, mean)
    depths = np.concatenate([np.abs(deep[:, None] - below).ravel(), (deep[:, None] + below).ravel()])
    weights = 0.5 * np.tile(np.outer(down, under).ravel(), 2)
    among = _faded(
        side, np.tile(NUMBERS[:, None] / here, len(beside)), ratio * (beside[:, None] - offset), depths
    )
    own = face.along / np.pi * np.einsum("wed,wd,we->w", among @ weights, mean, seen)
    waves, shelf = face.thin
    if len(waves):
        # the whole of a thin part bends
        number, thin = 2.0 * np.pi * waves / float(np.mean(side.width)), waves.astype(int) - 1
        middle = np.sinc(2.0 * waves / here * BENDING * bolt.insert_diameter)
        load = shelf * number**3 * middle
        at = np.array([bolt.position])
        found[thin] += load[:, None] * strip(number, s, at, face.root)[:, :, 0]
        own[thin] += load * middle * strip(number, at, at, face.root)[:, 0, 0]
    return np.asarray(2.0 / both * found), float(2.0 / here * own.sum())


def washer(bolt: Bolt, side: Side, s: Array) -> tuple[Array, float]:
    """The same from the washer on the far face of the body.

    A wave of pressure on the far face of a layer moves this one by the layer's own compliance; along the pad
    it spreads as under a load at that depth.
    """
    offset, weight, chord = disc(0.5 * bolt.washer_diameter, DISC)
    number, face, depth = side.wave[:, 0], side.pressure, side.depth
    ratio = face.along / face.across
    mean = weight * np.sinc(np.outer(number, chord) / np.pi)
    waves, shelf = face.thin
    thin = waves.astype(int) - 1
    through = side.plane.layer(number * depth)[1]
    if face.root is not None:
        through[thin] -= shelf
    aside = ratio * (s[:, None] - bolt.position - offset)
    found, long = np.zeros((len(number), len(s))), number * depth < DEEP
    if long.any():
        straight = np.maximum(through, 0.0)[long] / (face.across * np.exp(-number[long] * depth))
        reached = k0(number[long, None, None] * np.sqrt(aside**2 + depth**2))
        spread = np.einsum("wpd,wd->wp", reached, mean[long])
        found[long] = face.along / np.pi * straight[:, None] * spread
    own = face.along / np.pi * _under_disc(number, 0.5 * bolt.washer_diameter, ratio)
    if len(waves):
        load, at = shelf * number[thin] ** 3, bolt.position + offset
        bent = strip(number[thin], s, at, face.root)
        if face.root is not None:
            found[thin] += load[:, None] * np.einsum("wpd,wd->wp", bent, mean[thin])
        own[thin] += load * np.einsum(
            "wed,we,wd->w", strip(number[thin], at, at, face.root), mean[thin], mean[thin]
        )
    return np.asarray(2.0 / side.width * found), float(2.0 / side.width[0] * own.sum())


def _under_disc(number: Array, radius: float, ratio: float) -> Array:
    """Mean displacement of a disc under an even pressure in each wave, in units of K0, (waves,)."""
    edges = np.linspace(-radius, radius, STRIPS + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    chord = np.sqrt(radius**2 - middle**2)
    mean = chord / chord.sum() * np.sinc(np.outer(number, chord) / np.pi)
    bounds = ratio * number[:, None, None] * (edges - middle[:, None])
    among = np.diff(integral_of_k0(bounds)) / np.diff(bounds)
    return np.asarray(np.einsum("wed,wd,we->w", among, mean, mean))


def _faded(side: Side, number: Array, aside: Array, depths: Array) -> Array:
    """Waves of numbers (waves, n) at distances along the face (n, m) from depths (k,), (waves, n, m, k)."""
    far = np.sqrt(aside[:, :, None, None] ** 2 + (depths[:, None] * side.plane.rates) ** 2)
    phase = number[:, :, None, None, None] * far
    # the rates of most woods are real, which is thirty times as fast
    plain = np.abs(phase.imag).max() < 1e-12 * np.abs(phase.real).max()
    value = k0(phase.real) if plain else kv(0, phase)
    return np.asarray((value @ side.plane.buried()).real)
