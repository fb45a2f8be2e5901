"""Control charts: limits, EWMA and run rules.

Individuals and moving range: NIST/SEMATECH e-Handbook [nist2012] 6.3.2.2, with d2 = 1.128 for two
values. EWMA: 6.3.2.4. Run rules: 6.3.2, the Western Electric rules and the trend rule.
The same formulas are in Montgomery [montgomery2009], chapters 6 and 9. Book and
handbook are quoted from memory, except the page on the EWMA, seen in a reprint.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from materials.errors import InputError

SMOOTHING = 0.10
"""lambda of the EWMA. With WIDTH and known limits: on average one false alarm in 500 values, and a shift by
one standard deviation is seen after 10.3 ([lucas1990] tabulates such pairs; from memory)."""
WIDTH = 2.814
BASELINE = 100
"""Number of first values that set centre and limits."""
FEWEST = 20
"""Smallest number of values that set limits (common practice, no source)."""
D2 = 1.128379
"""Mean range of two normal values in standard deviations, 2/sqrt(pi); rounded to 1.128 in the handbook."""

Rule = Literal[
    "ewma", "beyond 3", "2 of 3 beyond 2", "4 of 5 beyond 1", "8 on one side", "6 rising or falling"
]


@dataclass(frozen=True)
class Signal:
    """A stretch of the series that is unlikely by chance: `first` to `last`, counted from 0."""

    rule: Rule
    first: int
    raised: int
    """The value at which the rule was first met."""
    last: int
    side: int
    """+1 above the centre (or rising), -1 below it (or falling)."""


@dataclass(frozen=True)
class Limits:
    """Centre and limits from the baseline, in the unit of the values."""

    centre: float
    sigma: float
    """Standard deviation from the mean moving range."""
    baseline: int
    individuals: tuple[float, float]
    ewma: tuple[float, float]
    smoothing: float


def limits_of(
    values: Sequence[float], *, baseline: int = BASELINE, smoothing: float = SMOOTHING, width: float = WIDTH
) -> Limits:
    """Set centre and limits from the first `baseline` values.

    Raises `InputError` if values are fewer than `FEWEST` or all equal.
    """
    first = np.asarray(values, dtype=float)[:baseline]
    if first.size < FEWEST:
        raise InputError(
            f"{first.size} of the {FEWEST} values that control limits need; log more guitars first."
        )
    mean_range = float(np.abs(np.diff(first)).mean())
    if mean_range == 0.0:
        raise InputError("All values are equal, so nothing can be charted; log measured values, not targets.")
    centre, sigma = float(first.mean()), mean_range / D2
    half = width * sigma * math.sqrt(smoothing / (2.0 - smoothing))
    return Limits(
        centre=centre,
        sigma=sigma,
        baseline=int(first.size),
        individuals=(centre - 3.0 * sigma, centre + 3.0 * sigma),
        ewma=(centre - half, centre + half),
        smoothing=smoothing,
    )


def ewma(values: Sequence[float], *, start: float, smoothing: float = SMOOTHING) -> NDArray[np.float64]:
    """Return z_i = lambda x_i + (1 - lambda) z_(i-1) with z_0 = `start` (not among the values returned)."""
    each = accumulate(values, lambda last, value: smoothing * value + (1.0 - smoothing) * last, initial=start)
    return np.array(list(each)[1:])


def ewma_signals(values: Sequence[float], limits: Limits) -> tuple[Signal, ...]:
    """Return each stretch with the EWMA outside its limits, the alarm for a lasting shift.

    Stretches between which the EWMA did not return to the centre are one signal.
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
    """Return the probable start of the shift behind an EWMA signal: where the EWMA last crossed the centre.

    Source: Nishina [nishina1992] (from memory).
    """
    smoothed = ewma(values, start=limits.centre, smoothing=limits.smoothing)
    index = signal.first
    while index > 0 and signal.side * (smoothed[index - 1] - limits.centre) > 0.0:
        index -= 1
    return index


def run_signals(values: Sequence[float], limits: Limits) -> tuple[Signal, ...]:
    """Return the hints of the run rules; no alarms, since by chance alone they give one in 92 values."""
    z = (np.asarray(values, dtype=float) - limits.centre) / limits.sigma
    found: list[Signal] = []
    for rule, run, needed, beyond in (
        ("beyond 3", 1, 1, 3.0),
        ("2 of 3 beyond 2", 3, 2, 2.0),
        ("4 of 5 beyond 1", 5, 4, 1.0),
        ("8 on one side", 8, 8, 0.0),
    ):
        found += _stretches(rule, _sides(z, beyond, run=run, needed=needed), run=run)  # type: ignore[arg-type]
    steps = np.concatenate([[0], _sides(np.diff(z), 0.0, run=5, needed=5)])
    found += _stretches("6 rising or falling", steps, run=6)
    return tuple(sorted(found, key=lambda signal: (signal.first, signal.rule)))


def _sides(z: NDArray[np.float64], beyond: float, *, run: int, needed: int) -> NDArray[np.int_]:
    """+1 or -1 where a value and at least `needed` of the last `run` are beyond that side, else 0."""
    hits = [(side * z > beyond).astype(int) for side in (1, -1)]
    up, down = (hit * (np.convolve(hit, np.ones(run, dtype=int))[: z.size] >= needed) for hit in hits)
    return up - down


def _stretches(rule: Rule, side: NDArray[np.int_], *, run: int = 1) -> tuple[Signal, ...]:
    """Stretches of +1 or -1 in `side`, each extended to the `run` values that meet the rule."""
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
