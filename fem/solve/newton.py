"""Semismooth Newton search on the condensed system (docs/theory.md, section 9).

The layer law is piecewise linear, so the search ends exactly as soon as the contact state is right.
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
"""Change of any movement from one sweep to the next at which the direct search takes over [m]."""


@dataclass(frozen=True)
class Condition:
    """An equation that fixes one setting: ``row @ moves + constant + by_setting @ settings = value``, where
    ``row, constant = at(moves)``.
    """

    at: Callable[[Array], tuple[Array, float]]
    by_setting: Array
    value: float


@dataclass(frozen=True)
class Problem:
    """``displacements = base + columns @ settings + C[:, active] @ force(moves)`` with one condition for each
    setting.

    Attributes
    ----------
    c : (n, n) flexibility [m/N and mixed]; ``base`` (n,) movement under the given loads; ``columns`` (n, k)
      per unit setting.
    opening, slip, bolt : row numbers.
    reference : (points,) grounding springs at the interface [N/m], taken out again by the search.
    stuck_at : (points,) slip without drag [m], None for frictionless seating.
    locked, bolt_stiffness : bolt force ``locked + bolt_stiffness * elongation`` [N], [N/m].
    cap : (points,) most that friction carries [N]; None takes it from the push.
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
        """Rows that forces of the joint act on: openings, slips, bolts."""
        return np.concatenate([self.opening, self.slip, self.bolt])

    @cached_property
    def by_active(self) -> Array:
        """Movement of all rows per force on the active ones, (n, active)."""
        return self.c[:, self.active]

    def evaluate(self, displacements: Array, settings: Array) -> tuple[Array, Array, Traction]:
        """Movement that the forces at ``displacements`` produce, those forces (opening, slip, bolt) and the
        contact.
        """
        opening, slip = displacements[self.opening], displacements[self.slip]
        contact = traction(self.law, opening, slip, stuck_at=self.stuck_at, cap=self.cap)
        bolt = self.locked + self.bolt_stiffness * displacements[self.bolt]
        force = np.concatenate(
            [contact.push + self.reference * opening, self.reference * slip - contact.shear_force, -bolt]
        )
        return self.base + self.columns @ settings + self.by_active @ force, force, contact


@dataclass(frozen=True)
class Solution:
    """End of a search: movement of all rows, force on the active rows, contact, settings, number of steps."""

    displacements: Array
    force: Array
    contact: Traction
    settings: Array
    steps: int


def response_to(problem: Problem, contact: Traction) -> Array:
    """Movement of all rows per movement of the active ones, by the forces that answer it, (n, active)."""
    n = len(problem.opening)
    by_opening, by_slip, by_bolt = np.split(problem.by_active, [n, 2 * n], axis=1)
    return np.concatenate(
        [
            by_opening * (contact.push_by_opening + problem.reference) - by_slip * contact.shear_by_opening,
            by_slip * (problem.reference - contact.shear_by_slip),
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
    return (
        np.concatenate([displacements[problem.active] - result[problem.active], off]),
        result,
        rows,
        force,
        contact,
    )


def solve(problem: Problem, *, displacements: Array, settings: Array, tolerance: float = 1e-13) -> Solution:
    """Find movement and settings.

    If friction that follows the push keeps the contact from settling, it is frozen at the push of the last
    sweep until the sweeps agree; the end is the same equilibrium, searched from there.

    Parameters
    ----------
    problem : system.
    moves, settings : where to start, shapes (n,) and (k,).
    tolerance : largest misfit of any movement or condition [m].

    Raises
    ------
    ContactLostError
        If no interface point carries pressure at the end.
    ConvergenceError
        If the contact state does not settle.
    """
    try:
        return _newton(problem, displacements, settings, tolerance)
    except ConvergenceError:
        if problem.stuck_at is None:
            raise
    opening, slip = displacements[problem.opening], displacements[problem.slip]
    push = traction(problem.law, opening, slip, stuck_at=problem.stuck_at).push
    for _ in range(_SWEEPS):
        frozen = replace(problem, cap=problem.law.friction * push)
        found = _newton(frozen, displacements, settings, tolerance)
        change = float(np.max(np.abs(found.displacements - displacements)))
        displacements, settings, push = found.displacements, found.settings, found.contact.push
        if change < _NEAR:
            break
    return _newton(problem, displacements, settings, tolerance)


def _newton(problem: Problem, displacements: Array, settings: Array, tolerance: float) -> Solution:
    """The search itself, from one start."""
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
            f"No setting of rod and saddle was found: relief or string height still miss what is wanted by "
            f"{1e6 * np.max(np.abs(residual)):.3g} micrometres after {_STEPS} steps. "
            "Ask for another relief, or take lighter strings or a stiffer neck."
        )
    raise ConvergenceError(
        f"The joint did not settle: the contact still changes by {1e6 * np.max(np.abs(residual)):.3g} "
        f"micrometres after {_STEPS} steps. "
        "Check bolt tensions and friction; a joint about to open or slip as a whole has no state of rest."
    )
