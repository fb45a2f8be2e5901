"""A solved state everywhere: displacement, strain energy and stress of the bodies, pressure on the shims."""

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementLineP2, ElementLinePp

from fem.geometry.outline import Array
from fem.geometry.pad import Face, face_of
from fem.geometry.structure import Structure
from fem.members.beam import Beam
from fem.members.held_strain import block_moduli
from fem.members.plate import Plate, strains
from fem.members.shaft import Shaft
from fem.solve.assembly import board_width_at, neck_moduli, neck_width_at
from fem.solve.condensation import neck_rigid_modes
from fem.solve.equilibrium import State, body_turn
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility

LINE_NODES = np.array([0.0, 1.0, 1.0 / 3.0, 2.0 / 3.0])
"""Nodes of a cubic line cell between its ends."""


@dataclass(frozen=True)
class PlateField:
    """A body in its own plane.

    Attributes
    ----------
    nodes : (2, n) undeformed positions x, z [m].
    cells : (cells, 9) nodes: corners anticlockwise, middles of the sides, middle of the cell.
    displacement : (2, n) [m].
    part : (cells,) name of the part of each cell.
    moduli : (cells, 3, 3) plane-stress stiffness, order xx, zz, engineering xz [Pa].
    thickness : (cells, 9) at the 3 x 3 Gauss points, the first local coordinate slowest [m].
    stress : (cells, 3) mean stress xx, zz, xz of the cell [Pa].
    """

    nodes: Array
    cells: NDArray[np.int64]
    displacement: Array
    part: NDArray[np.str_]
    moduli: Array
    thickness: Array
    stress: Array


@dataclass(frozen=True)
class BeamField:
    """The shaft, on the axis z = 0.

    Attributes
    ----------
    x : (n,) undeformed positions [m].
    cells : (cells, 4) nodes: both ends, then the points at a third and two thirds between.
    displacement : (2, n) along x and z [m]; ``rotation`` : (n,) slope of the section [rad].
    section : EA [N], ES [N m], EI [N m2] and kGA [N], each (cells, 4) at the four Gauss points.
    forces : N [N], M [N m] and Q [N] there, each (cells, 4).
    """

    x: Array
    cells: NDArray[np.int64]
    displacement: Array
    rotation: Array
    section: dict[str, Array]
    forces: dict[str, Array]


@dataclass(frozen=True)
class ShimField:
    """Integration points of a shim: distance along its face, area, pressure, shear traction.

    All of shape (n,): ``s`` [m], ``area`` [m2], ``pressure`` and ``shear_traction`` [Pa], ``opening`` [m],
    ``closed`` and ``slipping``; ``indentation`` and ``indentation_along`` [m], movements of neck and block
    under each beyond their plates (`fem.joint.across_width`); ``face`` is the one they lie on.
    """

    name: str
    face: Face
    s: Array
    area: Array
    pressure: Array
    shear_traction: Array
    opening: Array
    closed: NDArray[np.bool_]
    slipping: NDArray[np.bool_]
    indentation: Array
    indentation_along: Array


@dataclass(frozen=True)
class StateField:
    """All bodies of one state."""

    neck: PlateField
    block: PlateField
    shaft: BeamField
    shims: tuple[ShimField, ...]


def state_field(
    structure: Structure, fields: Fields, flexibility: Flexibility, state: State, *, body: float | None
) -> StateField:
    """A solved state everywhere; ``body`` is the body's stiffness [N m/rad], None for a rigid one."""
    moved = fields.displacement(state.forces)
    bodies = fields.bodies
    if body is not None:
        moved = moved + float(body_turn(flexibility) @ state.forces) / body * _turn(structure, fields)
    first, second = bodies.line.size, bodies.line.size + 2 * bodies.neck.size
    return StateField(
        neck=_neck(structure, fields, moved[first:second]),
        block=_block(structure, bodies.block, moved[second:]),
        shaft=_shaft(bodies.line, bodies.shaft, moved[:first]),
        shims=_shims(fields, flexibility, state),
    )


def _turn(structure: Structure, fields: Fields) -> Array:
    """Displacement of all unknowns per radian of the body about the joint corner, nut up."""
    turned = neck_rigid_modes(structure, fields.bodies)[:, 2]
    block = fields.bodies.block
    x, z = block.nodes
    xj, zc = structure.outline.corner
    last = fields.bodies.size
    turned[last - 2 * block.size : last] = np.concatenate([z - zc, -(x - xj)])
    return np.asarray(turned)


def _neck(structure: Structure, fields: Fields, moved: Array) -> PlateField:
    bodies = fields.bodies
    part = np.empty(bodies.neck.mesh.t.shape[1], dtype="<U6")
    for name, cells in bodies.parts.items():
        part[cells] = name
    of_board = part == "board"
    moduli = neck_moduli(structure, bodies)
    at = strains(bodies.neck)
    board, wood = partial(board_width_at, structure), partial(neck_width_at, structure)
    thickness = np.where(of_board[:, None], board(at.x, at.z), wood(at.x, at.z))
    return _plate(bodies.neck, moved, part=part, moduli=moduli, thickness=thickness)


def _block(structure: Structure, block: Plate, moved: Array) -> PlateField:
    count = block.mesh.t.shape[1]
    middle = block.mesh.p[0, block.mesh.t].mean(axis=0)
    return _plate(
        block,
        moved,
        part=np.full(count, "block"),
        moduli=block_moduli(structure, middle),
        thickness=np.full((count, 9), structure.block.width),
    )


def _plate(
    body: Plate, moved: Array, *, part: NDArray[np.str_], moduli: Array, thickness: Array
) -> PlateField:
    at = strains(body)
    strain = np.einsum("cpik,ck->cpi", at.rows, moved[at.unknowns])
    stress = np.einsum("cij,cpj->cpi", moduli, strain)
    share = at.area / at.area.sum(axis=1, keepdims=True)
    return PlateField(
        nodes=body.nodes,
        cells=body.unknowns.T,
        displacement=moved.reshape(2, -1),
        part=part,
        moduli=np.asarray(moduli),
        thickness=thickness,
        stress=np.einsum("cp,cpi->ci", share, stress),
    )


def _shaft(line: Beam, shaft: Shaft, moved: Array) -> BeamField:
    mesh = line.basis.mesh
    ends = mesh.t.T
    count = len(line.x)
    inner = count + np.arange(2 * len(ends)).reshape(-1, 2)
    cells = np.concatenate([ends, inner], axis=1)
    # a new element for each basis: some scikit-fem elements cache their first mesh
    element = ElementLineP2() * ElementLinePp(3) * ElementLineP2()
    at_nodes = Basis(mesh, element, quadrature=(LINE_NODES[None, :], np.full(4, 0.25)))
    u, w, rotation = (np.asarray(field) for field in at_nodes.interpolate(moved))
    x = np.asarray(at_nodes.global_coordinates())[0]
    on_nodes = np.zeros((4, count + inner.size))
    for row, values in zip(on_nodes, (x, u, w, rotation), strict=True):
        row[cells] = values
    section, forces = _section_forces(line, shaft, moved)
    return BeamField(on_nodes[0], cells, on_nodes[1:3], on_nodes[3], section, forces)


def _section_forces(line: Beam, shaft: Shaft, moved: Array) -> tuple[dict[str, Array], dict[str, Array]]:
    x = np.asarray(line.basis.global_coordinates())[0]
    ea, es, ei = shaft.total(x)
    kga = shaft.shear_stiffness(x)
    u, w, turn = line.basis.interpolate(moved)
    stretch, bend = u.grad[0], turn.grad[0]
    forces = {
        "N": ea * stretch - es * bend,
        "M": ei * bend - es * stretch,
        "Q": kga * (w.grad[0] - np.asarray(turn)),
    }
    return {"EA": ea, "ES": es, "EI": ei, "kGA": kga}, forces


def _shims(fields: Fields, flexibility: Flexibility, state: State) -> tuple[ShimField, ...]:
    structure, found, first, contact = fields.structure, [], 0, state.contact
    # what the rows move beyond the plates; the shear force acts against slip
    plates = fields.plates
    moved = plates.matrix @ (fields.widening.plates @ state.forces)
    along = moved[plates.at["slip"]] - state.displacements[flexibility.at["slip"]]
    opening = state.displacements[flexibility.at["opening"]]
    for pad, points in zip(structure.pads, flexibility.points, strict=True):
        here = slice(first, first + len(points.s))
        rows = slice(first * len(points.rows), here.stop * len(points.rows))
        first = here.stop
        mean = points.mean(opening[rows])
        push = points.of_points(contact.push[rows])
        # the mean under the pressure itself, whose product with it is the work
        weights = np.where(push.sum(axis=1, keepdims=True) > 0.0, push, points.rows)
        sunk = np.average(points.of_points(opening[rows]), axis=1, weights=weights)
        found.append(
            ShimField(
                name=pad.name,
                face=face_of(structure.outline, pad.face),
                s=points.s,
                area=points.area,
                pressure=points.of_points(contact.push[rows]).sum(axis=1) / points.area,
                shear_traction=contact.shear_force[here] / points.area,
                opening=mean,
                closed=points.of_points(contact.push[rows]).sum(axis=1) > 0.0,
                slipping=contact.slipping[here],
                indentation=sunk - moved[plates.at["opening"][here]],
                indentation_along=along[here],
            )
        )
    return tuple(found)
