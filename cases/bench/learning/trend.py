"""Trends in the log: measured minus predicted values, and how often the first pair was right.

Rates are by week, wood batch or bench, never by person: nothing here reads who did the work.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import radians
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
from cases.bench.shims.case_of_guitar import latest
from cases.bench.shims.dry_log import changed_dry
from cases.bench.shims.geometry import geometry_of
from cases.casefile.case import Case
from materials.errors import InputError

ROUNDING_MM = 1e-9
CHARTED = (("action_bass", "mm"), ("action_treble", "mm"), ("tongue_gap", "mm"), ("kink", "deg"))
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
    """Share of the guitars of a group whose first pair was right, or stayed."""

    group: str
    right: int
    judged: int
    open: int
    """Guitars of which too little was measured at pitch, not counted."""
    share: float | None
    low: float | None
    high: float | None
    """95 % interval of the share (Wilson [wilson1927]; NIST/SEMATECH e-Handbook 7.2.4.1)."""
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


@dataclass(frozen=True)
class _Guitar:
    """A guitar built new: the first pair strung up, and whether a swap followed."""

    first: Fit
    swapped: bool


def _guitars(fits: Sequence[Fit]) -> list[_Guitar]:
    """Guitars by their first attempt; pairs changed before the strings went on are left out."""
    of_guitar: dict[str, list[Fit]] = {}
    for fit in sorted(fits, key=lambda fit: fit.attempt):
        of_guitar.setdefault(fit.serial, []).append(fit)
    found = []
    for attempts in of_guitar.values():
        if attempts[0].reason != "new":
            continue
        while len(attempts) > 1 and attempts[1].reason == "swap" and changed_dry(attempts[0]):
            attempts = attempts[1:]
        found.append(_Guitar(attempts[0], any(fit.reason == "swap" for fit in attempts[1:])))
    return found


def first_time_right(
    fits: Sequence[Fit], by: Grouping = "all", *, cases: Mapping[str, Case]
) -> tuple[Rate, ...]:
    """Return how often the first pair strung up was right, by week, wood batch or bench.

    Right: action, and tongue gap or kink, all that were measured at pitch, within the case's tolerance. A
    guitar without both, or without its case, is open unless a swap followed: then it was not right. Raises
    `InputError` for another grouping.

    ``cases`` : by sha256, see `case_of_guitar.logged_cases`.
    """
    return _rates(fits, by, lambda one: _right(one, cases.get(one.first.case_sha256 or "")))


def pair_stayed(fits: Sequence[Fit], by: Grouping = "all") -> tuple[Rate, ...]:
    """Return how often no swap was logged after the first string-up, grouped in the same way.

    A guitar counts once it was measured at pitch or a swap followed. A return years later is not a swap.
    """

    def stayed(one: _Guitar) -> bool | None:
        measured = any(measured.state == "strung" for measured in one.first.measurements)
        return not one.swapped if measured or one.swapped else None

    return _rates(fits, by, stayed)


def _rates(fits: Sequence[Fit], by: Grouping, verdict: Callable[[_Guitar], bool | None]) -> tuple[Rate, ...]:
    if by not in GROUPINGS:
        raise InputError(
            f"There are no rates by {by!r}, and never by person; choose one of {', '.join(GROUPINGS)}."
        )
    counts: dict[str, list[int]] = {}
    for one in _guitars(fits):
        found = verdict(one)
        group = counts.setdefault(_group(one.first, by), [0, 0, 0])
        for place, more in enumerate((found is True, found is not None, found is None)):
            group[place] += more
    overall = np.sum(list(counts.values()) or [[0, 0, 0]], axis=0)
    share = overall[0] / overall[1] if overall[1] else None
    return tuple(_rate(group, *counts[group], overall=share) for group in sorted(counts))


def _right(one: _Guitar, case: Case | None) -> bool | None:
    """Whether a first fit was within tolerance, None if what was measured does not tell."""
    action, gaps = (None, []) if case is None else errors_at_pitch(one.first, case)
    if case is not None:
        tolerance = case.tolerance
        out = [abs(gap) > tolerance.tongue_gap_mm + ROUNDING_MM for gap in gaps]
        out += [] if action is None else [abs(action) > tolerance.action_mm + ROUNDING_MM]
        if any(out):
            return False
        if action is not None and gaps:
            return True
    return False if one.swapped else None


def errors_at_pitch(fit: Fit, case: Case) -> tuple[float | None, list[float]]:
    """Measured minus wanted at pitch [mm]: mean action of the sides measured, and the gap at the last fret as
    measured and as the kink gives it.

    A target kink has a gap of its own and the other way round: the fit's prediction relates them, without one
    both are zero together.
    """
    setup, targets = case.setup, case.targets
    wanted = {"action_bass": setup.action_bass_mm, "action_treble": setup.action_treble_mm}
    read = {kind: latest(fit, kind, "strung") for kind in (*wanted, "tongue_gap", "kink")}
    off = [one.value - wanted[kind] for kind, one in read.items() if one is not None and kind in wanted]
    lever = geometry_of(case).tongue_lever
    gap, kink = (fit.predicted.get(key, 0.0) for key in ("tongue_gap_mm", "kink_deg"))
    beyond = float(gap) - radians(float(kink)) * lever if "kink_deg" in fit.predicted else 0.0  # type: ignore[arg-type]
    if targets.tongue_gap_mm is not None:
        wanted_gap = targets.tongue_gap_mm
    else:
        wanted_gap = radians(targets.kink_deg or 0.0) * lever + beyond
    gaps = []
    if read["tongue_gap"] is not None:
        gaps.append(read["tongue_gap"].value - wanted_gap)
    if read["kink"] is not None:
        gaps.append(radians(read["kink"].value) * lever + beyond - wanted_gap)
    return (float(np.mean(off)) if off else None), gaps


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
