"""The same meshed bodies joined by other pads and bolts: only rows that moved are solved anew
(docs/theory.md, section 9).
"""

from dataclasses import replace

import numpy as np
import scipy.sparse as sp

from fem import assembly
from fem.bolt import Bolt
from fem.flexibility import Fields, Flexibility, grounding, neck_rigid_modes, stiffened
from fem.interface import Pad
from fem.structure import Structure


def rejoined(structure: Structure, flexibility: Flexibility, fields: Fields) -> Flexibility:
    """Flexibility of an instrument that differs in pads and bolts only from the one that was condensed.

    Energies of the parts and reactions are left out, since they hold the old rows.
    """
    fresh: dict[str, sp.csr_matrix] = {}
    bodies = fields.bodies
    moved = _footprints(structure.pads) != _footprints(fields.structure.pads)
    if moved:
        bodies = replace(bodies, points=assembly.pad_points(structure, bodies.block))
        faces = assembly.face_rows(structure, bodies)
        faces.resize(faces.shape[0], fields.bodies.size)
        half = faces.shape[0] // 2
        fresh = {"opening": faces[:half], "slip": faces[half:]}
    if _grips(structure.bolts) != _grips(fields.structure.bolts):
        fresh["bolt"] = assembly.bolt_rows(structure, fields.bodies)
    if not fresh:
        return flexibility

    modes = neck_rigid_modes(structure, fields.bodies)
    rows, response, rigid, at, first = [], [], [], {}, 0
    for kind, old in flexibility.at.items():
        if kind in fresh:
            rows.append(sp.csr_matrix(fresh[kind] @ fields.transformation))
            response.append(fields.solve(rows[-1].T.toarray()))
            rigid.append(fresh[kind] @ modes)
        else:
            rows.append(fields.rows[old])
            response.append(fields.response[:, old])
            rigid.append(flexibility.rigid[old])
        at[kind] = np.arange(first, first + rows[-1].shape[0])
        first += rows[-1].shape[0]

    # the old springs under the pads are taken away and the new ones put in, as one change of stiffness
    sprung = np.flatnonzero(flexibility.reference)
    reference = np.zeros(first)
    own = np.concatenate([at["opening"], at["slip"]])
    reference[own] = np.tile(grounding(structure, bodies.points), 2)
    if moved:
        rows.append(fields.rows[sprung])
        response.append(fields.response[:, sprung])
    matrix = np.asarray(sp.vstack(rows) @ np.hstack(response))
    if moved:
        if bodies.spreads:
            # what the block yields under the new points moves nothing else
            matrix[np.ix_(own, own)] += assembly.yielding(structure, bodies)
        change = np.concatenate([reference, -flexibility.reference[sprung]])
        acting = np.flatnonzero(change)
        matrix = stiffened(matrix, acting, np.diag(change[acting]))[:first, :first]
    return Flexibility(
        matrix=0.5 * (matrix + matrix.T),
        at=at,
        reference=reference,
        points=bodies.points,
        rigid=np.concatenate(rigid),
        budget={},
        modulus={},
        reactions=np.full((3, first), np.nan),
    )


def _footprints(pads: tuple[Pad, ...]) -> list[tuple[str, float, float, float]]:
    return [(one.face, one.start, one.end, one.bearing_width) for one in pads]


def _grips(bolts: tuple[Bolt, ...]) -> list[Bolt]:
    return [replace(one, tension=0.0, young=0.0) for one in bolts]
