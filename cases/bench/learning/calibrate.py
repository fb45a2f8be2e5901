"""Calibration from a log: up to four parameters from the measured and predicted values of a case's guitars.

Directions that the log does not identify stay at their prior and are listed.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import degrees

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.follow import moved_by, told_by_test, weighted_mean
from cases.bench.learning.gaussian_update import Posterior, learn
from cases.bench.learning.guitar_row import Row
from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.case_of_guitar import fit_with_pocket, latest, reading_heights, squares_of
from cases.bench.shims.dry_check import BOLTED, pieces_of
from cases.bench.shims.dry_log import bolted_kinks
from cases.bench.shims.readings import FEELER_MM
from cases.bench.shims.strung_neck import Bench, Effect, Strung, Uncertainty, covariance_without_shims
from cases.casefile.case import Case
from cases.offset.calibration import DEFAULTS, LEARNED, Calibration, calibration_of
from materials.counted import counted
from materials.errors import InputError

Array = NDArray[np.float64]
NAMES = ("kink bias", "stretch factor", "transfer factor", "pitch bias")
ACTION_MM = 0.05
"""Error of an action, one standard deviation [mm]: an assumption, no source."""
KINK_DEG = 0.01
"""Error of a kink logged without one, one standard deviation [deg]: an assumption, no source."""
FEWEST = 5
"""Smallest number of guitars to learn from (our choice)."""
WRITTEN = 0.999
"""Largest ratio of posterior to prior spread of a parameter that is written into the file."""


@dataclass(frozen=True)
class Observed:
    """Residuals of one fit.

    ``residuals`` : saddle [mm], misfit [deg], bolted kink [deg], nan where not measured; ``errors`` : their
    measuring errors; ``reading_mm``, ``seats_deg`` : errors of the reading, and of the two faces;
    ``pair_deg`` : angles printed on the shims.
    """

    name: str
    serial: str
    pair_deg: tuple[float, float]
    at: Strung
    residuals: Array
    errors: Array
    reading_mm: float
    seats_deg: float


@dataclass(frozen=True)
class ShopResult:
    """Result of learning from a log: calibration, posterior, mean and scatter of the residuals.

    ``used`` : attempts learned from, each with its own pair; ``guitars`` : on how many guitars; ``tested`` :
    of how many of them the test of the neck was given.
    """

    calibration: Calibration
    learned: Posterior
    used: int
    guitars: int
    tested: int
    left_out: tuple[str, ...]
    action_before_mm: tuple[float, float]
    action_after_mm: tuple[float, float]
    kink_before_deg: tuple[float, float]
    kink_after_deg: tuple[float, float]
    warnings: tuple[str, ...]


def calibrate_shop(
    bench: Bench,
    fits: Sequence[Fit],
    *,
    created: datetime,
    follow: bool = False,
    necks: Sequence[Calibration] = (),
) -> ShopResult:
    """Learn from the fits of a case; raises `InputError` if those of fewer than `FEWEST` guitars are usable.

    ``bench`` : the case, solved without a calibration; ``fits`` : those of another case, without a reading,
    or of a return are left out; ``follow`` : whether the last guitars are followed, see `follow`;
    ``necks`` : tests of necks, those of guitars in the log are used for that.
    """
    case = bench.given
    used, left_out, kept = [], [], []
    for fit in with_pockets(fits):
        reason = _unusable(fit, case)
        found = None if reason else observed(bench, fit)
        if found is None:
            left_out.append(f"{fit.serial} attempt {fit.attempt}: {reason or 'nothing measured at pitch'}")
        else:
            used.append(found)
            kept.append(fit)
    guitars = len({fit.serial for fit in kept})
    if guitars < FEWEST:
        because = f" First left out: {left_out[0]}." if left_out else ""
        raise InputError(
            f"{counted(len(used), 'attempt')} on {counted(guitars, 'guitar')} of {case.name} to learn from; "
            f"{FEWEST} guitars or more are needed. Log fits with "
            f"`neckpreload pair ... --serial` and their measurements with `neckpreload logbook add`.{because}"
        )
    effects = bench.effects(*bench.reference_deg)
    prior = bench.prior(effects)

    tests = _tests(kept, necks)
    rows = [(one[-1].serial, _row(bench, one, effects, tests)) for one in until_strung(used)]
    learned = learned_of([row for _, row in rows], prior)
    beside = None
    if follow:
        # a guitar counts once, with the last pair that was measured at pitch
        strung = {serial: row for serial, row in rows if np.isfinite(row.residuals[:BOLTED]).any()}
        beside = weighted_mean(strung.values(), learned.mean, start=np.zeros(BOLTED))
    to_action = -bench.geometry.share
    return ShopResult(
        calibration=shop_calibration(
            bench, learned, rows=[one.name for one in used], created=created, beside=beside
        ),
        learned=learned,
        used=len(used),
        guitars=guitars,
        tested=len(tests),
        left_out=tuple(left_out),
        action_before_mm=_spread(to_action * learned.before[:, 0]),
        action_after_mm=_spread(to_action * learned.after[:, 0]),
        kink_before_deg=_spread(learned.before[:, 1]),
        kink_after_deg=_spread(learned.after[:, 1]),
        warnings=(*_warnings(learned), *(_not_given(kept, tests) if follow else ())),
    )


def until_strung(found: Sequence[Observed]) -> Iterator[list[Observed]]:
    """Attempts that belong together: those of which only the bolted kink is known, and the one strung up
    after them.
    """
    waiting: dict[str, list[Observed]] = {}
    for one in found:
        waiting.setdefault(one.serial, []).append(one)
        if np.isfinite(one.residuals[:2]).any():
            yield waiting.pop(one.serial)
    yield from waiting.values()


def _tests(fits: Sequence[Fit], necks: Sequence[Calibration]) -> dict[str, Calibration]:
    """Tests of necks by serial: those with which a pair of the guitar was chosen."""
    known = {one.id: one for one in necks}
    ids = ((fit.serial, id_) for fit in fits for id_ in (fit.calibration_id or "").split("+"))
    return {serial: known[id_] for serial, id_ in ids if id_ in known}


def _not_given(fits: Sequence[Fit], tests: Mapping[str, Calibration]) -> Iterator[str]:
    """Warning of tests of necks that following does not know."""
    missing = {fit.serial for fit in fits if "neck-" in (fit.calibration_id or "")} - tests.keys()
    if missing:
        yield (
            f"The test of the neck of {counted(len(missing), 'guitar')} was not given: what it told is "
            "followed too, and then counts twice. Give the folder with the files of these tests by --necks."
        )


def _row(
    bench: Bench,
    attempts: Sequence[Observed],
    effects: tuple[Effect, ...],
    tests: Mapping[str, Calibration],
) -> Row:
    *before, last = attempts
    told = np.zeros(BOLTED + 1)
    if last.serial in tests:
        told = told_by_test(bench.case, effects, tests[last.serial])[: BOLTED + 1]
    uncertainty = Uncertainty(effects, np.zeros((4, 4)), last.reading_mm, last.seats_deg)
    slopes = bench.learned_rows(last.at)[: BOLTED + 1]
    return Row(
        np.append(last.residuals, [one.residuals[BOLTED] for one in before]),
        np.vstack([slopes, *(bench.learned_rows(one.at)[BOLTED] for one in before)]),
        guitar_scatter(bench, last.at, uncertainty, [one.pair_deg for one in attempts]),
        np.append(last.errors, [one.errors[BOLTED] for one in before]),
        np.append(told, [told[BOLTED] for _ in before]),
    )


def guitar_scatter(
    bench: Bench, at: Strung, uncertainty: Uncertainty, pairs: Sequence[tuple[float, float]]
) -> Array:
    """Covariance of a `Row`: woods and seats are those of the guitar, each shim has its own error.

    ``at`` : the last of the ``pairs``, at pitch; a pair is named by the angles printed on its shims.
    """
    gains = bench.gains(at.upper_deg, at.lower_deg)
    numbers = [*range(BOLTED + 1), *(BOLTED for _ in pairs[1:])]
    *before, last = pieces_of(pairs)
    pieces = [*(last for _ in range(BOLTED + 1)), *before]
    shims = np.zeros((len(numbers), 1 + max(map(max, pieces))))
    for row, (number, pair) in enumerate(zip(numbers, pieces, strict=True)):
        shims[row, list(pair)] = gains[number]
    whole = covariance_without_shims(bench, at, uncertainty, gains=gains)
    return np.asarray(whole[np.ix_(numbers, numbers)] + bench.case.tolerance.shim_deg**2 * shims @ shims.T)


def learned_of(found: Sequence[Row], prior: Array) -> Posterior:
    """Update the four parameters from all rows; ``prior`` : their covariance, (4, 4)."""
    count = max(len(one.residuals) for one in found)

    def filled(value: float, size: tuple[int, ...], each: Sequence[Array]) -> Array:
        """All arrays at one size; what a guitar does not have is not measured."""
        whole = np.full((len(each), *size), value)
        for one, part in zip(whole, each, strict=True):
            one[tuple(map(slice, part.shape))] = part
        return whole

    return learn(
        filled(np.nan, (count,), [one.residuals for one in found]),
        filled(0.0, (count, len(prior)), [one.slopes for one in found]),
        filled(1.0, (count, count), [one.scatter for one in found]),
        filled(0.0, (count,), [one.errors for one in found]),
        prior,
    )


def with_pockets(fits: Sequence[Fit]) -> Iterator[Fit]:
    """Fits with the readings of their bare pocket: a later attempt has those of the guitar's earlier one."""
    of_guitar: dict[str, list[Fit]] = {}
    for fit in fits:
        of_guitar.setdefault(fit.serial, []).append(fit)
    for fit in fits:
        if any(one.state == "bare" for one in fit.measurements):
            yield fit
            continue
        pocket = [one for one in fit_with_pocket(of_guitar[fit.serial]).measurements if one.state == "bare"]
        yield fit.model_copy(update={"measurements": (*pocket, *fit.measurements)})


def _unusable(fit: Fit, case: Case) -> str | None:
    if fit.case_sha256 != case.sha256:
        return "fitted to another case, or to this one with other values"
    if fit.reason == "return":
        return "a return: changes over years are not errors of the model"
    if not any(one.kind == "reading" for one in fit.measurements):
        return "no reading of the bare pocket"
    return None


def observed(bench: Bench, fit: Fit) -> Observed | None:
    """Residuals of a fit against the model, None if nothing was measured after bolting up."""
    geometry, case = bench.geometry, bench.case
    heights = reading_heights(fit, geometry)
    squares = squares_of(fit)
    at = bench.strung(fit.upper_deg, fit.lower_deg - squares.correction_deg(geometry))
    residuals, errors = np.full(3, np.nan), np.zeros(3)
    off = [
        measured.value - wanted
        for kind, wanted in (
            ("action_bass", case.setup.action_bass_mm),
            ("action_treble", case.setup.action_treble_mm),
        )
        if (measured := latest(fit, kind, "strung")) is not None
    ]
    if off:
        at_saddle = geometry.saddle_top - float(np.mean(heights)) - float(np.mean(off)) / geometry.share
        residuals[0] = at_saddle - at.saddle_mm
        errors[0] = ACTION_MM / np.sqrt(len(off)) / geometry.share
    kink, gap = latest(fit, "kink", "strung"), latest(fit, "tongue_gap", "strung")
    if kink is not None:
        residuals[1] = kink.value - (bench.target_deg + at.misfit_deg)
        errors[1] = kink.uncertainty or KINK_DEG
    elif gap is not None:
        residuals[1] = degrees((gap.value - at.tongue_gap_mm) / geometry.tongue_lever)
        errors[1] = degrees((gap.uncertainty or FEELER_MM) / geometry.tongue_lever)
    bolted = latest(fit, "kink", "bolted")
    if bolted is not None and bolted.uncertainty:
        residuals[2], errors[2] = bolted.value - at.bolted_kink_deg, bolted.uncertainty
    elif kinks := bolted_kinks(bench, fit, correction=squares.correction_deg(geometry)):
        residuals[2] = float(np.mean(kinks)) - at.bolted_kink_deg
        errors[2] = KINK_DEG / np.sqrt(len(kinks))
    if not np.isfinite(residuals).any():
        return None
    return Observed(
        name=f"{fit.serial} attempt {fit.attempt}",
        serial=fit.serial,
        pair_deg=(fit.upper_deg, fit.lower_deg),
        at=at,
        residuals=residuals,
        errors=errors,
        reading_mm=case.tolerance.reading_mm / np.sqrt(len(heights)),
        seats_deg=squares.error_deg(geometry, case.tolerance),
    )


def shop_calibration(
    bench: Bench, learned: Posterior, *, rows: Sequence[str], created: datetime, beside: Array | None = None
) -> Calibration:
    """The calibration from an update; ``beside`` : by how much the last guitars lie beside it, followed."""
    case = bench.given
    followed = np.zeros(4) if beside is None else moved_by(bench, beside, learned.mean)
    kept = [k for k in range(4) if learned.ratios[k] < WRITTEN or followed[k] != 0.0]
    unknown = learned.not_identifiable(NAMES)
    notes = [f"not identifiable from this log, left at its prior: {name}" for name in unknown]
    return calibration_of(
        "shop",
        created=created,
        rows=rows,
        parameters=[LEARNED[k] for k in kept],
        mean=[DEFAULTS[k] + learned.mean[k] + followed[k] for k in kept],
        covariance=learned.covariance[np.ix_(kept, kept)],
        valid_for={"case": case.name, "case_sha256": case.sha256},
        scale=(float(learned.scale[0]), float(learned.scale[1])),
        extra=(float(learned.extra[0]), float(learned.extra[1])),
        notes=[*notes, *_warnings(learned)],
        followed=None if beside is None else (-bench.geometry.share * beside[0], beside[1]),
    )


def _warnings(learned: Posterior) -> Iterator[str]:
    if learned.contradicts:
        larger = learned.probability < 0.5
        cause = (
            "larger than the scatter of wood, seats and measurements. Look for another cause (body, "
            "humidity, a different gauge) before you trust the new parameters"
            if larger
            else "smaller than the scatter of wood, seats and measurements. Your guitars may be more alike "
            "than the case assumes, or the same values were entered more than once"
        )
        yield (
            f"The log contradicts the model (chi-square {learned.chi_square:.0f} of {learned.count} values, "
            f"probability {learned.probability:.1e}): residuals are {cause}. Chances are calculated from the "
            "log's own scatter."
        )
    for k in range(4):
        if DEFAULTS[k] == 1.0 and 1.0 + learned.mean[k] < 0.3:
            yield f"The {NAMES[k]} is {1.0 + learned.mean[k]:.2f}: check how the kink is measured."


def _spread(values: Array) -> tuple[float, float]:
    """Mean and standard deviation of the measured values, nan without any."""
    seen = values[np.isfinite(values)]
    if seen.size == 0:
        return float("nan"), float("nan")
    return float(seen.mean()), float(seen.std(ddof=1)) if seen.size > 1 else float("nan")
