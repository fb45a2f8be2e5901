"""Structured quadrilateral meshes of neck and neck block; their joint faces match node for node
(docs/theory-model.md, section 2).
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from skfem import MeshQuad

from fem.errors import MeshError
from fem.geometry.outline import Array, Outline, merged


@dataclass(frozen=True)
class Block:
    """The neck block in side view: a stem behind the heel face and a shelf under the tongue [m].

    ``wall`` is the height of a pocket's end wall above the tongue's seat; it reaches from the end of the
    tongue to the end of the block; 0 for none.
    """

    length: float
    stem: float
    shelf: float
    height: float
    width: float
    wall: float = 0.0


@dataclass(frozen=True)
class MeshSize:
    """Target cell sizes [m]: ``corner`` at the joint corner and pad ends, growing by ``growth`` to ``far``.
    Columns along the heel's curve are at most ``curve``: straight cell sides cut its outline.
    """

    corner: float = 2.0e-3
    far: float = 9.0e-3
    growth: float = 1.8
    curve: float = 2.0e-3

    def refined(self, times: float) -> "MeshSize":
        """The same grading with every cell cut in 2**times."""
        part = 0.5**times
        return MeshSize(self.corner * part, self.far * part, self.growth**part, self.curve * part)


def graded(breaks: list[float], *, fine: list[float], size: MeshSize) -> Array:
    """Grid lines through all ``breaks``, refined towards the points ``fine``; increasing, shape (n,) [m].

    The local size at a point is ``corner + (growth - 1) / growth * distance`` to the nearest fine point, at
    most ``far``: a geometric grading. The integral of 1 / size gives the number of cells in each span.
    """
    breaks = list(merged(np.asarray(breaks)))
    lines = [breaks[0]]
    slope = (size.growth - 1.0) / size.growth
    for left, right in pairwise(breaks):
        x = np.linspace(left, right, 201)
        distance = np.min(np.abs(x[:, None] - np.asarray(fine)[None, :]), axis=1, initial=np.inf)
        density = 1.0 / np.minimum(size.corner + slope * distance, size.far)
        count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
        cells = max(1, int(np.ceil(count[-1] - 0.05)))
        lines.extend(np.interp(np.linspace(0.0, count[-1], cells + 1)[1:], count, x))
        lines[-1] = right
    return np.asarray(lines)


@dataclass(frozen=True)
class JointMesh:
    """Meshes of the two bodies and the parts of their cells."""

    neck: MeshQuad
    block: MeshQuad
    neck_parts: dict[str, NDArray[np.int64]]
    """Cells of the neck body by part: ``board``, ``heel``, ``tongue``."""


def _body(columns: Array, z_of: list[Array], keep: NDArray[np.bool_]) -> tuple[MeshQuad, NDArray[np.int64]]:
    """Mesh of the grid cells ``keep``, node (i, j) at (columns[i], z_of[i][j]); cell numbers, -1 for none."""
    nz = keep.shape[1]
    x = np.repeat(columns, nz + 1)
    z = np.concatenate(z_of)
    i, j = np.nonzero(keep)
    corner = i * (nz + 1) + j
    cells = np.stack([corner, corner + nz + 1, corner + nz + 2, corner + 1])
    used, renumbered = np.unique(cells, return_inverse=True)
    number = np.full(keep.shape, -1)
    number[i, j] = np.arange(len(i))
    mesh = MeshQuad(np.stack([x[used], z[used]]), renumbered.reshape(cells.shape))
    return mesh, number


def check_cells(mesh: MeshQuad, body: str) -> None:
    """Raise `MeshError` if cells of a body are inverted or folded: a corner is not convex."""
    p = mesh.p[:, mesh.t]
    for k in range(4):
        a, b = p[:, (k + 1) % 4] - p[:, k], p[:, (k - 1) % 4] - p[:, k]
        if np.any(a[0] * b[1] - a[1] * b[0] <= 0.0):
            raise MeshError(
                f"The mesh of the {body} has inverted cells: the outline folds over itself. "
                "Check the heel: its start, cap length and height must leave the outline single-valued."
            )


def joint_mesh(
    outline: Outline, block: Block, *, breaks: dict[str, list[float]], size: MeshSize
) -> JointMesh:
    """Meshes of neck body and block; ``breaks`` are where pads begin or end, along the ``tongue`` and down
    the ``heel`` face, from the joint corner [m].

    Raises `MeshError`: cells are inverted or a part has no cells.
    """
    xj, zc = outline.corner
    along = _tongue_lines(outline, block, breaks["tongue"], size)
    down = _heel_lines(outline, block, breaks["heel"], size)
    # the side of a pocket's end wall needs the same lines as the end of the tongue
    up = graded([zc, *([zc + block.wall] if 0.0 < block.wall < -zc else []), 0.0], fine=[zc], size=size)

    def until(x: float, depth: float, z: float) -> tuple[Array, Array, Array]:
        return along[along <= x + 1e-9], down[down <= depth + zc + 1e-9], up[up <= z + 1e-9]

    neck, parts = _neck_body(outline, until(outline.board_end, outline.heel_height, 0.0), size)
    body = _block_body(outline, block, until(xj + block.length, block.height, zc + block.wall))
    for part, cells in parts.items():
        if len(cells) == 0:
            raise MeshError(
                f"The part '{part}' of the neck has no cells. Give it a length and a depth above zero."
            )
    return JointMesh(neck, body, parts)


def _tongue_lines(outline: Outline, block: Block, pad: list[float], size: MeshSize) -> Array:
    xj = outline.joint
    ends = [xj, *(xj + edge for edge in pad)]
    return graded(
        [*ends, outline.tongue_end, outline.board_end, xj + block.stem, xj + block.length],
        fine=[*ends, outline.tongue_end] if block.wall > 0.0 else ends,
        size=size,
    )


def _heel_lines(outline: Outline, block: Block, pad: list[float], size: MeshSize) -> Array:
    zc = outline.corner[1]
    reach = [0.0, *pad, outline.heel_height + zc, block.height + zc]
    if block.shelf < block.height + zc:
        reach.append(block.shelf)
    return graded(reach, fine=[0.0, *pad], size=size)


def _neck_body(
    outline: Outline, lines: tuple[Array, Array, Array], size: MeshSize
) -> tuple[MeshQuad, dict[str, NDArray[np.int64]]]:
    (along, down, upper), (xj, zc) = lines, outline.corner
    top, cut = outline.board_thickness, outline.slot_depth
    before = graded(
        [outline.tie, outline.heel_start, xj - outline.heel_cap_length, xj],
        fine=[xj],
        size=replace(size, far=size.curve),
    )
    layers = [0.0, top - cut, top] if cut > 0.0 else [0.0, top]
    board = graded(layers, fine=[], size=replace(size, far=0.35 * size.far))
    columns = np.concatenate([before, along[1:]])
    z_of = []
    for x in columns:
        # beyond the joint the lower rows belong to no cell; they only keep the grid rectangular
        reach = float(outline.depth(np.asarray(min(x, xj))))
        if len(down) > 1:
            z_of.append(np.concatenate([zc - down[::-1] / down[-1] * (reach + zc), upper[1:], board[1:]]))
        else:
            # a heel no deeper than the tongue: the rows across the tongue reach to the shaft's back
            z_of.append(np.concatenate([-reach * upper / zc, board[1:]]))
    n_down, n_neck = len(down) - 1, len(down) + len(upper) - 2
    middle = 0.5 * (columns[1:] + columns[:-1])
    keep = np.ones((len(middle), n_neck + len(board) - 1), dtype=bool)
    keep[middle > xj, :n_down] = False
    keep[middle > outline.tongue_end, :n_neck] = False
    mesh, number = _body(columns, z_of, keep)
    check_cells(mesh, "neck")
    wood = np.zeros_like(keep)
    wood[:, :n_neck] = True
    parts = {
        "board": number[keep & ~wood],
        "heel": number[keep & wood & (middle < xj)[:, None]],
        "tongue": number[keep & wood & (middle > xj)[:, None]],
    }
    return mesh, parts


def _block_body(outline: Outline, block: Block, lines: tuple[Array, Array, Array]) -> MeshQuad:
    (along, down, up), (xj, zc) = lines, outline.corner
    rows = np.concatenate([zc - down[::-1], up[1:]])
    middle_x, middle_z = 0.5 * (along[1:] + along[:-1]), 0.5 * (rows[1:] + rows[:-1])
    under = (middle_z < zc)[None, :]
    solid = under & ((middle_x < xj + block.stem)[:, None] | (middle_z > zc - block.shelf)[None, :])
    solid |= ~under & (middle_x > outline.tongue_end)[:, None]
    mesh, _ = _body(along, [rows] * len(along), solid)
    check_cells(mesh, "neck block")
    return mesh
