"""Flexibility of the same neck on another block: the block alone is solved again
(docs/theory-joint.md, section 9).
"""

from dataclasses import replace

import numpy as np
import scipy.sparse as sp

from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.joint.across_width import ROWS
from fem.solve import assembly
from fem.solve.condensation import grounding
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.held_block import held_block
from fem.solve.widening import widened


def with_other_block(structure: Structure, fields: Fields, size: MeshSize) -> Flexibility | None:
    """Flexibility of an instrument that differs from the condensed one only in its block; without reactions.

    None if the block's cells leave the neck other cells or the pads other points.
    """
    bodies, was = assembly.bodies(structure, size, reuse=fields.bodies), fields.bodies
    plates = fields.plates
    same_points = all(
        np.array_equal(one.s, other.s) for one, other in zip(bodies.points, plates.points, strict=True)
    )
    if not same_points or not np.array_equal(bodies.neck.nodes, was.neck.nodes):
        return None
    joint = np.concatenate([plates.at[kind] for kind in ("opening", "slip", "bolt")])
    first = was.line.size + 2 * was.neck.size
    rows = sp.vstack([assembly.face_rows(structure, bodies), assembly.bolt_rows(structure, bodies)], "csr")
    change = held_block(structure, bodies.block, rows[:, first:])
    change -= fields.block_alone
    # displacements u = C (f - k D t) + D t under the force t = f - k u that passes the joint, D the change
    n = plates.size
    passed = (np.eye(n) - plates.matrix * plates.reference)[:, joint] @ change
    system = np.eye(n)
    system[:, joint] += passed * plates.reference[joint]
    load = plates.matrix.copy()
    load[:, joint] += passed
    found = np.linalg.solve(system, load)
    other = replace(plates, matrix=0.5 * (found + found.T), reactions=np.full((3, n), np.nan))
    return widened(other, structure, grounding=grounding(structure, plates.points), rows=ROWS)[0]
