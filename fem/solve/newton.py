"""Semismooth Newton method on the condensed system (docs/theory-joint.md, section 9).

The layer law is piecewise linear, so the iteration ends exactly once the contact state is right.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgetrf, dgetrs

from fem.errors import ContactLostError, ConvergenceError
from fem.geometry.outline import Array
from fem.joint.shim_layer import Layer, Traction, traction

Chosen = NDArray[np.int64] | slice

_STEPS = 60
_FEW = 0.25
"""Part of the contact points up to which a change of state is added to a factored Jacobian."""
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

    @cached_property
    def among_active(self) -> Array:
        """Displacement of the active rows per force on them, (active, active)."""
        return self.by_active[self.active]

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


@dataclass(frozen=True)
class _Factored:
    """The Jacobian factored at one contact state, for this one and for those in which few points differ.

    ``reached`` (active + k, active) are the displacements of the active rows per force on them, and below
    them what the conditions read.
    """

    problem: Problem
    rows: Array
    reached: Array
    factor: tuple[Array, Array]
    scales: tuple[Array, Array, Array]

    def step(self, contact: Traction, residual: Array) -> Array | None:
        """Newton's step at a contact state; None if too many points differ."""
        plain = _substituted(self.factor, residual)
        now = _scales(self.problem, contact)
        n, m = len(self.problem.opening), len(self.problem.slip)
        push, drag, shear = (one - other for one, other in zip(now, self.scales, strict=True))
        openings, slips = np.flatnonzero((push != 0.0) | (drag != 0.0)), np.flatnonzero(shear)
        changed = np.concatenate([openings, n + slips])
        if len(changed) == 0:
            return plain
        if len(changed) > _FEW * (n + m):
            return None
        more = -_by_displacements(self.reached, (push, drag, shear), openings, slips)
        moved = _substituted(self.factor, more)
        inner = np.eye(len(changed)) + moved[changed]
        try:
            return np.asarray(plain - moved @ np.linalg.solve(inner, plain[changed]))
        except np.linalg.LinAlgError:
            return None


def _scales(problem: Problem, contact: Traction) -> tuple[Array, Array, Array]:
    """Derivatives of the forces: of an opening's row by its opening, of the slip's row of its point by the
    opening (as a drag), of a slip's row by its slip.
    """
    n = len(problem.opening)
    return (
        contact.push_by_opening + problem.reference[:n],
        contact.shear_by_opening,
        problem.reference[n:] - contact.shear_by_slip,
    )


def _by_displacements(
    reached: Array, scales: tuple[Array, Array, Array], openings: Chosen, slips: Chosen
) -> Array:
    """Columns of ``reached`` times the derivatives of the forces by the chosen openings and slips."""
    push, drag, shear = scales
    n, m = len(push), len(shear)
    by_opening = reached[:, :n][:, openings] * push[openings]
    dragged = np.flatnonzero(drag[openings])
    point = np.arange(n)[openings][dragged]
    by_opening[:, dragged] -= reached[:, n + point // (n // m)] * drag[point]
    return np.concatenate([by_opening, reached[:, n : n + m][:, slips] * shear[slips]], axis=1)


def _factored(problem: Problem, contact: Traction, rows: Array) -> _Factored | None:
    """The factored Jacobian; None if it is singular."""
    active, k = len(problem.active), len(problem.conditions)
    reached = np.concatenate([problem.among_active, -(rows @ problem.by_active)])
    scales = _scales(problem, contact)
    jacobian = np.empty((active + k, active + k))
    bolts = len(problem.bolt)
    every = slice(None)
    np.negative(_by_displacements(reached, scales, every, every), out=jacobian[:, : active - bolts])
    jacobian[:, active - bolts : active] = reached[:, active - bolts :] * problem.bolt_stiffness
    jacobian[:active, active:] = -problem.columns[problem.active]
    jacobian[active:, active:] = rows @ problem.columns
    if k:
        jacobian[active:, active:] += np.stack([c.by_setting for c in problem.conditions])
    jacobian[np.arange(active), np.arange(active)] += 1.0
    # the transposed matrix lies in memory as LAPACK wants it
    lower, pivots, singular = dgetrf(jacobian.T, overwrite_a=True)
    return None if singular else _Factored(problem, rows, reached, (lower, pivots), scales)


def _substituted(factor: tuple[Array, Array], right: Array) -> Array:
    return np.asarray(dgetrs(*factor, right, trans=1)[0])


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
    factored: _Factored | None = None
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
        change = None
        if factored is not None and np.array_equal(rows, factored.rows):
            change = factored.step(contact, -residual)
        if change is None:
            factored = _factored(problem, contact, rows)
            change = factored.step(contact, -residual) if factored else None
        if change is None:
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
