"""Control charts of a series of numbers: where its limits lie, where it leaves them.

Individuals and moving range: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2, with d2 = 1.128 and
D4 = 3.267 for two values. EWMA: 6.3.2.4. Run rules: 6.3.2, the Western Electric rules and the trend rule.
The same formulas stand in Montgomery, Introduction to Statistical Quality Control, chapters 6 and 9. The book
and the handbook's pages are quoted from memory, but for the page on the EWMA, seen in a reprint.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from materials.errors import InputError

SMOOTHING = 0.10
"""lambda of the EWMA. With WIDTH: one false alarm in 500 values on average, a shift by one standard deviation
seen after 10.3, if the limits are known (Lucas & Saccucci 1990 table such pairs; this one from memory)."""
WIDTH = 2.814
BASELINE = 100
"""How many first values set the centre and the limits."""
FEWEST = 20
"""Fewer values set no limits worth the name (common practice, no source)."""
D2 = 1.128379
"""Mean range of two normal values in standard deviations, 2/sqrt(pi); the handbook rounds to 1.128."""
D4 = 3.267

Rule = Literal[
    "ewma", "beyond 3", "2 of 3 beyond 2", "4 of 5 beyond 1", "8 on one side", "6 rising or falling"
]


@dataclass(frozen=True)
class Signal:
    """A stretch of the series that chance alone seldom makes: `first` to `last`, counted from 0."""

    rule: Rule
    first: int
    raised: int
    """The value at which the rule first spoke."""
    last: int
    side: int
    """+1 above the centre (or rising), -1 below it (or falling)."""


@dataclass(frozen=True)
class Limits:
    """Centre and limits that the baseline set; all in the unit of the values."""

    centre: float
    sigma: float
    """Standard deviation from the mean moving range."""
    baseline: int
    individuals: tuple[float, float]
    moving_range_high: float
    ewma: tuple[float, float]
    smoothing: float


def limits_of(
    values: Sequence[float], *, baseline: int = BASELINE, smoothing: float = SMOOTHING, width: float = WIDTH
) -> Limits:
    """Set centre and limits from the first `baseline` values.

    Raises
    ------
    InputError
        Fewer than `FEWEST` values, or values that do not vary at all.
    """
    first = np.asarray(values, dtype=float)[:baseline]
    if first.size < FEWEST:
        raise InputError(
            f"{first.size} values set no control limits; {FEWEST} are wanted: log more guitars first."
        )
    mean_range = float(np.abs(np.diff(first)).mean())
    if mean_range == 0.0:
        raise InputError(
            "The values do not vary at all, so nothing can be charted; log what was read, not a target."
        )
    centre, sigma = float(first.mean()), mean_range / D2
    half = width * sigma * math.sqrt(smoothing / (2.0 - smoothing))
    return Limits(
        centre=centre,
        sigma=sigma,
        baseline=int(first.size),
        individuals=(centre - 3.0 * sigma, centre + 3.0 * sigma),
        moving_range_high=D4 * mean_range,
        ewma=(centre - half, centre + half),
        smoothing=smoothing,
    )


def ewma(values: Sequence[float], *, start: float, smoothing: float = SMOOTHING) -> NDArray[np.float64]:
    """Return z_i = lambda x_i + (1 - lambda) z_(i-1) with z_0 = `start` (not among the values returned)."""
    smoothed = np.empty(len(values))
    last = start
    for index, value in enumerate(values):
        last = smoothing * value + (1.0 - smoothing) * last
        smoothed[index] = last
    return smoothed


def ewma_signals(values: Sequence[float], limits: Limits) -> tuple[Signal, ...]:
    """Return each stretch during which the EWMA lies outside its limits: the alarm for a lasting shift.

    Until the EWMA has come back to the centre it is the same shift, and one signal.
    """
    smoothed = ewma(values, start=limits.centre, smoothing=limits.smoothing)
    side = (smoothed > limits.ewma[1]).astype(int) - (smoothed < limits.ewma[0]).astype(int)
    signals: list[Signal] = []
    for found in _stretches("ewma", side):
        if signals and shift_began(values, limits, found) <= signals[-1].last:
            signals[-1] = replace(signals[-1], last=found.last)
        else:
            signals.append(found)
    return tuple(signals)


def shift_began(values: Sequence[float], limits: Limits, signal: Signal) -> int:
    """Return where the shift behind an EWMA signal probably began: after the EWMA last crossed the centre.

    Source: Nishina, Quality and Reliability Engineering International 8 (1992) 537-543 (from memory).
    """
    smoothed = ewma(values, start=limits.centre, smoothing=limits.smoothing)
    index = signal.first
    while index > 0 and signal.side * (smoothed[index - 1] - limits.centre) > 0.0:
        index -= 1
    return index


def run_signals(values: Sequence[float], limits: Limits) -> tuple[Signal, ...]:
    """Return what the run rules find: hints that explain, not alarms, for together they speak once in 92."""
    z = (np.asarray(values, dtype=float) - limits.centre) / limits.sigma
    found: list[Signal] = []
    for rule, run, needed, beyond in (
        ("beyond 3", 1, 1, 3.0),
        ("2 of 3 beyond 2", 3, 2, 2.0),
        ("4 of 5 beyond 1", 5, 4, 1.0),
        ("8 on one side", 8, 8, 0.0),
    ):
        up = _enough(z > beyond, run=run, needed=needed)
        down = _enough(z < -beyond, run=run, needed=needed)
        found += _stretches(rule, up.astype(int) - down.astype(int), run=run)  # type: ignore[arg-type]
    rising = _enough(np.diff(z) > 0.0, run=5, needed=5)
    falling = _enough(np.diff(z) < 0.0, run=5, needed=5)
    steps = np.concatenate([[0], rising.astype(int) - falling.astype(int)])
    found += _stretches("6 rising or falling", steps, run=6)
    return tuple(sorted(found, key=lambda signal: (signal.first, signal.rule)))


def _enough(hit: NDArray[np.bool_], *, run: int, needed: int) -> NDArray[np.bool_]:
    """At each place: whether the last `run` hold at least `needed` hits, this one among them."""
    counts = np.convolve(hit.astype(int), np.ones(run, dtype=int))[: hit.size]
    return hit & (counts >= needed)


def _stretches(rule: Rule, side: NDArray[np.int_], *, run: int = 1) -> tuple[Signal, ...]:
    """Turn +1/0/-1 at each place into stretches; a stretch begins with the `run` values that raised it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], side, [0]])))
    return tuple(
        Signal(
            rule=rule,
            first=max(int(begin) - run + 1, 0),
            raised=int(begin),
            last=int(end) - 1,
            side=int(side[begin]),
        )
        for begin, end in pairwise(edges)
        if side[begin] != 0
    )
