"""A drift study as text for a terminal."""

from collections.abc import Iterator

import numpy as np

from cases.offset.warnings import CAUTIONS
from cases.studies.drift import Drift, Scenario
from cases.studies.season import Season

SHOWN_YEARS = (1.0 / 365.25, 1.0 / 12.0, 1.0, 5.0, 10.0, 20.0, 50.0)


def drift_text(study: Drift) -> str:
    """Text of a study: years, remaining adjustment, seasons, cautions."""
    parts = (
        _head(study),
        _years(study),
        _readjusted(study),
        _season(study.humid),
        _season(study.warm),
        _notes(study),
    )
    return "\n".join(line for part in parts for line in part)


def _head(study: Drift) -> Iterator[str]:
    yield f"{study.case}: set up to {study.relief_set_mm:.2f} mm relief, then up to {study.years[-1]:g} years"
    yield (
        "  creep data of structural softwood, k_def "
        + " / ".join(f"{course.k_def:g}" for course in study.courses)
        + " (low / middle / high)"
    )


def _name(years: float) -> str:
    if years < 0.01:
        return "1 day"
    return "1 month" if years < 0.09 else f"{years:g} year{'' if years == 1.0 else 's'}"


def _at(study: Drift, course: Scenario, name: str, years: float) -> float:
    # the study's times are evenly spaced on a log axis: interpolate linearly there
    times = np.log(np.array(study.years) + 1e-4)
    return float(np.interp(np.log(years + 1e-4), times, getattr(course, name)))


def _rod(value: float) -> str:
    """A torque with two decimals, a force of hundreds of newtons with none."""
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.2f}"


def _years(study: Drift) -> Iterator[str]:
    low, middle, high = study.courses
    yield ""
    columns = ("relief mm", "kink deg", "action mm", f"rod {study.rod_unit}", "weakest bolt")
    yield (
        "  left alone"
        + "".join(f"{text:>22}" for text in columns[:3])
        + "".join(f"{t:>14}" for t in columns[3:])
    )
    for years in (*(one for one in SHOWN_YEARS if one < study.years[-1]), study.years[-1]):

        def band(name: str, digits: int, years: float = years) -> str:
            ends = sorted(_at(study, course, name, years) for course in (low, high))
            return (
                f"{_at(study, middle, name, years):.{digits}f} ({ends[0]:.{digits}f} to {ends[1]:.{digits}f})"
            )

        rod = f"{_rod(_at(study, middle, 'rod', years)):>8}" if study.rod_unit else "    none"
        bolt = 100.0 * _at(study, middle, "bolt_share", years)
        yield (
            f"  {_name(years):10}{band('relief_mm', 2):>22}{band('kink_deg', 2):>22}"
            f"{band('action_mm', 2):>22}{rod:>14}{bolt:12.0f} %"
        )
    first, last = study.across_band_deg
    yield (
        f"  final kink {first:+.3f} to {last:+.3f} deg with creep across the grain and in shear"
        " 1.5 to 2 times that along the grain"
    )


def _readjusted(study: Drift) -> Iterator[str]:
    yield ""
    yield f"  readjusted      rod {study.rod_unit:4}   kink deg   saddle cut mm"
    for course, which in zip(study.courses, ("low", "middle", "high"), strict=True):
        rod = f"{_rod(course.rod_anew[-1]):>8}" if study.rod_unit else "    none"
        yield f"  {which:14}{rod} {course.kink_anew_deg[-1]:+10.3f} {course.saddle_cut_mm[-1]:12.2f}"
    span = study.years[-1]
    enough = _until(study, "saddle_years", span)
    yield f"  the saddle can be lowered by {study.saddle_room_mm:.2f} mm: {enough}"
    yield (
        f"  shims in stock can lean the neck back by another {study.stock_room_deg:.2f} deg:"
        f" {_until(study, 'stock_years', span)}"
    )


def _until(study: Drift, name: str, span: float) -> str:
    said = []
    for course in reversed(study.courses):
        years = getattr(course, name)
        said.append(f"over {span:g}" if years is None else f"{years:.1f}")
    return f"enough for {said[1]} years ({said[0]} to {said[2]})"


def _season(season: Season | None) -> Iterator[str]:
    if season is None:
        return
    yield ""
    values = season.courses[0].value
    moist = ""
    if season.moisture_percent is not None:
        moist = f" (moisture {season.moisture_percent[0]:.1f} to {season.moisture_percent[-1]:.1f} %)"
    span = f"{season.kind} {values[0]:g} to {values[-1]:g} {season.unit}"
    yield f"  {span}{moist}, set up at {season.set_up_at:g}, bolts kept tight"
    for course in season.courses:
        yield (
            f"  {course.name:18} relief {course.relief_mm[0]:.2f} to {course.relief_mm[-1]:.2f} mm,"
            f" action {course.action_mm[0]:.2f} to {course.action_mm[-1]:.2f} mm,"
            f" kink {course.kink_deg[0]:+.3f} to {course.kink_deg[-1]:+.3f} deg"
        )
    course = season.courses[0]
    ends = [f"at {value:g} {season.unit}" for value in (values[0], values[-1])]
    yield (
        f"  bolts not retightened: weakest {100 * course.bolt_low[0]:.0f} % of its tension {ends[0]},"
        f" {100 * course.bolt_low[-1]:.0f} % {ends[1]};"
        f" strongest {100 * course.bolt_high[0]:.0f} and {100 * course.bolt_high[-1]:.0f} %"
    )
    loose = [value for value, share in zip(values, course.bolt_low, strict=True) if share <= 0.0]
    if loose:
        first = loose[-1] if loose[0] == values[0] else loose[0]
        what = " humidity" if season.kind == "humidity" else ""
        yield (
            f"  WARNING: at {first:.0f} {season.unit}{what} a bolt not retightened has lost all tension:"
            " check the bolts each season, strings slack."
        )


def _notes(study: Drift) -> Iterator[str]:
    yield ""
    yield "  Creep, no moisture lag, elastic bolts: compare scenarios, not single figures (docs/drift.md)."
    for text in CAUTIONS:
        yield f"  CAUTION: {text}"
