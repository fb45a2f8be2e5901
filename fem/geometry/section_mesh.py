"""A mapped mesh of quadratic quads over the right half (y >= 0) of a neck's cross-section.

The mesh is a lattice of columns and rows. Rows are level from the glue line to the deepest channel or bar; a
cap between the last level and the curved back closes to a point at the right. Every face of a channel, bar or
slotted layer is a mesh line; every outline node lies exactly on the outline.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshQuad, MeshQuad2

from fem.geometry.outline import Array
from fem.geometry.section_shape import SectionShape

NECK, BOARD, SLOTTED, FIRST_BAR = 0, 1, 2, 3
_VOID = -1
_CAP_START = 0.4  # least fraction of the depth above the cap
# Cells across the half-width: shear is then within 0.2 % for channels and bars of usual size.
_COLUMNS = 14

Integers = NDArray[np.int64]


@dataclass(frozen=True)
class SectionMesh:
    """Mesh of the half section: nine-node quads whose nodes are the degrees of freedom of a scalar field.

    ``points`` (2, nodes) are y, z [m]; ``elements`` (9, elements) their nodes in the order of scikit-fem's
    `ElementQuad2`; ``material`` (elements,) is NECK, BOARD, SLOTTED or FIRST_BAR + index in
    `SectionShape.bars`.
    """

    points: Array
    elements: Integers
    material: Integers


def section_mesh(shape: SectionShape) -> SectionMesh:
    """Build the mesh of the half section."""
    size = shape.width / 2.0 / _COLUMNS
    knots, depths = _column_knots(shape)
    columns = _divide(knots, size=size)
    held = np.searchsorted(columns, knots[1:-1] + 1e-12 * shape.width) - 1
    bands = []
    if shape.neck_depth > 0.0:
        bands += list(_neck_bands(shape, columns, held, depths, size=size))
    if shape.board_thickness > 0.0:
        bands += _board_bands(shape, columns, size=size)
    # each band begins where the one below ends
    y = np.vstack([bands[0][0], *(band[0][1:] for band in bands[1:])])
    z = np.vstack([bands[0][1], *(band[1][1:] for band in bands[1:])])
    label = np.concatenate([np.full(band[0].shape[0] // 2, band[2]) for band in bands])
    cells = np.repeat(label[:, None], columns.size // 2, axis=1)
    _place_inclusions(shape, cells, columns=columns, heights=z[:, 0])
    lattice = _lattice(cells.shape, (cells == _VOID).tobytes())
    return SectionMesh(
        points=np.vstack([y[lattice.row, lattice.column], z[lattice.row, lattice.column]]),
        elements=lattice.elements,
        material=cells[lattice.cell_row, lattice.cell_column],
    )


@dataclass(frozen=True)
class _Lattice:
    """Connection of the solid cells; nodes lie on the half-steps of rows and columns."""

    elements: Integers
    row: Integers
    column: Integers
    cell_row: Integers
    cell_column: Integers


@functools.lru_cache(maxsize=64)
def _lattice(cells: tuple[int, int], void: bytes) -> _Lattice:
    """Connect the solid cells; sections with the same pattern share the result."""
    rows, columns = cells
    whole = MeshQuad.init_tensor(np.arange(columns + 1.0), np.arange(rows + 1.0))
    column, row = np.floor(whole.p[:, whole.t].mean(axis=1)).astype(np.int64)
    kept = np.nonzero(~np.frombuffer(void, dtype=bool).reshape(cells)[row, column])[0]
    mesh = MeshQuad2.from_mesh(whole.restrict(kept))
    cell_column, cell_row = np.floor(mesh.p[:, mesh.t[:4]].mean(axis=1)).astype(np.int64)
    node_column, node_row = np.rint(2.0 * mesh.doflocs).astype(np.int64)
    order = np.lexsort((node_row, node_column))  # column by column: a narrow band
    number = np.empty_like(order)
    number[order] = np.arange(order.size)
    return _Lattice(
        elements=number[mesh.dofs.element_dofs],
        row=node_row[order],
        column=node_column[order],
        cell_row=cell_row,
        cell_column=cell_column,
    )


def _divide(knots: Array, *, size: float) -> Array:
    """Divide each interval into cells no larger than size; their ends and middles, shape (2 cells + 1,)."""
    pieces = [knots[:1]]
    for start, end in itertools.pairwise(knots):
        count = max(1, int(np.ceil(abs(end - start) / size - 1e-9)))
        pieces.append(np.linspace(start, end, 2 * count + 1)[1:])
    return np.concatenate(pieces)


def _column_knots(shape: SectionShape) -> tuple[Array, Array]:
    """Positions y of required mesh lines [m], and the depth to which each inner one stays upright [m]."""
    edges: dict[float, float] = {}
    for left, right, bottom, _top, _label in _inclusions(shape):
        for y in (left, right):
            if y > 1e-9 * shape.width:
                near = next((known for known in edges if abs(known - y) < 1e-9 * shape.width), y)
                edges[near] = min(edges.get(near, 0.0), bottom)
    inner = sorted(edges)
    return np.array([0.0, *inner, shape.width / 2.0]), np.array([edges[y] for y in inner])


def _inclusions(shape: SectionShape) -> list[tuple[float, float, float, float, int]]:
    """(left, right, bottom, top, label) of the channel and the bars in the half y >= 0."""
    boxes = []
    if shape.channel is not None:
        boxes.append((0.0, shape.channel.width / 2.0, shape.channel.bottom, shape.channel.top, _VOID))
    for index, bar in enumerate(shape.bars):
        if bar.y > -1e-9 * shape.width:
            left = max(bar.y - bar.width / 2.0, 0.0)
            boxes.append((left, bar.y + bar.width / 2.0, bar.bottom, bar.top, FIRST_BAR + index))
    return boxes


def _neck_bands(
    shape: SectionShape, columns: Array, held: Integers, depths: Array, *, size: float
) -> tuple[tuple[Array, Array, int], tuple[Array, Array, int]]:
    """Cap and level rows of the neck wood, bottom first: (y, z, label) on the lattice."""
    boxes = _inclusions(shape)
    cap_top = min([-_CAP_START * shape.neck_depth] + [box[2] for box in boxes])
    levels = np.array([0.0, cap_top] + [z for box in boxes for z in box[2:4]])
    levels = np.flip(np.unique(np.round(levels / shape.neck_depth, 9))) * shape.neck_depth
    heights = _divide(levels, size=size)
    current, width_before = columns.copy(), shape.width / 2.0
    rows = []
    for z in heights:
        upright = held[depths <= z + 1e-9 * shape.neck_depth]
        last = int(upright.max()) if upright.size else 0
        width = shape.neck_half_width(float(z))
        scale = (width - current[last]) / (width_before - current[last])
        current = np.where(
            np.arange(current.size) <= last, current, current[last] + (current - current[last]) * scale
        )
        rows.append(current)
        width_before = width
    level_y = np.array(rows[::-1])
    level_z = np.repeat(heights[::-1, None], columns.size, axis=1)
    count = max(2, int(np.ceil((shape.neck_depth + cap_top) / size - 1e-9)))
    share = np.linspace(1.0, 0.0, 2 * count + 1)[:, None]
    back = np.minimum(-shape.neck_depth_at(current), cap_top)
    cap_z = cap_top + share * (back - cap_top)
    return (np.repeat(current[None, :], 2 * count + 1, axis=0), cap_z, NECK), (level_y, level_z, NECK)


def _board_bands(shape: SectionShape, columns: Array, *, size: float) -> list[tuple[Array, Array, int]]:
    """Rows of the board and of the slotted layer above: (y, z, label) on the lattice."""
    top = shape.board_top(columns)
    sound = top - shape.slot_depth
    bands = []
    for low, high, label in ((np.zeros_like(top), sound, BOARD), (sound, top, SLOTTED)):
        thickness = float((high - low)[0])
        if thickness > 0.0:
            count = max(1, int(np.ceil(thickness / size - 1e-9)))
            share = np.linspace(0.0, 1.0, 2 * count + 1)[:, None]
            bands.append(
                (np.repeat(columns[None, :], 2 * count + 1, axis=0), low + share * (high - low), label)
            )
    return bands


def _place_inclusions(shape: SectionShape, cells: Integers, *, columns: Array, heights: Array) -> None:
    """Label the cells of channel and bars."""
    middle_y, middle_z = columns[1::2], heights[1::2]
    for left, right, bottom, top, label in _inclusions(shape):
        inside_y = (middle_y > left) & (middle_y < right)
        inside_z = (middle_z > bottom) & (middle_z < top)
        cells[np.ix_(inside_z, inside_y)] = label
