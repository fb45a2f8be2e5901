"""The neck of `plane_stress_neck` by the project: as a plate alone, and as beam, tie and plate."""

from dataclasses import replace
from functools import partial

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve
from skfem import MeshQuad

from fem.geometry.mesh import Block, MeshSize
from fem.geometry.outline import Array, fret_positions
from fem.geometry.pad import Pad
from fem.geometry.section_shape import SectionMaterial
from fem.geometry.structure import Structure, WoodPlate
from fem.members.plate import Plate, plate, point_rows, stiffness
from fem.solve import assembly
from tests.evidence_rows.plate import orthotropic
from tests.outside.plane_stress_neck import BOARD_WOOD, NECK_WOOD, OUTLINE, Lifts, grid, readings

NEAR_NUT = readings()["near_nut"][0]
BLOCK = Block(length=0.10, stem=0.04, shelf=0.015, height=0.10, width=0.08)


def by_plate(fineness: int = 1) -> Lifts:
    """The whole neck as one plate on the outside program's mesh, thickness by its law in every element."""
    one = grid(fineness)
    body = plate(MeshQuad(np.ascontiguousarray(one.corners), np.ascontiguousarray(one.cells)))
    board = np.flatnonzero(one.board)
    wood = np.flatnonzero(~one.board)
    matrix = stiffness(
        body, thickness=OUTLINE.neck_thickness_across, moduli=orthotropic(*NECK_WOOD), cells=wood
    ) + stiffness(
        body, thickness=OUTLINE.board_thickness_across, moduli=orthotropic(*BOARD_WOOD), cells=board
    )
    x, z = body.nodes
    held = np.flatnonzero(np.isclose(x, OUTLINE.joint) & (z < -OUTLINE.tongue_depth + 1e-9))
    free = np.setdiff1d(np.arange(2 * body.size), np.concatenate([held, body.size + held]))
    nut = np.flatnonzero(np.isclose(x, 0.0))
    load = np.zeros(2 * body.size)
    load[body.size + nut] = 1.0 / len(nut)
    displacements = np.zeros_like(load)
    displacements[free] = spsolve(matrix[free][:, free].tocsc(), load[free])
    return Lifts(*(_rise(body, displacements, *place) for place in readings().values()))


def _rise(body: Plate, displacements: Array, x: float, z: float) -> float:
    inwards = 1.0 if x < OUTLINE.joint else -1.0
    row = point_rows(body, np.array([[x], [z]]), inside=(inwards, -1.0)).value
    return float((row @ displacements[body.size :])[0])


def timber(wood: tuple[float, float, float, float]) -> WoodPlate:
    """The same wood for plate and section."""
    along, _, _, shear = wood
    return WoodPlate(orthotropic(*wood), np.zeros((3, 3)), SectionMaterial(along, shear, shear))


def by_beam_and_plate(size: MeshSize | None = None) -> Lifts:
    """The program's own way: beam to the heel's start, tie, plate."""
    pad = partial(Pad, bearing_width=0.03, middle=1e-3, young=1e9, shear=1e9, compliance=0.0)
    structure = Structure(
        outline=replace(OUTLINE, tie=OUTLINE.heel_start),
        block=BLOCK,
        neck=timber(NECK_WOOD),
        board=timber(BOARD_WOOD),
        block_wood=timber(NECK_WOOD),
        pads=(
            pad("upper", "tongue", start=0.004, end=0.070),
            pad("lower", "heel", start=0.003, end=0.080),
        ),
        bolts=(),
        frets=np.concatenate([[NEAR_NUT], fret_positions(OUTLINE.scale, 20)]),
        joint_fret=15,
        held=("bottom",),
    )
    body = assembly.bodies(structure, size or MeshSize())
    q = assembly.link(structure, body)
    whole = sp.csr_matrix(
        q.T @ assembly.whole_stiffness(body, assembly.stiffness_pieces(structure, body)) @ q
    )
    first, count = body.line.size, body.neck.size
    x, z = body.neck.nodes
    face = first + np.flatnonzero(np.isclose(x, OUTLINE.joint) & (z < -OUTLINE.tongue_depth + 1e-9))
    held = np.unique(q[np.concatenate([face, face + count])].indices)
    free = np.setdiff1d(np.arange(q.shape[1]), held)
    load = np.zeros(q.shape[0])
    load[body.line.at("w", 0.0)] = 1.0
    displacements = np.zeros(q.shape[1])
    displacements[free] = spsolve(whole[free][:, free].tocsc(), (q.T @ load)[free])
    everywhere = q @ displacements
    of_plate = everywhere[first : first + 2 * count]
    beyond = (_rise(body.neck, of_plate, *readings()[name]) for name in ("heel_start", "tongue_end"))
    near_nut = everywhere[body.line.at("w", NEAR_NUT)]
    return Lifts(float(near_nut), *beyond)
