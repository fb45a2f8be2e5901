"""Hexahedra of twenty nodes for neck, fretboard, shim layers and block: half of each, y >= 0 [mm].

The shapes are those of `fem.geometry.outline`; mesh and elements are this file's own.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Outline
from fem.geometry.structure import Structure
from tests.reference.hexahedron import LATTICE

Array = NDArray[np.float64]
Cells = NDArray[np.bool_]
Place = Callable[[Array, Array, Array], Array]
MM = 1e3


@dataclass(frozen=True)
class Fineness:
    """Number of cells: across the half width, along the shaft's fret spans, and a factor on all others."""

    across: int = 3
    span: float = 20.0
    """Longest cell along the shaft [mm]."""
    part: float = 1.0
    """Cell sizes elsewhere, times this."""


@dataclass
class Body:
    """Nodes by lattice position (twice the cell number, odd in the middle of a side) and cells of one body."""

    name: str
    number: dict[tuple[int, int, int], int] = field(default_factory=dict)
    nodes: list[Array] = field(default_factory=list)
    cells: dict[tuple[int, int, int], list[int]] = field(default_factory=dict)

    @property
    def points(self) -> Array:
        """Positions of the nodes, (n, 3) [mm]."""
        return np.asarray(self.nodes)


def body(name: str, keep: Cells, place: Place) -> Body:
    """Cells of a lattice where `keep` is True; `place` maps lattice positions, in cells, to x, y, z [mm]."""
    one = Body(name)
    wanted: list[tuple[int, int, int]] = []
    for cell in zip(*np.nonzero(keep), strict=True):
        i, j, k = (int(c) for c in cell)
        corners = []
        for a, b, c in LATTICE:
            key = (2 * i + a, 2 * j + b, 2 * k + c)
            if key not in one.number:
                one.number[key] = len(one.number)
                wanted.append(key)
            corners.append(one.number[key])
        one.cells[i, j, k] = corners
    at = 0.5 * np.asarray(wanted, dtype=float).T
    one.nodes = list(place(*at).T)
    return one


def between(lines: Array, at: Array) -> Array:
    """Value of grid lines at lattice positions: half positions lie half way."""
    return np.interp(at, np.arange(len(lines)), lines)


def spaced(breaks: Sequence[float], fine: Sequence[float], *, least: float, most: float) -> Array:
    """Grid lines through all breaks; cells grow by half their distance from the nearest fine point [mm]."""
    breaks = sorted(set(np.round(breaks, 9)))
    lines = [breaks[0]]
    for left, right in itertools.pairwise(breaks):
        x = np.linspace(left, right, 201)
        distance = np.min(np.abs(x[:, None] - np.asarray(fine)), axis=1) if len(fine) else 0 * x + np.inf
        density = 1.0 / np.minimum(least + 0.5 * distance, most)
        count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
        cells = max(1, round(count[-1]))
        lines.extend(np.interp(np.linspace(0.0, count[-1], cells + 1)[1:], count, x))
        lines[-1] = right
    return np.asarray(lines)


@dataclass(frozen=True)
class Lines:
    """Grid lines shared by the bodies [mm]: columns of the neck, distances down the heel face and along the
    tongue from the joint corner, rows across the tongue's depth (from its underside to the glue line).
    """

    columns: Array
    down: Array
    along: Array
    upper: Array
    across: int


def lines_of(structure: Structure, fine: Fineness) -> Lines:
    """Grid lines of an instrument: frets, heel start, cap, pad ends among them."""
    o, part = structure.outline, fine.part
    xj, start = o.joint * MM, o.heel_start * MM
    depth, deep = o.tongue_depth * MM, (o.heel_height - o.tongue_depth) * MM
    ends = {pad.face: [pad.start * MM, pad.end * MM] for pad in structure.pads}
    frets = structure.frets * MM
    beyond = [f - xj for f in frets if f > xj + 1e-6]
    along = spaced(
        [0.0, *ends["tongue"], *beyond, o.board_end * MM - xj],
        [0.0, *ends["tongue"]],
        least=2.5 * part,
        most=11.0 * part,
    )
    down = spaced([0.0, *ends["heel"], deep], [0.0, *ends["heel"]], least=3.0 * part, most=18.0 * part)
    shaft = spaced([0.0, *frets[frets < start], start], [], least=1.0, most=fine.span * part)
    cap = xj - o.heel_cap_length * MM
    inside = [f for f in frets if start < f < xj - 1e-6]
    heel = spaced([start, *inside, cap, xj], [xj], least=3.0 * part, most=7.0 * part)
    columns = np.concatenate([shaft, heel[1:], xj + along[1:]])
    rows = max(2, round(3 / part))
    upper = -depth * (1.0 - np.linspace(0.0, 1.0, rows + 1))
    return Lines(columns, down, along, upper, fine.across)


def _fractions(outline: Outline, lines: Lines) -> Callable[[Array, Array], Array]:
    """Share of the depth below the tongue's underside at columns x and rows k, counted from the bottom.

    On the round back rows stand at equal steps of the ellipse's own angle, so that its width is smooth from
    row to row; on the heel face they are the face's own lines.
    """
    face = lines.down[::-1] / lines.down[-1]
    count = len(face) - 1
    start, cap = outline.heel_start, outline.joint - outline.heel_cap_length

    def share(x: Array, k: Array) -> Array:
        at = np.clip(x / MM, 0.0, outline.joint)
        first = (outline.tongue_depth / outline.depth(at)) ** (0.5 * outline.profile_exponent)
        angle = np.arcsin(first) + (0.5 * np.pi - np.arcsin(first)) * (1.0 - k / count)
        reach = np.sin(angle) ** (2.0 / outline.profile_exponent) * outline.depth(at)
        round_back = (reach - outline.tongue_depth) / (outline.depth(at) - outline.tongue_depth)
        xi = np.clip((at - start) / (cap - start), 0.0, 1.0)
        mixed = xi * xi * (3.0 - 2.0 * xi)
        return (1.0 - mixed) * round_back + mixed * between(face, k)

    return share


def neck(structure: Structure, lines: Lines) -> Body:
    """Shaft, heel and tongue of the neck wood.

    Where the heel meets the tongue, whose widths differ by a step, the tongue widens to the heel within its
    first column.
    """
    o = structure.outline
    n_low, n_up = len(lines.down) - 1, len(lines.upper) - 1
    fraction = _fractions(o, lines)
    xj, step = o.joint * MM, lines.along[1]

    def place(i: Array, j: Array, k: Array) -> Array:
        x = between(lines.columns, i)
        reach = (o.depth(np.minimum(x / MM, o.joint)) - o.tongue_depth) * MM
        low = lines.upper[0] - fraction(x, np.minimum(k, n_low)) * reach
        z = np.where(k < n_low, low, between(lines.upper, np.maximum(k - n_low, 0.0)))
        at_joint = o.neck_thickness_across(np.minimum(x / MM, o.joint), z / MM) * MM
        widening = np.clip((x - xj) / step, 0.0, 1.0)
        wide = np.where(x > xj + 1e-9, at_joint + (o.tongue_width * MM - at_joint) * widening, at_joint)
        return np.stack([x, 0.5 * wide * j / lines.across, z])

    middle = 0.5 * (lines.columns[1:] + lines.columns[:-1])
    keep = np.ones((len(middle), lines.across, n_low + n_up), dtype=bool)
    keep[middle > xj, :, :n_low] = False
    return body("NECK", keep, place)


def board(structure: Structure, lines: Lines, *, rows: int = 2) -> Body:
    """The fretboard to its edges, its top an arc of the playing radius."""
    o = structure.outline
    radius, thick = o.board_radius * MM, o.board_thickness * MM

    def place(i: Array, j: Array, k: Array) -> Array:
        x = between(lines.columns, i)
        y = 0.5 * o.width(x / MM) * MM * j / lines.across
        top = thick - (radius - np.sqrt(radius**2 - y**2))
        return np.stack([x, y, top * k / rows])

    return body("BOARD", np.ones((len(lines.columns) - 1, lines.across, rows), dtype=bool), place)


def block(structure: Structure, lines: Lines, *, reach: tuple[float, float]) -> Body:
    """Stem and shelf of the block; its faces stand towards the neck by the shims' reach: a length, and a slope
    of the heel face down from the corner [mm, rad].
    """
    o, shape = structure.outline, structure.block
    xj, zc = o.joint * MM, -o.tongue_depth * MM
    stem, shelf, length = shape.stem * MM, shape.shelf * MM, shape.length * MM
    most = float(np.diff(lines.along).max())
    more = spaced([lines.along[-1], length], [], least=1.0, most=most)
    columns = np.unique(np.round(np.concatenate([lines.along, more, [stem]]), 9))
    down = np.unique(np.round(np.concatenate([lines.down, [shelf]]), 9))[::-1]
    columns, down = _without_slivers(columns, stem), _without_slivers(down, shelf)
    half = 0.5 * shape.width * MM
    inner = 0.5 * o.tongue_width * MM
    y_lines = np.concatenate(
        [np.linspace(0.0, inner, lines.across + 1), inner + (half - inner) * np.array([0.4, 1.0])]
    )
    lift, slope = reach

    def place(i: Array, j: Array, k: Array) -> Array:
        x, s = between(columns, i), between(down, k)
        near = np.clip(1.0 - x / stem, 0.0, 1.0)
        high = np.clip(1.0 - s / shelf, 0.0, 1.0)
        return np.stack([xj + x - near * (lift + slope * s), between(y_lines, j), zc - s + high * lift])

    x_middle, s_middle = 0.5 * (columns[1:] + columns[:-1]), 0.5 * (down[1:] + down[:-1])
    solid = (x_middle < stem)[:, None] | (s_middle < shelf)[None, :]
    keep = np.repeat(solid[:, None, :], len(y_lines) - 1, axis=1)
    return body("BLOCK", keep, place)


def _without_slivers(lines: Array, kept: float) -> Array:
    """Grid lines less those that stand within a millimetre of the one that must be kept."""
    close = (np.abs(lines - kept) < 1.0) & (np.abs(lines - kept) > 1e-6)
    close[[0, -1]] = False
    return np.asarray(lines[~close])


def layer_on(neck_body: Body, name: str, faces: list[tuple[int, int, int]], *, thick: float) -> Body:
    """A shim as one row of cells on the neck's faces: under the tongue (`UPPER`) or on the heel face (`LOWER`)."""
    normal = np.array([0.0, 0.0, -1.0]) if name == "UPPER" else np.array([1.0, 0.0, 0.0])
    axis = 2 if name == "UPPER" else 0
    one = Body(name)
    for i, j, k in faces:
        corners = []
        for step in LATTICE:
            away = (2 - step[2]) / 2 if name == "UPPER" else step[0] / 2
            own = [2 * i + step[0], 2 * j + step[1], 2 * k + step[2]]
            own[axis] = 2 * (k if name == "UPPER" else i + 1)
            foot = tuple(own)
            key = (*foot[:axis], int(2 * away), *foot[axis + 1 :])
            if key not in one.number:
                one.number[key] = len(one.number)
                one.nodes.append(neck_body.nodes[neck_body.number[foot]] + away * thick * normal)
            corners.append(one.number[key])
        one.cells[i, j, k] = corners
    return one
