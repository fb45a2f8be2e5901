"""The dry check of a guitar in the log: readings of its bolted joint, and the advice that followed."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import degrees, sqrt
from typing import Any

from cases.bench.logbook.current_rows import Fit, Measurement
from cases.bench.logbook.validation import NewMeasurement
from cases.bench.shims.case_of_guitar import fit_with_pocket, reading_heights, squares_of
from cases.bench.shims.dry_check import (
    BOLTED,
    MOST_READINGS,
    ODD,
    TUNED_DOWN,
    DryCheck,
    DryReading,
    dry_check,
    dry_prediction,
    dry_reading,
    kink_of_gap,
    line_off,
)
from cases.bench.shims.readings import FEELER_MM, Conditions, average
from cases.bench.shims.strung_neck import Bench, Uncertainty, bench_of
from cases.casefile.case import Case
from cases.offset.calibration import Calibration
from materials.errors import InputError

ADVISED = ("advised_upper", "advised_lower")
"""Kinds under which the log keeps the pair that the program advised."""

SEMITONES = 6.0
"""Interval by which strings are tuned down for a reading: half the tension."""


def tuned_down_of(found: Sequence[Fit]) -> float | None:
    """Semitones by which the strings were tuned down for a reading of these fits, None without one."""
    kinds = {one.kind for fit in found for one in fit.measurements}
    return SEMITONES if "tuned_down_kink" in kinds else None


def bench_of_fits(case: Case, calibration: Calibration | None, found: Sequence[Fit]) -> Bench:
    """Solve a case for the bench with the states in which these fits were read."""
    return bench_of(case, calibration=calibration, tuned_down=tuned_down_of(found))


def with_measured(found: Sequence[Fit], measured: Sequence[NewMeasurement]) -> tuple[Fit, ...]:
    """Fits with measurements of the last one that are not in the log yet."""
    last = found[-1]
    new = [Measurement.model_construct(**one.model_dump(), id=0) for one in measured]
    return (*found[:-1], last.model_copy(update={"measurements": (*last.measurements, *new)}))


def since_new(found: Sequence[Fit]) -> tuple[Fit, ...]:
    """Attempts of a guitar since it was new or came back, in their order, without those struck out."""
    valid = sorted((fit for fit in found if not fit.struck_out), key=lambda fit: fit.attempt)
    starts = [number for number, fit in enumerate(valid) if fit.reason != "swap"]
    return tuple(valid[starts[-1] if starts else 0 :])


def strung_before(found: Sequence[Fit]) -> bool:
    """Whether an earlier pair of the guitar was measured at pitch since it was new or came back."""
    return any(
        one.state == "strung" and one.kind not in ADVISED
        for fit in since_new(found)[:-1]
        for one in fit.measurements
    )


def _values(fit: Fit, kind: str) -> list[float]:
    """Values of a kind read on the bolted joint, the last five."""
    read = [one.value for one in fit.measurements if (one.kind, one.state) == (kind, "bolted")]
    return read[-MOST_READINGS:]


def bolted_kinks(bench: Bench, fit: Fit, *, correction: float) -> list[float]:
    """Kinks read on the bolted joint of an attempt, or else the kinks of the tongue gaps read [deg]."""
    gaps = _values(fit, "tongue_gap")
    if _values(fit, "kink") or not gaps:
        return _values(fit, "kink")
    at = bench.strung(fit.upper_deg, fit.lower_deg - correction)
    return [kink_of_gap(gap, at, bench) for gap in gaps]


def _readings(bench: Bench, attempts: Sequence[Fit], *, correction: float) -> Iterator[DryReading]:
    """The mean kink, bolted and tuned down, of each attempt that was read before full pitch."""
    for fit in attempts:
        pair = (fit.upper_deg, fit.lower_deg)
        if kinks := bolted_kinks(bench, fit, correction=correction):
            yield dry_reading(pair, kinks, bench.geometry, place=BOLTED)
        if bench.tuned_down is not None and (kinks := _values(fit, "tuned_down_kink")):
            yield dry_reading(pair, kinks, bench.geometry, place=TUNED_DOWN)


def checked(bench: Bench, found: Sequence[Fit]) -> tuple[DryCheck, dict[str, float]]:
    """Check a guitar by what the log has read of it; return the check, and the prediction for its best pair.

    Readings of earlier pairs count too. Raises `InputError` without a reading of the pocket, or of the joint
    on the pair now in the guitar, and if an earlier pair was measured at pitch, of which a dry check knows
    nothing.

    ``found`` : its fits, without what was struck out.
    """
    attempts = since_new(found)
    last, geometry, case = attempts[-1], bench.geometry, bench.case
    if strung_before(found):
        raise InputError(
            f"serial {last.serial}: an earlier pair was measured at pitch, of which a dry check knows "
            "nothing; string up the pair that went in, measure it, and ask `neckpreload swap`."
        )
    pocket = fit_with_pocket(found)
    heights, squares = reading_heights(pocket, geometry), squares_of(pocket)
    if not heights:
        raise InputError(
            f"serial {last.serial}: the log has no reading of its bare pocket, so nothing can be expected of "
            "the pair; add it with `neckpreload logbook add ... --state bare --measured reading=1.8mm`."
        )
    correction = squares.correction_deg(geometry)
    readings = list(_readings(bench, attempts, correction=correction))
    pair = (last.upper_deg, last.lower_deg)
    if not readings or readings[-1].pair_deg != pair:
        raise InputError(
            f"serial {last.serial}: the joint has not been read with the pair upper {pair[0]:+.2f}, lower "
            f"{pair[1]:+.2f} deg; read it and give --bolted kink=-0.07deg."
        )
    humid = next((one.rh_percent for one in pocket.measurements if one.kind == "reading"), None)
    reading = average(heights, case.tolerance)
    uncertainty = bench.uncertainty(
        bench.within_stock(pair[0], pair[1] - correction),
        reading_mm=Conditions(humid).widened(reading.error_mm),
        seats_deg=squares.error_deg(geometry, case.tolerance),
    )
    check = dry_check(bench, reading.mm, readings, uncertainty, correction=correction)
    lines = _values(last, "saddle_line")
    line = None if not lines else sum(lines) / len(lines)
    kinks = bolted_kinks(bench, last, correction=correction)
    warnings = (
        *_scattered(bench, kinks),
        *_warnings(bench, check, uncertainty, reading.mm, line, correction=correction),
    )
    predicted = dry_prediction(bench, reading.mm, check.best, correction=correction)
    return replace(check, warnings=warnings), predicted


def _scattered(bench: Bench, kinks: Sequence[float]) -> Iterator[str]:
    """Warning of readings of one joint that differ by more than the feeler's error explains."""
    spread = max(kinks, default=0.0) - min(kinks, default=0.0)
    if spread > ODD * sqrt(2.0) * degrees(FEELER_MM / bench.geometry.tongue_lever):
        yield (
            f"The readings of this joint differ by {spread:.3f} deg, so their mean says little: read again, "
            "and strike out what was misread with `neckpreload logbook amend`."
        )


def _warnings(
    bench: Bench,
    check: DryCheck,
    uncertainty: Uncertainty,
    reading_mm: float,
    line_mm: float | None,
    *,
    correction: float,
) -> Iterator[str]:
    if check.odd:
        yield (
            f"The kink is {abs(check.kink_deg - check.expected_deg):.3f} deg from the expected one, more "
            f"than {ODD:g} standard deviations: inspect before you change a shim. Look for a shim other than "
            "printed or the wrong way round, a chip in the joint, a bolt that does not pull. Then strike "
            "this reading out with `neckpreload logbook amend` and read again."
        )
    if line_mm is not None:
        at = bench.strung(check.stay.upper_deg, check.stay.lower_deg - correction)
        off, spread = line_off(bench, reading_mm, line_mm, at, uncertainty)
        if abs(off) > ODD * spread:
            yield (
                f"The line of the frets passes the saddle at {line_mm:.2f} mm over the top, "
                f"{line_mm - off:.2f} mm were expected: the reading of the pocket is probably wrong by "
                f"{off:+.1f} mm. Read the pocket again and correct it with `neckpreload logbook amend`."
            )
    if not check.body_included:
        yield "Body not included: the chance is that of the tongue gap alone."
    if bench.calibration and (text := bench.calibration.warning(bench.given)):
        yield text


def advice(pair_deg: tuple[float, float], state: str) -> list[dict[str, Any]]:
    """Values that keep an advised pair in the log, for `NewMeasurement`."""
    return [
        {"kind": kind, "state": state, "value": angle, "unit": "deg"}
        for kind, angle in zip(ADVISED, pair_deg, strict=True)
    ]


def last_advice(fit: Fit, state: str | None = None) -> tuple[float, float] | None:
    """The pair advised last on an attempt, in one state or in any, None without advice."""
    found = {one.kind: one.value for one in fit.measurements if state in (None, one.state)}
    upper, lower = (found.get(kind) for kind in ADVISED)
    return None if upper is None or lower is None else (upper, lower)


def changed_dry(fit: Fit) -> bool:
    """Whether another pair was advised before this one was strung up, and nothing measured at pitch."""
    advised = last_advice(fit, "bolted")
    at_pitch = any(one.state == "strung" for one in fit.measurements)
    return advised is not None and advised != (fit.upper_deg, fit.lower_deg) and not at_pitch
