"""Flexibility of the same meshed bodies with other pads and bolts: only changed rows are solved again
(docs/theory-joint.md, section 9).
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.geometry.hardware import Bolt
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.joint.across_width import ROWS
from fem.joint.shim_layer import PadPoints
from fem.solve import assembly
from fem.solve.condensation import grounding, neck_rigid_modes
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility, stiffened
from fem.solve.widening import widened


def updated_flexibility(structure: Structure, whole: Flexibility, fields: Fields) -> Flexibility:
    """Flexibility of an instrument that differs from the condensed one only in its pads and bolts, as many as
    before; without reactions.
    """
    was, flexibility = fields.structure, fields.plates
    pads = _changed([_footprint(one) for one in structure.pads], [_footprint(one) for one in was.pads])
    bolts = _changed([_grip(one) for one in structure.bolts], [_grip(one) for one in was.bolts])
    if not pads and not bolts:
        return whole
    moved = replace(
        structure,
        pads=tuple(structure.pads[k] for k in pads),
        bolts=tuple(structure.bolts[k] for k in bolts),
    )
    bodies = replace(fields.bodies, points=assembly.pad_points(moved, fields.bodies.block))
    fresh = _rows(moved, fields, bodies)
    matrix = _with_rows(flexibility.matrix, fresh, fields)
    rigid = np.concatenate([flexibility.rigid, fresh @ neck_rigid_modes(structure, fields.bodies)])
    reference = np.append(flexibility.reference, np.zeros(fresh.shape[0]))
    old, order, at = _order(flexibility, pads, bolts, bodies.points)
    if pads:
        faces = flexibility.size + np.arange(2 * sum(len(one.s) for one in bodies.points))
        # removes the old grounding springs and adds the new ones, as one change of stiffness
        reference[faces] = np.tile(grounding(structure, bodies.points), 2)
        acting = np.concatenate([old, faces])
        change = np.concatenate([-reference[old], reference[faces]])
        matrix = stiffened(matrix, acting, np.diag(change))
    matrix = matrix[np.ix_(order, order)]
    points = list(flexibility.points)
    for k, one in zip(pads, bodies.points, strict=True):
        points[k] = one
    plates = Flexibility(
        matrix=0.5 * (matrix + matrix.T),
        at=at,
        reference=reference[order],
        points=tuple(points),
        rigid=rigid[order],
        reactions=np.full((3, len(order)), np.nan),
    )
    return widened(plates, structure, grounding=grounding(structure, plates.points), rows=ROWS)[0]


def _changed(here: Sequence[object], before: Sequence[object]) -> list[int]:
    return [k for k, (one, other) in enumerate(zip(here, before, strict=True)) if one != other]


def _footprint(pad: Pad) -> tuple[str, float, float, float]:
    return pad.face, pad.start, pad.end, pad.bearing_width


def _grip(bolt: Bolt) -> Bolt:
    return replace(bolt, tension=0.0, young=0.0, diameter=0.0)


def _rows(moved: Structure, fields: Fields, bodies: assembly.Bodies) -> sp.csr_matrix:
    """Rows of the changed pads and bolts over all unknowns: openings, slips, elongations."""
    rows = []
    if moved.pads:
        rows.append(assembly.face_rows(moved, bodies))
    if moved.bolts:
        rows.append(assembly.bolt_rows(moved, fields.bodies))
    return sp.csr_matrix(sp.vstack(rows))


def _with_rows(matrix: Array, fresh: sp.csr_matrix, fields: Fields) -> Array:
    """The grounded flexibility with further rows appended."""
    free = sp.csr_matrix(fresh @ fields.transformation)
    beside = np.asarray(free @ fields.response)
    own = np.asarray(free @ fields.solve(free.T.toarray()))
    return np.block([[matrix, beside.T], [beside, own]])


def _order(
    flexibility: Flexibility, pads: list[int], bolts: list[int], points: tuple[PadPoints, ...]
) -> tuple[NDArray[np.int64], NDArray[np.int64], dict[str, NDArray[np.int64]]]:
    """Old rows of the changed pads; the new rows' order in the extended flexibility; rows by kind."""
    ends = np.cumsum([len(one.s) for one in flexibility.points])[:-1]
    new_ends = np.cumsum([len(one.s) for one in points])
    count = int(new_ends[-1]) if pads else 0
    chosen = dict(flexibility.at)
    old = []
    for kind, first in (("opening", flexibility.size), ("slip", flexibility.size + count)):
        parts = np.split(flexibility.at[kind], ends)
        for k, part in zip(pads, np.split(first + np.arange(count), new_ends[:-1]), strict=False):
            old.append(parts[k])
            parts[k] = part
        chosen[kind] = np.concatenate(parts)
    chosen["bolt"] = flexibility.at["bolt"].copy()
    chosen["bolt"][bolts] = flexibility.size + 2 * count + np.arange(len(bolts))
    last = np.cumsum([len(rows) for rows in chosen.values()])
    at = dict(zip(chosen, np.split(np.arange(last[-1]), last[:-1]), strict=True))
    return np.concatenate(old) if old else np.zeros(0, int), np.concatenate(list(chosen.values())), at
