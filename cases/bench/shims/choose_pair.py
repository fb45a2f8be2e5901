"""From a reading of the bare pocket to the pair of shims: both conditions solved together, the nearest pair
in stock, its neighbours, and the chance that each is right (docs/bench.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan, degrees, radians, tan

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.bivariate_normal import both_within
from cases.bench.shims.lengths import length
from cases.bench.shims.readings import NO_SQUARES, UNTOLD, Conditions, Reading, Squares, average, check_pocket
from cases.bench.shims.strung_neck import Bench, Effect, Strung, bench_of, covariance_of
from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.calibration import PITCH_BIAS, Calibration
from materials.errors import InputError

Array = NDArray[np.float64]
ROW_MM = 0.2
"""Step of the reading table [mm]."""
BODY_UNKNOWN = (
    "Body not included: the body turns under the strings too, which lowers the saddle line further and "
    "raises the action. To fix it measure on one strung guitar the drop of a straightedge at the saddle "
    "from slack strings to pitch (body.straightedge_drop_mm), give the body's stiffness "
    "(body.stiffness_n_m_per_rad), or log the action of some guitars and run `neckpreload calibrate shop`. "
    "No chance is stated until then."
)


@dataclass(frozen=True)
class PairAim:
    """What a pair of shims gives at pitch, rod set and saddle as preset.

    Attributes
    ----------
    saddle_needed_mm : height of the saddle over the bridge that would give the wanted action.
    saddle_clearance_mm : how far the shaft line, carried on over the fret crowns, passes below the saddle's
        top.
    kink_deg, tongue_gap_mm : at pitch, with the bow taken out.
    chance : that action and tongue gap both come out within the case's tolerance; None where the body is
        unknown.
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
class Aim:
    """Answer of the bench for one pocket; angles wanted are before rounding to the stock [deg].

    ``string_drop_mm`` is how far the shaft line falls at the saddle from bolting up to pitch, rod set, and
    ``string_rotation_deg`` the turn about the joint that is worth as much.
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
    pair: PairAim
    beside: tuple[PairAim, ...]
    body_included: bool
    tolerance_mm: tuple[float, float]
    """Action and tongue gap count as right within these [mm]."""
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Bets:
    """How sure a pair is: a bench with what scatters about it."""

    effects: tuple[Effect, ...]
    prior: Array
    reading_mm: float
    lower_deg: float
    upper_deg: float


def aim(
    case: Case,
    readings: Sequence[float],
    *,
    squares: Squares = NO_SQUARES,
    conditions: Conditions = UNTOLD,
    calibration: Calibration | None = None,
) -> Aim:
    """Choose the pair for a pocket.

    Parameters
    ----------
    readings : heights of the carried pocket plane over the top at the saddle [mm]; see `Geometry.height_of`
        for a pocket read in degrees.

    Raises
    ------
    InputError
        Without a reading, or with one that no pocket gives.
    """
    return aimed(bench_of(case, calibration=calibration), readings, squares=squares, conditions=conditions)


def aimed(
    bench: Bench,
    readings: Sequence[float],
    *,
    squares: Squares = NO_SQUARES,
    conditions: Conditions = UNTOLD,
    inch: bool = False,
) -> Aim:
    """The same on a bench solved before; `inch`: its warnings give lengths in inches."""
    case, geometry = bench.case, bench.geometry
    given = bench.given
    reading = average(readings, case.tolerance)
    check_pocket(reading.mm, geometry)
    reading = replace(reading, error_mm=conditions.widened(reading.error_mm))
    correction = squares.correction_deg(geometry)
    _check_squares(bench, squares)
    upper, lower = wanted_angles(bench, reading.mm)
    bets = None
    if body_included(bench):
        effects = bench.effects(*_in_stock(case, (upper, lower)))
        bets = Bets(
            effects=effects,
            prior=bench.prior(effects),
            reading_mm=reading.error_mm,
            lower_deg=float(np.hypot(squares.error_deg(geometry, case.tolerance), case.tolerance.shim_deg)),
            upper_deg=case.tolerance.shim_deg,
        )
    best, beside = stock_choice(bench, reading.mm, wanted=(upper, lower), correction=correction)
    shown = [pair_aim(bench, reading.mm, one, correction=correction, bets=bets) for one in (best, *beside)]
    at = bench.strung(best[0], best[1] - correction)
    drop = at.bolted_line_mm - at.line_mm
    return Aim(
        case=given.name,
        case_sha256=given.sha256,
        calibration_id=bench.calibration.id if bench.calibration else None,
        reading=reading,
        pocket_deg=geometry.angle_of(reading.mm),
        upper_wanted_deg=upper,
        lower_wanted_deg=lower + correction,
        lower_correction_deg=correction,
        string_drop_mm=drop,
        string_rotation_deg=degrees(atan(drop / geometry.reach)),
        pair=shown[0],
        beside=tuple(shown[1:]),
        body_included=body_included(bench),
        tolerance_mm=(case.tolerance.action_mm, case.tolerance.tongue_gap_mm),
        warnings=(
            *conditions.warnings(),
            *_warnings(bench, reading, shown[0], (upper, lower + correction), inch=inch),
        ),
    )


def _check_squares(bench: Bench, squares: Squares) -> None:
    """Refuse faces so far out of square that a shim in stock would act like one that cannot be."""
    stock, steepest = bench.case.stock.angles_deg(), bench.steepest_lower_deg
    low, high = stock[0] - steepest, stock[-1] + steepest
    if low <= squares.correction_deg(bench.geometry) <= high:
        return
    given = {"--pocket-square": squares.pocket, "--heel-square": squares.heel}
    said = ", ".join(f"{name} {gap:g} mm" for name, gap in given.items() if gap is not None)
    ends = [bench.geometry.heel_face * tan(radians(angle)) for angle in (low, high)]
    raise InputError(
        f"{said}: {ends[0]:.2f} to {ends[1]:.2f} mm, both squares together, are allowed for this heel and "
        "stock; check decimal point, sign and unit, or cut the faces square first."
    )


def body_included(bench: Bench) -> bool:
    """Whether the action counts the body: its stiffness is known, or a log has measured actions."""
    return bench.body_known or bool(bench.calibration and PITCH_BIAS in bench.calibration.parameters)


def wanted_angles(bench: Bench, reading_mm: float) -> tuple[float, float]:
    """Upper and lower angle that meet saddle and kink together, before rounding [deg].

    Newton on the full model with the gains of the reference; beyond the stock they are carried on.
    """
    goal = np.array([bench.geometry.saddle_top - reading_mm, 0.0])
    angles = np.array(bench.reference_deg)
    gains = bench.gains(*bench.reference_deg)[:2]
    for _ in range(8):
        at = _in_stock(bench.case, (float(angles[0]), float(angles[1])))
        new = np.array(at) + np.linalg.solve(gains, goal - bench.strung(*at).numbers[:2])
        moved = float(np.abs(new - angles).max())
        angles = new
        if moved < 1e-4:
            break
    return float(angles[0]), float(angles[1])


def _in_stock(case: Case, angles: tuple[float, float]) -> tuple[float, float]:
    stock = case.stock.angles_deg()
    upper, lower = (float(np.clip(angle, stock[0], stock[-1])) for angle in angles)
    return upper, lower


def stock_choice(
    bench: Bench, reading_mm: float, *, wanted: tuple[float, float], correction: float = 0.0
) -> tuple[tuple[float, float], tuple[tuple[float, float], ...]]:
    """The pair in stock nearest to both conditions, each in parts of its tolerance, and the best pair on the
    next upper angle to either side.
    """
    case = bench.case
    stock = np.array(case.stock.angles_deg())
    gains = bench.gains(*bench.reference_deg)[:2]
    upper, lower = np.meshgrid(stock, stock, indexing="ij")
    off = np.stack([upper - wanted[0], lower - correction - wanted[1]])
    saddle, misfit = np.einsum("ij,jkl->ikl", gains, off)
    geometry, tolerance = bench.geometry, case.tolerance
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
    """Errors of action and tongue gap at pitch with the saddle as preset, (2,) [mm]."""
    geometry = bench.geometry
    action = geometry.action_of(geometry.saddle_top - reading_mm - at.saddle_mm)
    return np.array([action, radians(at.misfit_deg) * geometry.tongue_lever])


def pair_aim(
    bench: Bench,
    reading_mm: float,
    angles: tuple[float, float],
    *,
    correction: float = 0.0,
    bets: Bets | None = None,
) -> PairAim:
    """What a pair gives on a pocket."""
    geometry, setup = bench.geometry, bench.case.setup
    at = bench.strung(angles[0], angles[1] - correction)
    off = deviation(bench, reading_mm, at)
    return PairAim(
        upper_deg=angles[0],
        lower_deg=angles[1],
        action_bass_mm=setup.action_bass_mm + float(off[0]),
        action_treble_mm=setup.action_treble_mm + float(off[0]),
        saddle_needed_mm=reading_mm + at.saddle_mm - geometry.bridge,
        saddle_clearance_mm=geometry.saddle_top - reading_mm - at.line_mm,
        kink_deg=bench.target_deg + at.misfit_deg,
        tongue_gap_mm=at.tongue_gap_mm,
        bolted_kink_deg=at.bolted_kink_deg,
        chance=None if bets is None else chance_of(bench, at, off, bets),
    )


def chance_of(bench: Bench, at: Strung, off: Array, bets: Bets) -> float:
    """Chance that action and tongue gap both come out within tolerance."""
    numbers = covariance_of(
        bench,
        at,
        bets.effects,
        prior=bets.prior,
        reading_mm=bets.reading_mm,
        lower_deg=bets.lower_deg,
        upper_deg=bets.upper_deg,
    )
    geometry, tolerance = bench.geometry, bench.case.tolerance
    rows = np.diag([-geometry.share, radians(1.0) * geometry.tongue_lever])
    seen = numbers[:2, :2]
    if bench.calibration:
        scale, extra = np.array(bench.calibration.scale), np.array(bench.calibration.extra)
        seen = seen * np.outer(scale, scale) + np.diag(extra**2)
    covariance = rows @ seen @ rows.T
    return both_within(off, covariance, np.array([tolerance.action_mm, tolerance.tongue_gap_mm]))


def prediction(found: Aim) -> dict[str, float]:
    """What a fit's row in the logbook keeps of an aim; keys are kind and unit."""
    pair = found.pair
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
    bench: Bench, reading: Reading, best: PairAim, wanted: tuple[float, float], *, inch: bool
) -> Iterator[str]:
    geometry, case = bench.geometry, bench.case
    if reading.odd is not None and reading.without is not None:
        yield (
            f"Reading {reading.odd} of {reading.count} lies far from the others; without it the average is "
            f"{length(reading.without, inch=inch)}. Read again; leave it out only if you know what went "
            "wrong."
        )
    stock = case.stock.angles_deg()
    for name, angle in zip(("upper", "lower"), wanted, strict=True):
        over = max(stock[0] - angle, angle - stock[-1])
        if over > 0.5 * max((b - a for a, b in pairwise(stock)), default=0.0):
            yield (
                f"The {name} shim wanted, {angle:.2f} deg, lies {over:.2f} deg beyond the stock: the pair "
                "shown is the nearest there is, not a right one. Correct the pocket, add angles to the "
                "stock, or set another saddle."
            )
    if not geometry.lowest <= best.saddle_needed_mm <= geometry.highest:
        needed, lowest, highest = (
            length(height, inch=inch) for height in (best.saddle_needed_mm, geometry.lowest, geometry.highest)
        )
        yield (
            f"For the wanted action the saddle would have to stand {needed} over the bridge, outside its "
            f"usable {lowest} to {highest}."
        )
    if bench.calibration and (text := bench.calibration.warning(bench.given)):
        yield text
    if not body_included(bench):
        yield BODY_UNKNOWN


@dataclass(frozen=True)
class Row:
    """A row of the reading table."""

    reading_mm: float
    upper_deg: float
    lower_deg: float
    action_bass_mm: float
    action_treble_mm: float


def reading_table(
    case: Case, answer: Answer, *, calibration: Calibration | None = None, step_mm: float = ROW_MM
) -> tuple[Row, ...]:
    """Table to be read without a computer: for each reading the pair in stock and the action it gives.

    Rows stand at multiples of ``step_mm`` wherever the stock holds a pair within tolerance.

    Raises
    ------
    InputError
        If the answer belongs to another case or to another calibration.
    """
    if answer.case_sha256 != case.sha256:
        raise InputError(
            f"The answer is that of {answer.case} with other values; ask the main question of this case "
            "first."
        )
    if answer.calibration_id != (calibration.id if calibration else None):
        raise InputError("Answer and table rest on different calibrations; give both the same one.")
    return table_of(bench_of(case, calibration=calibration), step_mm=step_mm)


def table_of(bench: Bench, *, step_mm: float = ROW_MM) -> tuple[Row, ...]:
    """The same on a bench solved before."""
    if step_mm < 0.01:
        raise InputError("Rows nearer than 0.01 mm are no table; take 0.2 mm.")
    geometry, tolerance = bench.geometry, bench.case.tolerance
    stock = bench.case.stock.angles_deg()
    ends = [
        geometry.saddle_top - bench.strung(*_in_stock(bench.case, (angle, angle))).saddle_mm
        for angle in (stock[0], stock[-1])
    ]
    first, last = (int(np.floor(min(ends) / step_mm)) - 4, int(np.ceil(max(ends) / step_mm)) + 4)
    rows = []
    for number in range(first, last + 1):
        reading = number * step_mm
        best, _ = stock_choice(bench, reading, wanted=wanted_angles(bench, reading))
        found = pair_aim(bench, reading, best)
        off = deviation(bench, reading, bench.strung(*best))
        if abs(off[0]) <= tolerance.action_mm and abs(off[1]) <= tolerance.tongue_gap_mm:
            rows.append(Row(reading, *best, found.action_bass_mm, found.action_treble_mm))
    return tuple(rows)
