"""Stiffness of the whole instrument by part, and rows for loads and readings
(docs/theory-model.md, sections 3 to 8).
"""

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.geometry.mesh import MeshSize, joint_mesh
from fem.geometry.mesh_given import at_size
from fem.geometry.outline import Array, merged
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.joint import bolt as bolts
from fem.joint import shim_layer
from fem.members import beam as timoshenko
from fem.members import rod, tie
from fem.members.beam import Beam
from fem.members.held_strain import block_moduli
from fem.members.plate import Plate, Thickness, plate, point_rows, stiffness
from fem.members.shaft import Shaft, breaks, shaft_constants, slots_at


@dataclass(frozen=True)
class Bodies:
    """The meshed bodies: beam, neck plate, block plate, the cells of the neck's parts, and the points of the
    pads.
    """

    line: Beam
    neck: Plate
    block: Plate
    parts: dict[str, NDArray[np.int64]]
    shaft: Shaft
    points: tuple[shim_layer.PadPoints, ...]

    @property
    def size(self) -> int:
        """Number of unknowns: beam, neck x, neck z, block x, block z."""
        return self.line.size + 2 * self.neck.size + 2 * self.block.size


@dataclass(frozen=True)
class Piece:
    """Stiffness of one piece over the unknowns of its body, which begin at ``first``."""

    first: int
    matrix: sp.csr_matrix


BUDGET = {
    "shaft bending": ("bend neck", "bend board", "bend bars"),
    "shaft shear": ("shear neck", "shear rest"),
    "fretboard over the joint": ("board",),
    "heel": ("heel",),
    "tongue": ("tongue",),
    "block": ("block",),
}
"""The whole stiffness by place: pieces of each part of the flex budget."""

MODULUS = {
    "neck along": (("bend neck", 1.0), ("wood along", 1.0)),
    "neck across": (("shear neck", 1.0), ("heel", 1.0), ("tongue", 1.0), ("wood along", -1.0)),
    "board along": (("bend board", 1.0), ("board along", 1.0)),
    "board rest": (("shear rest", 1.0), ("board", 1.0), ("board along", -1.0)),
    "block along": (("block along", 1.0),),
    "block across": (("block", 1.0), ("block along", -1.0)),
    "bars": (("bend bars", 1.0),),
}
"""d(stiffness) / d(ln modulus) as combinations of pieces; they add up to the whole stiffness, which is linear
in the moduli. ``across`` includes shear. The block's local indentation counts as across the grain: under the
heel face of a block with vertical grain it lies in that plane."""
OF_BLOCK = ("block along", "block across")
"""Names in `MODULUS` that belong to the block; the others belong to the neck."""


def bodies(structure: Structure, size: MeshSize, *, reuse: Bodies | None = None) -> Bodies:
    """Mesh all bodies of an instrument; beam and section constants come from ``reuse`` if given."""
    ends: dict[str, list[float]] = {"tongue": [], "heel": [], "end": []}
    for pad in structure.pads:
        ends[pad.face] += [pad.start, pad.end]
    if structure.mesh is None:
        mesh = joint_mesh(structure.outline, structure.block, breaks=ends, size=size)
    else:
        mesh = at_size(structure.mesh, size)
    neck, block = plate(mesh.neck), plate(mesh.block)
    points = pad_points(structure, block)
    if reuse is not None:
        return Bodies(reuse.line, neck, block, mesh.neck_parts, reuse.shaft, points)
    frets = structure.frets[structure.frets < structure.outline.tie - 1e-9]
    line = timoshenko.beam(np.concatenate([breaks(structure), frets]))
    return Bodies(line, neck, block, mesh.neck_parts, shaft_constants(structure), points)


def bearing(structure: Structure, pad: Pad, s: Array) -> Array:
    """Contact width at points of a pad, shape of ``s`` [m]."""
    return np.full_like(s, pad.bearing_width)


def pad_points(structure: Structure, block: Plate) -> tuple[shim_layer.PadPoints, ...]:
    """Points of all pads; a pad that ends within a cell has points on the covered part only."""
    found = []
    for pad in structure.pads:
        lines = shim_layer.face_lines(block, structure.outline, pad.face)
        ends = np.clip([pad.start, pad.end], lines[0], lines[-1])
        s, length = shim_layer.gauss_points(merged(np.append(lines, ends)), pad)
        found.append(shim_layer.PadPoints(s, length * bearing(structure, pad, s)))
    return tuple(found)


def board_width_at(structure: Structure, x: Array, z: Array) -> Array:
    """Width of the board at z [m], the slotted layer under its curved top reduced by its slot fraction."""
    o = structure.outline
    whole = o.board_thickness_across(x, z)
    if o.slot_depth == 0.0:
        return whole
    # the slot fraction is linear along the board within a per cent
    left, right = slots_at(structure, o.tie), slots_at(structure, o.board_end)
    share = left + (right - left) * (x - o.tie) / (o.board_end - o.tie)
    floor = z + o.slot_depth
    under = np.minimum(o.board_thickness_across(x, floor), whole)
    solid = np.where(floor >= o.board_thickness, 0.0, under)
    return np.asarray(solid + share * (whole - solid))


def neck_width_at(structure: Structure, x: Array, z: Array) -> Array:
    """Width of neck wood at (x, z) without rod channel and hollows, at least ``thickness_floor`` [m]."""
    width = structure.outline.neck_thickness_across(x, z)
    run = structure.rod
    if run is not None and run.last > structure.outline.tie:
        depth = np.abs(z - run.z(x))
        width = width - structure.rod_slot_width * ((x < run.last) & (depth < 0.5 * run.height))
    for hollow in structure.hollows:
        inside = (x > hollow.first) & (x < hollow.last) & (z < hollow.top) & (z > hollow.bottom)
        width = width - hollow.width * inside
    return np.maximum(width, structure.outline.thickness_floor)


def neck_moduli(structure: Structure, body: Bodies) -> Array:
    """Plane-stress stiffness of every cell of the neck's plate, (cells, 3, 3) [Pa].

    A plate's shear is uniform across its width; in the shaft's round section it flows towards the middle,
    which is softer by ``shaft.flow``. That factor of the shear modulus fades out towards the heel's tapered
    block, nearly a rectangle.
    """
    cells = body.neck.mesh.t
    of_board = np.zeros(cells.shape[1], dtype=bool)
    of_board[body.parts["board"]] = True
    moduli = np.where(of_board[:, None, None], structure.board.moduli, structure.neck.moduli)
    middle = body.neck.mesh.p[0, cells].mean(axis=0)
    moduli[:, 2, 2] *= 1.0 - (1.0 - body.shaft.flow) * (1.0 - structure.outline.heel_share(middle))
    return moduli


def stiffness_pieces(structure: Structure, body: Bodies) -> dict[str, Piece]:
    """Stiffness of every piece in `BUDGET`; without absent materials."""
    first = body.line.size + 2 * body.neck.size
    return neck_pieces(structure, body) | {"block": Piece(first, block_stiffness(structure, body.block))}


def neck_pieces(structure: Structure, body: Bodies) -> dict[str, Piece]:
    """Stiffness pieces of beam and neck."""
    line, shaft = body.line, body.shaft
    pieces = {}
    for material in ("neck", "board", "bars"):
        if shaft.has(material):
            section = partial(shaft.stretch, material=material)
            pieces[f"bend {material}"] = Piece(0, timoshenko.stretch_and_bend(line, section=section))

    def of_neck(x: Array) -> Array:
        return shaft.shear_stiffness(x) * shaft.shear_share(x)

    def of_rest(x: Array) -> Array:
        return shaft.shear_stiffness(x) * (1.0 - shaft.shear_share(x))

    pieces["shear neck"] = Piece(0, timoshenko.shear(line, kga=of_neck))
    pieces["shear rest"] = Piece(0, timoshenko.shear(line, kga=of_rest))

    widths = _widths(structure)
    moduli = neck_moduli(structure, body)
    for name in ("heel", "tongue", "board"):
        cells = body.parts[name]
        width = widths["board" if name == "board" else "neck"]
        here = stiffness(body.neck, thickness=width, moduli=moduli[cells], cells=cells)
        pieces[name] = Piece(line.size, here)
    return pieces


def along_pieces(structure: Structure, body: Bodies) -> dict[str, Piece]:
    """Stiffness of the pieces in `MODULUS` that are part of others: plates along their grain alone."""
    parts, widths, first = body.parts, _widths(structure), body.line.size
    wood = np.concatenate([parts["heel"], parts["tongue"]])
    block_wood = structure.block_wood
    block = replace(structure, block_wood=replace(block_wood, moduli=block_wood.along, solid=None))

    def cut(cells: NDArray[np.int64], moduli: Array, width: Thickness) -> Piece:
        return Piece(first, stiffness(body.neck, thickness=width, moduli=moduli, cells=cells))

    return {
        "wood along": cut(wood, structure.neck.along, widths["neck"]),
        "board along": cut(parts["board"], structure.board.along, widths["board"]),
        "block along": Piece(first + 2 * body.neck.size, block_stiffness(block, body.block)),
    }


def _widths(structure: Structure) -> dict[str, Thickness]:
    return {"neck": partial(neck_width_at, structure), "board": partial(board_width_at, structure)}


def block_stiffness(structure: Structure, block: Plate) -> sp.csr_matrix:
    """Stiffness of the block over its own unknowns."""

    def width(x: Array, z: Array) -> Array:
        return np.full_like(x, structure.block.width)

    middle = block.mesh.p[0, block.mesh.t].mean(axis=0)
    return stiffness(block, thickness=width, moduli=block_moduli(structure, middle))


def whole_stiffness(body: Bodies, pieces: dict[str, Piece]) -> sp.csr_matrix:
    """Stiffness over all unknowns."""
    used = [pieces[name] for names in BUDGET.values() for name in names if name in pieces]
    entries = [(piece.matrix.tocoo(), piece.first) for piece in used]
    row = np.concatenate([one.row + first for one, first in entries])
    column = np.concatenate([one.col + first for one, first in entries])
    data = np.concatenate([one.data for one, _ in entries])
    return sp.csr_matrix((data, (row, column)), shape=(body.size, body.size))


@dataclass(frozen=True)
class Rows:
    """Rows over all unknowns, stacked in ``matrix``; ``at`` names the row numbers of each kind.

    Kinds: ``opening``, ``slip`` (interface points, pads in order), ``bolt``, ``nut u``, ``nut w``, ``nut
    t``, ``crown`` (u_z of the board's top at frets 1..last), ``rod`` (absent without a rod), ``heel start``
    (mean rotation of the section there).
    """

    matrix: sp.csr_matrix
    at: dict[str, NDArray[np.int64]]
    points: tuple[shim_layer.PadPoints, ...]


def face_rows(structure: Structure, body: Bodies) -> sp.csr_matrix:
    """Rows of all openings, then of all slips, over all unknowns, (2 points, size)."""
    pairs = [
        shim_layer.opening_rows(body.neck, body.block, structure.outline, face=pad.face, s=at.s)
        for pad, at in zip(structure.pads, body.points, strict=True)
    ]
    plates = sp.vstack([one for one, _ in pairs] + [one for _, one in pairs], format="csr")
    return _behind_beam(plates, body)


def _behind_beam(plates: sp.csr_matrix, body: Bodies) -> sp.csr_matrix:
    """Rows over the plates' unknowns as rows over all unknowns."""
    where = (plates.indices + body.line.size, plates.indptr)
    return sp.csr_matrix((plates.data, *where), shape=(plates.shape[0], body.size))


def reading_rows(structure: Structure, body: Bodies) -> Rows:
    """Rows of all loads and readings."""
    line, neck, block, outline = body.line, body.neck, body.block, structure.outline
    faces = face_rows(structure, body)
    half = faces.shape[0] // 2
    rows = {"opening": faces[:half], "slip": faces[half:], "bolt": bolt_rows(structure, body)}

    def beam_rows(name: str, x: Array) -> sp.csr_matrix:
        unknowns = [line.at(name, one) for one in x]
        return sp.csr_matrix((np.ones(len(x)), (np.arange(len(x)), unknowns)), shape=(len(x), body.size))

    rows |= {f"nut {name}": beam_rows(name, np.zeros(1)) for name in ("u", "w", "t")}
    on_beam = beam_rows("w", structure.frets[structure.frets < outline.tie - 1e-9])
    beyond = structure.frets[structure.frets >= outline.tie - 1e-9]
    top = point_rows(
        neck, np.stack([beyond, np.full_like(beyond, outline.board_thickness)]), inside=(1.0, -1.0)
    ).value
    left = sp.csr_matrix((len(beyond), line.size + neck.size))
    right = sp.csr_matrix((len(beyond), 2 * block.size))
    rows["crown"] = sp.vstack([on_beam, sp.hstack([left, top, right])])
    if structure.rod is not None:
        on_line, on_plate = rod.setting_row(structure.rod, line, neck)
        plate_part = on_plate if on_plate is not None else sp.csr_matrix((1, 2 * neck.size))
        beyond_neck = sp.csr_matrix((1, 2 * block.size))
        rows["rod"] = sp.hstack([sp.csr_matrix(on_line), plate_part, beyond_neck])
    rows["heel start"] = rotation_row(structure, body, outline.heel_start)
    at, first = {}, 0
    for kind, matrix in rows.items():
        at[kind] = np.arange(first, first + matrix.shape[0])
        first += matrix.shape[0]
    return Rows(sp.csr_matrix(sp.vstack(list(rows.values()))), at, body.points)


def bolt_rows(structure: Structure, body: Bodies) -> sp.csr_matrix:
    """Rows of the bolts' elongations over all unknowns, (bolts, size)."""
    outline, shape = structure.outline, structure.block
    of_plates = bolts.elongation_rows(structure.bolts, body.neck, body.block, outline, shape)
    return _behind_beam(of_plates, body)


def young_width(structure: Structure, x: float, z: Array) -> Array:
    """E times width of board and neck wood at heights z of the section at x, shape (n,) [N/m]."""
    here = np.full_like(z, x)
    board = structure.board.section.young * board_width_at(structure, here, np.maximum(z, 0.0))
    neck = structure.neck.section.young * neck_width_at(structure, here, np.minimum(z, 0.0))
    return np.where(z > 0.0, board, neck)


def rotation_row(structure: Structure, body: Bodies, x: float) -> sp.csr_matrix:
    """Row of the section's mean rotation at x, the one conjugate to its bending moment."""
    z, weight = tie.edge_points(body.neck, x)
    stiff = weight * young_width(structure, x, z)
    arm = z - np.sum(stiff * z) / np.sum(stiff)
    here = point_rows(body.neck, np.stack([np.full_like(z, x), z]), inside=(1.0, 0.0))
    row = np.zeros(body.size)
    row[body.line.size :][: body.neck.size] = here.sum_of(-stiff * arm / np.sum(stiff * arm**2))
    return sp.csr_matrix(row[None])


def link(structure: Structure, body: Bodies) -> sp.csr_matrix:
    """Transformation from free to all unknowns: tie and held edges."""
    z, weight = tie.edge_points(body.neck, structure.outline.tie)
    weights = tie.shear_weights(z, weight, young_width(structure, structure.outline.tie, z))
    held = tie.held_nodes(body.block, structure.outline, structure.block, structure.held)
    return tie.transformation(
        body.line, body.neck, body.block, tie=structure.outline.tie, held=held, weights=(z, weights)
    )
