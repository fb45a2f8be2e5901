"""A shop learns from its log: what a case's guitars measured, against the model, gives at most four numbers.

Only those that the log can tell apart are changed; the rest stay at their prior and are named.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import degrees

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.gaussian_update import Direction, Learned, learn, words
from cases.bench.logbook.current_rows import Fit, Measurement
from cases.bench.shims.readings import FEELER_MM, Squares
from cases.bench.shims.strung_neck import Bench, Effect, Strung, covariance_of
from cases.casefile.case import Case
from cases.offset.calibration import LEARNED, Calibration, calibration_of
from materials.errors import InputError

Array = NDArray[np.float64]
NAMES = ("kink bias", "stretch factor", "transfer factor", "pitch bias")
UNITS = ("deg", "", "", "deg")
DEFAULTS = np.array([0.0, 1.0, 1.0, 0.0])
ACTION_MM = 0.05
"""Error of an action read at the bench where the log does not say, one standard deviation: an assumption."""
KINK_DEG = 0.01
"""The same of a kink [deg]."""
FEWEST = 5
"""Fewer guitars are no log to learn from (our choice)."""
SAID = 0.999
"""A parameter whose spread the log leaves within this part of the prior is not written into the file."""


@dataclass(frozen=True)
class Observed:
    """One fit as the update reads it.

    ``residuals`` of saddle [mm], misfit [deg] and bolted kink [deg], nan where not measured; ``errors`` their
    measuring errors; ``reading_mm`` and ``square_deg`` what is not known of the pocket.
    """

    name: str
    at: Strung
    residuals: Array
    errors: Array
    reading_mm: float
    square_deg: float


@dataclass(frozen=True)
class ShopFit:
    """What the log says; residuals are those of action [mm], kink and bolted kink [deg]."""

    calibration: Calibration
    learned: Learned
    used: int
    left_out: tuple[str, ...]
    action_before_mm: tuple[float, float]
    action_after_mm: tuple[float, float]
    kink_before_deg: tuple[float, float]
    kink_after_deg: tuple[float, float]
    warnings: tuple[str, ...]

    @property
    def not_identifiable(self) -> tuple[str, ...]:
        """The directions that stay at their prior, in words."""
        return tuple(words(one, NAMES) for one in self.learned.directions if not one.told)

    @property
    def told(self) -> tuple[Direction, ...]:
        """The directions that the log tells."""
        return tuple(one for one in self.learned.directions if one.told)


def calibrate_shop(bench: Bench, fits: Sequence[Fit], *, created: datetime) -> ShopFit:
    """Learn from the fits of a case.

    Parameters
    ----------
    bench : the case, solved without a calibration.
    fits : of any case; those of another case, without a reading, or of a return years later are left out.

    Raises
    ------
    InputError
        If fewer than `FEWEST` fits can be used.
    """
    case = bench.given
    seen, left_out = [], []
    for fit in fits:
        reason = _unusable(fit, case)
        found = None if reason else observed(bench, fit)
        if found is None:
            left_out.append(f"{fit.serial} attempt {fit.attempt}: {reason or 'nothing measured at pitch'}")
        else:
            seen.append(found)
    if len(seen) < FEWEST:
        because = f" First left out: {left_out[0]}." if left_out else ""
        raise InputError(
            f"{len(seen)} fits of {case.name} can be learned from; {FEWEST} are wanted. Log fits with "
            f"`neckpreload pair ... --serial` and what they measured with `neckpreload logbook add`.{because}"
        )
    effects = bench.effects(*bench.reference_deg)
    prior = bench.prior(effects)
    learned = learn(
        np.array([one.residuals for one in seen]),
        np.array([bench.learned_rows(one.at) for one in seen]),
        np.array([_scatter(bench, one, effects) for one in seen]),
        np.array([one.errors for one in seen]),
        prior,
    )
    return _summary(bench, learned, seen, left_out, created=created)


def _unusable(fit: Fit, case: Case) -> str | None:
    if fit.case_sha256 != case.sha256:
        return "fitted to another case, or to this one before some key changed"
    if fit.reason == "return":
        return "a return: what years did is not the model's error"
    if not any(one.kind == "reading" for one in fit.measurements):
        return "no reading of the bare pocket"
    return None


def observed(bench: Bench, fit: Fit) -> Observed | None:
    """What a fit says against the model; None if nothing was measured after bolting up."""
    geometry, case = bench.geometry, bench.case
    heights = [
        one.value if one.unit == "mm" else geometry.height_of(one.value)
        for one in fit.measurements
        if one.kind == "reading"
    ]
    squares = squares_of(fit)
    at = bench.strung(fit.upper_deg, fit.lower_deg - squares.correction_deg(geometry))
    residuals, errors = np.full(3, np.nan), np.zeros(3)
    off = [
        measured.value - wanted
        for kind, wanted in (
            ("action_bass", case.setup.action_bass_mm),
            ("action_treble", case.setup.action_treble_mm),
        )
        if (measured := _latest(fit, kind, "strung")) is not None
    ]
    if off:
        at_saddle = geometry.saddle_top - float(np.mean(heights)) - float(np.mean(off)) / geometry.share
        residuals[0] = at_saddle - at.saddle_mm
        errors[0] = ACTION_MM / np.sqrt(len(off)) / geometry.share
    kink, gap = _latest(fit, "kink", "strung"), _latest(fit, "tongue_gap", "strung")
    if kink is not None:
        residuals[1] = kink.value - (bench.target_deg + at.misfit_deg)
        errors[1] = kink.uncertainty or KINK_DEG
    elif gap is not None:
        residuals[1] = degrees((gap.value - at.tongue_gap_mm) / geometry.tongue_lever)
        errors[1] = degrees((gap.uncertainty or FEELER_MM) / geometry.tongue_lever)
    bolted = _latest(fit, "kink", "bolted")
    if bolted is not None:
        residuals[2] = bolted.value - at.bolted_kink_deg
        errors[2] = bolted.uncertainty or KINK_DEG
    if not np.isfinite(residuals).any():
        return None
    return Observed(
        name=f"{fit.serial} attempt {fit.attempt}",
        at=at,
        residuals=residuals,
        errors=errors,
        reading_mm=case.tolerance.reading_mm / np.sqrt(len(heights)),
        square_deg=squares.error_deg(geometry, case.tolerance),
    )


def squares_of(fit: Fit) -> Squares:
    """Gaps that the two squares showed when the guitar was fitted."""
    return Squares(_last(fit, "pocket_square", "bare"), _last(fit, "heel_square", "bare"))


def _latest(fit: Fit, kind: str, state: str) -> Measurement | None:
    """The measurement longest at pitch, the last of equals."""
    found = [one for one in fit.measurements if one.kind == kind and one.state == state]
    return max(found, key=lambda one: (one.minutes_since_pitch or 0.0, one.id)) if found else None


def _last(fit: Fit, kind: str, state: str) -> float | None:
    found = _latest(fit, kind, state)
    return None if found is None else found.value


def _scatter(bench: Bench, one: Observed, effects: Sequence[Effect]) -> Array:
    """Scatter of a guitar's residuals about the model whose four numbers are right, (3, 3)."""
    tolerance = bench.case.tolerance
    return covariance_of(
        bench,
        one.at,
        effects,
        prior=np.zeros((4, 4)),
        reading_mm=one.reading_mm,
        lower_deg=float(np.hypot(one.square_deg, tolerance.shim_deg)),
        upper_deg=tolerance.shim_deg,
    )


def shop_calibration(case: Case, learned: Learned, *, rows: Sequence[str], created: datetime) -> Calibration:
    """The calibration that an update amounts to."""
    kept = [k for k in range(4) if learned.ratios[k] < SAID]
    untold = [words(one, NAMES) for one in learned.directions if not one.told]
    notes = [f"not identifiable from this log, left at its prior: {text}" for text in untold]
    return calibration_of(
        "shop",
        created=created,
        rows=rows,
        parameters=[LEARNED[k] for k in kept],
        mean=[DEFAULTS[k] + learned.mean[k] for k in kept],
        covariance=learned.covariance[np.ix_(kept, kept)],
        valid_for={"case": case.name, "case_sha256": case.sha256},
        scale=(float(learned.scale[0]), float(learned.scale[1])),
        extra=(float(learned.extra[0]), float(learned.extra[1])),
        notes=[*notes, *_warnings(learned)],
    )


def _summary(
    bench: Bench, learned: Learned, seen: Sequence[Observed], left_out: Sequence[str], *, created: datetime
) -> ShopFit:
    rows = [one.name for one in seen]
    to_action = -bench.geometry.share
    return ShopFit(
        calibration=shop_calibration(bench.given, learned, rows=rows, created=created),
        learned=learned,
        used=len(seen),
        left_out=tuple(left_out),
        action_before_mm=_spread(to_action * learned.before[:, 0]),
        action_after_mm=_spread(to_action * learned.after[:, 0]),
        kink_before_deg=_spread(learned.before[:, 1]),
        kink_after_deg=_spread(learned.after[:, 1]),
        warnings=tuple(_warnings(learned)),
    )


def _warnings(learned: Learned) -> Iterator[str]:
    if learned.contradicts:
        larger = learned.probability < 0.5
        cause = (
            "larger than wood, seats and measuring allow. Look for another cause (body, humidity, a bench "
            "that reads differently) before you trust the new numbers"
            if larger
            else "smaller than wood, seats and measuring allow. Your guitars may be more alike than the case "
            "says, or the same values were entered more than once"
        )
        yield (
            f"The log contradicts the model (chi-square {learned.chi_square:.0f} of {learned.count} values, "
            f"probability {learned.probability:.1e}): residuals are {cause}. The stated chances follow the "
            "log's own scatter."
        )
    for k in range(4):
        if DEFAULTS[k] == 1.0 and 1.0 + learned.mean[k] < 0.3:
            yield f"The {NAMES[k]} came out at {1.0 + learned.mean[k]:.2f}: check how the kink is read."


def _spread(values: Array) -> tuple[float, float]:
    """Mean and standard deviation of what was measured; nan where nothing was."""
    seen = values[np.isfinite(values)]
    if seen.size == 0:
        return float("nan"), float("nan")
    return float(seen.mean()), float(seen.std(ddof=1)) if seen.size > 1 else float("nan")


def report(fit: ShopFit) -> str:
    """The update as text."""
    lines = [f"{fit.calibration.id}: learned from {fit.used} fits, {len(fit.left_out)} left out"]
    lines += [f"  left out: {text}" for text in fit.left_out[:5]]
    lines.append(f"  {'':18}{'learned':>9}{'+-':>9}   posterior/prior spread")
    for k, name in enumerate(NAMES):
        value = DEFAULTS[k] + fit.learned.mean[k]
        spread = float(np.sqrt(fit.learned.covariance[k, k]))
        lines.append(f"  {name:18}{value:9.3f}{spread:9.3f} {UNITS[k]:4}{fit.learned.ratios[k]:6.2f}")
    lines.append("  directions that the log tells apart (posterior/prior spread):")
    for one in fit.learned.directions:
        verdict = "told" if one.told else "not identifiable from this log, left at its prior"
        lines.append(f"    {one.ratio:5.2f}  {words(one, NAMES)}: {verdict}")
    for name, unit, before, after in (
        ("action", "mm", fit.action_before_mm, fit.action_after_mm),
        ("kink", "deg", fit.kink_before_deg, fit.kink_after_deg),
    ):
        if np.isfinite(before[0]):
            lines.append(
                f"  residual {name:7} before {before[0]:+.3f} +- {before[1]:.3f} {unit},"
                f" after {after[0]:+.3f} +- {after[1]:.3f} {unit}"
            )
    lines.append(
        f"  chi-square {fit.learned.chi_square:.0f} of {fit.learned.count} values"
        f" (probability {fit.learned.probability:.2f})"
    )
    lines += [f"  WARNING: {text}" for text in fit.warnings]
    return "\n".join(lines)
