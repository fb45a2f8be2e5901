"""A simulated workshop: 400 guitars that nobody built, fitted by following the tool.

Everything here is invented and seeded. It shows whether the arithmetic of aim, log and chart holds together;
it says nothing about wood, which only a real log can.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import radians
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.calibrate import shop_calibration
from cases.bench.learning.control_chart import ewma_signals, limits_of
from cases.bench.learning.gaussian_update import learn
from cases.bench.learning.stiffness_test import DeadWeight, Deflection, updated, wood_calibration
from cases.bench.shims.choose_pair import Bets, chance_of, deviation, stock_choice, wanted_angles
from cases.bench.shims.linearised import QuickBench, quick_bench
from cases.bench.shims.readings import FEELER_MM, Squares
from cases.bench.shims.strung_neck import bench_of, covariance_of
from cases.bench.simulated.truth import SETTINGS, Responses, Settings, Truth, responses_of, truth_of
from cases.casefile.files import load
from cases.offset.calibration import Calibration, together
from cases.offset.woods import wood_of

Array = NDArray[np.float64]
Way = Literal["fixed", "model", "log", "log+neck", "log+neck+squares"]
WAYS: tuple[Way, ...] = ("fixed", "model", "log", "log+neck", "log+neck+squares")
SAID = {
    "fixed": "fixed offset, no tool",
    "model": "model alone, nothing learned",
    "log": "log only",
    "log+neck": "log and each neck tested",
    "log+neck+squares": "the same, both squares measured",
}
THEN = datetime(2031, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Setting:
    """What all workshops of a simulation share.

    ``powers`` (2,) say how a neck test answers to the moduli of neck and board.
    """

    quick: QuickBench
    responses: Responses
    powers: Array
    settings: Settings


@dataclass(frozen=True)
class Tally:
    """One workshop, one way of working, guitar by guitar: right or not, chance claimed (nan without the
    tool), errors of action and tongue gap at pitch [mm], and measured minus predicted action [mm].
    """

    way: Way
    right: NDArray[np.bool_]
    claimed: Array
    action_mm: Array
    gap_mm: Array
    residual_mm: Array

    def rate(self, first: int) -> float:
        """Share of right first pairs from a guitar on."""
        return float(self.right[first:].mean())

    def claim(self, first: int) -> float:
        """Mean chance claimed from a guitar on."""
        return float(self.claimed[first:].mean())


def setting_of(settings: Settings = SETTINGS) -> Setting:
    """Solve the simulated instrument once."""
    case = load(settings.case).with_values(dict(settings.changes))
    bench = bench_of(case)
    start = float(case.instrument.scale_mm * 0.02)
    end = 1e3 * float(bench.question.line.x[bench.question.line.joint - 1]) - case.heel.start_mm - 5.0
    middle = 0.5 * (start + end)
    test = DeadWeight(start, end, middle, middle, mass_kg=5.0, moved_mm=1.0)
    return Setting(quick_bench(bench), responses_of(bench), Deflection(case, test).powers(1.0, 1.0), settings)


def workshop(at: Setting, way: Way, *, seed: int, guitars: int | None = None) -> Tally:
    """Fit a workshop's guitars in one way of working."""
    settings, quick = at.settings, at.quick
    count = settings.guitars if guitars is None else guitars
    truth = truth_of(quick, settings, at.responses, seed=seed, guitars=count)
    # the same readings and measurements in every way of working
    rng = np.random.default_rng((seed, 1))
    noise = rng.standard_normal((count, 8))
    readings = truth.pocket + settings.reading_mm * noise[:, 0]
    bench = _Bench(at, truth, way, readings, noise)
    right = np.zeros(count, dtype=bool)
    claimed, action, gap, residual = np.full((4, count), np.nan)
    for number in range(count):
        if way.startswith("log") and number and number % settings.recalibrated_every == 0:
            bench.recalibrate(number)
        pair, claimed[number], predicted = bench.choose(number)
        off = bench.fit(number, pair)
        right[number] = abs(off[0]) <= quick.case.tolerance.action_mm
        right[number] &= abs(off[1]) <= quick.case.tolerance.tongue_gap_mm
        action[number], gap[number] = off
        measured = off[0] + settings.action_mm / np.sqrt(2.0) * noise[number, 1]
        residual[number] = measured - predicted
    return Tally(way, right, claimed, action, gap, residual)


class _Bench:
    """A simulated bench at work: what it knows, and the log it keeps."""

    def __init__(self, at: Setting, truth: Truth, way: Way, readings: Array, noise: Array) -> None:
        self.at, self.truth, self.way = at, truth, way
        self.readings, self.noise = readings, noise
        self.shop: Calibration | None = None
        self.log: list[tuple[Array, Array]] = []
        self.tested = [self._neck_test(number) for number in range(len(readings))]

    def _neck_test(self, number: int) -> tuple[Calibration | None, Array]:
        """Calibration of a tested neck, and what it moves the model's numbers by."""
        quick, settings = self.at.quick, self.at.settings
        if "neck" not in self.way:
            return None, np.zeros(3)
        case = quick.case
        names = [effect.name for effect in quick.fixed_effects]
        at = [names.index("neck wood"), names.index("fretboard wood")]
        scatter = np.array([case.scatter.neck_e_cov, case.scatter.board_e_cov])
        surplus = float(self.at.powers @ (scatter * self.truth.woods[number, at]))
        surplus += settings.neck_test * self.noise[number, 2]
        mean, covariance = updated(self.at.powers, surplus, error=settings.neck_test, scatter=scatter)
        base = np.array([wood_of(case.neck).e_l, wood_of(case.fretboard).e_l]) / 1e9
        moved = np.zeros(3)
        for one, x in zip(at, mean / scatter, strict=True):
            moved += quick.fixed_effects[one].slope * x + quick.fixed_effects[one].curvature * x**2
        made = wood_calibration(case, base * np.exp(mean), covariance, name=str(number), created=THEN)
        return made, moved

    def squares(self, number: int) -> Squares:
        """Gaps that the two squares show, with the feeler's error."""
        if "squares" not in self.way:
            return Squares()
        face = self.at.quick.geometry.heel_face
        # a seat that acts as a thicker lower shim leaves less room at the cap
        pocket, heel = (
            -np.tan(np.radians(self.truth.seats[number])) * face + FEELER_MM * self.noise[number, 3:5]
        )
        return Squares(float(pocket), float(heel))

    def choose(self, number: int) -> tuple[tuple[float, float], float, float]:
        """Pair, chance claimed, and action predicted (error against the wanted one) [mm]."""
        quick, reading = self.at.quick, float(self.readings[number])
        if self.way == "fixed":
            return self._fixed(reading), float("nan"), 0.0
        neck, moved = self.tested[number]
        calibration = together([one for one in (self.shop, neck) if one is not None])
        laid = quick.with_calibration(calibration, own=moved)
        squares, tolerance = self.squares(number), quick.case.tolerance
        correction = squares.correction_deg(quick.geometry)
        wanted = wanted_angles(laid, reading)
        pair, _ = stock_choice(laid, reading, wanted=wanted, correction=correction)
        strung = laid.strung(pair[0], pair[1] - correction)
        off = deviation(laid, reading, strung)
        bets = Bets(
            effects=quick.fixed_effects,
            prior=quick.fixed_prior,
            reading_mm=self.at.settings.reading_mm,
            lower_deg=float(np.hypot(squares.error_deg(quick.geometry, tolerance), tolerance.shim_deg)),
            upper_deg=tolerance.shim_deg,
        )
        return pair, chance_of(laid, strung, off, bets), float(off[0])

    def _fixed(self, reading: float) -> tuple[float, float]:
        """Upper shim from the reading and the shop's usual rise, lower by its fixed offset."""
        quick, step = self.at.quick, self.at.settings.fixed_step_mm
        stock = np.array(quick.case.stock.angles_deg())
        usual = quick.base + self.truth.moved.mean(axis=0)
        offset = quick.base_deg[1] - quick.base_deg[0] - usual[1] / quick.slopes[1, 1]
        offset = float(stock[np.argmin(np.abs(stock - offset))])
        saddle = usual[0] + quick.slopes[0] @ (np.array([0.0, offset]) - quick.base_deg)
        saddle = round(saddle / step) * step
        upper = (quick.geometry.saddle_top - reading - saddle) / quick.slopes[0].sum()
        upper = float(stock[np.argmin(np.abs(stock - upper))])
        return upper, float(stock[np.argmin(np.abs(stock - upper - offset))])

    def fit(self, number: int, pair: tuple[float, float]) -> Array:
        """Bolt up, string up, measure, log; errors of action and gap, (2,) [mm]."""
        quick, settings = self.at.quick, self.at.settings
        true = self.truth.numbers(quick, number, *pair)
        geometry, noise = quick.geometry, self.noise[number]
        action = geometry.share * (geometry.saddle_top - float(self.truth.pocket[number]) - true[0])
        measured_action = action + settings.action_mm / np.sqrt(2.0) * noise[1]
        saddle = geometry.saddle_top - self.readings[number] - measured_action / geometry.share
        kinks = true[1:] + settings.kink_deg * noise[5:7]
        acting = pair[1] - self.squares(number).correction_deg(geometry)
        model = quick.strung(pair[0], acting)
        self.log.append((np.array([saddle, *kinks]) - model.numbers, quick.learned_rows(model)))
        return np.array([action, radians(true[1]) * geometry.tongue_lever])

    def recalibrate(self, number: int) -> None:
        """Learn from the log so far."""
        quick, settings, tolerance = self.at.quick, self.at.settings, self.at.quick.case.tolerance
        scatter = covariance_of(
            quick,
            quick.strung(*quick.reference_deg),
            quick.fixed_effects,
            prior=np.zeros((4, 4)),
            reading_mm=self.at.settings.reading_mm,
            lower_deg=float(
                np.hypot(self.squares(0).error_deg(quick.geometry, tolerance), tolerance.shim_deg)
            ),
            upper_deg=tolerance.shim_deg,
        )
        measuring = [settings.action_mm / np.sqrt(2.0) / quick.geometry.share, *[settings.kink_deg] * 2]
        scatters = np.repeat(scatter[None], number, axis=0)
        errors = np.repeat(np.array(measuring)[None], number, axis=0)
        residuals, rows = (np.array([entry[k] for entry in self.log]) for k in range(2))
        learned = learn(residuals, rows, scatters, errors, quick.fixed_prior)
        self.shop = shop_calibration(quick.case, learned, rows=(f"{number} guitars",), created=THEN)


@dataclass(frozen=True)
class Rates:
    """First-time-right and the tool's claim of one way over many workshops: median and worst.

    ``kinds`` are the medians of even and odd seeds (truth of the model's kind, body and creep); ``by_gap``
    the share of the guitars not right whose tongue gap was out.
    """

    way: Way
    median: float
    worst: float
    claimed: float
    apart: float
    """Mean claim less mean rate, over all workshops."""
    apart_worst: float
    kinds: tuple[float, float]
    by_gap: float


def rates(at: Setting, way: Way, *, seeds: Sequence[int]) -> Rates:
    """Fit many workshops in one way."""
    first = at.settings.judged_from
    tallies = [workshop(at, way, seed=seed) for seed in seeds]
    right = np.array([one.rate(first) for one in tallies])
    claimed = np.array([one.claim(first) for one in tallies])
    gaps = claimed - right
    even, odd = (right[[seed % 2 == kind for seed in seeds]] for kind in (0, 1))
    limit = at.quick.case.tolerance.tongue_gap_mm
    wrong = np.concatenate([np.abs(one.gap_mm[first:])[~one.right[first:]] for one in tallies])
    return Rates(
        way=way,
        median=float(np.median(right)),
        worst=float(right.min()),
        claimed=float(claimed.mean()),
        apart=float(gaps.mean()),
        apart_worst=float(gaps[np.argmax(np.abs(gaps))]) if way != "fixed" else float("nan"),
        kinds=(float(np.median(even)), float(np.median(odd))),
        by_gap=float(np.mean(wrong > limit)),
    )


@dataclass(frozen=True)
class Alarms:
    """How the chart of the action's residual did: share of workshops flagged within ``within`` guitars of a
    shift by one standard deviation, and share with an alarm before it, by chance alone.
    """

    flagged: float
    false: float
    within: int
    before: int
    workshops: int

    @property
    def false_a_month(self) -> float:
        """False alarms a month at 40 guitars a day, 21 days, from the share seen."""
        each = -np.log(max(1.0 - self.false, 1e-6)) / self.before
        return float(each * 40.0 * 21.0)


def alarms(at: Setting, *, seeds: Sequence[int], within: int = 20) -> Alarms:
    """Shift each workshop by one standard deviation of its residual, and chart it as `trend` does.

    Predictions are those of the model alone: a log evaluated anew would learn the shift away.
    """
    where = at.settings.shift_at
    flagged = false = 0
    for seed in seeds:
        values = workshop(at, "model", seed=seed, guitars=where + within).residual_mm
        values[where:] += float(values[:where].std(ddof=1))
        signals = ewma_signals(list(values), limits_of(list(values)))
        flagged += any(signal.raised >= where for signal in signals)
        false += any(signal.raised < where for signal in signals)
    count = len(seeds)
    return Alarms(flagged / count, false / count, within, where, count)
