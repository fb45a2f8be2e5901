"""Substructures: neck and block each held on its own, two flexibilities that add up at the joint.

The neck is clamped at the tie and released again as a rigid body: under self-equilibrated forces a clamp
carries nothing, so three rigid displacements and three equations of equilibrium replace it exactly. Without
grounding springs the neck's flexibility depends only on the moduli of neck and board, the block's only on its
own, which makes both easy to fit.
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.structure import Structure, WoodPlate
from fem.joint.shim_layer import PadPoints
from fem.many.pressure_shape import PressureShape
from fem.members.shaft import shaft_constants
from fem.solve import assembly
from fem.solve.assembly import Bodies, Rows
from fem.solve.condensation import REFERENCE_LENGTH, neck_rigid_modes
from fem.solve.factorisation import factored
from fem.solve.flexibility import Flexibility
from fem.solve.held_block import held_block


@dataclass(frozen=True)
class MeshedInstrument:
    """Meshes, rows, rigid modes (n, 3) and pressure shape of an instrument, the same for all moduli."""

    structure: Structure
    bodies: Bodies
    rows: Rows
    rigid: Array
    shape: PressureShape

    @property
    def joint(self) -> NDArray[np.int64]:
        """Rows of openings, slips and bolts."""
        return np.concatenate([self.rows.at[kind] for kind in ("opening", "slip", "bolt")])


def mesh_instrument(structure: Structure, size: MeshSize, shape: PressureShape) -> MeshedInstrument:
    """Mesh an instrument and lay out its rows."""
    bodies = assembly.bodies(structure, size)
    rows = assembly.reading_rows(structure, bodies)
    rigid = np.asarray(rows.matrix @ neck_rigid_modes(structure, bodies))
    return MeshedInstrument(structure, bodies, rows, rigid, shape)


def _neck_rows(at: MeshedInstrument, structure: Structure, bodies: Bodies) -> sp.csr_matrix:
    """The rows, with a new one for the mean rotation at the heel start: its weights depend on the moduli."""
    first = int(at.rows.at["heel start"][0])
    row = assembly.rotation_row(structure, bodies, structure.outline.heel_start)
    return sp.csr_matrix(sp.vstack([at.rows.matrix[:first], row, at.rows.matrix[first + 1 :]]))


def neck_flexibility(at: MeshedInstrument, structure: Structure) -> Array:
    """Flexibility of neck and beam clamped at the tie, for other moduli of neck and board; (n, n) symmetric.

    The clamp holds the beam's end (u, rotation) and one plate node of the tie in z: statically determinate.
    """
    bodies = replace(at.bodies, shaft=shaft_constants(structure))
    whole = assembly.whole_stiffness(bodies, assembly.neck_pieces(structure, bodies))
    link = sp.csc_matrix(assembly.link(structure, bodies))
    line, neck, x_tie = bodies.line, bodies.neck, structure.outline.tie
    on_tie = np.flatnonzero(np.isclose(neck.nodes[0], x_tie, atol=1e-9))
    depth = neck.nodes[1][on_tie]
    middle = on_tie[np.argmin(np.abs(depth - 0.5 * (depth.min() + depth.max())))]
    count = line.size + 2 * neck.size
    clamped = [line.at("u", x_tie), line.at("t", x_tie), line.size + neck.size + int(middle)]
    # a free unknown is the column whose own entry is one
    here = np.ravel(abs(link[:count]).sum(axis=0))
    held = [_own_column(link, row) for row in clamped]
    keep = np.setdiff1d(np.flatnonzero(here > 0.0), held)
    to_all = sp.csr_matrix(link[:count][:, keep])
    stiff = sp.csc_matrix(to_all.T @ whole[:count, :count] @ to_all)
    load = (_neck_rows(at, structure, bodies)[:, :count] @ to_all).T.toarray()
    flexibility = _flexibility(stiff, load)
    flexibility[np.ix_(at.joint, at.joint)] += at.shape.local(structure, "heel", "tongue")
    return flexibility


def _own_column(link: sp.csc_matrix, row: int) -> int:
    """Column of the free unknown equal to an unknown."""
    entries = sp.csr_matrix(link[row])
    return int(entries.indices[np.argmax(np.abs(entries.data))])


def block_flexibility(at: MeshedInstrument, wood: WoodPlate) -> Array:
    """Flexibility of the block on its glued edges for other moduli; (n, n) symmetric."""
    structure = replace(at.structure, block_wood=wood)
    first = at.bodies.line.size + 2 * at.bodies.neck.size
    flexibility = held_block(structure, at.bodies.block, at.rows.matrix[:, first:])
    flexibility[np.ix_(at.joint, at.joint)] += at.shape.local(structure, "block")
    return flexibility


def _flexibility(stiff: sp.csc_matrix, load: Array) -> Array:
    displacements = load.T @ factored(stiff)(load)
    return np.asarray(0.5 * (displacements + displacements.T))


@dataclass(frozen=True)
class Layout:
    """A flexibility without its matrix, see `fem.solve.flexibility.Flexibility`; ``layers`` (n, n) is that of
    `PressureShape`.
    """

    at: dict[str, NDArray[np.int64]]
    points: tuple[PadPoints, ...]
    rigid: Array
    reference: Array
    layers: Array


def layout(meshed: MeshedInstrument) -> Layout:
    """Rows, interface points, rigid movements and grounding springs of an instrument."""
    spring = meshed.structure.neck.section.young / REFERENCE_LENGTH
    area = np.concatenate([points.area for points in meshed.rows.points])
    reference = np.zeros(len(meshed.rigid))
    for kind in ("opening", "slip"):
        reference[meshed.rows.at[kind]] = spring * area
    layers = np.zeros((len(reference),) * 2)
    layers[np.ix_(meshed.joint, meshed.joint)] = meshed.shape.layers
    return Layout(meshed.rows.at, meshed.rows.points, meshed.rigid, reference, layers)


def grounded(at: Layout, matrix: Array) -> Flexibility:
    """The grounded flexibility of `fem.solve.condensation.condense`, without flex budget, from the sum
    ``matrix`` (n, n) of both held ones.

    With forces f, springs k and rigid displacement q: ``m = C (f - k m) + R q`` and ``R^T (f - k m) = 0``.
    """
    matrix = matrix + at.layers
    n, reference = len(matrix), at.reference
    system = np.zeros((n + 3, n + 3))
    system[:n, :n] = np.eye(n) + matrix * reference
    system[:n, n:] = -at.rigid
    system[n:, :n] = at.rigid.T * reference
    displacements = np.linalg.solve(system, np.concatenate([matrix, at.rigid.T]))[:n]
    return Flexibility(
        matrix=0.5 * (displacements + displacements.T),
        at=at.at,
        reference=reference,
        points=at.points,
        rigid=at.rigid,
        reactions=np.zeros((3, n)),
    )
