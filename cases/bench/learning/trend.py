"""What the log says over time: how far measured lies from predicted, and how often the first pair was right.

Takes fits as `cases.bench.logbook.logbook.fits` gives them, returns frozen results. Nothing here reads who
did the work: a rate is of a week, a wood batch or a bench, never of a person.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from cases.bench.learning.control_chart import (
    Limits,
    Signal,
    ewma,
    ewma_signals,
    limits_of,
    run_signals,
    shift_began,
)
from cases.bench.logbook.current_rows import Fit, Measurement
from materials.errors import InputError

CHARTED = (("action_bass", "mm"), ("action_treble", "mm"), ("kink", "deg"))
"""The kinds that are charted when the log has them; the prediction's key is `kind_unit`."""

Grouping = Literal["all", "week", "wood_batch", "bench"]
GROUPINGS: tuple[Grouping, ...] = ("all", "week", "wood_batch", "bench")


@dataclass(frozen=True)
class Residual:
    """Measured minus predicted of one fit, strung."""

    serial: str
    attempt: int
    started_utc: datetime
    wood_batch: str | None
    bench: str | None
    value: float


@dataclass(frozen=True)
class Chart:
    """The control chart of one kind: points in the order of the log, limits, what leaves them."""

    kind: str
    unit: str
    points: tuple[Residual, ...]
    limits: Limits
    smoothed: tuple[float, ...]
    alarms: tuple[Signal, ...]
    """EWMA outside its limits: a lasting shift; act on these."""
    hints: tuple[Signal, ...]
    """Run rules: help to see what happened; act on them only beside an alarm."""
    bias: float
    """Mean of the baseline: what prediction and bench differ by all along."""
    bias_half_width: float
    """Half of its 95 % interval (Student's t)."""

    @property
    def values(self) -> tuple[float, ...]:
        """Return the residuals alone, in `unit`."""
        return tuple(point.value for point in self.points)


@dataclass(frozen=True)
class Rate:
    """First-time-right of one group: guitars whose first pair stayed in."""

    group: str
    right: int
    judged: int
    open: int
    """Guitars with a first pair in, not yet measured at pitch: counted neither way."""
    share: float | None
    low: float | None
    high: float | None
    """95 % interval of the share (Wilson 1927; NIST/SEMATECH e-Handbook 7.2.4.1)."""
    limit_low: float | None
    """Below it chance alone is no reason: p - 3 sqrt(p (1 - p)/n), p over all (handbook 6.3.3.2)."""

    @property
    def stands_out(self) -> bool:
        """Say whether the group lies below its control limit."""
        return self.share is not None and self.limit_low is not None and self.share < self.limit_low


def residuals(fits: Sequence[Fit], kind: str, unit: str) -> tuple[Residual, ...]:
    """Return measured minus predicted [`unit`] of each fit that has both; the longest at pitch counts."""
    found = []
    for fit in fits:
        predicted = fit.predicted.get(f"{kind}_{unit}")
        measured = [
            one for one in fit.measurements if (one.kind, one.unit, one.state) == (kind, unit, "strung")
        ]
        if isinstance(predicted, int | float) and not isinstance(predicted, bool) and measured:
            last = max(measured, key=_time_at_pitch)
            found.append(
                Residual(
                    serial=fit.serial,
                    attempt=fit.attempt,
                    started_utc=fit.started_utc,
                    wood_batch=fit.wood_batch,
                    bench=fit.bench,
                    value=last.value - predicted,
                )
            )
    return tuple(found)


def _time_at_pitch(measured: Measurement) -> tuple[float, int]:
    minutes = measured.minutes_since_pitch
    return (-1.0 if minutes is None else minutes, measured.id)


def chart(points: Sequence[Residual], kind: str, unit: str) -> Chart:
    """Chart residuals in their order.

    Raises
    ------
    InputError
        Too few points, or points that do not vary.
    """
    from scipy.stats import t

    values = [point.value for point in points]
    try:
        limits = limits_of(values)
    except InputError as error:
        raise InputError(f"{kind}: {error}") from None
    base = np.asarray(values[: limits.baseline])
    half_width = t.ppf(0.975, base.size - 1) * base.std(ddof=1) / np.sqrt(base.size)
    return Chart(
        kind=kind,
        unit=unit,
        points=tuple(points),
        limits=limits,
        smoothed=tuple(float(z) for z in ewma(values, start=limits.centre, smoothing=limits.smoothing)),
        alarms=ewma_signals(values, limits),
        hints=run_signals(values, limits),
        bias=limits.centre,
        bias_half_width=float(half_width),
    )


def first_time_right(fits: Sequence[Fit], by: Grouping = "all") -> tuple[Rate, ...]:
    """Return how often the first pair stayed in, by week of the first fit, wood batch or bench.

    A guitar is judged once its first fit was measured strung, or a swap followed; it is right when none
    did. A return years later is not a swap.

    Raises
    ------
    InputError
        Another grouping, above all by person.
    """
    if by not in GROUPINGS:
        raise InputError(
            f"Rates are not kept by {by!r}, and never by person; choose one of {', '.join(GROUPINGS)}."
        )
    of_guitar: dict[str, list[Fit]] = {}
    for fit in sorted(fits, key=lambda fit: fit.attempt):
        of_guitar.setdefault(fit.serial, []).append(fit)
    counts: dict[str, list[int]] = {}
    for attempts in of_guitar.values():
        first = attempts[0]
        if first.reason != "new":
            continue
        swapped = any(fit.reason == "swap" for fit in attempts)
        measured = any(one.state == "strung" for one in first.measurements)
        right, judged, still_open = counts.setdefault(_group(first, by), [0, 0, 0])
        counts[_group(first, by)] = [
            right + (measured and not swapped),
            judged + (measured or swapped),
            still_open + (not measured and not swapped),
        ]
    overall = np.sum(list(counts.values()) or [[0, 0, 0]], axis=0)
    share = overall[0] / overall[1] if overall[1] else None
    return tuple(_rate(group, *counts[group], overall=share) for group in sorted(counts))


def _group(fit: Fit, by: Grouping) -> str:
    if by == "week":
        year, week, _ = fit.started_utc.isocalendar()
        return f"{year}-W{week:02d}"
    if by == "all":
        return "all"
    return getattr(fit, by) or "(not given)"


def _rate(group: str, right: int, judged: int, still_open: int, *, overall: float | None) -> Rate:
    from scipy.stats import binomtest

    if not judged or overall is None:
        return Rate(group, right, judged, still_open, None, None, None, None)
    interval = binomtest(right, judged).proportion_ci(method="wilson")
    limit = overall - 3.0 * float(np.sqrt(overall * (1.0 - overall) / judged))
    return Rate(
        group=group,
        right=right,
        judged=judged,
        open=still_open,
        share=right / judged,
        low=float(interval.low),
        high=float(interval.high),
        limit_low=max(float(limit), 0.0),
    )


def say_alarm(chart: Chart, alarm: Signal) -> str:
    """Say one alarm in plain words: what, since when, how much, what to look at."""
    began = shift_began(chart.values, chart.limits, alarm)
    size = float(np.mean(chart.values[began : alarm.last + 1])) - chart.limits.centre
    way = "high" if alarm.side > 0 else "low"
    over = (
        "is still so" if alarm.last == len(chart.points) - 1 else f"lasted until {_name(chart, alarm.last)}"
    )
    return (
        f"{chart.kind}: runs {way} by about {abs(size):.3g} {chart.unit} "
        f"({abs(size) / chart.limits.sigma:.1f} standard deviations) since about {_name(chart, began)}, "
        f"seen at {_name(chart, alarm.raised)}; it {over}. "
        "Look for what changed there: wood, strings, tools, weather."
    )


_HINTS = {
    "beyond 3": "lies beyond three standard deviations: measure that guitar again",
    "2 of 3 beyond 2": "two of three beyond two standard deviations on one side",
    "4 of 5 beyond 1": "four of five beyond one standard deviation on one side",
    "8 on one side": "eight or more in a row on one side of the centre",
    "6 rising or falling": "six or more in a row rising, or falling: something wears or drifts",
}


def say_hint(chart: Chart, hint: Signal) -> str:
    """Say one hint in plain words."""
    where = _name(chart, hint.first)
    if hint.last != hint.first:
        where += f" to {_name(chart, hint.last)}"
    side = {1: "high", -1: "low"}[hint.side]
    if hint.rule == "6 rising or falling":
        side = {1: "rising", -1: "falling"}[hint.side]
    return f"{chart.kind}: {where} ({side}): {_HINTS[hint.rule]}."


def _name(chart: Chart, index: int) -> str:
    point = chart.points[index]
    return f"fit {index + 1} (serial {point.serial}, {point.started_utc:%Y-%m-%d})"


def false_alarms_a_month(
    run_length: float, *, guitars_a_day: float = 40.0, days_a_month: float = 21.0
) -> float:
    """Return how often chance alone raises an alarm, in a month of so many guitars a day."""
    return guitars_a_day * days_a_month / run_length
