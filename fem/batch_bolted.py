"""The joint bolted up, for many necks at once, by the same law as `fem.newton`.

The layer law is piecewise linear. For a given set of closed and slipping points the forces follow from one
linear system, of the closed points only; the movements it gives name the next set. That is the semismooth
Newton step with full length, and it ends exactly once the set repeats. Where sets go round in circles, later
steps go only part of their way; necks that do not settle even so are handed back as such.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.batch import Bench, Layers, taken
from fem.outline import Array

STABILISER = 1e-4
"""As in `fem.interface.traction`: share of the layers' stiffness along the face when seating."""
STEPS = 60
CAREFUL = 3
"""From this step on a step goes only part of its way."""
PART_WAY = 0.3
SLOW = 15
"""From this step on it goes half of that."""
SETTLED = 1e-12
"""Largest misfit of a movement [m]."""
SETTLED_DRAG = 1e-4
"""Largest change of the stabiliser's forces from step to step [N]: worth about 1e-11 m."""
DONE_SHARE = 0.25
"""Settled necks leave the batch once they are this share of it: leaving costs a copy, staying a solve."""

Mask = NDArray[np.bool_]
Index = NDArray[np.int64]


def way(step: int) -> float:
    """Share of its way that a step goes."""
    return 1.0 if step < CAREFUL else (PART_WAY if step < SLOW else 0.5 * PART_WAY)


@dataclass(frozen=True)
class BoltedStates:
    """Joint tightened: forces on openings and slips (k, points) [N], slip (k, points) and elongation of the
    bolts (k, bolts) [m], their derivatives by the lower angle, crowns (k, frets) [m], and which settled.
    """

    opening_force: Array
    slip_force: Array
    slip: Array
    elongation: Array
    slip_by_lower: Array
    elongation_by_lower: Array
    crowns: Array
    settled: Mask


def gathered(active: Mask) -> tuple[Index, Mask]:
    """Positions of the active columns of each row, padded to the longest with inactive ones, and which are
    real.
    """
    longest = int(active.sum(axis=1).max())
    place = np.argsort(~active, axis=1, kind="stable")[:, :longest]
    return place, np.take_along_axis(active, place, axis=1)


def picked(matrices: Array, rows: Index, columns: Index) -> Array:
    """``matrices[i, rows[i, a], columns[i, b]]`` for all i, a, b; a flat take is several times faster."""
    count, height, width = matrices.shape
    first = np.arange(0, count * height * width, height * width)[:, None, None]
    return np.take(matrices.reshape(-1), first + rows[:, :, None] * width + columns[:, None, :])


@dataclass
class _Batch:
    """The necks still in the search; arrays with one row a neck."""

    number: Index
    faces: Array
    law: Layers
    tension: Array
    force: Array
    drag: Array
    closed: Mask
    rigid: Array
    by_lower: Array
    settled: Mask
    squeeze: Array


def bolt_up(
    on: Bench, flexibility: Array, law: Layers, tension: Array, *, guess: tuple[Array, Array]
) -> BoltedStates:
    """Tighten the bolts: tensions (k, bolts) prescribed, no friction.

    ``guess`` holds forces on openings and slips to start from, (points,) or (k, points).
    """
    k, m, b = len(tension), on.points, on.bolts
    force = np.broadcast_to(guess[0], (k, m)).copy()
    drag = np.broadcast_to(guess[1], (k, m)).copy()
    batch = _Batch(
        number=np.arange(k),
        faces=np.ascontiguousarray(flexibility[:, on.faces, : b + 2 * m]),
        law=law,
        tension=tension,
        force=force.copy(),
        drag=drag.copy(),
        closed=force > 0.0,
        rigid=np.zeros((k, 3)),
        by_lower=np.zeros((k, m + 3)),
        settled=np.zeros(k, dtype=bool),
        squeeze=np.zeros((k, m)),
    )
    rigid, by_lower, settled = np.zeros((k, 3)), np.zeros((k, m + 3)), np.zeros(k, dtype=bool)
    for step in range(STEPS):
        _step(on, batch, step)
        last = step == STEPS - 1 or bool(batch.settled.all())
        if last or batch.settled.mean() > DONE_SHARE:
            out = batch.number
            force[out], drag[out], rigid[out] = batch.force, batch.drag, batch.rigid
            by_lower[out], settled[out] = batch.by_lower, batch.settled
            if last:
                break
            batch = taken(batch, ~batch.settled)
    everything = np.concatenate([-tension, force, drag], axis=1)
    read = flexibility[:, :, : b + 2 * m]
    moves = np.matmul(read, everything[:, :, None])[:, :, 0] + rigid @ on.rigid.T
    rates = np.matmul(read[:, :, b : b + m], by_lower[:, :m, None])[:, :, 0] + by_lower[:, m:] @ on.rigid.T
    slip, crown = slice(b + m, b + 2 * m), on.at["crown"]
    return BoltedStates(
        opening_force=force,
        slip_force=drag,
        slip=moves[:, slip],
        elongation=moves[:, :b],
        slip_by_lower=rates[:, slip],
        elongation_by_lower=rates[:, :b],
        crowns=moves[:, crown],
        settled=settled & np.any(force > 0.0, axis=1),
    )


def _step(on: Bench, batch: _Batch, step: int) -> None:
    """Solve for the present sets and take the sets that the outcome names."""
    m, b, law = on.points, on.bolts, batch.law
    k = len(batch.number)
    rigid = on.rigid[: b + 2 * m]
    opening, slip = slice(b, b + m), slice(b + m, b + 2 * m)
    place, real = gathered(batch.closed)
    size = place.shape[1]
    system = np.zeros((k, size + 3, size + 3))
    system[:, :size, :size] = picked(batch.faces, place, place + b) * (real[:, :, None] & real[:, None, :])
    corner, each = np.arange(size), np.arange(k)[:, None]
    system[:, corner, corner] += np.where(real, law.give[each, place], 1.0)
    arm = rigid[opening][place] * real[:, :, None]
    system[:, :size, size:] = arm
    system[:, size:, :size] = arm.transpose(0, 2, 1)
    everything = np.concatenate([-batch.tension, np.zeros((k, m)), batch.drag], axis=1)
    other = np.matmul(batch.faces[:, :m], everything[:, :, None])[:, :, 0]
    right = np.zeros((k, size + 3, 2))
    right[:, :size, 0] = real * (law.interference - other)[each, place]
    # the derivative's small term with the forces takes those of the step before: exact once they repeat
    right[:, :size, 1] = real * (law.lift - law.give_by_lower * batch.force)[each, place]
    right[:, size:, 0] = batch.tension @ rigid[:b] - batch.drag @ rigid[slip]
    found = np.linalg.solve(system, right)
    for column, target in ((0, batch.force), (1, batch.by_lower[:, :m])):
        target[:] = 0.0
        np.put_along_axis(target, place, found[:, :size, column] * real, axis=1)
    batch.rigid, batch.by_lower[:, m:] = found[:, size:, 0], found[:, size:, 1]
    everything[:, opening] = batch.force
    moves = np.matmul(batch.faces, everything[:, :, None])[:, :, 0] + batch.rigid @ rigid[b:].T
    squeeze = law.interference - moves[:, :m]
    misfit = np.abs(np.maximum(squeeze, 0.0) - batch.force * law.give)
    drag = -STABILISER / law.slide * moves[:, m:]
    lag = np.abs(drag - batch.drag).max(axis=1)
    batch.drag = drag
    batch.settled = (misfit.max(axis=1) < SETTLED) & (lag < SETTLED_DRAG)
    batch.squeeze += way(step) * (squeeze - batch.squeeze)
    batch.closed = batch.squeeze > 0.0
