"""Section constants along the shaft: a few sections by finite elements, polynomials between them
(docs/theory-model.md, section 3).
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fem.geometry.outline import Array, merged
from fem.geometry.section_shape import Bar, Channel, SectionShape
from fem.geometry.slots import slot_fraction
from fem.geometry.structure import Structure
from fem.members.section import section_stiffness

_MATERIALS = ("neck", "board", "bars")
_ALONG_HEIGHT = np.polynomial.legendre.leggauss(60)


@dataclass(frozen=True)
class Span:
    """Section constants on a span of the shaft at Chebyshev stations, ``values`` (stations, quantities)."""

    first: float
    last: float
    stations: Array
    values: Array

    def at(self, x: Array) -> Array:
        """Interpolated constants at x, shape (quantities, *x.shape)."""
        weights = (-1.0) ** np.arange(len(self.stations))
        angles = (2 * np.arange(len(self.stations)) + 1) * np.pi / (2 * len(self.stations))
        weights = weights * np.sin(angles)
        gap = x[..., None] - self.stations
        # at a station the formula is 0/0: 1e-15 m beside it gives the station's value to rounding
        share = weights / np.where(gap == 0.0, 1e-15, gap)
        return np.moveaxis((share / share.sum(axis=-1, keepdims=True)) @ self.values, -1, 0)


@dataclass(frozen=True)
class Shaft:
    """EA, ES, EI by material, shear stiffness, and the neck wood's share of shear energy along the shaft."""

    spans: tuple[Span, ...]
    flow: float
    """See `shear_flow`."""

    def _read(self, x: Array, column: slice | int) -> Array:
        x = np.asarray(x, dtype=float)
        out = np.zeros((*self.spans[0].values[0, column].shape, *x.shape))
        for span in self.spans:
            here = (x >= span.first - 1e-12) & (x <= span.last + 1e-12)
            out[..., here] = span.at(x[here])[column]
        return out

    def stretch(self, x: Array, material: str) -> tuple[Array, Array, Array]:
        """EA [N], ES [N m], EI [N m2] of one material at x."""
        k = 3 * _MATERIALS.index(material)
        values = self._read(x, slice(k, k + 3))
        return values[0], values[1], values[2]

    def total(self, x: Array) -> tuple[Array, Array, Array]:
        """EA, ES, EI of the whole section at x."""
        each = [self.stretch(x, material) for material in _MATERIALS]
        ea, es, ei = np.sum(each, axis=0)
        return ea, es, ei

    def shear_stiffness(self, x: Array) -> Array:
        """KGA of the whole section at x [N]."""
        return self._read(x, 9)

    def shear_share(self, x: Array) -> Array:
        """Share of the neck wood in the shear energy at x."""
        return self._read(x, 10)

    def has(self, material: str) -> bool:
        """Whether any section contains this material."""
        k = 3 * _MATERIALS.index(material)
        return any(bool(np.any(span.values[:, k] != 0.0)) for span in self.spans)


def breaks(structure: Structure) -> list[float]:
    """Positions from nut to tie of abrupt section changes: ends of rod and bars [m]."""
    tie = structure.outline.tie
    ends = [0.0, tie]
    if structure.rod is not None:
        ends += [structure.rod.first, structure.rod.last]
    for bar in structure.bars:
        ends += [bar.first, bar.last]
    return list(merged(np.array([e for e in ends if 0.0 <= e <= tie])))


def section_shape(structure: Structure, x: float) -> SectionShape:
    """Cross-section of the shaft at x [m]."""
    o = structure.outline
    channel, rod = None, structure.rod
    if rod is not None and rod.first < x < rod.last:
        z = float(rod.z(np.asarray(x)))
        channel = Channel(structure.rod_slot_width, min(z + 0.5 * rod.height, -1e-6), z - 0.5 * rod.height)
    bars = tuple(
        Bar(b.y, b.z, b.width, b.height, b.young, b.shear) for b in structure.bars if b.first < x < b.last
    )
    return SectionShape(
        width=float(o.width(np.asarray(x))),
        neck_depth=float(o.shaft_depth(np.asarray(x))),
        profile_exponent=o.profile_exponent,
        board_thickness=o.board_thickness,
        board_radius=o.board_radius,
        slot_depth=o.slot_depth,
        slot_fraction=slots_at(structure, x),
        channel=channel,
        bars=bars,
    )


def slots_at(structure: Structure, x: float) -> float:
    """Slot fraction of the board's top at x, from the local fret spacing [-]."""
    if structure.outline.slot_depth == 0.0:
        return 1.0
    spacing = (structure.outline.scale - x) * (1.0 - 2.0 ** (-1.0 / 12.0))
    wood = structure.board.section
    return slot_fraction(structure.outline.slot_depth, spacing, young=wood.young, shear=wood.shear_xz)


def shaft_constants(structure: Structure) -> Shaft:
    """Section constants of the shaft from nut to tie."""
    spans = []
    edges = breaks(structure)
    for first, last in pairwise(edges):
        count = 2 if last - first < 0.04 else 4
        angle = (2 * np.arange(count) + 1) * np.pi / (2 * count)
        stations = 0.5 * (first + last) + 0.5 * (last - first) * np.cos(angle)
        rows = []
        for x in stations:
            section = section_stiffness(
                section_shape(structure, float(x)),
                neck=structure.neck.section,
                board=structure.board.section,
            )
            parts = [section.parts.get(material, (0.0, 0.0, 0.0)) for material in _MATERIALS]
            rows.append([*np.ravel(parts), section.shear_stiffness, section.shear_share.get("neck", 0.0)])
        spans.append(Span(first, last, stations, np.asarray(rows)))
    return Shaft(tuple(spans), shear_flow(structure))


def shear_flow(structure: Structure) -> float:
    """Shear stiffness of the section at the tie over that with uniform shear across its width.

    A plate's shear is uniform across its width; in a round back it flows towards the middle. With uniform
    shear the stress at height z is ``V S(z) / (EI b)``, S the first moment of E above z about the
    neutral axis (Jourawski's formula), so ``1 / kGA = 1 / EI**2 * integral of S**2 / (G b) dz``. Rod and bars
    belong to the shaft and are left out.
    """
    bare = replace(structure, rod=None, bars=())
    shape = section_shape(bare, structure.outline.tie)
    wood = {"neck": structure.neck.section, "board": structure.board.section}
    flowing = section_stiffness(shape, **wood).shear_stiffness
    nodes, weights = _ALONG_HEIGHT
    top, cut = shape.board_thickness, shape.board_thickness - shape.slot_depth
    heights, lengths = [], []
    for low, high in pairwise(sorted({-shape.neck_depth, 0.0, cut, top})):
        # the square of the Gauss coordinate concentrates points at the back, where the width goes to zero
        share = (0.5 * (1.0 + nodes)) ** 2
        heights.append(low + (high - low) * share)
        lengths.append((high - low) * weights * 0.5 * (1.0 + nodes))
    z, dz = np.concatenate(heights), np.concatenate(lengths)
    here = np.full_like(z, structure.outline.tie)
    o = structure.outline
    below = 2.0 * np.array([shape.neck_half_width(min(float(one), 0.0)) for one in z])
    above = o.board_thickness_across(here, np.maximum(z, 0.0)) * np.where(z > cut, shape.slot_fraction, 1.0)
    width = np.where(z > 0.0, above, below)
    young = np.where(z > 0.0, wood["board"].young, wood["neck"].young)
    shear = np.where(z > 0.0, wood["board"].shear_xz, wood["neck"].shear_xz)
    stiff = young * width * dz
    arm = z - np.sum(stiff * z) / np.sum(stiff)
    moment = np.cumsum((stiff * arm)[::-1])[::-1] - 0.5 * stiff * arm
    even = np.sum(stiff * arm**2) ** 2 / np.sum(moment**2 / (shear * width) * dz)
    return float(flowing / even)
