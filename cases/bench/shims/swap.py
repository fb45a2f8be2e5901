"""Correction of a strung guitar: causes of the action error, shims the wrong way round, and the pair to
swap to (docs/bench.md).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import degrees, hypot, log, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from cases.bench.logbook.value_ranges import KINDS
from cases.bench.shims.choose_pair import (
    PairForecast,
    action_gap_rows,
    body_included,
    pair_forecast,
    stock_choice,
    wanted_angles,
)
from cases.bench.shims.lengths import length
from cases.bench.shims.readings import FEELER_MM, NO_SQUARES, NOT_RECORDED, Conditions, Squares
from cases.bench.shims.strung_neck import Bench, covariance_of
from cases.offset.shim_ends import way_round
from fem.results.reading import string_height
from fem.solve.offset import pair
from materials.errors import InputError

Array = NDArray[np.float64]
BEGIN = "Slacken the strings, ease the rod, then the bolts"
ACTION_MM = 0.05
"""Error of a measured action, one standard deviation [mm]: an assumption, no source."""
LIKELY, LIKELIER = 0.05, 20.0
"""A shim the wrong way round explains the measurements if the remaining deviation has more than this chance,
and if they are so many times likelier than with the pair as entered (our choice)."""
TWIST_MM = 0.2
"""Difference of bass and treble, beyond that of the set-up, above which there is a warning of twist [mm]: our
choice."""
SMALLEST_ROD_MM = 0.02
"""Smallest error of action by the rod for which a turn is advised [mm]: our choice."""


@dataclass(frozen=True)
class StrungMeasurements:
    """Measurements at pitch [mm], None if not measured.

    ``saddle`` : height over the bridge; ``reading`` and ``squares`` : of the bare pocket and heel at the time
    of fitting.
    """

    action_bass: float
    action_treble: float
    relief: float | None = None
    tongue_gap: float | None = None
    saddle: float | None = None
    reading: float | None = None
    squares: Squares = NO_SQUARES


@dataclass(frozen=True)
class ActionParts:
    """Error of the mean action by cause [mm].

    ``joint`` is None without a tongue gap: then ``rest`` contains joint, body and top.
    """

    total: float
    rod: float
    saddle: float
    joint: float | None
    rest: float


@dataclass(frozen=True)
class Explanation:
    """Shims the wrong way round that explain the measurements; ``chance`` : of the remaining deviation."""

    words: str
    chance: float


@dataclass(frozen=True)
class Swap:
    """Pair in the guitar, new pair with its forecast, causes of the action error, and steps to take.

    ``twist_mm`` : difference of bass and treble minus that of the set-up.
    """

    old: tuple[float, float]
    new: PairForecast
    expected_action_mm: float
    parts: ActionParts
    explanations: tuple[Explanation, ...]
    twist_mm: float
    steps: tuple[str, ...]
    warnings: tuple[str, ...]
    attempts: int = 1
    """Number of attempts that the new pair is based on."""

    @property
    def keep(self) -> bool:
        """Whether the pair stays."""
        return (self.new.upper_deg, self.new.lower_deg) == self.old


def swap(
    bench: Bench,
    upper_deg: float,
    lower_deg: float,
    measured: StrungMeasurements,
    *,
    earlier: Sequence[tuple[tuple[float, float], StrungMeasurements]] = (),
    conditions: Conditions = NOT_RECORDED,
    inch: bool = False,
) -> Swap:
    """Find the causes of an action error and the pair that corrects it.

    Raises `InputError` if an angle or a measurement is impossible.

    ``earlier`` : pairs tried before on this guitar with their measurements, tongue gaps included; the new
    pair corrects the mean of all. ``inch`` : whether steps and warnings give lengths in inches.
    """
    _check(bench, upper_deg, lower_deg, measured)
    setup = bench.case.setup
    # part of the lower shim fills the gaps found with the squares
    filled = measured.squares.correction_deg(bench.geometry)
    here = _seen(bench, (upper_deg, lower_deg), measured)
    all_seen = [here, *(_seen(bench, *one) for one in earlier if measured.tongue_gap is not None)]
    virtual = sum(one.virtual_mm for one in all_seen) / len(all_seen)
    # a rotated joint acts like another angle of the lower shim, in the old pair and in the new one
    correction = filled + sum(one.turn_deg for one in all_seen) / len(all_seen)
    ideal = wanted_angles(bench, virtual)
    best, _ = stock_choice(bench, ideal, correction=correction)
    new = pair_forecast(bench, virtual, best, correction=correction)
    if here.keeps_saddle and min(new.action_bass_mm, new.action_treble_mm) < 0.0:
        raise InputError(
            "These measurements contradict each other: the nearest pair in stock would leave the strings "
            f"{-min(new.action_bass_mm, new.action_treble_mm):.2f} mm under the frets. Measure action, "
            "relief and tongue gap again, and check units and decimal points."
        )
    twist = (measured.action_bass - measured.action_treble) - (setup.action_bass_mm - setup.action_treble_mm)
    found = Swap(
        old=(upper_deg, lower_deg),
        new=new,
        expected_action_mm=here.expected_mm,
        parts=here.parts,
        explanations=tuple(_explanations(bench, (upper_deg, lower_deg), measured, here.parts)),
        twist_mm=twist,
        steps=(),
        warnings=(*conditions.warnings(), *_disagreement(bench, all_seen)),
        attempts=len(all_seen),
    )
    warnings = _warnings(bench, measured, found, ideal_deg=(ideal[0], ideal[1] + correction), inch=inch)
    return replace(
        found,
        steps=tuple(_steps(bench, found, keeps_saddle=here.keeps_saddle, inch=inch)),
        warnings=(*found.warnings, *warnings),
    )


@dataclass(frozen=True)
class _Seen:
    """What the measurements on one pair show.

    ``turn_deg`` : rotation of the joint, as degrees less of lower shim; ``virtual_mm`` : reading of a pocket
    that would explain the rest.
    """

    expected_mm: float
    parts: ActionParts
    turn_deg: float
    virtual_mm: float
    keeps_saddle: bool


def _seen(bench: Bench, pair_deg: tuple[float, float], measured: StrungMeasurements) -> _Seen:
    geometry, setup = bench.geometry, bench.case.setup
    filled = measured.squares.correction_deg(geometry)
    acting = (pair_deg[0], pair_deg[1] - filled)
    at = bench.strung(*acting)
    mean = 0.5 * (measured.action_bass + measured.action_treble)
    wanted = 0.5 * (setup.action_bass_mm + setup.action_treble_mm)
    expected = wanted
    if measured.reading is not None:
        expected += geometry.action_of(geometry.saddle_top - measured.reading - at.saddle_mm)
    parts, turn = _split(bench, acting, measured, total=mean - expected)
    keeps_saddle = measured.saddle is None or geometry.lowest <= measured.saddle <= geometry.highest
    to_correct = mean - wanted - parts.rod - (0.0 if keeps_saddle else parts.saddle)
    turned = bench.strung(acting[0], acting[1] - turn)
    virtual = geometry.saddle_top - turned.saddle_mm - to_correct / geometry.share
    return _Seen(expected, parts, turn, virtual, keeps_saddle)


def _disagreement(bench: Bench, all_seen: Sequence[_Seen]) -> Iterator[str]:
    """Warning of attempts that differ by more than the errors of shims and feelers explain."""
    turns = [one.turn_deg for one in all_seen]
    gain = abs(float(bench.gains(*bench.reference_deg)[1, 1]))
    feeler = degrees(FEELER_MM / bench.geometry.tongue_lever) / gain
    error = hypot(2.0 * bench.case.tolerance.shim_deg, sqrt(2.0) * feeler)
    if max(turns) - min(turns) > 3.0 * error:
        yield (
            f"The attempts on this guitar disagree: the joint seems to have turned by {min(turns):+.2f} to "
            f"{max(turns):+.2f} deg. Check that each shim is the one in the log, the right way round, and "
            "that the bolts are tight, before you change another."
        )


def _check(bench: Bench, upper_deg: float, lower_deg: float, measured: StrungMeasurements) -> None:
    stock = bench.case.stock.angles_deg()
    for name, angle in (("--upper", upper_deg), ("--lower", lower_deg)):
        if not stock[0] - 0.5 <= angle <= stock[-1] + 0.5:
            raise InputError(
                f"{name} {angle:.2f} deg is not allowed; {stock[0] - 0.5:.2f} to {stock[-1] + 0.5:.2f} deg, "
                "the stock and half a degree more, are. Give the angle printed on the shim."
            )
    for name in ("action_bass", "action_treble", "relief", "tongue_gap", "saddle"):
        value = getattr(measured, name)
        low, high = KINDS["saddle_height" if name == "saddle" else name]["mm"]
        if value is not None and not low <= value <= high:
            raise InputError(
                f"--{name.replace('_', '-')} {value:g} mm is not allowed; {low:g} to {high:g} mm are. Check "
                "decimal point and unit."
            )


def _split(
    bench: Bench, pair_deg: tuple[float, float], measured: StrungMeasurements, *, total: float
) -> tuple[ActionParts, float]:
    """Causes of the action error ``total`` of a pair, and the rotation of the joint as degrees less of lower
    shim.
    """
    geometry, case = bench.geometry, bench.case
    rod, gap_of_rod = relief_effect(bench, pair_deg, measured.relief)
    saddle = 0.0
    if measured.saddle is not None:
        saddle = geometry.action_of(measured.saddle - case.bridge.saddle_projection_mm)
    joint, turn = None, 0.0
    if measured.tongue_gap is not None:
        at = bench.strung(*pair_deg)
        gains = bench.gains(*bench.reference_deg)
        # gap per degree less of lower shim
        per_turn = -radians(float(gains[1, 1])) * geometry.tongue_lever
        expected = at.tongue_gap_mm + gap_of_rod
        turn = (measured.tongue_gap - expected) / per_turn
        lower, steepest = pair_deg[1], bench.steepest_lower_deg
        if abs(lower - turn) > steepest:
            ends = sorted(expected + per_turn * (lower - way * steepest) for way in (-1.0, 1.0))
            raise InputError(
                f"--tongue-gap {measured.tongue_gap:g} mm is not allowed; {ends[0]:.2f} to {ends[1]:.2f} mm "
                "are, with this pair and relief. Check decimal point, sign and unit; if the value is right, "
                "no shim can correct it: inspect the joint."
            )
        joint = geometry.action_of(float(gains[0, 1]) * turn)
    return ActionParts(total, rod, saddle, joint, total - rod - saddle - (joint or 0.0)), turn


def relief_effect(
    bench: Bench, pair_deg: tuple[float, float], relief_mm: float | None
) -> tuple[float, float]:
    """Change of action and tongue gap by a relief other than its target, at a fixed saddle [mm]."""
    if relief_mm is None or abs(relief_mm - bench.case.targets.relief_mm) < 1e-9:
        return 0.0, 0.0
    question = bench.question
    angles = (radians(pair_deg[0]), radians(pair_deg[1]))
    base = pair(question, angles, start=bench.reference)
    fret = float(question.line.x[11])
    heights, gaps = [], []
    for relief in (1e-3 * relief_mm, question.wanted.relief):
        wanted = replace(question.wanted, relief=relief, height=None, saddle_height=base.strung.saddle_height)
        bent = replace(question, wanted=wanted, one_way=False)
        state = pair(bent, angles, start=base).strung
        heights.append(1e3 * string_height(bent, state, fret))
        gaps.append(1e3 * question.line.tongue_gap(question.heights(state)))
    return heights[0] - heights[1], gaps[0] - gaps[1]


def _mistakes(upper: float, lower: float) -> Iterator[tuple[str, tuple[float, float]]]:
    """Shims the wrong way round or exchanged, each with the pair that would then be in the guitar."""
    each = {
        "the upper shim is the wrong way round": (-upper, lower),
        "the lower shim is the wrong way round": (upper, -lower),
        "both shims are the wrong way round": (-upper, -lower),
        "upper and lower shim are exchanged": (lower, upper),
    }
    seen = {(upper, lower)}
    for words, angles in each.items():
        if angles not in seen:
            seen.add(angles)
            yield words, angles


def _explanations(
    bench: Bench, pair_deg: tuple[float, float], measured: StrungMeasurements, parts: ActionParts
) -> Iterator[Explanation]:
    """Mistakes that explain action and gap where the pair as entered does not."""
    from scipy.stats import chi2

    geometry, tolerance = bench.geometry, bench.case.tolerance
    filled = measured.squares.correction_deg(geometry)
    acting = (pair_deg[0], pair_deg[1] - filled)
    here = bench.strung(*acting)
    seats_deg = measured.squares.error_deg(geometry, tolerance)
    uncertainty = bench.uncertainty(bench.reference_deg, reading_mm=tolerance.reading_mm, seats_deg=seats_deg)
    scatter = covariance_of(bench, here, uncertainty)[:2, :2]
    rows = action_gap_rows(geometry)
    covariance = rows @ scatter @ rows.T + np.diag([0.5 * ACTION_MM**2, FEELER_MM**2])
    _, gap_of_rod = relief_effect(bench, acting, measured.relief)
    off = np.array([parts.total - parts.rod - parts.saddle, 0.0])
    kinds = [0]
    if measured.tongue_gap is not None:
        off[1] = measured.tongue_gap - here.tongue_gap_mm - gap_of_rod
        kinds = [0, 1]

    def distance(deviation: Array) -> float:
        part = deviation[kinds]
        return float(part @ np.linalg.solve(covariance[np.ix_(kinds, kinds)], part))

    as_entered = distance(off)
    for words, angles in _mistakes(*pair_deg):
        there = bench.strung(angles[0], angles[1] - filled)
        change = np.array(
            [geometry.action_of(here.saddle_mm - there.saddle_mm), there.tongue_gap_mm - here.tongue_gap_mm]
        )
        left = distance(off - change)
        likely = float(chi2.sf(left, len(kinds)))
        if likely > LIKELY and as_entered - left > 2.0 * log(LIKELIER):
            yield Explanation(words, likely)


def _warnings(
    bench: Bench,
    measured: StrungMeasurements,
    found: Swap,
    *,
    ideal_deg: tuple[float, float],
    inch: bool,
) -> Iterator[str]:
    if abs(found.twist_mm) > TWIST_MM:
        yield (
            f"Bass and treble differ by {length(found.twist_mm, inch=inch, signed=True)} more than in the "
            "set-up: the neck is twisted or the saddle is not cut parallel, which no shim can correct. The "
            "pair is chosen for the mean of both."
        )
    if measured.relief is None:
        yield "No relief was given: it is assumed at its target. Measure it: the rod is set before any swap."
    if measured.tongue_gap is None:
        yield "No tongue gap was given: joint and body cannot be separated. Give --tongue-gap."
    if measured.reading is None:
        yield (
            "No reading of the bare pocket was given: it is assumed that the pair was right when fitted. "
            "Give --reading or --serial to compare with the prediction."
        )
    stock = bench.case.stock.angles_deg()
    over = max(stock[0] - min(ideal_deg), max(ideal_deg) - stock[-1])
    if over > 0.05:
        yield (
            f"The ideal pair is {over:.2f} deg beyond the stock: the pair shown is the nearest one, but not "
            "right. The neck needs a reset, or the saddle another height; let a qualified person decide."
        )
    if not body_included(bench):
        yield "Body not included: the case does not give its stiffness; the correction itself is valid."
    if abs(found.parts.joint or 0.0) > 0.5:
        yield "The joint has rotated far: look for an open glue line or loose bolts before you change shims."


def _steps(bench: Bench, found: Swap, *, keeps_saddle: bool, inch: bool) -> Iterator[str]:
    if found.explanations:
        causes = ", or ".join(one.words for one in found.explanations)
        yield (
            f"{BEGIN}; inspect the shims first: {causes}; this would explain the measurements. If so, "
            "correct it, bolt up, string to pitch, and measure again before any swap."
        )
    if found.keep:
        if abs(found.parts.rod) > SMALLEST_ROD_MM:
            yield f"{BEGIN} only if necessary: keep the pair and set the rod to the target relief."
        return
    old, new = found.old, found.new
    yield (
        f"{BEGIN}; upper {old[0]:.2f} out, {new.upper_deg:.2f} in; lower {old[1]:.2f} out, "
        f"{new.lower_deg:.2f} in; {way_round(new.upper_deg, new.lower_deg)}."
    )
    yield (
        "Tighten the bolts to their torque, string to pitch, set the rod to "
        f"{length(bench.case.targets.relief_mm, inch=inch)} relief in small steps, never forced; measure "
        "again the next day."
    )
    if not keeps_saddle:
        yield (
            f"Set the saddle back to {length(bench.case.bridge.saddle_projection_mm, inch=inch)} over the "
            "bridge: its height is outside the usable range, and the pair is chosen for the preset height."
        )
