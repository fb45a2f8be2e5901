"""After string-up, or years later: what moved, whether a shim sits the wrong way round, and which pair to
swap to in one step (docs/bench.md).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log, radians

import numpy as np
from numpy.typing import NDArray

from cases.bench.logbook.value_ranges import KINDS
from cases.bench.shims.choose_pair import PairAim, body_included, pair_aim, stock_choice, wanted_angles
from cases.bench.shims.lengths import length
from cases.bench.shims.readings import FEELER_MM, NO_SQUARES, UNTOLD, Conditions, Squares
from cases.bench.shims.strung_neck import Bench, covariance_of
from cases.offset.stock_pairs import shim_answer
from fem.results.reading import string_height
from fem.solve.offset import pair
from materials.errors import InputError

Array = NDArray[np.float64]
BEGIN = "Slacken the strings, ease the rod, then the bolts"
ACTION_MM = 0.05
"""Error of a measured action, one standard deviation [mm]: an assumption, no source."""
LIKELY, LIKELIER = 0.05, 20.0
"""A shim the wrong way round explains a reading when what it leaves has more than this chance, and when the
reading is so many times likelier with it than with the pair as entered (our choice)."""
TWIST_MM = 0.2
"""Bass and treble further apart than the set-up wants, by more than this, is twist [mm]: our choice."""
FIRST_MEANT_MM = 0.02


@dataclass(frozen=True)
class Measured:
    """What was measured at pitch; None where it was not [mm].

    ``saddle`` is its height over the bridge; ``reading`` and ``squares`` are those of the bare pocket and
    heel at the time of fitting.
    """

    action_bass: float
    action_treble: float
    relief: float | None = None
    tongue_gap: float | None = None
    saddle: float | None = None
    reading: float | None = None
    squares: Squares = NO_SQUARES


@dataclass(frozen=True)
class Parts:
    """The deviation of the mean action from what the pair should give, split [mm].

    ``joint`` is None without a tongue gap: then ``rest`` holds joint, body and top together.
    """

    total: float
    rod: float
    saddle: float
    joint: float | None
    rest: float


@dataclass(frozen=True)
class Explanation:
    """A shim the wrong way round that explains the reading; ``chance`` of a deviation as large as what is
    then left.
    """

    words: str
    chance: float


@dataclass(frozen=True)
class Swap:
    """What to do.

    ``old`` and ``new`` are pairs at pitch with the relief at its target; ``twist_mm`` the difference of bass
    and treble beyond the wanted one.
    """

    old: tuple[float, float]
    new: PairAim
    expected_action_mm: float
    parts: Parts
    explanations: tuple[Explanation, ...]
    twist_mm: float
    steps: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def keep(self) -> bool:
        """Whether the pair stays."""
        return (self.new.upper_deg, self.new.lower_deg) == self.old


def swap(
    bench: Bench,
    upper_deg: float,
    lower_deg: float,
    measured: Measured,
    *,
    conditions: Conditions = UNTOLD,
    inch: bool = False,
) -> Swap:
    """Say what moved and which pair mends it.

    Parameters
    ----------
    inch : whether its sentences give lengths in inches.

    Raises
    ------
    InputError
        If an angle is out of all reason or a measured value is.
    """
    _check(bench, upper_deg, lower_deg, measured)
    case, geometry = bench.case, bench.geometry
    # room that the squares showed takes up part of the lower shim
    filled = measured.squares.correction_deg(geometry)
    at = bench.strung(upper_deg, lower_deg - filled)
    setup = case.setup
    mean = 0.5 * (measured.action_bass + measured.action_treble)
    wanted = 0.5 * (setup.action_bass_mm + setup.action_treble_mm)
    expected = wanted
    if measured.reading is not None:
        expected += geometry.action_of(geometry.saddle_top - measured.reading - at.saddle_mm)
    parts, turn = _split(bench, (upper_deg, lower_deg - filled), measured, total=mean - expected)
    keeps_saddle = measured.saddle is None or geometry.lowest <= measured.saddle <= geometry.highest
    to_mend = mean - wanted - parts.rod - (0.0 if keeps_saddle else parts.saddle)
    # a joint that has turned acts like a lower shim of another angle, in the old pair and in the new one
    correction = filled + turn
    acting = bench.strung(upper_deg, lower_deg - correction)
    virtual = geometry.saddle_top - acting.saddle_mm - to_mend / geometry.share
    aim_at = wanted_angles(bench, virtual)
    best, _ = stock_choice(bench, virtual, wanted=aim_at, correction=correction)
    new = pair_aim(bench, virtual, best, correction=correction)
    if keeps_saddle and min(new.action_bass_mm, new.action_treble_mm) < 0.0:
        raise InputError(
            "These readings cannot all be right: the nearest pair in stock would leave the strings "
            f"{-min(new.action_bass_mm, new.action_treble_mm):.2f} mm under the frets. Measure action, "
            "relief and tongue gap again, and see that the unit and the decimal point are right."
        )
    twist = (measured.action_bass - measured.action_treble) - (setup.action_bass_mm - setup.action_treble_mm)
    found = Swap(
        old=(upper_deg, lower_deg),
        new=new,
        expected_action_mm=expected,
        parts=parts,
        explanations=tuple(_explanations(bench, (upper_deg, lower_deg), measured, parts)),
        twist_mm=twist,
        steps=(),
        warnings=tuple(
            _warnings(bench, measured, parts, (aim_at[0], aim_at[1] + correction), (twist, inch), conditions)
        ),
    )
    return replace(found, steps=tuple(_steps(bench, found, keeps_saddle=keeps_saddle, inch=inch)))


def _check(bench: Bench, upper_deg: float, lower_deg: float, measured: Measured) -> None:
    stock = bench.case.stock.angles_deg()
    for name, angle in (("--upper", upper_deg), ("--lower", lower_deg)):
        if not stock[0] - 0.5 <= angle <= stock[-1] + 0.5:
            raise InputError(
                f"{name} {angle:.2f} deg is not allowed; {stock[0] - 0.5:.2f} to {stock[-1] + 0.5:.2f} deg, "
                "the stock and half a degree more, are. Give the angle on the shim."
            )
    for name, value, kind in (
        ("--action-bass", measured.action_bass, "action_bass"),
        ("--action-treble", measured.action_treble, "action_treble"),
        ("--relief", measured.relief, "relief"),
        ("--tongue-gap", measured.tongue_gap, "tongue_gap"),
        ("--saddle", measured.saddle, "saddle_height"),
    ):
        low, high = KINDS[kind]["mm"]
        if value is not None and not low <= value <= high:
            raise InputError(
                f"{name} {value:g} mm is not allowed; {low:g} to {high:g} mm are. Check decimal point and "
                "unit."
            )


def _split(
    bench: Bench, pair_deg: tuple[float, float], measured: Measured, *, total: float
) -> tuple[Parts, float]:
    """Parts of the deviation of a pair as it acts, and the turn of the joint as degrees of lower shim, taken
    off.
    """
    geometry, case = bench.geometry, bench.case
    rod, gap_of_rod = of_relief(bench, pair_deg, measured.relief)
    saddle = 0.0
    if measured.saddle is not None:
        saddle = geometry.action_of(measured.saddle - case.bridge.saddle_projection_mm)
    joint, turn = None, 0.0
    if measured.tongue_gap is not None:
        at = bench.strung(*pair_deg)
        gains = bench.gains(*bench.reference_deg)
        # gap for each degree by which the joint acts like less of a lower shim
        per_turn = -radians(float(gains[1, 1])) * geometry.tongue_lever
        expected = at.tongue_gap_mm + gap_of_rod
        turn = (measured.tongue_gap - expected) / per_turn
        _check_turn(bench, pair_deg[1] - turn, measured.tongue_gap, (expected, pair_deg[1], per_turn))
        joint = geometry.action_of(float(gains[0, 1]) * turn)
    return Parts(total, rod, saddle, joint, total - rod - saddle - (joint or 0.0)), turn


def _check_turn(bench: Bench, acting_deg: float, gap_mm: float, law: tuple[float, float, float]) -> None:
    """Refuse a gap for which the joint would act like a lower shim that cannot be.

    ``law``: gap of a joint that did not turn [mm], lower angle of the pair [deg], gap for a degree [mm].
    """
    if abs(acting_deg) <= bench.steepest_lower_deg:
        return
    expected, lower, per_turn = law
    ends = sorted(expected + per_turn * (lower - way * bench.steepest_lower_deg) for way in (-1.0, 1.0))
    raise InputError(
        f"--tongue-gap {gap_mm:g} mm is not allowed; {ends[0]:.2f} to {ends[1]:.2f} mm are for this pair and "
        "relief. Check decimal point, sign and unit; if it is so, no shim mends it: look at the joint."
    )


def of_relief(bench: Bench, pair_deg: tuple[float, float], relief_mm: float | None) -> tuple[float, float]:
    """Change of action and of tongue gap when the relief is another than wanted, the saddle staying [mm]."""
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


def _hypotheses(upper: float, lower: float) -> Iterator[tuple[str, tuple[float, float]]]:
    each = {
        "the upper shim sits the wrong way round": (-upper, lower),
        "the lower shim sits the wrong way round": (upper, -lower),
        "both shims sit the wrong way round": (-upper, -lower),
        "upper and lower shim are exchanged": (lower, upper),
    }
    seen = {(upper, lower)}
    for words, angles in each.items():
        if angles not in seen:
            seen.add(angles)
            yield words, angles


def _explanations(
    bench: Bench, pair_deg: tuple[float, float], measured: Measured, parts: Parts
) -> Iterator[Explanation]:
    """Each wrong way round that explains action and gap where the pair as entered does not."""
    from scipy.stats import chi2

    geometry, tolerance = bench.geometry, bench.case.tolerance
    filled = measured.squares.correction_deg(geometry)
    acting = (pair_deg[0], pair_deg[1] - filled)
    here = bench.strung(*acting)
    effects = bench.effects(*bench.reference_deg)
    scatter = covariance_of(
        bench,
        here,
        effects,
        prior=bench.prior(effects),
        reading_mm=tolerance.reading_mm,
        lower_deg=float(np.hypot(measured.squares.error_deg(geometry, tolerance), tolerance.shim_deg)),
        upper_deg=tolerance.shim_deg,
    )[:2, :2]
    rows = np.diag([-geometry.share, radians(1.0) * geometry.tongue_lever])
    covariance = rows @ scatter @ rows.T + np.diag([0.5 * ACTION_MM**2, FEELER_MM**2])
    _, gap_of_rod = of_relief(bench, acting, measured.relief)
    off = np.array([parts.total - parts.rod - parts.saddle, 0.0])
    kinds = [0]
    if measured.tongue_gap is not None:
        off[1] = measured.tongue_gap - here.tongue_gap_mm - gap_of_rod
        kinds = [0, 1]

    def distance(left: Array) -> float:
        part = left[kinds]
        return float(part @ np.linalg.solve(covariance[np.ix_(kinds, kinds)], part))

    as_entered = distance(off)
    for words, angles in _hypotheses(*pair_deg):
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
    measured: Measured,
    parts: Parts,
    wanted: tuple[float, float],
    twist_in: tuple[float, bool],
    conditions: Conditions,
) -> Iterator[str]:
    yield from conditions.warnings()
    twist, inch = twist_in
    if abs(twist) > TWIST_MM:
        yield (
            f"Bass and treble lie {length(twist, inch=inch, signed=True)} further apart than the "
            "set-up wants: that is twist of the neck or a saddle cut aslant, which no shim mends. The "
            "pair is chosen for the mean of both."
        )
    if measured.relief is None:
        yield "No relief was given: it is taken to be at its target. Measure it, the rod goes first."
    if measured.tongue_gap is None:
        yield "No tongue gap was given: joint and body cannot be told apart. Give --tongue-gap."
    if measured.reading is None:
        yield (
            "No reading of the bare pocket was given: the pair in it is taken to have been right when it was "
            "fitted. Give --reading or --serial to compare with what was predicted."
        )
    stock = bench.case.stock.angles_deg()
    over = max(stock[0] - min(wanted), max(wanted) - stock[-1])
    if over > 0.05:
        yield (
            f"The pair wanted lies {over:.2f} deg beyond the stock: the pair shown is the nearest, not a "
            "right one. A reset of the neck or another saddle height is due; let a qualified person judge."
        )
    if not body_included(bench):
        yield "Body not included: the case does not say how much it turns; the correction itself holds."
    if parts.joint is not None and abs(parts.joint) > 0.5:
        yield "The joint has turned far: look for an opened glue line or loose bolts before you shim it."


def _ends(bench: Bench, pair_deg: tuple[float, float]) -> str:
    """Which way the shims of a pair go."""
    answers = [shim_answer(pad, angle) for pad, angle in zip(bench.question.pads, pair_deg, strict=True)]
    return ", ".join(
        f"{one.name} shim " + (one.thick_end if one.thick_end == "parallel" else f"thick end {one.thick_end}")
        for one in answers
    )


def _steps(bench: Bench, found: Swap, *, keeps_saddle: bool, inch: bool) -> Iterator[str]:
    if found.explanations:
        causes = ", or ".join(one.words for one in found.explanations)
        yield (
            f"{BEGIN}; look at the shims first: {causes}; that would explain the reading. If so put it "
            "right, bolt up, string to pitch, and read again before any swap."
        )
    if found.keep:
        if abs(found.parts.rod) > FIRST_MEANT_MM:
            yield f"{BEGIN} only if they must move: keep the pair and set the rod to the relief wanted."
        return
    old, new = found.old, found.new
    yield (
        f"{BEGIN}; upper {old[0]:.2f} out, {new.upper_deg:.2f} in; lower {old[1]:.2f} out, "
        f"{new.lower_deg:.2f} in; {_ends(bench, (new.upper_deg, new.lower_deg))}."
    )
    yield (
        "Tighten the bolts to their torque, string to pitch, set the rod to "
        f"{length(bench.case.targets.relief_mm, inch=inch)} relief in small steps, never forced; read again "
        "the next day."
    )
    if not keeps_saddle:
        yield (
            f"Set the saddle back to {length(bench.case.bridge.saddle_projection_mm, inch=inch)} over the "
            "bridge: it stands outside its usable range, and the pair is chosen for that height."
        )
