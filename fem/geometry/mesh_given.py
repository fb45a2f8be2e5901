"""A joint mesh made elsewhere from quadrilaterals: checked against the instrument, then used unchanged."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from skfem import MeshQuad

from fem.errors import MeshError
from fem.geometry.mesh import Block, JointMesh, MeshSize, check_cells
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad

PARTS = ("board", "heel", "tongue", "block")
SNAP = 2e-6
"""Distance within which a node is moved onto a plane of the model [m]: files round their positions."""
FIT = 5e-5
"""Largest deviation of a part from the instrument's dimensions [m]."""
STANDS_FOR = MeshSize(corner=4e-3)
"""The mesh size that a given mesh counts as, the coarser of the two in every run."""

Cells = NDArray[np.int64]


@dataclass(frozen=True)
class GivenMesh:
    """Nodes (2, n) [m], axes as in `Outline`, and the cells of each part, (cells, 4) node numbers."""

    points: Array
    cells: Mapping[str, Cells]

    def heel_depths(self, outline: Outline) -> tuple[tuple[float, float], ...]:
        """Lower edge of the heel from heel start to heel face, as `Outline.heel_depths` [m].

        Raises `MeshError`: that edge is not one line with one depth at each position.
        """
        _check_extent(self.points, self.cells, "heel", _heel_sides(outline))
        edges = np.sort(np.concatenate([self.cells["heel"][:, [k, (k + 1) % 4]] for k in range(4)]), axis=1)
        unique, count = np.unique(edges, axis=0, return_counts=True)
        outer = unique[count == 1]
        x, z = self.points[:, outer]
        on_plane = np.zeros(len(outer), dtype=bool)
        for values, plane in ((x, outline.heel_start), (x, outline.joint), (z, 0.0)):
            on_plane |= np.all(np.abs(values - plane) < SNAP, axis=1)
        lower = outer[~on_plane]
        nodes = np.unique(lower)
        at = self.points[0, nodes]
        order = np.argsort(at)
        if len(lower) == 0 or len(lower) != len(nodes) - 1 or np.any(np.diff(at[order]) < SNAP):
            raise MeshError(
                "The heel's lower edge in the mesh is not one line with one depth at each position. "
                "Check the part 'heel': no holes, no undercut, nothing but the wood before the heel face."
            )
        return tuple((float(px), float(-pz)) for px, pz in self.points[:, nodes[order]].T)


def given_joint_mesh(given: GivenMesh, *, outline: Outline, block: Block, pads: tuple[Pad, ...]) -> JointMesh:
    """Meshes of both bodies from a given one with every part of `PARTS`, checked against the instrument's
    dimensions; the ends of the pads must lie on nodes.

    Raises `MeshError`: a part does not fit, a body is not in one piece, the faces do not match, or cells are
    folded.
    """
    points = _snapped(given.points, outline=outline, block=block)
    _check_extents(points, given.cells, outline=outline, block=block)
    neck_cells = np.concatenate([given.cells[part] for part in PARTS[:3]])
    neck = _mesh_of(points, neck_cells, "neck")
    block_mesh = _matched(neck, _mesh_of(points, given.cells["block"], "neck block"), outline)
    _check_pads(block_mesh, outline, pads)
    ends = np.cumsum([0] + [len(given.cells[part]) for part in PARTS[:3]])
    parts = {part: np.arange(ends[k], ends[k + 1]) for k, part in enumerate(PARTS[:3])}
    return JointMesh(neck, block_mesh, parts)


def at_size(mesh: JointMesh, size: MeshSize) -> JointMesh:
    """A given mesh for a size: unchanged for `STANDS_FOR`, every cell cut in four for each halving below."""
    times = max(0, round(float(np.log2(STANDS_FOR.corner / size.corner))))
    if times == 0:
        return mesh
    neck = mesh.neck.with_subdomains(mesh.neck_parts).refined(times)
    parts = {name: np.asarray(cells) for name, cells in neck.subdomains.items()}
    return JointMesh(neck, mesh.block.refined(times), parts)


def _snapped(points: Array, *, outline: Outline, block: Block) -> Array:
    xj, zc = outline.corner
    along = [outline.tie, xj, outline.tongue_end, outline.board_end, xj + block.stem, xj + block.length]
    up = [outline.board_thickness, 0.0, zc, zc - block.shelf, -outline.heel_height, -block.height]
    snapped = np.array(points, dtype=float)
    for row, planes in zip(snapped, (along, up), strict=True):
        for plane in planes:
            row[np.abs(row - plane) < SNAP] = plane
    return snapped


def _heel_sides(outline: Outline) -> tuple[float, float, float, float]:
    return (outline.heel_start, outline.joint, -outline.heel_height, 0.0)


def _check_extents(points: Array, cells: Mapping[str, Cells], *, outline: Outline, block: Block) -> None:
    xj, zc = outline.corner
    wanted = {
        "board": (outline.tie, outline.board_end, 0.0, outline.board_thickness),
        "heel": _heel_sides(outline),
        "tongue": (xj, outline.tongue_end, zc, 0.0),
        "block": (xj, xj + block.length, -block.height, zc),
    }
    for part, sides in wanted.items():
        _check_extent(points, cells, part, sides)


def _check_extent(
    points: Array, cells: Mapping[str, Cells], part: str, sides: tuple[float, float, float, float]
) -> None:
    """Raise unless a part ends at the given smallest and largest x and z."""
    x, z = points[:, np.unique(cells[part])]
    edges = ("smallest x", "largest x", "lowest z", "highest z")
    for edge, found, side in zip(edges, (x.min(), x.max(), z.min(), z.max()), sides, strict=True):
        if abs(found - side) > FIT:
            raise MeshError(
                f"The part '{part}' of the mesh has its {edge} at {1e3 * found:.3f} mm, "
                f"the case at {1e3 * side:.3f} mm. "
                "Measure x from the nut and z up from the glue line, in mm, and change mesh or case."
            )


def _mesh_of(points: Array, cells: Cells, name: str) -> MeshQuad:
    used, numbers = np.unique(cells, return_inverse=True)
    corners = numbers.reshape(cells.shape)
    at = points[:, used]
    x, z = at[0][corners], at[1][corners]
    area = 0.5 * np.sum(x * np.roll(z, -1, axis=1) - np.roll(x, -1, axis=1) * z, axis=1)
    corners = np.where((area < 0.0)[:, None], corners[:, ::-1], corners)
    joined = sp.coo_matrix(
        (np.ones(corners.size), (corners.ravel(), np.roll(corners, 1, axis=1).ravel())),
        shape=(len(used),) * 2,
    )
    pieces = int(connected_components(joined, directed=False)[0])
    if pieces != 1:
        raise MeshError(
            f"The {name} is in {pieces} pieces that share no nodes. "
            "Merge nodes at equal positions within each body before you save the mesh."
        )
    mesh = MeshQuad(at, corners.T)
    check_cells(mesh, name)
    return mesh


def _face(mesh: MeshQuad, outline: Outline, face: str) -> tuple[Array, NDArray[np.int64]]:
    """Distances from the joint corner of the nodes on a face, increasing, and their numbers."""
    xj, zc = outline.corner
    x, z = mesh.p
    if face == "heel":
        nodes = np.flatnonzero((np.abs(x - xj) < SNAP) & (z < zc + SNAP))
        s = zc - z[nodes]
    else:
        nodes = np.flatnonzero((np.abs(z - zc) < SNAP) & (x > xj - SNAP))
        s = x[nodes] - xj
    order = np.argsort(s)
    return s[order], nodes[order]


def _matched(neck: MeshQuad, block: MeshQuad, outline: Outline) -> MeshQuad:
    """The block with its face nodes put exactly on those of the neck."""
    points = np.array(block.p)
    for face, axis in (("heel", 1), ("tongue", 0)):
        of_neck, neck_nodes = _face(neck, outline, face)
        of_block, block_nodes = _face(block, outline, face)
        reach = min(of_neck[-1], of_block[-1]) + SNAP
        count = int(np.sum(of_neck < reach)), int(np.sum(of_block < reach))
        shorter = min(count)
        gap = np.abs(of_neck[:shorter] - of_block[:shorter]) > SNAP
        if count[0] != count[1] or gap.any():
            first = int(np.argmax(gap)) if gap.any() else shorter - 1
            raise MeshError(
                f"The {face} face does not match node for node: near {1e3 * of_neck[first]:.3f} mm from the "
                "joint's corner neck and block part ways. Divide both sides of the face alike."
            )
        points[axis, block_nodes[:shorter]] = neck.p[axis, neck_nodes[:shorter]]
    return MeshQuad(points, block.t)


def _check_pads(block: MeshQuad, outline: Outline, pads: tuple[Pad, ...]) -> None:
    for pad in pads:
        s, _ = _face(block, outline, pad.face)
        for key, end in (("from_mm", pad.start), ("to_mm", pad.end)):
            near = float(s[np.argmin(np.abs(s - end))])
            if abs(near - end) > SNAP:
                raise MeshError(
                    f"shims.{pad.name}.{key} = {1e3 * end:g}: the {pad.face} face of the mesh has no node "
                    f"there. Put a node there, or set it to the nearest one, {1e3 * near:.6g}."
                )
