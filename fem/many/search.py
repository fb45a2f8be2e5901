"""The search that both steps of a batch share: solve for the present contact sets, take the sets that the
outcome names, until they repeat.

The layer law is piecewise linear. For a given set of closed and slipping points the forces follow from one
linear system; its displacements name the next set. This is the semismooth Newton method of
`fem.solve.newton` with full steps, and it ends exactly once the set repeats. Where sets go round in a cycle,
later steps are damped; necks that do not settle even so are reported as unsettled.

The unknowns differ from those of `fem.solve.newton`: forces of the closed points only instead of
displacements of all points. These systems are a third as large and need no grounding springs, which is what
makes a batch fast; so the batch writes the return mapping of `fem.joint.shim_layer.traction` for compliances
once more, in `fem.many.strung`. Tests hold the two together.
"""

from collections.abc import Callable
from typing import Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.many.batch import Index, Mask, taken

STEPS = 60
DAMPED_FROM = 8
"""First damped step."""
DAMPING = 0.3
SLOW_FROM = 20
"""From this step on the damping factor is halved."""
SETTLED = 1e-12
"""Largest error of a displacement [m]."""
RIGID = 1e30
"""Compliance [m/N] of a point without force: every other one vanishes beside it in rounding."""
DONE_SHARE = 0.25
"""Settled necks leave the batch once they are this share of it: leaving costs a copy, staying a solve."""


class Batch(Protocol):
    """The necks still in a search; arrays with one row per neck."""

    number: Index
    settled: Mask


AnyBatch = TypeVar("AnyBatch", bound=Batch)


def search(
    whole: AnyBatch, step: Callable[[AnyBatch, float], None], *, kept: tuple[str, ...]
) -> dict[str, NDArray[Any]]:
    """Repeat ``step(batch, damping)`` until all necks have settled; the fields ``kept`` of all necks.

    The step changes the batch in place; a damping of 1 is a full step.
    """
    found = {name: getattr(whole, name).copy() for name in kept}
    batch = whole
    for count in range(STEPS):
        step(batch, 1.0 if count < DAMPED_FROM else (DAMPING if count < SLOW_FROM else 0.5 * DAMPING))
        last = count == STEPS - 1 or bool(batch.settled.all())
        if last or batch.settled.mean() > DONE_SHARE:
            for name, values in found.items():
                values[batch.number] = getattr(batch, name)
            if last:
                break
            batch = taken(batch, ~batch.settled)
    return found


def gathered(active: Mask) -> tuple[Index, Array]:
    """Positions of the active columns of each row, padded to the longest with inactive ones, and the
    addition to their diagonal: zero, or `RIGID` for an inactive one.
    """
    longest = int(active.sum(axis=1).max())
    place = np.argsort(~active, axis=1, kind="stable")[:, :longest]
    return place, np.where(np.take_along_axis(active, place, axis=1), 0.0, RIGID)
