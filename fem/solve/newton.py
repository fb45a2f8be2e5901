"""Semismooth Newton method on the condensed system (docs/theory-joint.md, section 9).

The layer law is piecewise linear, so the iteration ends exactly once the contact state is right.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fem.errors import ContactLostError, ConvergenceError
from fem.geometry.outline import Array
from fem.joint.shim_layer import Layer, Traction, traction

_STEPS = 60
_SWEEPS = 40
_NEAR = 1e-8
"""Change of any displacement between sweeps below which the direct iteration takes over [m]."""


@dataclass(frozen=True)
class Condition:
    """An equation that fixes one setting: ``row @ displacements + constant + by_setting @ settings = value``,
    where ``row, constant = at(displacements)``.
    """

    at: Callable[[Array], tuple[Array, float]]
    by_setting: Array
    value: float


@dataclass(frozen=True)
class Problem:
    """``displacements = base + columns @ settings + C[:, active] @ force(displacements)`` with one condition
    for each setting.

    Attributes
    ----------
    c : (n, n) flexibility [m/N and mixed]; ``base`` (n,) displacement under the given loads; ``columns``
      (n, k) per unit setting.
    opening, slip, bolt : row numbers.
    reference : grounding springs of openings and slips [N/m], which the forces cancel.
    stuck_at, cap : see `fem.joint.shim_layer.traction`.
    locked, bolt_stiffness : bolt force ``locked + bolt_stiffness * elongation`` [N], [N/m].
    """

    c: Array
    base: Array
    columns: Array
    conditions: tuple[Condition, ...]
    opening: NDArray[np.int64]
    slip: NDArray[np.int64]
    bolt: NDArray[np.int64]
    reference: Array
    law: Layer
    stuck_at: Array | None
    locked: Array
    bolt_stiffness: Array
    cap: Array | None = None

    @cached_property
    def active(self) -> NDArray[np.int64]:
        """Rows of the joint's forces: openings, slips, bolts."""
        return np.concatenate([self.opening, self.slip, self.bolt])

    @cached_property
    def by_active(self) -> Array:
        """Displacement of all rows per force on the active ones, (n, active)."""
        return self.c[:, self.active]

    def evaluate(self, displacements: Array, settings: Array) -> tuple[Array, Array, Traction]:
        """Displacements under the forces at ``displacements``; these forces; the contact."""
        opening, slip = displacements[self.opening], displacements[self.slip]
        contact = traction(self.law, opening, slip, stuck_at=self.stuck_at, cap=self.cap)
        bolt = self.locked + self.bolt_stiffness * displacements[self.bolt]
        of_rows, of_points = np.split(self.reference, [len(opening)])
        force = np.concatenate(
            [contact.push + of_rows * opening, of_points * slip - contact.shear_force, -bolt]
        )
        return self.base + self.columns @ settings + self.by_active @ force, force, contact


@dataclass(frozen=True)
class Solution:
    """Solution: displacements of all rows, forces on the active rows, contact, settings, number of steps."""

    displacements: Array
    force: Array
    contact: Traction
    settings: Array
    steps: int


def response_to(problem: Problem, contact: Traction) -> Array:
    """Derivative of `Problem.evaluate`'s displacements by those of the active rows, (n, active)."""
    n, m = len(problem.opening), len(problem.slip)
    by_opening, by_slip, by_bolt = np.split(problem.by_active, [n, n + m], axis=1)
    by_drag = np.repeat(by_slip, n // m, axis=1)
    ground = problem.reference[n:]
    return np.concatenate(
        [
            by_opening * (contact.push_by_opening + problem.reference[:n])
            - by_drag * contact.shear_by_opening,
            by_slip * (ground - contact.shear_by_slip),
            by_bolt * -problem.bolt_stiffness,
        ],
        axis=1,
    )


def _residual(
    problem: Problem, displacements: Array, settings: Array
) -> tuple[Array, Array, Array, Array, Traction]:
    result, force, contact = problem.evaluate(displacements, settings)
    k = len(problem.conditions)
    rows, off = np.zeros((k, len(result))), np.zeros(k)
    for i, condition in enumerate(problem.conditions):
        rows[i], constant = condition.at(result)
        off[i] = rows[i] @ result + constant + condition.by_setting @ settings - condition.value
    misfit = np.concatenate([displacements[problem.active] - result[problem.active], off])
    return misfit, result, rows, force, contact


def solve(problem: Problem, *, displacements: Array, settings: Array, tolerance: float = 1e-13) -> Solution:
    """Solve for displacements (n,) and settings (k,) from a start, to an error of ``tolerance`` [m].

    If the contact does not settle because friction follows the push, sweeps with friction from the push of
    the sweep before lead to a start from which it does; the equilibrium is the same.

    Raises `ContactLostError`: no interface point carries pressure at the end; `ConvergenceError`: the contact
    state does not settle.
    """
    try:
        return _newton(problem, displacements, settings, tolerance)
    except ConvergenceError:
        if problem.stuck_at is None:
            raise
    opening, slip = displacements[problem.opening], displacements[problem.slip]
    push = traction(problem.law, opening, slip, stuck_at=problem.stuck_at).push
    for _ in range(_SWEEPS):
        frozen = replace(problem, cap=problem.law.friction * push.reshape(len(slip), -1).sum(axis=1))
        found = _newton(frozen, displacements, settings, tolerance)
        change = float(np.max(np.abs(found.displacements - displacements)))
        displacements, settings, push = found.displacements, found.settings, found.contact.push
        if change < _NEAR:
            break
    return _newton(problem, displacements, settings, tolerance)


def _newton(problem: Problem, displacements: Array, settings: Array, tolerance: float) -> Solution:
    """Newton iteration from one start."""
    active = problem.active
    k = len(problem.conditions)
    displacements, settings = displacements.copy(), settings.copy()
    residual, result, rows, force, contact = _residual(problem, displacements, settings)
    for step in range(_STEPS):
        size = float(np.max(np.abs(residual)))
        if size < tolerance:
            if not contact.closed.any():
                raise ContactLostError(
                    "No shim carries pressure: the joint has come apart. "
                    "Tighten the bolts, or lower the string tension."
                )
            return Solution(result, force, contact, settings, step)
        response = np.concatenate([response_to(problem, contact), problem.columns], axis=1)
        jacobian = np.zeros((len(residual), len(residual)))
        jacobian[: len(active)] = -response[active]
        jacobian[: len(active), : len(active)] += np.eye(len(active))
        jacobian[len(active) :] = rows @ response
        if k:
            jacobian[len(active) :, len(active) :] += np.stack([c.by_setting for c in problem.conditions])
        try:
            change = np.linalg.solve(jacobian, -residual)
        except np.linalg.LinAlgError:
            break
        share = 1.0
        while True:
            tried, tried_settings = displacements.copy(), settings + share * change[len(active) :]
            tried[active] += share * change[: len(active)]
            outcome = _residual(problem, tried, tried_settings)
            if np.max(np.abs(outcome[0])) < (1.0 - 0.1 * share) * size or share < 0.05:
                break
            share *= 0.5
        displacements, settings = tried, tried_settings
        residual, result, rows, force, contact = outcome
    if int(np.argmax(np.abs(residual))) >= len(active):
        raise ConvergenceError(
            f"No setting of rod and saddle was found: relief or string height still miss their target by "
            f"{1e6 * np.max(np.abs(residual)):.3g} micrometres after {_STEPS} steps. "
            "Choose another relief, lighter strings or a stiffer neck."
        )
    raise ConvergenceError(
        f"The joint did not settle: the contact still changes by {1e6 * np.max(np.abs(residual)):.3g} "
        f"micrometres after {_STEPS} steps. "
        "Check bolt tensions and friction; a joint about to open or slip as a whole has no state of rest."
    )
