"""From a reading of the bare pocket to the pair of shims: nearest pair in stock, neighbouring pairs, and the
chance that each is right (docs/bench-theory.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan, degrees, radians, tan

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.bivariate_normal import both_within
from cases.bench.shims.geometry import Geometry
from cases.bench.shims.lengths import length
from cases.bench.shims.readings import (
    NO_SQUARES,
    NOT_RECORDED,
    Conditions,
    Reading,
    Squares,
    average,
    check_pocket,
)
from cases.bench.shims.strung_neck import Bench, Strung, Uncertainty, bench_of, covariance_of
from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.calibration import PITCH_BIAS, Calibration
from cases.offset.solve import Solved
from materials.errors import InputError

Array = NDArray[np.float64]
ROW_MM = 0.2
"""Step of the reading table [mm]."""
BODY_UNKNOWN = (
    "Body not included: under the strings the body rotates too, which lowers the saddle line further and "
    "raises the action. To include it, measure on one guitar how far a straightedge drops at the saddle "
    "to pitch, from strings slackened after a first tuning (body.straightedge_drop_mm), give the body's "
    "stiffness (body.stiffness_n_m_per_rad), or log the action of some guitars and run "
    "`neckpreload calibrate shop`. "
    "Until then no chance is calculated."
)


@dataclass(frozen=True)
class PairForecast:
    """Expected result of a pair of shims at pitch, rod set and saddle as preset.

    Attributes
    ----------
    saddle_needed_mm : height of the saddle over the bridge for the wanted action.
    saddle_clearance_mm : distance of the shaft line, extended over the fret crowns, below the saddle's top.
    kink_deg, tongue_gap_mm : at pitch, without the bow of the shaft.
    chance : that action and tongue gap are both within the case's tolerance; None where the body is unknown.
    """

    upper_deg: float
    lower_deg: float
    action_bass_mm: float
    action_treble_mm: float
    saddle_needed_mm: float
    saddle_clearance_mm: float
    kink_deg: float
    tongue_gap_mm: float
    bolted_kink_deg: float
    chance: float | None


@dataclass(frozen=True)
class PairChoice:
    """The pair chosen for a pocket; wanted angles are before rounding to the stock [deg].

    ``string_drop_mm`` is the fall of the shaft line at the saddle from bolting up to pitch, rod set, and
    ``string_rotation_deg`` the rotation about the joint with the same fall.
    """

    case: str
    case_sha256: str
    calibration_id: str | None
    reading: Reading
    pocket_deg: float
    upper_wanted_deg: float
    lower_wanted_deg: float
    lower_correction_deg: float
    string_drop_mm: float
    string_rotation_deg: float
    pair: PairForecast
    beside: tuple[PairForecast, ...]
    body_included: bool
    tolerance_mm: tuple[float, float]
    """Tolerance of action and tongue gap [mm]."""
    warnings: tuple[str, ...]


def choose_pair(
    bench: Bench,
    readings: Sequence[float],
    *,
    squares: Squares = NO_SQUARES,
    conditions: Conditions = NOT_RECORDED,
    inch: bool = False,
) -> PairChoice:
    """Choose the pair for a pocket; raises `InputError` without a reading, or with one that no pocket gives.

    ``readings`` : heights of the carried pocket plane over the top at the saddle [mm]; `Geometry.height_of`
    converts a pocket angle; ``inch`` : whether warnings give lengths in inches.
    """
    case, geometry = bench.case, bench.geometry
    reading = average(readings, case.tolerance)
    check_pocket(reading.mm, geometry)
    reading = replace(reading, error_mm=conditions.widened(reading.error_mm))
    correction = squares.correction_deg(geometry)
    _check_squares(bench, squares)
    upper, lower = wanted_angles(bench, reading.mm)
    uncertainty = None
    if body_included(bench):
        seats_deg = squares.error_deg(geometry, case.tolerance)
        uncertainty = bench.uncertainty(
            bench.within_stock(upper, lower), reading_mm=reading.error_mm, seats_deg=seats_deg
        )
    best, beside = stock_choice(bench, (upper, lower), correction=correction)
    forecast, *others = (
        pair_forecast(bench, reading.mm, one, correction=correction, uncertainty=uncertainty)
        for one in (best, *beside)
    )
    at = bench.strung(best[0], best[1] - correction)
    drop = at.bolted_line_mm - at.line_mm
    return PairChoice(
        case=bench.given.name,
        case_sha256=bench.given.sha256,
        calibration_id=bench.calibration.id if bench.calibration else None,
        reading=reading,
        pocket_deg=geometry.angle_of(reading.mm),
        upper_wanted_deg=upper,
        lower_wanted_deg=lower + correction,
        lower_correction_deg=correction,
        string_drop_mm=drop,
        string_rotation_deg=degrees(atan(drop / geometry.reach)),
        pair=forecast,
        beside=tuple(others),
        body_included=body_included(bench),
        tolerance_mm=(case.tolerance.action_mm, case.tolerance.tongue_gap_mm),
        warnings=(
            *conditions.warnings(),
            *_warnings(bench, reading, forecast, (upper, lower + correction), inch=inch),
        ),
    )


def _check_squares(bench: Bench, squares: Squares) -> None:
    """Refuse faces so far out of square that a shim in stock would act steeper than any shim can be."""
    stock, steepest = bench.case.stock.angles_deg(), bench.steepest_lower_deg
    low, high = stock[0] - steepest, stock[-1] + steepest
    if low <= squares.correction_deg(bench.geometry) <= high:
        return
    given = {"--pocket-square": squares.pocket, "--heel-square": squares.heel}
    gaps = ", ".join(f"{name} {gap:g} mm" for name, gap in given.items() if gap is not None)
    ends = [bench.geometry.heel_face * tan(radians(angle)) for angle in (low, high)]
    raise InputError(
        f"{gaps}: {ends[0]:.2f} to {ends[1]:.2f} mm for both squares together are allowed with this heel "
        "and stock; check decimal point, sign and unit, or cut the faces square first."
    )


def body_included(bench: Bench) -> bool:
    """Whether the action includes the body: its stiffness is known, or was learned from measured actions."""
    return bench.body_known or bool(bench.calibration and PITCH_BIAS in bench.calibration.parameters)


def wanted_angles(bench: Bench, reading_mm: float) -> tuple[float, float]:
    """Upper and lower angle for the wanted saddle height and kink, before rounding [deg].

    Newton's method on the full model with the gains at the reference; linear beyond the stock.
    """
    target = np.array([bench.geometry.saddle_top - reading_mm, 0.0])
    angles = np.array(bench.reference_deg)
    gains = bench.gains(*bench.reference_deg)[:2]
    for _ in range(8):
        at = bench.within_stock(float(angles[0]), float(angles[1]))
        new = np.array(at) + np.linalg.solve(gains, target - bench.strung(*at).numbers[:2])
        change = float(np.abs(new - angles).max())
        angles = new
        if change < 1e-4:
            break
    return float(angles[0]), float(angles[1])


def stock_choice(
    bench: Bench, wanted: tuple[float, float], *, correction: float = 0.0
) -> tuple[tuple[float, float], tuple[tuple[float, float], ...]]:
    """The pair in stock with the smallest errors of action and tongue gap relative to their tolerances, and
    the best pairs with the next upper angles.
    """
    stock = np.array(bench.case.stock.angles_deg())
    gains = bench.gains(*bench.reference_deg)[:2]
    upper, lower = np.meshgrid(stock, stock, indexing="ij")
    off = np.stack([upper - wanted[0], lower - correction - wanted[1]])
    saddle, misfit = np.einsum("ij,jkl->ikl", gains, off)
    geometry, tolerance = bench.geometry, bench.case.tolerance
    cost = (geometry.share * saddle / tolerance.action_mm) ** 2
    cost += (np.radians(misfit) * geometry.tongue_lever / tolerance.tongue_gap_mm) ** 2
    row, column = np.unravel_index(int(np.argmin(cost)), cost.shape)
    beside = [
        (float(stock[near]), float(stock[int(np.argmin(cost[near]))]))
        for near in (int(row) - 1, int(row) + 1)
        if 0 <= near < len(stock)
    ]
    return (float(stock[row]), float(stock[column])), tuple(beside)


def deviation(bench: Bench, reading_mm: float, at: Strung) -> Array:
    """Errors of action and tongue gap at pitch, saddle as preset, (2,) [mm]."""
    geometry = bench.geometry
    action = geometry.action_of(geometry.saddle_top - reading_mm - at.saddle_mm)
    return np.array([action, radians(at.misfit_deg) * geometry.tongue_lever])


def pair_forecast(
    bench: Bench,
    reading_mm: float,
    angles: tuple[float, float],
    *,
    correction: float = 0.0,
    uncertainty: Uncertainty | None = None,
) -> PairForecast:
    """Expected result of a pair on a pocket."""
    geometry, setup = bench.geometry, bench.case.setup
    at = bench.strung(angles[0], angles[1] - correction)
    off = deviation(bench, reading_mm, at)
    return PairForecast(
        upper_deg=angles[0],
        lower_deg=angles[1],
        action_bass_mm=setup.action_bass_mm + float(off[0]),
        action_treble_mm=setup.action_treble_mm + float(off[0]),
        saddle_needed_mm=reading_mm + at.saddle_mm - geometry.bridge,
        saddle_clearance_mm=geometry.saddle_top - reading_mm - at.line_mm,
        kink_deg=bench.target_deg + at.misfit_deg,
        tongue_gap_mm=at.tongue_gap_mm,
        bolted_kink_deg=at.bolted_kink_deg,
        chance=None if uncertainty is None else chance_of(bench, at, off, uncertainty),
    )


def action_gap_rows(geometry: Geometry) -> Array:
    """Changes of action and tongue gap [mm] by saddle height [mm] and kink [deg], (2, 2)."""
    return np.diag([-geometry.share, radians(1.0) * geometry.tongue_lever])


def chance_of(bench: Bench, at: Strung, off: Array, uncertainty: Uncertainty) -> float:
    """Chance that action and tongue gap are both within tolerance; ``off`` : their expected errors [mm]."""
    tolerance, rows = bench.case.tolerance, action_gap_rows(bench.geometry)
    seen = covariance_of(bench, at, uncertainty)[:2, :2]
    if bench.calibration:
        scale, extra = np.array(bench.calibration.scale), np.array(bench.calibration.extra)
        seen = seen * np.outer(scale, scale) + np.diag(extra**2)
    covariance = rows @ seen @ rows.T
    return both_within(off, covariance, np.array([tolerance.action_mm, tolerance.tongue_gap_mm]))


def prediction(pair: PairForecast) -> dict[str, float]:
    """Return the predicted values for the logbook, by kind and unit."""
    kept = {
        "action_bass_mm": pair.action_bass_mm,
        "action_treble_mm": pair.action_treble_mm,
        "kink_deg": pair.kink_deg,
        "tongue_gap_mm": pair.tongue_gap_mm,
        "kink_bolted_deg": pair.bolted_kink_deg,
        "saddle_clearance_mm": pair.saddle_clearance_mm,
    }
    return kept if pair.chance is None else {**kept, "chance": pair.chance}


def _warnings(
    bench: Bench, reading: Reading, best: PairForecast, wanted: tuple[float, float], *, inch: bool
) -> Iterator[str]:
    geometry, case = bench.geometry, bench.case
    if reading.odd is not None and reading.without is not None:
        yield (
            f"Reading {reading.odd} of {reading.count} is far from the others; without it the mean is "
            f"{length(reading.without, inch=inch)}. Read again; leave it out only if you know what went "
            "wrong."
        )
    stock = case.stock.angles_deg()
    for name, angle in zip(("upper", "lower"), wanted, strict=True):
        over = max(stock[0] - angle, angle - stock[-1])
        if over > 0.5 * max((b - a for a, b in pairwise(stock)), default=0.0):
            yield (
                f"The ideal {name} shim, {angle:.2f} deg, is {over:.2f} deg beyond the stock: the pair shown "
                "is the nearest one, but not right. Correct the pocket, add angles to the stock, or use "
                "another saddle height."
            )
    if not geometry.lowest <= best.saddle_needed_mm <= geometry.highest:
        needed, lowest, highest = (
            length(height, inch=inch) for height in (best.saddle_needed_mm, geometry.lowest, geometry.highest)
        )
        yield (
            f"The wanted action needs a saddle height of {needed} over the bridge, outside the usable range "
            f"of {lowest} to {highest}."
        )
    if bench.calibration and (text := bench.calibration.warning(bench.given)):
        yield text
    if not body_included(bench):
        yield BODY_UNKNOWN


@dataclass(frozen=True)
class ReadingRow:
    """A row of the reading table."""

    reading_mm: float
    upper_deg: float
    lower_deg: float
    action_bass_mm: float
    action_treble_mm: float


def reading_table(
    case: Case,
    answer: Answer,
    *,
    calibration: Calibration | None = None,
    solved: Solved | None = None,
    step_mm: float = ROW_MM,
) -> tuple[ReadingRow, ...]:
    """Reading table of an answered case, from its solution if given; see `reading_rows`.

    Raises `InputError` if the answer belongs to another case or calibration.
    """
    calibration = solved.calibration if solved else calibration
    if answer.case_sha256 != case.sha256:
        raise InputError(
            f"The answer belongs to {answer.case} with other values; calculate the answer of this case first."
        )
    if answer.calibration_id != (calibration.id if calibration else None):
        raise InputError("Answer and table have different calibrations; give both the same one.")
    return reading_rows(bench_of(case, calibration=calibration, solved=solved), step_mm=step_mm)


def reading_rows(bench: Bench, *, step_mm: float = ROW_MM) -> tuple[ReadingRow, ...]:
    """Pair in stock and its action for each reading, at multiples of ``step_mm``.

    Readings without a pair within tolerance have no row. Raises `InputError` if the step is smaller than 0.01
    mm.
    """
    if step_mm < 0.01:
        raise InputError("The step of the table must be 0.01 mm or more; use 0.2 mm.")
    geometry, tolerance = bench.geometry, bench.case.tolerance
    stock = bench.case.stock.angles_deg()
    ends = [geometry.saddle_top - bench.strung(angle, angle).saddle_mm for angle in (stock[0], stock[-1])]
    first, last = (int(np.floor(min(ends) / step_mm)) - 4, int(np.ceil(max(ends) / step_mm)) + 4)
    rows = []
    for number in range(first, last + 1):
        reading = number * step_mm
        best, _ = stock_choice(bench, wanted_angles(bench, reading))
        found = pair_forecast(bench, reading, best)
        off = deviation(bench, reading, bench.strung(*best))
        if abs(off[0]) <= tolerance.action_mm and abs(off[1]) <= tolerance.tongue_gap_mm:
            rows.append(ReadingRow(reading, *best, found.action_bass_mm, found.action_treble_mm))
    return tuple(rows)
