"""The joint bolted up, for many necks at once, by the same law as `fem.solve.newton`.

The layer law is piecewise linear. For a given set of closed and slipping points the forces follow from one
linear system, of the closed points only; the movements it gives name the next set. That is the semismooth
Newton step with full length, and it ends exactly once the set repeats. Where sets go round in circles, later
steps go only part of their way; necks that do not settle even so are handed back as such.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.many.batch import Bench, Layers, taken, times

STABILISER = 1e-4
"""As in `fem.joint.shim_layer.traction`: share of the layers' stiffness along the face when seating."""
STEPS = 60
CAREFUL = 8
"""From this step on a step goes only part of its way."""
PART_WAY = 0.3
SLOW = 20
"""From this step on it goes half of that."""
SETTLED = 1e-12
"""Largest misfit of a movement [m]."""
SETTLED_SHEAR = 1e-4
"""Largest change of the stabiliser's forces from step to step [N]: worth about 1e-9 m of slip."""
RIGID = 1e30
"""Give [m/N] of a point that carries nothing: beside it every other one vanishes in the rounding."""
DONE_SHARE = 0.25
"""Settled necks leave the batch once they are this share of it: leaving costs a copy, staying a solve."""

Mask = NDArray[np.bool_]
Index = NDArray[np.int64]


def way(step: int) -> float:
    """Share of its way that a step goes."""
    return 1.0 if step < CAREFUL else (PART_WAY if step < SLOW else 0.5 * PART_WAY)


@dataclass(frozen=True)
class BoltedGuess:
    """Where the search begins, (points,) or (k, points): what each point would carry if its layer could pull,
    and the force on its slip [N].
    """

    carried: Array
    shear_force: Array


@dataclass(frozen=True)
class BoltedStates:
    """Joint tightened: its guess for a search on, slip (k, points) and elongation of the bolts (k, bolts)
    [m], all with their derivatives by the lower angle; crowns (k, frets) [m], and which settled.
    """

    at: BoltedGuess
    slip: Array
    elongation: Array
    at_by_lower: BoltedGuess
    slip_by_lower: Array
    elongation_by_lower: Array
    settled: Mask

    def ahead(self, by: Array) -> BoltedGuess:
        """The guess after changes of the lower angle (k,) [rad]."""
        at, rate = self.at, self.at_by_lower
        return BoltedGuess(
            at.carried + by[:, None] * rate.carried,
            at.shear_force + by[:, None] * rate.shear_force,
        )


def gathered(active: Mask) -> tuple[Index, Array]:
    """Positions of the active columns of each row, padded to the longest with inactive ones, and what is to
    be added to their diagonal: nothing, or so much that an inactive one comes out as nothing.
    """
    longest = int(active.sum(axis=1).max())
    place = np.argsort(~active, axis=1, kind="stable")[:, :longest]
    return place, np.where(np.take_along_axis(active, place, axis=1), 0.0, RIGID)


def picked(matrices: Array, rows: Index, columns: Index) -> Array:
    """``matrices[i, rows[i, a], columns[i, b]]`` for all i, a, b; a flat take is several times faster."""
    count, height, width = matrices.shape
    first = np.arange(0, count * height * width, height * width)[:, None]
    place = (first + rows * width)[:, :, None] + columns[:, None, :]
    return np.take(matrices.reshape(-1), place, mode="clip")


@dataclass
class _Batch:
    """The necks still in the search; arrays with one row a neck."""

    number: Index
    flexibility: Array
    law: Layers
    tension: Array
    force: Array
    shear_force: Array
    squeeze: Array
    rigid: Array
    by_lower: Array
    settled: Mask


_KEPT = ("force", "shear_force", "rigid", "by_lower", "settled")


def bolt_up_necks(
    on: Bench, flexibility: Array, law: Layers, tension: Array, *, guess: BoltedGuess
) -> BoltedStates:
    """Tighten the bolts: tensions (k, bolts) prescribed, no friction."""
    k, m = len(tension), on.points
    carried = np.broadcast_to(guess.carried, (k, m))
    batch = _Batch(
        number=np.arange(k),
        flexibility=flexibility,
        law=law,
        tension=tension,
        force=np.maximum(carried, 0.0),
        shear_force=np.broadcast_to(guess.shear_force, (k, m)).copy(),
        squeeze=carried * law.normal_compliance,
        rigid=np.zeros((k, 3)),
        by_lower=np.zeros((k, m + 3)),
        settled=np.zeros(k, dtype=bool),
    )
    kept = {name: getattr(batch, name).copy() for name in _KEPT}
    for step in range(STEPS):
        _step(on, batch, step)
        last = step == STEPS - 1 or bool(batch.settled.all())
        if last or batch.settled.mean() > DONE_SHARE:
            for name, values in kept.items():
                values[batch.number] = getattr(batch, name)
            if last:
                break
            batch = taken(batch, ~batch.settled)
    return _states(on, flexibility, law, tension, kept)


def _states(
    on: Bench, flexibility: Array, law: Layers, tension: Array, kept: dict[str, NDArray[Any]]
) -> BoltedStates:
    m, b = on.points, on.bolts
    force, shear_force, by_lower = kept["force"], kept["shear_force"], kept["by_lower"]
    joint = on.faces.stop
    forces = np.concatenate([-tension, force, shear_force], axis=1)
    (displacements,) = times(flexibility[:, :joint, :joint], forces)
    (rates,) = times(flexibility[:, :joint, b : b + m], by_lower[:, :m])
    displacements += kept["rigid"] @ on.rigid[:joint].T
    rates += by_lower[:, m:] @ on.rigid[:joint].T
    opening, slip = slice(b, b + m), slice(b + m, joint)
    carried = (law.interference - displacements[:, opening]) / law.normal_compliance
    return BoltedStates(
        at=BoltedGuess(carried, shear_force),
        slip=displacements[:, slip],
        elongation=displacements[:, :b],
        at_by_lower=BoltedGuess(
            (law.lift - rates[:, opening] - law.normal_compliance_by_lower * carried) / law.normal_compliance,
            -STABILISER / law.tangential_compliance * rates[:, slip],
        ),
        slip_by_lower=rates[:, slip],
        elongation_by_lower=rates[:, :b],
        settled=kept["settled"] & np.any(force > 0.0, axis=1),
    )


def _step(on: Bench, batch: _Batch, step: int) -> None:
    """Solve for the present sets and take the sets that the outcome names."""
    m, b, law = on.points, on.bolts, batch.law
    k, joint = len(batch.number), on.faces.stop
    rigid = on.rigid[:joint]
    opening, slip = slice(b, b + m), slice(b + m, joint)
    place, padding = gathered(batch.squeeze > 0.0)
    size, each = place.shape[1], np.arange(k)[:, None]
    system = np.zeros((k, size + 3, size + 3))
    system[:, :size, :size] = picked(batch.flexibility, place + b, place + b)
    corner = np.arange(size)
    system[:, corner, corner] += law.normal_compliance[each, place] + padding
    arm = rigid[opening][place]
    system[:, :size, size:] = arm
    system[:, size:, :size] = arm.transpose(0, 2, 1)
    forces = np.concatenate([-batch.tension, np.zeros((k, m)), batch.shear_force], axis=1)
    (other,) = times(batch.flexibility[:, opening, :joint], forces)
    right = np.zeros((k, size + 3, 2))
    right[:, :size, 0] = (law.interference - other)[each, place]
    # the derivative's small term with the forces takes those of the step before: exact once they repeat
    right[:, :size, 1] = (law.lift - law.normal_compliance_by_lower * batch.force)[each, place]
    right[:, size:, 0] = batch.tension @ rigid[:b] - batch.shear_force @ rigid[slip]
    found = np.linalg.solve(system, right)
    for column, target in ((0, batch.force), (1, batch.by_lower[:, :m])):
        target[:] = 0.0
        np.put_along_axis(target, place, np.where(padding, 0.0, found[:, :size, column]), axis=1)
    batch.rigid, batch.by_lower[:, m:] = found[:, size:, 0], found[:, size:, 1]
    forces[:, opening] = batch.force
    (displacements,) = times(batch.flexibility[:, on.faces, :joint], forces)
    displacements += batch.rigid @ rigid[b:].T
    squeeze = law.interference - displacements[:, :m]
    misfit = np.abs(np.maximum(squeeze, 0.0) - batch.force * law.normal_compliance)
    shear_force = -STABILISER / law.tangential_compliance * displacements[:, m:]
    lag = np.abs(shear_force - batch.shear_force).max(axis=1)
    batch.shear_force = shear_force
    batch.settled = (misfit.max(axis=1) < SETTLED) & (lag < SETTLED_SHEAR)
    batch.squeeze += way(step) * (squeeze - batch.squeeze)
