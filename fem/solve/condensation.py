"""Condensation: the whole instrument as one dense flexibility between the few loaded or read rows.

Everything nonlinear or adjustable (shim layers, friction, bolts, string tension, rod setting, body) acts
through these rows, so all searches solve about two hundred unknowns (docs/theory-joint.md, section 9).
"""

from dataclasses import replace

import numpy as np
import scipy.sparse as sp

from fem.errors import ModelError
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.joint.across_width import ROWS
from fem.joint.shim_layer import PadPoints
from fem.members import tie
from fem.solve import assembly
from fem.solve.assembly import Bodies
from fem.solve.factorisation import factored
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.widening import widened

REFERENCE_LENGTH = 0.01
"""Length of neck wood, loaded along its grain, as stiff as the grounding springs at interface points [m]."""


def neck_rigid_modes(structure: Structure, body: Bodies) -> Array:
    """Unit x, z and rotation (positive lifts the nut) of neck and beam about the joint corner, (size, 3)."""
    xj, zc = structure.outline.corner
    modes = np.zeros((body.size, 3))
    u, w, t = (body.line.dof[name] for name in ("u", "w", "t"))
    # inner unknowns, in order: u's P2 middle, a value; w's two P3 bubbles, zero; theta's P2 middle
    u_inner, _, _, t_inner = body.line.basis.dofs.interior_dofs
    u, t = np.append(u, u_inner), np.append(t, t_inner)
    modes[u, 0] = 1.0
    modes[w, 1] = 1.0
    modes[u, 2] = -zc
    modes[w, 2] = -(body.line.x - xj)
    modes[t, 2] = -1.0
    x, z = body.neck.nodes
    along = body.line.size + np.arange(body.neck.size)
    up = along + body.neck.size
    modes[along, 0] = 1.0
    modes[up, 1] = 1.0
    modes[along, 2] = z - zc
    modes[up, 2] = -(x - xj)
    return modes


def condense(
    structure: Structure, size: MeshSize, *, reuse: Bodies | None = None
) -> tuple[Flexibility, Fields]:
    """Mesh, assemble and condense an instrument.

    The beam and section constants of ``reuse``, bodies with the same shaft, serve again.

    Raises `ModelError`: the block is not held, or the grounded system is singular.
    """
    _complete(structure)
    body = assembly.bodies(structure, size, reuse=reuse)
    pieces = assembly.stiffness_pieces(structure, body)
    rows = assembly.reading_rows(structure, body)
    q = assembly.link(structure, body)
    matrix = sp.csr_matrix(rows.matrix @ q)
    n = matrix.shape[0]

    reference = np.zeros(n)
    for between in ("opening", "slip"):
        reference[rows.at[between]] = grounding(structure, rows.points)
    whole = assembly.whole_stiffness(body, pieces)
    grounded = sp.csc_matrix(q.T @ whole @ q + matrix.T @ sp.diags(reference) @ matrix)
    solve = factored(grounded)
    response = solve(matrix.T.toarray())
    plates = Flexibility(
        matrix=_symmetric(matrix @ response),
        at=rows.at,
        reference=reference,
        points=rows.points,
        rigid=rows.matrix @ neck_rigid_modes(structure, body),
        reactions=_reactions(structure, body, whole, q) @ response,
    )
    flexibility, widening = widened(plates, structure, grounding=grounding(structure, rows.points), rows=ROWS)
    fields = Fields(
        structure, body, pieces, rows.matrix, q, response, whole, matrix, solve, plates, widening, flexibility
    )
    return replace(flexibility, moduli=lambda: fields.other_moduli), fields


def grounding(structure: Structure, points: tuple[PadPoints, ...]) -> Array:
    """Stiffness of the grounding springs at all interface points, for opening and slip alike, (points,)."""
    area = np.concatenate([one.area for one in points])
    return np.asarray(structure.neck.section.young * area / REFERENCE_LENGTH)


def _complete(structure: Structure) -> None:
    for name, given in (("shim", structure.pads), ("bolt", structure.bolts), ("held edge", structure.held)):
        if not given:
            raise ModelError(
                f"The structure has no {name}: nothing would hold the neck to the body. Give at least one."
            )


def _symmetric(matrix: Array) -> Array:
    return 0.5 * (matrix + matrix.T)


def _reactions(
    structure: Structure, body: Bodies, whole: sp.csr_matrix, link: sp.csr_matrix
) -> sp.csr_matrix:
    """Resultants of ``K u`` on the block's held edges, where no row acts, so that ``K u`` is the reaction;
    (3, free).
    """
    held = tie.held_nodes(body.block, structure.outline, structure.block, structure.held)
    first = body.line.size + 2 * body.neck.size
    x, z = body.block.nodes
    xj, zc = structure.outline.corner
    resultant = np.zeros((3, body.size))
    resultant[0, first + held] = 1.0
    resultant[1, first + body.block.size + held] = 1.0
    resultant[2, first + held] = z[held] - zc
    resultant[2, first + body.block.size + held] = -(x[held] - xj)
    return sp.csr_matrix(resultant) @ whole @ link
