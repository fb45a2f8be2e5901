"""The joint bolted up, for many necks at once: bolt tensions prescribed, no friction, no strings."""

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.joint.shim_layer import STABILISER
from fem.many.batch import Bench, Index, Layers, Mask, times
from fem.many.search import RIGID, SETTLED, search

SETTLED_SHEAR = 1e-4
"""Largest change of the stabiliser's forces from step to step [N]: about 1e-9 m of slip."""


@dataclass(frozen=True)
class BoltedGuess:
    """Start of a search, (points,) or (k, points): force of a point that could pull, and shear force [N]."""

    carried: Array
    shear_force: Array


@dataclass(frozen=True)
class BoltedStates:
    """The bolted joint: start of a further search, slip (k, points) and bolt elongation (k, bolts) [m], with
    derivatives by the lower angle; and which necks settled.
    """

    at: BoltedGuess
    slip: Array
    elongation: Array
    at_by_lower: BoltedGuess
    slip_by_lower: Array
    elongation_by_lower: Array
    settled: Mask

    def ahead(self, by: Array) -> BoltedGuess:
        """Linear prediction after changes of the lower angle (k,) [rad]."""
        at, rate = self.at, self.at_by_lower
        return BoltedGuess(
            at.carried + by[:, None] * rate.carried,
            at.shear_force + by[:, None] * rate.shear_force,
        )


@dataclass
class _BoltedBatch:
    """See `fem.many.search.Batch`."""

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


def bolt_up_necks(
    on: Bench, flexibility: Array, law: Layers, tension: Array, *, guess: BoltedGuess
) -> BoltedStates:
    """Tighten the bolts: prescribed tensions (k, bolts) [N], no friction."""
    k, m = len(tension), on.points
    carried = np.broadcast_to(guess.carried, (k, m))
    batch = _BoltedBatch(
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
    kept = search(
        batch, partial(_bolt_step, on), kept=("force", "shear_force", "rigid", "by_lower", "settled")
    )
    return _bolted_states(on, flexibility, law, tension, kept)


def _bolted_states(
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


def _bolt_step(on: Bench, batch: _BoltedBatch, damping: float) -> None:
    """Solve for the closed points and update them."""
    m, b, law = on.points, on.bolts, batch.law
    k, joint = len(batch.number), on.faces.stop
    rigid = on.rigid[:joint]
    opening, slip = slice(b, b + m), slice(b + m, joint)
    closed, corner = batch.squeeze > 0.0, np.arange(m)
    system = np.zeros((k, m + 3, m + 3))
    system[:, :m, :m] = batch.flexibility[:, opening, opening]
    system[:, corner, corner] += np.where(closed, law.normal_compliance, RIGID)
    system[:, :m, m:], system[:, m:, :m] = rigid[opening], rigid[opening].T
    forces = np.concatenate([-batch.tension, np.zeros((k, m)), batch.shear_force], axis=1)
    (other,) = times(batch.flexibility[:, opening, :joint], forces)
    right = np.zeros((k, m + 3, 2))
    right[:, :m, 0] = law.interference - other
    # the small term with the forces uses those of the previous step: exact once they repeat
    right[:, :m, 1] = law.lift - law.normal_compliance_by_lower * batch.force
    right[:, m:, 0] = batch.tension @ rigid[:b] - batch.shear_force @ rigid[slip]
    found = np.linalg.solve(system, right)
    batch.force[:] = np.where(closed, found[:, :m, 0], 0.0)
    batch.by_lower[:] = found[:, :, 1]
    batch.by_lower[:, :m] *= closed
    batch.rigid[:] = found[:, m:, 0]
    forces[:, opening] = batch.force
    (displacements,) = times(batch.flexibility[:, on.faces, :joint], forces)
    displacements += batch.rigid @ rigid[b:].T
    squeeze = law.interference - displacements[:, :m]
    misfit = np.abs(np.maximum(squeeze, 0.0) - batch.force * law.normal_compliance)
    shear_force = -STABILISER / law.tangential_compliance * displacements[:, m:]
    lag = np.abs(shear_force - batch.shear_force).max(axis=1)
    batch.shear_force = shear_force
    batch.settled = (misfit.max(axis=1) < SETTLED) & (lag < SETTLED_SHEAR)
    batch.squeeze += damping * (squeeze - batch.squeeze)
