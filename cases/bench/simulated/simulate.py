"""A simulated workshop: 400 invented guitars, fitted with the program's own code.

It tests whether pairs, log and charts work together; it says nothing about wood, which only a real log can.
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
from cases.bench.learning.stiffness_test import (
    DeadWeight,
    Deflection,
    case_moduli,
    modulus_scatter,
    updated,
    wood_calibration,
)
from cases.bench.learning.trend import false_alarms_a_month
from cases.bench.shims.choose_pair import chance_of, deviation, stock_choice, wanted_angles
from cases.bench.shims.linearised import LinearBench, linear_bench
from cases.bench.shims.readings import FEELER_MM, Squares
from cases.bench.shims.strung_neck import Uncertainty, bench_of, covariance_of
from cases.bench.simulated.truth import SETTINGS, OtherMechanism, Settings, Truth, other_mechanism, truth_of
from cases.casefile.files import load
from cases.offset.calibration import Calibration, together

Array = NDArray[np.float64]
Way = Literal["fixed", "model", "log", "log+neck", "log+neck+squares"]
WAYS: tuple[Way, ...] = ("fixed", "model", "log", "log+neck", "log+neck+squares")
WAY_NAMES = {
    "fixed": "fixed offset, without the program",
    "model": "model only, nothing learned",
    "log": "log only",
    "log+neck": "log and each neck tested",
    "log+neck+squares": "the same, both squares measured",
}
CREATED = datetime(2031, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Simulation:
    """Data shared by all simulated workshops.

    ``powers`` (2,) : exponents of a neck test's deflection in the moduli of neck and board.
    """

    linear: LinearBench
    other: OtherMechanism
    powers: Array
    settings: Settings


@dataclass(frozen=True)
class WorkshopResult:
    """One workshop with one way of working, by guitar: right or not, calculated chance (nan without the
    program), errors of action and tongue gap, and measured minus predicted action [mm].
    """

    way: Way
    right: NDArray[np.bool_]
    chance: Array
    action_mm: Array
    gap_mm: Array
    residual_mm: Array

    def rate(self, first: int) -> float:
        """Share of right first pairs from guitar ``first`` on."""
        return float(self.right[first:].mean())

    def mean_chance(self, first: int) -> float:
        """Mean calculated chance from guitar ``first`` on."""
        return float(self.chance[first:].mean())


def simulation_of(settings: Settings = SETTINGS) -> Simulation:
    """Solve the simulated instrument."""
    case = load(settings.case).with_values(dict(settings.changes))
    bench = bench_of(case)
    start = float(case.instrument.scale_mm * 0.02)
    end = 1e3 * float(bench.question.line.x[bench.question.line.joint - 1]) - case.heel.start_mm - 5.0
    middle = 0.5 * (start + end)
    test = DeadWeight(start, end, middle, middle, mass_kg=5.0, moved_mm=1.0)
    powers = Deflection(case, test).powers(1.0, 1.0)
    return Simulation(linear_bench(bench), other_mechanism(bench), powers, settings)


def workshop(at: Simulation, way: Way, *, seed: int, guitars: int | None = None) -> WorkshopResult:
    """Fit a workshop's guitars with one way of working."""
    settings, linear = at.settings, at.linear
    count = settings.guitars if guitars is None else guitars
    truth = truth_of(linear, settings, at.other, seed=seed, guitars=count)
    # the same measuring errors with every way of working
    noise = np.random.default_rng((seed, 1)).standard_normal((count, 8))
    shop = _Workshop(at, truth, way, noise)
    right = np.zeros(count, dtype=bool)
    chance, action, gap, residual = np.full((4, count), np.nan)
    tolerance = linear.case.tolerance
    for number in range(count):
        if way.startswith("log") and number and number % settings.recalibrated_every == 0:
            shop.recalibrate(number)
        pair, chance[number], predicted = shop.choose(number)
        off = shop.fit(number, pair)
        right[number] = abs(off[0]) <= tolerance.action_mm and abs(off[1]) <= tolerance.tongue_gap_mm
        action[number], gap[number] = off
        residual[number] = off[0] + settings.action_mm / np.sqrt(2.0) * noise[number, 1] - predicted
    return WorkshopResult(way, right, chance, action, gap, residual)


class _Workshop:
    """A simulated workshop with its log and calibration."""

    def __init__(self, at: Simulation, truth: Truth, way: Way, noise: Array) -> None:
        self.linear, self.settings, self.powers = at.linear, at.settings, at.powers
        self.truth, self.way, self.noise = truth, way, noise
        self.readings = truth.pocket + at.settings.reading_mm * noise[:, 0]
        self.shop: Calibration | None = None
        self.log: list[tuple[Array, Array]] = []

    def _neck_test(self, number: int) -> tuple[Calibration | None, Array]:
        """Calibration of a tested neck, and the resulting change of the model's numbers."""
        if "neck" not in self.way:
            return None, np.zeros(3)
        case, effects = self.linear.case, self.linear.fixed_effects
        names = [effect.name for effect in effects]
        at = [names.index("neck wood"), names.index("fretboard wood")]
        scatter = modulus_scatter(case)
        surplus = float(self.powers @ (scatter * self.truth.woods[number, at]))
        surplus += self.settings.neck_test * self.noise[number, 2]
        mean, covariance = updated(self.powers, surplus, error=self.settings.neck_test, scatter=scatter)
        shift = np.zeros(3)
        for one, x in zip(at, mean / scatter, strict=True):
            shift += effects[one].slope * x + effects[one].curvature * x**2
        moduli = case_moduli(case) * np.exp(mean)
        return wood_calibration(case, moduli, covariance, name=str(number), created=CREATED), shift

    def squares(self, number: int) -> Squares:
        """Measured gaps under both squares."""
        if "squares" not in self.way:
            return Squares()
        face = self.linear.geometry.heel_face
        # a seat that acts as a thicker lower shim leaves a smaller gap at the cap
        pocket, heel = (
            -np.tan(np.radians(self.truth.seats[number])) * face + FEELER_MM * self.noise[number, 3:5]
        )
        return Squares(float(pocket), float(heel))

    def _uncertainty(self, number: int, prior: Array) -> Uncertainty:
        linear = self.linear
        seats_deg = self.squares(number).error_deg(linear.geometry, linear.case.tolerance)
        return Uncertainty(linear.fixed_effects, prior, self.settings.reading_mm, seats_deg)

    def choose(self, number: int) -> tuple[tuple[float, float], float, float]:
        """Pair, its chance, and the predicted error of the action [mm]."""
        reading = float(self.readings[number])
        if self.way == "fixed":
            return self._fixed(reading), float("nan"), 0.0
        neck, shift = self._neck_test(number)
        calibration = together([one for one in (self.shop, neck) if one is not None])
        bench = self.linear.with_calibration(calibration, neck_shift=shift)
        correction = self.squares(number).correction_deg(bench.geometry)
        pair, _ = stock_choice(bench, wanted_angles(bench, reading), correction=correction)
        strung = bench.strung(pair[0], pair[1] - correction)
        off = deviation(bench, reading, strung)
        uncertainty = self._uncertainty(number, bench.fixed_prior)
        return pair, chance_of(bench, strung, off, uncertainty), float(off[0])

    def _fixed(self, reading: float) -> tuple[float, float]:
        """Upper shim from the reading and the shop's usual rise, lower shim by its fixed offset."""
        linear, step = self.linear, self.settings.fixed_step_mm
        stock = np.array(linear.case.stock.angles_deg())
        usual = linear.base + self.truth.shifts.mean(axis=0)
        offset = linear.base_deg[1] - linear.base_deg[0] - usual[1] / linear.slopes[1, 1]
        offset = float(stock[np.argmin(np.abs(stock - offset))])
        saddle = usual[0] + linear.slopes[0] @ (np.array([0.0, offset]) - linear.base_deg)
        saddle = round(saddle / step) * step
        upper = (linear.geometry.saddle_top - reading - saddle) / linear.slopes[0].sum()
        upper = float(stock[np.argmin(np.abs(stock - upper))])
        return upper, float(stock[np.argmin(np.abs(stock - upper - offset))])

    def fit(self, number: int, pair: tuple[float, float]) -> Array:
        """Fit a guitar, measure and log it; return its errors of action and gap, (2,) [mm]."""
        linear, settings = self.linear, self.settings
        true = self.truth.numbers(linear, number, *pair)
        geometry, noise = linear.geometry, self.noise[number]
        action = geometry.share * (geometry.saddle_top - float(self.truth.pocket[number]) - true[0])
        measured_action = action + settings.action_mm / np.sqrt(2.0) * noise[1]
        saddle = geometry.saddle_top - self.readings[number] - measured_action / geometry.share
        kinks = true[1:] + settings.kink_deg * noise[5:7]
        acting = pair[1] - self.squares(number).correction_deg(geometry)
        model = linear.strung(pair[0], acting)
        self.log.append((np.array([saddle, *kinks]) - model.numbers, linear.learned_rows(model)))
        return np.array([action, radians(true[1]) * geometry.tongue_lever])

    def recalibrate(self, number: int) -> None:
        """Learn from the log so far."""
        linear, settings = self.linear, self.settings
        uncertainty = self._uncertainty(0, np.zeros((4, 4)))
        scatter = covariance_of(linear, linear.strung(*linear.reference_deg), uncertainty)
        errors = [settings.action_mm / np.sqrt(2.0) / linear.geometry.share, *[settings.kink_deg] * 2]
        residuals, rows = (np.array([row[k] for row in self.log]) for k in range(2))
        learned = learn(
            residuals,
            rows,
            np.tile(scatter, (number, 1, 1)),
            np.tile(errors, (number, 1)),
            linear.fixed_prior,
        )
        self.shop = shop_calibration(linear.case, learned, rows=(f"{number} guitars",), created=CREATED)


@dataclass(frozen=True)
class Rates:
    """First-time-right rates of one way of working over many workshops.

    Attributes
    ----------
    chance : mean calculated chance.
    difference, worst_difference : calculated chance minus rate, mean and largest over the workshops.
    kinds : median rates of even and odd seeds (deviations as in the model's prior; body and creep).
    by_gap : share of the wrong guitars whose tongue gap was out of tolerance.
    """

    way: Way
    median: float
    worst: float
    chance: float
    difference: float
    worst_difference: float
    kinds: tuple[float, float]
    by_gap: float


def rates(at: Simulation, way: Way, *, seeds: Sequence[int]) -> Rates:
    """Fit many workshops with one way of working."""
    first = at.settings.judged_from
    results = [workshop(at, way, seed=seed) for seed in seeds]
    right = np.array([one.rate(first) for one in results])
    chance = np.array([one.mean_chance(first) for one in results])
    difference = chance - right
    even, odd = (right[[seed % 2 == kind for seed in seeds]] for kind in (0, 1))
    limit = at.linear.case.tolerance.tongue_gap_mm
    wrong = np.concatenate([np.abs(one.gap_mm[first:])[~one.right[first:]] for one in results])
    return Rates(
        way=way,
        median=float(np.median(right)),
        worst=float(right.min()),
        chance=float(chance.mean()),
        difference=float(difference.mean()),
        worst_difference=float(difference[np.argmax(np.abs(difference))]) if way != "fixed" else float("nan"),
        kinds=(float(np.median(even)), float(np.median(odd))),
        by_gap=float(np.mean(wrong > limit)),
    )


@dataclass(frozen=True)
class Alarms:
    """Alarms of the chart of the action's residual, as shares of the workshops.

    ``flagged`` : with an alarm within ``within`` guitars of a shift by one standard deviation; ``false`` :
    with an alarm before the shift, by chance.
    """

    flagged: float
    false: float
    within: int
    before: int
    workshops: int

    @property
    def false_a_month(self) -> float:
        """False alarms a month at 40 guitars a day, 21 days."""
        each = float(-np.log(max(1.0 - self.false, 1e-6)) / self.before)
        return false_alarms_a_month(1.0 / each) if each else 0.0


def alarms(at: Simulation, *, seeds: Sequence[int], within: int = 20) -> Alarms:
    """Shift each workshop by one standard deviation of its residual, and chart it like `trend`.

    Predictions are those of the model only: repeated calibration would learn the shift.
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
