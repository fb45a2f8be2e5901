"""Saddle height, kink and shaft line of a pair of shims at pitch, from the full model, and their scatter from
guitar to guitar.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import atan2, degrees, expm1, hypot, radians, sqrt

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from cases.bench.shims.geometry import Geometry, geometry_of
from cases.casefile.case import Case
from cases.casefile.limits.joint import THINNEST_MM
from cases.offset.build import mean_radius, question_of, string_lines
from cases.offset.calibration import PITCH_BIAS, Calibration, Overlay, laid_over, overlay_of, structure_laid
from cases.offset.scatter import NINETY, sources
from cases.offset.solve import FINE, Solved, answered, with_measured_body
from fem.results.reading import read
from fem.solve.condensation import condense
from fem.solve.equilibrium import State
from fem.solve.offset import Pair, Question, other_state, pair
from materials.errors import InputError

Array = NDArray[np.float64]
STEP_DEG = 0.02
"""Step of the shim angles in `Bench.gains` [deg]."""
BODY_DEG = 0.10
"""Rotation of the shaft by an unmeasured body, one standard deviation [deg]: before stringing 0.4 to 1.6 mm
are left at the bridge, in total at most 0.32 deg [cumpiano1994], second-hand."""
WEAK_TRANSFER = 0.05
"""Smallest relative uncertainty of the shim transfer: an assumption, no source."""


@dataclass(frozen=True)
class Strung:
    """A pair of shims at pitch, rod set; heights over the carried pocket plane at the saddle [mm].

    Attributes
    ----------
    saddle_mm : height at which the strings must cross the saddle for the wanted action.
    line_mm, bolted_line_mm : shaft line of the fret crowns, at pitch and bolted up.
    misfit_deg : kink minus its target.
    tongue_gap_mm : gap under a straightedge at the last fret, without the bow of the shaft.
    bolted_kink_deg, bolted_gap_mm : kink and tongue gap bolted up, without strings.
    tuned_down_kink_deg : kink with all strings tuned down and the rod slack; None unless asked for.
    """

    upper_deg: float
    lower_deg: float
    saddle_mm: float
    line_mm: float
    bolted_line_mm: float
    misfit_deg: float
    tongue_gap_mm: float
    bolted_kink_deg: float
    bolted_gap_mm: float
    tuned_down_kink_deg: float | None = None

    @property
    def numbers(self) -> Array:
        """Saddle [mm], misfit [deg] and bolted kink [deg], (3,); with the kink tuned down [deg], (4,)."""
        tuned_down = [] if self.tuned_down_kink_deg is None else [self.tuned_down_kink_deg]
        return np.array([self.saddle_mm, self.misfit_deg, self.bolted_kink_deg, *tuned_down])


@dataclass(frozen=True)
class Effect:
    """Effect of one source of scatter on `Strung.numbers`: change per standard deviation, and curvature (half
    the sum of the changes by plus and minus one standard deviation).
    """

    name: str
    slope: Array
    curvature: Array


@dataclass(frozen=True)
class Uncertainty:
    """Uncertainty of a guitar about to be strung.

    ``effects`` : of all sources of scatter; ``prior`` : covariance of the four learned parameters without a
    log, (4, 4); ``reading_mm``, ``seats_deg`` : standard deviations of reading and both faces.
    """

    effects: tuple[Effect, ...]
    prior: Array
    reading_mm: float
    seats_deg: float


@dataclass(frozen=True)
class Bench:
    """A case solved for the bench.

    Attributes
    ----------
    given, case : the case, and the same with the keys set by the calibration and the action as its target.
    question : with the overlay of the calibration.
    reference : states at the offset, upper angle in the middle of the stock.
    stretch_deg : heel stretch of the model on equal shims.
    tuned_down : semitones by which all strings are tuned down in `Strung.tuned_down_kink_deg`, or None.
    """

    given: Case
    case: Case
    geometry: Geometry
    question: Question
    reference: Pair
    overlay: Overlay
    calibration: Calibration | None
    stretch_deg: float
    tuned_down: float | None = None
    _solved_pairs: dict[tuple[float, float], Strung] = field(default_factory=dict, repr=False, compare=False)

    @property
    def reference_deg(self) -> tuple[float, float]:
        """Upper and lower angle of the reference, clipped to the stock [deg]."""
        upper, lower = self.within_stock(*map(degrees, self.reference.angles[:2]))
        return round(upper, 3), round(lower, 3)

    def within_stock(self, upper_deg: float, lower_deg: float) -> tuple[float, float]:
        """The pair clipped to the stock [deg]."""
        stock = self.case.stock.angles_deg()
        upper, lower = (min(max(angle, stock[0]), stock[-1]) for angle in (upper_deg, lower_deg))
        return upper, lower

    @property
    def steepest_lower_deg(self) -> float:
        """Steepest angle of the lower shim that leaves a thin edge, less a step of `gains` [deg]."""
        shim = self.case.shim("lower")
        spare = shim.thickness_mm - THINNEST_MM
        return degrees(atan2(spare, 0.5 * (shim.to_mm - shim.from_mm))) - STEP_DEG

    @property
    def body_known(self) -> bool:
        """Whether the case gives the stiffness of the body."""
        return self.question.body_stiffness is not None

    @property
    def target_deg(self) -> float:
        """Target kink; 0 where the target is a tongue gap [deg]."""
        return self.case.targets.kink_deg or 0.0

    def strung(self, upper_deg: float, lower_deg: float) -> Strung:
        """States of a pair on the full model; angles as they act on the neck [deg]."""
        key = (round(upper_deg, 6), round(lower_deg, 6))
        if key not in self._solved_pairs:
            self._solved_pairs[key] = self.solved(self.question, upper_deg, lower_deg)
        return self._solved_pairs[key]

    def solved(
        self, question: Question, upper_deg: float, lower_deg: float, *, start: Pair | None = None
    ) -> Strung:
        """States of a pair on another question; ``start`` are states near them, to begin with."""
        tuned_down = None
        with threadpool_limits(limits=1):
            at = pair(question, (radians(upper_deg), radians(lower_deg)), start=start or self.reference)
            if self.tuned_down is not None:
                tuned_down = degrees(question.kink(_tuned_down(question, at, self.tuned_down)))
        strung, bolted = read(question, at.strung), read(question, at.bolted)
        case, geometry = self.case, self.geometry
        learned = self.calibration.value(PITCH_BIAS) if self.calibration else 0.0
        lift = geometry.lift(upper_deg) - geometry.fall(learned)
        crown = case.fretboard.thickness_mm + case.frets.crown_height_mm
        underside = at.strung.saddle_height - mean_radius(string_lines(case))
        misfit = question.misfit(at.strung)
        of_shop = self.overlay.factor * misfit
        unseen = geometry.tongue_lever * (of_shop - misfit - self.overlay.shift)
        return Strung(
            upper_deg=upper_deg,
            lower_deg=lower_deg,
            saddle_mm=1e3 * underside + lift,
            line_mm=1e3 * strung.saddle_line + crown + lift,
            bolted_line_mm=1e3 * bolted.saddle_line + crown + lift,
            misfit_deg=degrees(of_shop),
            tongue_gap_mm=1e3 * strung.tongue_gap + unseen,
            bolted_kink_deg=degrees(bolted.kink),
            bolted_gap_mm=1e3 * bolted.tongue_gap,
            tuned_down_kink_deg=tuned_down,
        )

    def gains(self, upper_deg: float, lower_deg: float) -> Array:
        """Change of `Strung.numbers` per degree of upper and of lower shim, (3, 2) or (4, 2)."""
        columns = []
        for up, low in ((STEP_DEG, 0.0), (0.0, STEP_DEG)):
            above = self.strung(upper_deg + up, lower_deg + low).numbers
            below = self.strung(upper_deg - up, lower_deg - low).numbers
            columns.append((above - below) / (2.0 * STEP_DEG))
        return np.column_stack(columns)

    def effects(self, upper_deg: float, lower_deg: float) -> tuple[Effect, ...]:
        """Effect of each source of scatter at fixed shims."""
        base = self.strung(upper_deg, lower_deg).numbers
        with threadpool_limits(limits=1):
            near = pair(self.question, (radians(upper_deg), radians(lower_deg)), start=self.reference)
        found = []
        for source in sources(self.case):
            moved = [
                self.solved(
                    source.changed(self.question, expm1(way)), upper_deg, lower_deg, start=near
                ).numbers
                - base
                for way in (source.deviation, -source.deviation)
            ]
            found.append(Effect(source.name, 0.5 * (moved[0] - moved[1]), 0.5 * (moved[0] + moved[1])))
        return tuple(found)

    def prior(self, effects: Sequence[Effect]) -> Array:
        """Covariance of the four learned parameters without a log, (4, 4) diagonal.

        A shop's mean may deviate from the model as much as its guitars do from each other, so each bias gets
        the spread of guitars. An unknown body adds to the pitch bias, the friction band to the stretch
        factor; the transfer factor gets its change over the friction band.
        """
        spread = np.sqrt(sum(effect.slope**2 for effect in effects))
        joint = self.case.joint
        kinks, transfers = [], []
        for friction in (joint.friction_low, joint.friction_high):
            question = replace(self.question, friction=tuple(friction for _ in self.question.friction))
            level = self.solved(question, 0.0, 0.0)
            leaning = self.solved(question, 0.0, -0.1)
            kinks.append(level.misfit_deg - level.bolted_kink_deg)
            transfers.append((level.misfit_deg - leaning.misfit_deg) / 0.1)
        band = abs(kinks[1] - kinks[0]) / (2.0 * NINETY)
        stretch = sqrt(spread[1] ** 2 + band**2) / abs(self.stretch_deg)
        transfer = abs(transfers[1] - transfers[0]) / (2.0 * NINETY) / abs(float(np.mean(transfers)))
        pitch = degrees(spread[0] / self.geometry.reach)
        if not self.body_known:
            pitch = hypot(pitch, BODY_DEG)
        deviations = np.array([spread[1], stretch, max(transfer, WEAK_TRANSFER), pitch])
        return np.diag(deviations**2)

    def uncertainty(self, angles: tuple[float, float], *, reading_mm: float, seats_deg: float) -> Uncertainty:
        """Uncertainty of a guitar, with the effects at a pair."""
        effects = self.effects(*angles)
        return Uncertainty(effects, self.prior(effects), reading_mm, seats_deg)

    def learned_rows(self, at: Strung) -> Array:
        """Change of `Strung.numbers` per unit of each learned parameter at a pair, (3, 4) or (4, 4)."""
        level = self.strung(0.0, 0.0)
        rows = [
            [0.0, 0.0, 0.0, -radians(1.0) * self.geometry.reach],
            [1.0, self.stretch_deg, at.misfit_deg - level.misfit_deg, 0.0],
            [1.0, 0.0, at.bolted_kink_deg - level.bolted_kink_deg, 0.0],
        ]
        if at.tuned_down_kink_deg is not None and level.tuned_down_kink_deg is not None:
            stretch = level.tuned_down_kink_deg - level.bolted_kink_deg
            rows.append([1.0, stretch, at.tuned_down_kink_deg - level.tuned_down_kink_deg, 0.0])
        return np.array(rows)


def _tuned_down(question: Question, at: Pair, semitones: float) -> State:
    """State of a bolted pair with all strings ``semitones`` below pitch and the rod slack.

    A string's tension goes with the square of its frequency: a factor of one half for six semitones.
    """
    factor = 2.0 ** (-semitones / 6.0)
    strings = replace(question.strings, tension=question.strings.tension * factor)
    return other_state(replace(question, strings=strings), at, strings=True, rod=0.0)


def bench_of(
    case: Case,
    *,
    calibration: Calibration | None = None,
    tuned_down: float | None = None,
    solved: Solved | None = None,
) -> Bench:
    """Solve a case for the bench; ``tuned_down`` : see `Bench`; ``solved`` : its solution, if there is one.

    Raises `InputError` if its joint has no pair of shims, or the calibration belongs to another case;
    `ModelError` or `ConvergenceError` if the neck cannot be solved.
    """
    if case.joint.kind != "two-shim":
        raise InputError(
            f"joint.kind = {case.joint.kind}: a pair is chosen for a two-shim joint; "
            "for one shim read the taper from `neckpreload offset`."
        )
    laid = calibration.applied(case) if calibration else case
    if laid.setup.mode != "action":
        laid = laid.with_values({"setup.mode": "action", "setup.saddle_height_mm": None})
    structure = structure_laid(laid, calibration)
    with threadpool_limits(limits=1):
        flexibility = solved.question.flexibility if solved else condense(structure, FINE)[0]
        question = with_measured_body(laid, question_of(laid, flexibility, structure))
        overlay = overlay_of(question, calibration)
        asked = laid_over(question, overlay)
        level = pair(asked, (0.0, 0.0))
        angles = case.stock.angles_deg()
        upper = radians(angles[len(angles) // 2])
        reference = answered(laid, structure, asked, upper=upper, start=level).pair
    return Bench(
        given=case,
        case=laid,
        geometry=geometry_of(laid),
        question=asked,
        reference=reference,
        overlay=overlay,
        calibration=calibration,
        stretch_deg=degrees(asked.kink(level.strung) - asked.kink(level.bolted)),
        tuned_down=tuned_down,
    )


def covariance_of(bench: Bench, at: Strung, uncertainty: Uncertainty) -> Array:
    """Covariance of `Strung.numbers` for a known reading, (3, 3) or (4, 4).

    Sources: wood, layers, strings and bolts (a tested wood with the error of its test), the reading, both
    shim angles, the learned parameters.
    """
    gains = bench.gains(at.upper_deg, at.lower_deg)
    whole = covariance_without_shims(bench, at, uncertainty, gains=gains)
    return np.asarray(whole + bench.case.tolerance.shim_deg**2 * gains @ gains.T)


def covariance_without_shims(bench: Bench, at: Strung, uncertainty: Uncertainty, *, gains: Array) -> Array:
    """The same with shims of exactly their angles; ``gains`` : `Bench.gains` at the pair."""
    whole = uncertainty.seats_deg**2 * np.outer(gains[:, 1], gains[:, 1])
    whole[0, 0] += uncertainty.reading_mm**2
    slopes = {effect.name: effect.slope for effect in uncertainty.effects}
    calibration, learned = bench.calibration, uncertainty.prior
    if calibration:
        whole += _tested_woods(bench.case, calibration, slopes)
        learned = calibration.learned_covariance(learned)
    for slope in slopes.values():
        whole += np.outer(slope, slope)
    rows = bench.learned_rows(at)
    return np.asarray(whole + rows @ learned @ rows.T)


WOODS: dict[str, str] = {"neck.e_l_gpa": "neck wood", "fretboard.e_l_gpa": "fretboard wood"}


def _tested_woods(case: Case, calibration: Calibration, slopes: dict[str, Array]) -> Array:
    """Covariance from the woods that were tested, which are removed from ``slopes``."""
    keys = [key for key in calibration.tested_woods if WOODS[key] in slopes]
    if not keys:
        return np.zeros((1, 1))
    deviations = {source.name: source.deviation for source in sources(case)}
    mean = np.array([calibration.value(key) for key in keys])
    relative = calibration.covariance_of(keys) / np.outer(mean, mean)
    rows = np.column_stack([slopes.pop(WOODS[key]) / deviations[WOODS[key]] for key in keys])
    return np.asarray(rows @ relative @ rows.T)
