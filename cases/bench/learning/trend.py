"""Trends in the log: measured minus predicted values, and how often the first pair was right.

Rates are by week, wood batch or bench, never by person: nothing here reads who did the work.
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
"""Charted kinds with their units; the key of the prediction is `kind_unit`."""

Grouping = Literal["all", "week", "wood_batch", "bench"]
GROUPINGS: tuple[Grouping, ...] = ("all", "week", "wood_batch", "bench")


@dataclass(frozen=True)
class Residual:
    """Measured minus predicted value of one strung guitar."""

    serial: str
    started_utc: datetime
    value: float


@dataclass(frozen=True)
class Chart:
    """Control chart of one kind: residuals in the order of the log, limits, alarms, hints."""

    kind: str
    unit: str
    points: tuple[Residual, ...]
    limits: Limits
    smoothed: tuple[float, ...]
    alarms: tuple[Signal, ...]
    """EWMA outside its limits: lasting shifts."""
    hints: tuple[Signal, ...]
    """Run rules: they help to explain an alarm."""
    bias: float
    """Mean of the baseline: constant difference of measurement and prediction."""
    bias_half_width: float
    """Half of its 95 % interval (Student's t)."""

    @property
    def values(self) -> tuple[float, ...]:
        """Return the residuals alone, in `unit`."""
        return tuple(point.value for point in self.points)


@dataclass(frozen=True)
class Rate:
    """First-time-right rate of a group: guitars that kept their first pair."""

    group: str
    right: int
    judged: int
    open: int
    """Guitars not yet measured at pitch, not counted."""
    share: float | None
    low: float | None
    high: float | None
    """95 % interval of the share (Wilson 1927; NIST/SEMATECH e-Handbook 7.2.4.1)."""
    limit_low: float | None
    """Control limit p - 3 sqrt(p (1 - p)/n), with p of all guitars (handbook 6.3.3.2)."""

    @property
    def stands_out(self) -> bool:
        """Whether the group is below its control limit."""
        return self.share is not None and self.limit_low is not None and self.share < self.limit_low


def residuals(fits: Sequence[Fit], kind: str, unit: str) -> tuple[Residual, ...]:
    """Return measured minus predicted [`unit`] of each fit with both, at its longest time at pitch."""
    found = []
    for fit in fits:
        predicted = fit.predicted.get(f"{kind}_{unit}")
        measured = [
            one for one in fit.measurements if (one.kind, one.unit, one.state) == (kind, unit, "strung")
        ]
        if isinstance(predicted, int | float) and not isinstance(predicted, bool) and measured:
            last = max(measured, key=_time_at_pitch)
            found.append(Residual(fit.serial, fit.started_utc, last.value - predicted))
    return tuple(found)


def _time_at_pitch(measured: Measurement) -> tuple[float, int]:
    minutes = measured.minutes_since_pitch
    return (-1.0 if minutes is None else minutes, measured.id)


def chart(points: Sequence[Residual], kind: str, unit: str) -> Chart:
    """Chart residuals in their order; raises `InputError` if points are too few or all equal."""
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
    """Return how often guitars kept their first pair, by week of the first fit, wood batch or bench.

    A guitar counts once its first fit was measured strung or a swap followed; it is right without a swap. A
    return years later is not a swap. Raises `InputError` for another grouping.
    """
    if by not in GROUPINGS:
        raise InputError(
            f"There are no rates by {by!r}, and never by person; choose one of {', '.join(GROUPINGS)}."
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


def alarm_text(chart: Chart, alarm: Signal) -> str:
    """Return an alarm as text: kind, size, start, and what to look for."""
    began = shift_began(chart.values, chart.limits, alarm)
    size = float(np.mean(chart.values[began : alarm.last + 1])) - chart.limits.centre
    way = "high" if alarm.side > 0 else "low"
    over = "continues" if alarm.last == len(chart.points) - 1 else f"lasted until {_name(chart, alarm.last)}"
    return (
        f"{chart.kind}: too {way} by about {abs(size):.3g} {chart.unit} "
        f"({abs(size) / chart.limits.sigma:.1f} standard deviations) since about {_name(chart, began)}, "
        f"detected at {_name(chart, alarm.raised)}; it {over}. "
        "Look for a change of wood, strings, tools or weather at that time."
    )


_HINTS = {
    "beyond 3": "beyond three standard deviations: measure that guitar again",
    "2 of 3 beyond 2": "two of three beyond two standard deviations on one side",
    "4 of 5 beyond 1": "four of five beyond one standard deviation on one side",
    "8 on one side": "eight or more in a row on one side of the centre",
    "6 rising or falling": "six or more in a row rising or falling: something wears or drifts",
}


def hint_text(chart: Chart, hint: Signal) -> str:
    """Return a hint as text."""
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
    """Return the number of alarms a month by chance alone."""
    return guitars_a_day * days_a_month / run_length
