"""How often a guitar is right the first time, and what would raise that share (docs/spread.md)."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws
from fem.many.batch import Bench, Necks
from fem.many.offsets import Outcome, outcomes
from fem.many.start import Start

Array = NDArray[np.float64]

STATIONS = 41
"""Necks of known stiffness, from a fifth to five times the mean, between which a measured one is read off."""


@dataclass(frozen=True)
class Aims:
    """The fixed pair (no upper shim where one shim sets the neck) [rad], its preset saddle and the action
    that the case's own guitar has on it [m], and where a search begins.
    """

    upper: float | None
    lower: float
    saddle: float
    action: float
    start: Start
    angles: tuple[float, ...]


@dataclass(frozen=True)
class Rate:
    """A first-time-right rate: as it is, and as a shop's readings would say; ``error`` is the standard error
    of the first from the number of guitars alone.
    """

    name: str
    truth: float
    measured: float
    error: float
    guitars: int


@dataclass(frozen=True)
class _Levers:
    """Action per rigid turn of the neck, tongue gap per kink [m/rad]; reading error as an angle [rad]."""

    action: float
    gap: float
    reading: float


def _levers(case: Case, on: Bench) -> _Levers:
    """A rigid turn about the joint lifts the nut by ``x_j`` and fret 12 by ``x_j - x_12`` per radian; the
    string line keeps its end at the saddle: action changes by ``x_12 (1 - x_j / x_s)``.
    """
    line, strings = on.question.line, on.question.strings
    joint, last = float(line.x[line.joint - 1]), float(line.x[-1])
    near = float(line.x[np.argmin(np.abs(line.x - on.question.wanted.height_x))])
    reading = case.tolerance.reading_mm * 1e-3 / (strings.saddle - joint)
    return _Levers(near * (1.0 - joint / strings.saddle), last - joint, reading)


def action_by_upper(levers: _Levers, outcome: Outcome) -> Array:
    """Change of the action by the upper shim's angle, (k,) [m/rad]: with the lower's it is a rigid turn."""
    return levers.action - outcome.action_by_lower


def gap_target(on: Bench) -> float:
    """Tongue gap that counts as straight: the target itself, or the target kink over the tongue [m]."""
    question = on.question
    if question.target_gap is not None:
        return question.target_gap
    return question.target_kink * float(question.line.x[-1] - question.line.x[question.line.joint - 1])


def rates(
    case: Case, on: Bench, aims: Aims, draws: Draws, outcome: Outcome, *, some: Draws, bolts: Outcome
) -> tuple[Rate, ...]:
    """All rates: the fixed pair, its ceiling, and with stiffness measured, finer stock, bolts measured.

    ``bolts`` are the outcomes of ``some`` guitars whose bolts carry their stated tension.
    """
    levers = _levers(case, on)
    action, gap = outcome.action - aims.action, outcome.gap - gap_target(on)
    good = outcome.settled
    judge = _Judge(case, levers)
    fixed = judge.rate("fixed pair", action, gap, draws, good)
    ceiling = judge.rate(
        "ceiling: every shop mean known",
        action - np.median(action[good]),
        gap - np.median(gap[good]),
        draws,
        good,
    )
    stock = np.radians(case.stock.angles_deg())
    finer = np.unique(np.concatenate([stock, 0.5 * (stock[1:] + stock[:-1])]))
    middle = outcomes(on, _same(on, aims, np.ones((1, 8))), saddle=aims.saddle, start=aims.start)

    # judged by the tongue gap, so chosen by it: the lower shim's change that closes it
    need = -gap / outcome.gap_by_lower

    def from_stock(name: str, angles: Array) -> Rate:
        """The stock's nearest to the median neck, the saddle cut to suit."""
        wanted = aims.lower + float(np.median(need[good]))
        turn = float(_nearest(angles, np.array([wanted]))[0]) - aims.lower
        suited = turn * (outcome.action_by_lower - middle.action_by_lower[0])
        return judge.rate(name, action + suited, gap + turn * outcome.gap_by_lower, draws, good)

    median = from_stock("pair nearest the median neck", stock)
    half = from_stock("the same, stock of half a step", finer)
    upper, lower = _chosen(on, aims, draws, outcome, need, stock=stock, levers=levers)
    stiff = judge.rate(
        "neck stiffness measured",
        action + lower * outcome.action_by_lower + upper * action_by_upper(levers, outcome),
        gap + (lower - upper) * outcome.gap_by_lower,
        draws,
        good,
    )
    tension = judge.rate(
        "bolt tension measured", bolts.action - aims.action, bolts.gap - gap_target(on), some, bolts.settled
    )
    return fixed, ceiling, median, half, stiff, tension


@dataclass(frozen=True)
class _Judge:
    case: Case
    levers: _Levers

    def rate(self, name: str, action: Array, gap: Array, draws: Draws, good: NDArray[np.bool_]) -> Rate:
        """Share of guitars whose action and tongue gap, off by so much [m], are both within tolerance."""
        tolerance = self.case.tolerance
        within = (tolerance.action_mm * 1e-3, tolerance.tongue_gap_mm * 1e-3)
        error = self.levers.reading * draws.reading

        def share(off_action: Array, off_gap: Array) -> float:
            right = (np.abs(off_action) <= within[0]) & (np.abs(off_gap) <= within[1]) & good
            return float(right.mean())

        truth = share(action, gap)
        read = share(action + self.levers.action * error[:, 0], gap + self.levers.gap * error[:, 1])
        count = len(action)
        return Rate(name, truth, read, sqrt(truth * (1.0 - truth) / count), count)


def _same(on: Bench, aims: Aims, multiples: Array) -> Necks:
    """Guitars that differ in their moduli alone."""
    count, question = len(multiples), on.question
    return Necks(
        multiples=multiples,
        friction=np.tile(np.array(question.friction), (count, 1)),
        layer=np.ones((count, len(question.pads))),
        bolt_tension=np.tile(question.bolting.bolt_tension, (count, 1)),
        tension=np.full(count, question.strings.tension),
        angles=np.tile(np.array(aims.angles), (count, 1)),
    )


def _chosen(
    on: Bench, aims: Aims, draws: Draws, outcome: Outcome, need: Array, *, stock: Array, levers: _Levers
) -> tuple[Array, Array]:
    """Changes of the upper and the lower shim [rad] for each guitar when its neck's stiffness is known.

    All else is taken as the case gives it, and what that leaves out in the median is put right.
    """
    factors = draws.multiples[:, 0]
    reach = np.log(max(factors.max(), 1.0 / factors.min(), 1.001))
    log_factor = np.linspace(-reach, reach, STATIONS)
    multiples = np.ones((STATIONS, 8))
    multiples[:, :3] = np.exp(log_factor)[:, None]
    known = outcomes(on, _same(on, aims, multiples), saddle=aims.saddle, start=aims.start)
    sure = known.settled

    def at(values: Array) -> Array:
        return np.asarray(np.interp(np.log(factors), log_factor[sure], values[sure]))

    def centred(values: Array, drawn: Array) -> Array:
        off = (drawn - values)[outcome.settled]
        return np.asarray(values + np.median(off))

    more = centred(at(-(known.gap - gap_target(on)) / known.gap_by_lower), need)
    action = centred(at(known.action), outcome.action) - aims.action + more * at(known.action_by_lower)
    if aims.upper is None:
        upper = np.zeros_like(more)
    else:
        upper = _nearest(stock, aims.upper - action / levers.action) - aims.upper
    lower = _nearest(stock, aims.lower + upper + more) - aims.lower
    return upper, lower


def _nearest(stock: Array, wanted: Array) -> Array:
    """Angle in stock nearest each wanted one [rad]."""
    return np.asarray(stock[np.argmin(np.abs(wanted[:, None] - stock), axis=1)])
