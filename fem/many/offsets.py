"""Kink, action and offset of many necks: on the fixed pair of shims, then the offset each would need."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.geometry.outline import Array
from fem.many.batch import (
    Bench,
    Necks,
    Workspace,
    flexibilities,
    joined,
    layers,
    strung,
    taken,
    workspace,
)
from fem.many.bolted import BoltedStates, bolt_up_necks
from fem.many.start import Start
from fem.many.strung import StrungStates, string_up_necks
from fem.solve.equilibrium import action_fret

BATCH = 64
"""Necks solved together: more would not fit in a processor's cache."""
SETTLED_ANGLE = 3e-5
"""Largest last correction of an offset [rad]: the next would be a hundredth of it."""
CORRECTIONS = 6


@dataclass(frozen=True)
class Outcome:
    """Result for each neck; arrays of shape (k,).

    Attributes
    ----------
    kink, gap : kink [rad] and tongue gap [m] on its own pair and saddle.
    action : height of the string line over the action fret there [m].
    kink_by_lower, gap_by_lower, action_by_lower : their derivatives by the lower shim's angle.
    rod : rod setting there.
    offset : lower minus upper angle that meets the target [rad]; nan unless requested.
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
    """Readings of many necks, or their derivatives; arrays of shape (k,)."""

    kink: Array
    gap: Array
    action: Array
    saddle: Array


def _read(on: Bench, states: StrungStates) -> tuple[_Readings, _Readings]:
    """Readings and their derivatives by the lower angle."""
    line, strings = on.question.line, on.question.strings
    near, share = action_fret(line, strings, on.question.wanted.height_x)
    heights = line.heights(states.crowns)
    relief_rows, gap_rows = line.relief_row(heights), line.tongue_gap_row(heights)

    def of(crowns: Array, nut: Array, saddle: Array) -> _Readings:
        return _Readings(
            kink=line.kink_at(crowns, np.einsum("ki,ki->k", relief_rows, crowns)),
            gap=np.einsum("ki,ki->k", gap_rows, crowns),
            action=(1.0 - share) * nut + share * saddle - crowns[:, near],
            saddle=saddle,
        )

    saddle = on.bolts + 4
    return (
        of(heights, strings.nut_height + states.nut, states.unknowns[:, saddle]),
        of(states.crowns_by_lower, states.nut_by_lower, states.by_lower[:, saddle]),
    )


def _misfit(on: Bench, states: StrungStates) -> tuple[Array, Array]:
    """`Question.misfit` of many necks [rad], and its derivative by the lower angle, (k,), (k,)."""
    name, value, lever = on.question.target
    found, rate = (getattr(one, name) for one in _read(on, states))
    return (found - value) / lever, rate / lever


def _solved(
    on: Bench,
    flexibility: Array,
    linear: Array,
    necks: Necks,
    *,
    angles: Array,
    saddle: Array | None,
    start: Start,
) -> tuple[BoltedStates, StrungStates, NDArray[np.bool_]]:
    law = layers(on, necks, angles)
    bolted = bolt_up_necks(on, flexibility, law, necks.bolt_tension, guess=start.bolted)
    found = string_up_necks(
        on, linear, law, necks.bolt_tension, bolted=bolted, saddle=saddle, guess=start.strung
    )
    return bolted, found, bolted.settled & found.settled & ~law.too_thin.any(axis=1)


def outcomes(on: Bench, necks: Necks, *, saddle: float, start: Start, offset: bool = True) -> Outcome:
    """Solve many necks, with ``offset`` for the offset of each too; ``saddle`` is the height of the preset
    saddle's string line [m].
    """
    parts, within = [], workspace(on, min(BATCH, len(necks)))
    for first in range(0, len(necks), BATCH):
        some = taken(necks, slice(first, first + BATCH))
        parts.append(_batch(on, some, saddle, start=start, offset=offset, within=within))
    return joined(parts)


def _batch(
    on: Bench, necks: Necks, saddle: float, *, start: Start, offset: bool, within: Workspace
) -> Outcome:
    count = len(necks)
    flexibility = flexibilities(on, necks, within)
    linear = strung(on, flexibility, necks.tension, within)
    bolted, states, settled = _solved(
        on, flexibility, linear, necks, angles=necks.angles, saddle=np.full(count, saddle), start=start
    )
    read, rate = _read(on, states)
    found, transfer = np.full(count, np.nan), np.full(count, np.nan)
    if offset:
        found, transfer, closed = _offsets(on, flexibility, linear, necks, (bolted, states))
        settled = settled & closed
    return Outcome(
        kink=read.kink,
        gap=read.gap,
        action=read.action,
        kink_by_lower=rate.kink,
        gap_by_lower=rate.gap,
        action_by_lower=rate.action,
        rod=states.unknowns[:, on.bolts + 3],
        offset=found,
        transfer=transfer,
        settled=settled,
    )


def _offsets(
    on: Bench, flexibility: Array, linear: Array, necks: Necks, states: tuple[BoltedStates, StrungStates]
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Newton search for the lower angle from the solved pair, the saddle set as in the case."""
    wanted, which = on.question.wanted, on.question.varied
    angle = necks.angles[:, which].copy()
    saddle = np.full(len(necks), wanted.saddle_height) if wanted.height is None else None
    miss, slope = _misfit(on, states[1])
    if on.question.target_saddle is None:
        angle -= _newton_step(miss, slope)
    transfer = slope.copy()
    closed = np.zeros(len(necks), dtype=bool)
    start = _ahead(*states, angle - necks.angles[:, which])
    live = np.arange(len(necks))
    for _ in range(CORRECTIONS):
        if not len(live):
            break
        # a slice of everyone copies nothing
        some = slice(None) if len(live) == len(necks) else live
        at = necks.angles[live]
        at[:, which] = angle[live]
        bolted, found, settled = _solved(
            on,
            flexibility[some],
            linear[some],
            taken(necks, some),
            angles=at,
            saddle=None if saddle is None else saddle[live],
            start=start,
        )
        miss, slope = _misfit(on, found)
        step = _newton_step(miss, slope)
        angle[live] -= step
        transfer[live] = slope
        near = settled & (np.abs(step) < SETTLED_ANGLE)
        closed[live[near]] = True
        left = settled & ~near
        start = _ahead(taken(bolted, left), taken(found, left), -step[left])
        live = live[left]
    held = necks.angles[:, [k for k in on.question.shims if k != which]]
    return angle - (held[:, 0] if held.shape[1] else on.upper), transfer, closed


def _newton_step(miss: Array, slope: Array) -> Array:
    """Newton step of the angle, at most 0.05 rad; zero where the kink does not depend on it."""
    return np.clip(np.nan_to_num(miss / np.where(np.abs(slope) > 1e-3, slope, np.inf)), -0.05, 0.05)


def _ahead(bolted: BoltedStates, states: StrungStates, by: Array) -> Start:
    return Start(bolted.ahead(by), states.ahead(by))
