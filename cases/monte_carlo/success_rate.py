"""First-time-right rates of one pair of shims, and of measures that would raise them (docs/spread.md)."""

from dataclasses import dataclass
from functools import partial
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws
from fem.geometry.outline import Array
from fem.many.batch import Bench, Necks
from fem.many.offsets import Outcome, outcomes
from fem.many.start import Start

STATIONS = 41
"""Number of necks of known stiffness between which a measured one is interpolated."""


@dataclass(frozen=True)
class Aims:
    """The fixed pair (``upper`` is None for a single shim) [rad], its preset saddle and the action of the
    case's own guitar on it [m], and the initial state of a search.
    """

    upper: float | None
    lower: float
    saddle: float
    action: float
    start: Start
    angles: tuple[float, ...]


@dataclass(frozen=True)
class Rate:
    """A first-time-right rate, true and by a shop's readings; ``error`` is the standard error of the first
    from the number of guitars.
    """

    name: str
    truth: float
    measured: float
    error: float
    guitars: int


@dataclass(frozen=True)
class _Levers:
    """Action per rigid rotation of the neck, tongue gap per kink [m/rad]; reading error as an angle [rad]."""

    action: float
    gap: float
    reading: float


def _levers(case: Case, on: Bench) -> _Levers:
    """A rigid rotation about the joint lifts the nut by ``x_j`` and fret 12 by ``x_j - x_12`` per radian; the
    strings stay at the saddle, so the action changes by ``x_12 (1 - x_j / x_s)``.
    """
    line, strings = on.question.line, on.question.strings
    joint, last = float(line.x[line.joint - 1]), float(line.x[-1])
    near = float(line.x[np.argmin(np.abs(line.x - on.question.wanted.height_x))])
    reading = case.tolerance.reading_mm * 1e-3 / (strings.saddle - joint)
    return _Levers(near * (1.0 - joint / strings.saddle), last - joint, reading)


def action_by_upper(levers: _Levers, outcome: Outcome) -> Array:
    """Change of the action by the upper shim's angle, (k,) [m/rad]; both shims together rotate it rigidly."""
    return levers.action - outcome.action_by_lower


def gap_target(on: Bench) -> float:
    """Target tongue gap, or the one that the target kink makes over the tongue [m]."""
    question = on.question
    if question.target_gap is not None:
        return question.target_gap
    return question.target_kink * float(question.line.x[-1] - question.line.x[question.line.joint - 1])


def rates(
    case: Case, on: Bench, aims: Aims, draws: Draws, outcome: Outcome, *, bolts: Outcome
) -> tuple[Rate, ...]:
    """All rates: the fixed pair, its upper limit, finer stock, stiffness measured, bolt tension measured.

    ``bolts`` are the outcomes of the first guitars with their bolts at their stated tension.
    """
    some = draws.take(slice(len(bolts.settled)))
    levers = _levers(case, on)
    action, gap = outcome.action - aims.action, outcome.gap - gap_target(on)
    good = outcome.settled
    rate = partial(_rate, case, levers)
    fixed = rate("fixed pair", action, gap, draws, good)
    ceiling = rate(
        "ceiling: every shop mean known",
        action - np.median(action[good]),
        gap - np.median(gap[good]),
        draws,
        good,
    )
    stock = np.radians(case.stock.angles_deg())
    finer = np.unique(np.concatenate([stock, 0.5 * (stock[1:] + stock[:-1])]))
    middle = outcomes(on, _same(on, aims, np.ones((1, 8))), saddle=aims.saddle, start=aims.start)

    # change of the lower shim that closes the tongue gap, by which the rates judge
    need = -gap / outcome.gap_by_lower

    def from_stock(name: str, angles: Array) -> Rate:
        """Rate of the stock's angle nearest the median neck, with the saddle cut for it."""
        wanted = aims.lower + float(np.median(need[good]))
        turn = float(_nearest(angles, np.array([wanted]))[0]) - aims.lower
        suited = turn * (outcome.action_by_lower - middle.action_by_lower[0])
        return rate(name, action + suited, gap + turn * outcome.gap_by_lower, draws, good)

    median = from_stock("pair nearest the median neck", stock)
    half = from_stock("the same, stock of half a step", finer)
    upper, lower = _chosen(on, aims, draws, outcome, need, stock=stock, levers=levers)
    stiff = rate(
        "neck stiffness measured",
        action + lower * outcome.action_by_lower + upper * action_by_upper(levers, outcome),
        gap + (lower - upper) * outcome.gap_by_lower,
        draws,
        good,
    )
    tension = rate(
        "bolt tension measured", bolts.action - aims.action, bolts.gap - gap_target(on), some, bolts.settled
    )
    return fixed, ceiling, median, half, stiff, tension


def _rate(
    case: Case, levers: _Levers, name: str, action: Array, gap: Array, draws: Draws, good: NDArray[np.bool_]
) -> Rate:
    """Share of guitars with both errors, of action and of tongue gap [m], within tolerance."""
    within = (case.tolerance.action_mm * 1e-3, case.tolerance.tongue_gap_mm * 1e-3)
    error = levers.reading * draws.reading

    def share(off_action: Array, off_gap: Array) -> float:
        return float(((np.abs(off_action) <= within[0]) & (np.abs(off_gap) <= within[1]) & good).mean())

    truth = share(action, gap)
    read = share(action + levers.action * error[:, 0], gap + levers.gap * error[:, 1])
    return Rate(name, truth, read, sqrt(truth * (1.0 - truth) / len(action)), len(action))


def _same(on: Bench, aims: Aims, multiples: Array) -> Necks:
    """Guitars that differ only in their moduli."""
    count, question = len(multiples), on.question
    return Necks(
        multiples=multiples,
        friction=np.tile(np.array(question.friction), (count, 1)),
        layer=np.ones((count, len(question.pads))),
        bedding=np.ones((count, len(question.pads))),
        bolt_tension=np.tile(question.bolting.bolt_tension, (count, 1)),
        tension=np.full(count, question.strings.tension),
        angles=np.tile(np.array(aims.angles), (count, 1)),
    )


def _chosen(
    on: Bench, aims: Aims, draws: Draws, outcome: Outcome, need: Array, *, stock: Array, levers: _Levers
) -> tuple[Array, Array]:
    """Changes of upper and lower shim [rad] for each guitar if its neck's stiffness is known.

    Everything else is as in the case; the error of the median is corrected.
    """
    factors = draws.multiples[:, 0]
    reach = np.log(max(factors.max(), 1.0 / factors.min(), 1.001))
    log_factor = np.linspace(-reach, reach, STATIONS)
    multiples = np.ones((STATIONS, 8))
    multiples[:, :3] = np.exp(log_factor)[:, None]
    stations = outcomes(on, _same(on, aims, multiples), saddle=aims.saddle, start=aims.start)
    settled = stations.settled

    def at(values: Array) -> Array:
        return np.asarray(np.interp(np.log(factors), log_factor[settled], values[settled]))

    def centred(values: Array, drawn: Array) -> Array:
        off = (drawn - values)[outcome.settled]
        return np.asarray(values + np.median(off))

    more = centred(at(-(stations.gap - gap_target(on)) / stations.gap_by_lower), need)
    action = centred(at(stations.action), outcome.action) - aims.action + more * at(stations.action_by_lower)
    if aims.upper is None:
        upper = np.zeros_like(more)
    else:
        upper = _nearest(stock, aims.upper - action / levers.action) - aims.upper
    lower = _nearest(stock, aims.lower + upper + more) - aims.lower
    return upper, lower


def _nearest(stock: Array, wanted: Array) -> Array:
    """Angle in stock, sorted, nearest each wanted one [rad]."""
    return np.asarray(stock[np.searchsorted(0.5 * (stock[1:] + stock[:-1]), wanted)])
