"""Free strain of wood (moisture, heat) as a load: a row of the flexibility
(docs/theory-readings.md, section 14).

A piece of wood with a free strain stores ``1/2 (q - q_free)^T K (q - q_free)``; its load is ``K q_free`` with
any displacement ``q_free`` of that strain. It does no work on a rigid motion.
"""

from dataclasses import dataclass, replace

import numpy as np

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.joint.across_width import ROWS
from fem.members import tie
from fem.solve import assembly
from fem.solve.assembly import Bodies, Piece
from fem.solve.condensation import grounding
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.widening import widened

ROW = "free strain"


@dataclass(frozen=True)
class FreeStrain:
    """Free strain (along x, along z) of each wood [1], positive longer."""

    neck: tuple[float, float] = (0.0, 0.0)
    board: tuple[float, float] = (0.0, 0.0)
    block: tuple[float, float] = (0.0, 0.0)


_BEAM = {"bend neck": "neck", "bend board": "board"}
_NECK_PLATE = {"heel": "neck", "tongue": "neck", "board": "board"}


def beam_stretch(body: Bodies) -> Array:
    """Unknowns of the beam under unit strain along x, (beam size,)."""
    line = body.line
    field = np.zeros(line.size)
    field[line.dof["u"]] = line.x
    # the first inner unknown is u in the element's middle
    mesh = line.basis.mesh
    field[line.basis.dofs.interior_dofs[0]] = mesh.p[0, mesh.t].mean(axis=0)
    return field


def free_strain_load(body: Bodies, pieces: dict[str, Piece], strain: FreeStrain) -> Array:
    """Load of free strains over all unknowns, (body.size,) [N and N m]."""
    load = np.zeros(body.size)

    def add(name: str, field: Array) -> None:
        if name in pieces:
            piece = pieces[name]
            load[piece.first : piece.first + len(field)] += piece.matrix @ field

    stretched = beam_stretch(body)
    for name, wood in _BEAM.items():
        add(name, getattr(strain, wood)[0] * stretched)
    for plate, names in ((body.neck, _NECK_PLATE), (body.block, {"block": "block"})):
        x, z = plate.nodes
        for name, wood in names.items():
            along, up = getattr(strain, wood)
            add(name, np.concatenate([along * x, up * z]))
    return load


def with_free_strain(structure: Structure, fields: Fields, strain: FreeStrain) -> Flexibility:
    """Flexibility with one more row, the load of the free strains; without reactions."""
    body = fields.bodies
    load = free_strain_load(body, fields.pieces, strain)
    free = np.asarray(fields.transformation.T @ load)
    response = fields.solve(free[:, None])[:, 0]
    column = np.asarray(fields.rows @ response)
    plates = fields.plates
    n = plates.size
    matrix = np.zeros((n + 1, n + 1))
    matrix[:n, :n] = plates.matrix
    matrix[:n, n] = matrix[n, :n] = column
    matrix[n, n] = free @ response
    more = replace(
        plates,
        matrix=matrix,
        at=plates.at | {ROW: np.array([n])},
        reference=np.append(plates.reference, 0.0),
        rigid=np.vstack([plates.rigid, np.zeros(3)]),
        reactions=np.hstack([plates.reactions, np.full((3, 1), np.nan)]),
    )
    return widened(more, structure, grounding=grounding(structure, plates.points), rows=ROWS)[0]


def top_rise(structure: Structure, body: Bodies, strain: FreeStrain) -> float:
    """Rise of the board's top over the beam's axis by swelling in depth [m].

    The plate includes this rise. The beam has only its axis, tied to the mean of the section's u_z;
    adding the difference to crowns and nut on the beam avoids a step at the tie.
    """
    z, weight = tie.edge_points(body.neck, structure.outline.tie)
    share = tie.shear_weights(z, weight, assembly.young_width(structure, structure.outline.tie, z))
    swollen = z * np.where(z > 0.0, strain.board[1], strain.neck[1])
    return float(structure.outline.board_thickness * strain.board[1] - share @ swollen)


def unit_load(flexibility: Flexibility) -> Array:
    """Row forces of the free strains, (n,); zeros where the flexibility has no such row."""
    load = np.zeros(flexibility.size)
    load[flexibility.at.get(ROW, np.zeros(0, dtype=int))] = 1.0
    return load


def resized(values: Array, size: int) -> Array:
    """Row values without the row of free strain, or with zero there, (size,)."""
    return np.resize(np.append(values, 0.0), size) if len(values) != size else values
