"""Kink, action and offset of many necks: the fixed pair of shims first, then the offset each would need."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.many.batch import Bench, Necks, Strung, Workspace, flexibilities, layers, strung, taken, workspace
from fem.many.bolted import BoltedStates, bolt_up_necks
from fem.many.start import Start
from fem.many.strung import Aim, StrungStates, string_up_necks

BATCH = 64
"""Necks solved together: more would not stay in a processor's own memory."""
SETTLED_ANGLE = 3e-5
"""The offset is found when the last correction is below this [rad]: the next would be a hundredth of that."""
CORRECTIONS = 6


@dataclass(frozen=True)
class Outcome:
    """What becomes of each neck; arrays of shape (k,).

    Attributes
    ----------
    kink, gap : kink [rad] and tongue gap [m] on the pair that it has, the saddle as it is.
    action : height of the string line over the action fret [m], on the same.
    kink_by_lower, gap_by_lower, action_by_lower : their derivatives by the lower shim's angle.
    rod : rod setting there.
    offset : lower minus upper angle that meets the target [rad]; nan where it was not asked for.
    transfer : change of the misfit per change of that angle, there.
    settled : whether all searches ended.
    """

    kink: Array
    gap: Array
    action: Array
    kink_by_lower: Array
    gap_by_lower: Array
    action_by_lower: Array
    rod: Array
    offset: Array
    transfer: Array
    settled: NDArray[np.bool_]


@dataclass(frozen=True)
class _Readings:
    kink: Array
    gap: Array
    action: Array
    kink_by_lower: Array
    gap_by_lower: Array
    action_by_lower: Array
    saddle: Array
    saddle_by_lower: Array


def _read(on: Bench, states: StrungStates) -> _Readings:
    line, strings = on.question.line, on.question.strings
    under = line.gap_rows()[states.at.frets].sum(axis=1)
    heights = states.crowns + line.planed
    bow, straight, slope = line.bow(), line.straightedge_row(), line.slope_row(line.shaft)
    last = np.zeros_like(line.x)
    last[-1] = 1.0
    mean = np.zeros_like(line.x)
    mean[line.shaft] = 1.0 / line.joint
    gap_row = last - mean - slope * (line.x[-1] - line.x[line.shaft].mean())
    near = int(np.argmin(np.abs(line.x - on.question.wanted.height_x)))
    share = line.x[near] / strings.saddle
    saddle = on.bolts + 4

    def kink_and_gap(crowns: Array) -> tuple[Array, Array]:
        relief = np.einsum("ki,ki->k", under, crowns)
        return crowns @ straight + line.bow_part() * relief, crowns @ gap_row - relief * float(gap_row @ bow)

    kink, gap = kink_and_gap(heights)
    kink_rate, gap_rate = kink_and_gap(states.crowns_by_lower)
    height, height_rate = states.unknowns[:, saddle], states.by_lower[:, saddle]
    action = (1.0 - share) * (strings.nut_height + states.nut) + share * height
    rate = (1.0 - share) * states.nut_by_lower + share * height_rate
    return _Readings(
        kink=kink,
        gap=gap,
        action=action - heights[:, near],
        kink_by_lower=kink_rate,
        gap_by_lower=gap_rate,
        action_by_lower=rate - states.crowns_by_lower[:, near],
        saddle=height,
        saddle_by_lower=height_rate,
    )


def _misfit(on: Bench, read: _Readings) -> tuple[Array, Array]:
    """How far from the target, as a kink [rad], and its derivative by the lower angle."""
    question = on.question
    if question.target_saddle is not None:
        seat = float(question.line.x[question.line.joint - 1]) + question.pads[question.varied].pivot
        reach = question.strings.saddle - seat
        return (question.target_saddle - read.saddle) / reach, -read.saddle_by_lower / reach
    if question.target_gap is None:
        return read.kink - question.target_kink, read.kink_by_lower
    length = float(question.line.x[-1] - question.line.x[question.line.joint - 1])
    return (read.gap - question.target_gap) / length, read.gap_by_lower / length


def _solved(
    on: Bench, flexibility: Array, linear: Strung, necks: Necks, *, angles: Array, aim: Aim, start: Start
) -> tuple[BoltedStates, StrungStates, NDArray[np.bool_]]:
    law = layers(on, necks, angles)
    bolted = bolt_up_necks(on, flexibility, law, necks.bolt_tension, guess=start.bolted)
    found = string_up_necks(on, linear, law, necks.bolt_tension, bolted=bolted, aim=aim, guess=start.strung)
    return bolted, found, bolted.settled & found.settled & ~law.too_thin


def outcomes(on: Bench, necks: Necks, *, saddle: float, start: Start, offset: bool = True) -> Outcome:
    """Solve many necks.

    Parameters
    ----------
    on : bench of the reduced model.
    necks : what differs.
    saddle : height of the preset saddle's string line [m].
    start : where to begin.
    offset : whether to find the offset of each neck as well.
    """
    parts, within = [], workspace(on, min(BATCH, len(necks)))
    for first in range(0, len(necks), BATCH):
        some = taken(necks, slice(first, first + BATCH))
        parts.append(_batch(on, some, saddle, start=start, offset=offset, within=within))
    columns = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts]) for one in fields(Outcome)
    }
    return Outcome(**columns)


def _batch(
    on: Bench, necks: Necks, saddle: float, *, start: Start, offset: bool, within: Workspace
) -> Outcome:
    count = len(necks)
    flexibility = flexibilities(on, necks, within)
    linear = strung(on, flexibility, necks.tension, within)
    fixed = Aim(np.full(count, saddle))
    bolted, states, settled = _solved(
        on, flexibility, linear, necks, angles=necks.angles, aim=fixed, start=start
    )
    read = _read(on, states)
    found, transfer = np.full(count, np.nan), np.full(count, np.nan)
    if offset:
        found, transfer, closed = _offsets(on, flexibility, linear, necks, read, (bolted, states))
        settled = settled & closed
    return Outcome(
        kink=read.kink,
        gap=read.gap,
        action=read.action,
        kink_by_lower=read.kink_by_lower,
        gap_by_lower=read.gap_by_lower,
        action_by_lower=read.action_by_lower,
        rod=states.unknowns[:, on.bolts + 3],
        offset=found,
        transfer=transfer,
        settled=settled,
    )


def _offsets(
    on: Bench,
    flexibility: Array,
    linear: Strung,
    necks: Necks,
    read: _Readings,
    states: tuple[BoltedStates, StrungStates],
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Newton search on the lower angle from the pair solved, the saddle in the case's own mode."""
    wanted, which = on.question.wanted, on.question.varied
    angle, aim = necks.angles[:, which].copy(), Aim(None)
    if wanted.height is None:
        aim = Aim(np.full(len(necks), wanted.saddle_height))
    miss, slope = _misfit(on, read)
    if on.question.target_saddle is None:
        angle -= _step(miss, slope)
    transfer = slope.copy()
    closed = np.zeros(len(necks), dtype=bool)
    start = _ahead(*states, angle - necks.angles[:, which])
    live = np.arange(len(necks))
    for _ in range(CORRECTIONS):
        if not len(live):
            break
        everyone = len(live) == len(necks)
        part = necks if everyone else taken(necks, live)
        compliance = flexibility if everyone else flexibility[live]
        straight = linear if everyone else taken(linear, live)
        at = necks.angles[live]
        at[:, which] = angle[live]
        own = aim if aim.saddle is None else Aim(aim.saddle[live])
        bolted, found, settled = _solved(on, compliance, straight, part, angles=at, aim=own, start=start)
        miss, slope = _misfit(on, _read(on, found))
        step = _step(miss, slope)
        angle[live] -= step
        transfer[live] = slope
        near = settled & (np.abs(step) < SETTLED_ANGLE)
        closed[live[near]] = True
        left = settled & ~near
        start = _ahead(taken(bolted, left), taken(found, left), -step[left])
        live = live[left]
    held = necks.angles[:, [k for k in on.question.shims if k != which]]
    return angle - (held[:, 0] if held.shape[1] else on.upper), transfer, closed


def _step(miss: Array, slope: Array) -> Array:
    """Newton step of the angle, at most 0.05 rad; none where the kink does not answer."""
    return np.clip(np.nan_to_num(miss / np.where(np.abs(slope) > 1e-3, slope, np.inf)), -0.05, 0.05)


def _ahead(bolted: BoltedStates, states: StrungStates, by: Array) -> Start:
    return Start(bolted.ahead(by), states.ahead(by))
