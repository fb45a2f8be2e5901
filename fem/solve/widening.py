"""From one contact point across a pad to rows of them: the condensed plates with the local compliance of
neck, block and bolts in series (docs/theory-joint.md, sections 5 and 9).

The plates' rows ``r`` and the rows ``o`` of the widened joint carry the same forces ``t``:
``o = E r + Y t``, where E repeats an opening in its rows and Y is the local compliance.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.joint.across_width import bodies, row_compliance, side_of
from fem.joint.bolt_pinch import pinch
from fem.joint.shim_layer import PadPoints
from fem.solve import assembly
from fem.solve.flexibility import Flexibility, stiffened

NECK_PART = {"heel": "heel", "tongue": "tongue", "end": "tongue"}
"""Part of the neck that a pad on each face indents."""
LOCAL_MODULUS = {"heel": "neck across", "tongue": "neck across", "block": "block across"}
"""Modulus that the local compliance of each part belongs to."""


def local_compliance(structure: Structure, points: tuple[PadPoints, ...]) -> dict[str, Array]:
    """Local compliance of ``heel``, ``tongue`` and ``block`` over openings, slips and bolts, each symmetric
    [m/N].
    """
    counts = [len(at.row_areas) for at in points]
    openings, slips = sum(counts), sum(len(at.s) for at in points)
    parts = {
        name: np.zeros((openings + slips + len(structure.bolts),) * 2) for name in ("heel", "tongue", "block")
    }
    first, first_slip = 0, openings
    for pad, at, count in zip(structure.pads, points, counts, strict=True):
        bearing = assembly.bearing(structure, pad, at.s)
        here, slid = np.arange(first, first + count), np.arange(first_slip, first_slip + len(at.s))
        first, first_slip = first + count, first_slip + len(at.s)
        length = at.area / bearing
        for body in bodies(structure, pad, at.s, bearing):
            part, side = parts["block" if body.part == "block" else NECK_PART[pad.face]], side_of(body)
            for rows, face, shares in ((here, side.pressure, at.rows), (slid, side.shear, np.ones(1))):
                part[np.ix_(rows, rows)] += row_compliance(
                    side, face, at.s, length, bearing=bearing, rows=shares
                )
            for number, bolt in enumerate(structure.bolts):
                if bolt.face == pad.face:
                    row = openings + slips + number
                    column, own = pinch(bolt, body, at.s, bearing=bearing, rows=at.rows)
                    part[here, row] += column
                    part[row, here] += column
                    part[row, row] += own
    return parts


@dataclass(frozen=True)
class Widening:
    """A condensed instrument's way from its widened rows to its plates.

    ``spread`` (n, plates) repeats the plates' rows, ``plates`` (plates, n) are row forces on the grounded
    plates per row force, ``carried`` (joint, n) the forces that pass the local compliance ``local``, by part,
    see `local_compliance`.
    """

    spread: Array
    plates: Array
    carried: Array
    local: dict[str, Array]


def widened(
    plates: Flexibility, structure: Structure, *, grounding: Array, rows: Array
) -> tuple[Flexibility, Widening]:
    """The flexibility with rows of contact points, from that of the plates with one each.

    ``grounding`` (points,) are the springs of the plates' openings and slips; ``rows`` see `PadPoints`.
    """
    points = tuple(replace(at, rows=rows) for at in plates.points)
    at, spread = _places(plates, len(rows))
    local = local_compliance(structure, points)
    joint = np.concatenate([at["opening"], at["slip"], at["bolt"]])
    compliance = sum(local.values(), np.zeros((len(joint), len(joint))))
    share = np.tile(rows, len(grounding))
    springs = np.concatenate([np.repeat(grounding, len(rows)) * share, grounding])
    reference = np.zeros(len(spread))
    reference[joint[: len(springs)]] = springs
    k = reference[joint]
    # H = (1 + k Y)^-1: the part of a row's force that passes to the plates; W = H k in series with them
    passed = np.linalg.inv(np.eye(len(joint)) + k[:, None] * compliance)
    series = passed * k
    before = np.concatenate([plates.at["opening"], plates.at["slip"]])
    narrow = spread[np.ix_(joint, before)]
    change = narrow.T @ series @ narrow - np.diag(plates.reference[before])
    softer = stiffened(plates.matrix, before, change)
    whole = np.eye(len(spread))
    whole[np.ix_(joint, joint)] = passed
    load = spread.T @ whole
    found = load.T @ softer @ load
    found[np.ix_(joint, joint)] += compliance @ passed
    moved = softer @ load
    on_plates = load.copy()
    on_plates[before] -= change @ moved[before]
    carried = whole[joint] - series @ (spread[joint] @ moved)
    flexibility = Flexibility(
        matrix=0.5 * (found + found.T),
        at=at,
        reference=reference,
        points=points,
        rigid=spread @ plates.rigid,
        reactions=plates.reactions @ on_plates,
    )
    return flexibility, Widening(spread, on_plates, carried, local)


def _places(plates: Flexibility, rows: int) -> tuple[dict[str, NDArray[np.int64]], Array]:
    """Numbers of the widened rows by kind, and the matrix that repeats each opening in its rows."""
    more = (rows - 1) * len(plates.at["opening"])
    counts = np.ones(plates.size, dtype=int)
    counts[plates.at["opening"]] = rows
    spread = np.repeat(np.eye(plates.size), counts, axis=0)
    first = np.cumsum(counts) - counts
    at = {kind: first[places] for kind, places in plates.at.items() if kind != "opening"}
    opening = first[plates.at["opening"]][:, None] + np.arange(rows)
    assert len(spread) == plates.size + more
    return {"opening": opening.ravel(), **at}, spread
