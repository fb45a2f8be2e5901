"""A simulated workshop: 400 invented guitars, fitted with the program's own code.

It tests whether pairs, dry check, log and charts work together; it says nothing about wood, which only a real
log can.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import radians, sqrt

import numpy as np
from numpy.typing import NDArray

from cases.bench.learning.calibrate import guitar_scatter, learned_of, shop_calibration
from cases.bench.learning.follow import told_by_test, weighted_mean
from cases.bench.learning.gaussian_update import Posterior
from cases.bench.learning.guitar_row import Row
from cases.bench.learning.stiffness_test import (
    DeadWeight,
    Deflection,
    case_moduli,
    modulus_scatter,
    updated,
    wood_calibration,
)
from cases.bench.shims.choose_pair import (
    chance_of,
    deviation,
    stock_choice,
    wanted_angles,
)
from cases.bench.shims.dry_check import BOLTED, ODD, RULE_MM, TUNED_DOWN, DryReading, dry_check, line_off
from cases.bench.shims.linearised import LinearBench, linear_bench
from cases.bench.shims.readings import FEELER_MM, Squares
from cases.bench.shims.strung_neck import Uncertainty, bench_of
from cases.bench.simulated.truth import (
    SETTINGS,
    TRIES,
    OtherEffects,
    Settings,
    Truth,
    other_effects,
    truth_of,
)
from cases.bench.simulated.ways import OFTEN, Way
from cases.casefile.files import load
from cases.offset.calibration import Calibration, together

Array = NDArray[np.float64]
CREATED = datetime(2031, 1, 1, tzinfo=UTC)
SEMITONES = 6.0
"""Interval by which the strings are tuned down: half the tension."""


@dataclass(frozen=True)
class Simulation:
    """Data shared by all simulated workshops.

    ``powers`` (2,) : exponents of a neck test's deflection in the moduli of neck and board.
    """

    linear: LinearBench
    other: OtherEffects
    powers: Array
    settings: Settings


@dataclass(frozen=True)
class WorkshopResult:
    """One workshop with one way of working, by guitar.

    Attributes
    ----------
    right : action and tongue gap within tolerance.
    trim : gap within tolerance and action too, after trimming the saddle within its usable range.
    chance : calculated before string-up; nan without the program.
    action_mm, gap_mm : true errors.
    residual_mm : measured minus predicted action.
    changed : number of times that shims were changed while dry.
    """

    right: NDArray[np.bool_]
    trim: NDArray[np.bool_]
    chance: Array
    action_mm: Array
    gap_mm: Array
    residual_mm: Array
    changed: NDArray[np.int_]


def simulation_of(settings: Settings = SETTINGS) -> Simulation:
    """Solve the simulated instrument."""
    case = load(settings.case).with_values(dict(settings.changes))
    bench = bench_of(case, tuned_down=SEMITONES)
    start = float(case.instrument.scale_mm * 0.02)
    end = 1e3 * float(bench.question.line.x[bench.question.line.joint - 1]) - case.heel.start_mm - 5.0
    middle = 0.5 * (start + end)
    test = DeadWeight(start, end, middle, middle, mass_kg=5.0, moved_mm=1.0)
    powers = Deflection(case, test).powers(1.0, 1.0)
    return Simulation(linear_bench(bench), other_effects(bench), powers, settings)


def workshop(at: Simulation, way: Way, *, seed: int, guitars: int | None = None) -> WorkshopResult:
    """Fit a workshop's guitars with one way of working."""
    settings, linear = at.settings, at.linear
    if way.relief_mm is not None:
        settings = replace(settings, rod_mm=way.relief_mm)
    count = settings.guitars if guitars is None else guitars
    truth = truth_of(linear, settings, at.other, seed=seed, guitars=count)
    # the same measuring errors with every way of working
    noise = np.random.default_rng((seed, 1)).standard_normal((count, 8))
    dry_noise = np.random.default_rng((seed, 2)).standard_normal((count, TRIES, 3))
    shop = _Workshop(at, truth, way, noise, dry_noise)
    right, trim = np.zeros((2, count), dtype=bool)
    chance, action, gap, residual = np.full((4, count), np.nan)
    changed = np.zeros(count, dtype=int)
    tolerance, geometry = linear.case.tolerance, linear.geometry
    every = settings.recalibrated_every if way.last is None else OFTEN
    for number in range(count):
        if way.learns and number and number % every == 0:
            shop.recalibrate(number)
        fitted = shop.dry(shop.choose(number))
        off = shop.fit(fitted)
        right[number] = abs(off[0]) <= tolerance.action_mm and abs(off[1]) <= tolerance.tongue_gap_mm
        saddle = geometry.saddle_top - geometry.bridge - off[0] / geometry.share
        trimmed = geometry.lowest <= saddle <= geometry.highest
        trim[number] = trimmed and abs(off[1]) <= tolerance.tongue_gap_mm
        chance[number], changed[number] = fitted.chance, fitted.changed
        action[number], gap[number] = off
        measured = off[0] + settings.factor("action") * settings.action_mm / np.sqrt(2.0) * noise[number, 1]
        residual[number] = measured - fitted.off_mm[0]
    return WorkshopResult(right, trim, chance, action, gap, residual, changed)


@dataclass(frozen=True)
class _Fitted:
    """A guitar being fitted.

    ``pair`` : as printed on the shims; ``wrong`` : angles of the stock by which those fitted differ;
    ``cut`` : which of the shims cut for it are in, by pad; ``chance``, ``off_mm`` : calculated, errors of
    action and gap; ``read`` : bolted kinks, each on its pair.
    """

    number: int
    reading: float
    bench: LinearBench
    correction: float
    pair: tuple[float, float]
    wrong: tuple[int, int]
    cut: tuple[int, int] = (0, 0)
    chance: float = float("nan")
    off_mm: tuple[float, float] = (0.0, 0.0)
    changed: int = 0
    read: tuple[DryReading, ...] = ()


class _Workshop:
    """A simulated workshop with its log and calibration."""

    def __init__(self, at: Simulation, truth: Truth, way: Way, noise: Array, dry_noise: Array) -> None:
        self.linear, self.settings, self.powers = at.linear, at.settings, at.powers
        self.truth, self.way, self.noise, self.dry_noise = truth, way, noise, dry_noise
        self.moduli = case_moduli(at.linear.case)
        self.reading_mm = at.settings.factor("reading") * at.settings.reading_mm
        self.readings = truth.pocket + truth.read_mm + truth.misread_mm + self.reading_mm * noise[:, 0]
        self.step = float(np.diff(at.linear.case.stock.angles_deg())[0])
        self.shop: Calibration | None = None
        self.log: list[Row] = []
        self.learned: Posterior | None = None
        self.beside = np.zeros(2)
        """By how much the last guitars lie beside what was learned: saddle [mm], kink at pitch [deg]."""

    def _neck_test(self, number: int) -> tuple[Calibration | None, Array]:
        """Calibration of a tested neck, and the resulting change of the model's numbers."""
        case, effects = self.linear.case, self.linear.fixed_effects
        if not self.way.tests_necks:
            return None, np.zeros(len(self.linear.base))
        names = [effect.name for effect in effects]
        at = [names.index("neck wood"), names.index("fretboard wood")]
        scatter = modulus_scatter(case)
        surplus = float(self.powers @ (scatter * self.truth.woods[number, at]))
        error = self.settings.factor("neck test") * self.settings.neck_test
        surplus += error * self.noise[number, 2]
        mean, covariance = updated(self.powers, surplus, error=self.settings.neck_test, scatter=scatter)
        moduli = self.moduli * np.exp(mean)
        tested = wood_calibration(case, moduli, covariance, name=str(number), created=CREATED)
        return tested, told_by_test(case, effects, tested)

    def squares(self, number: int) -> Squares:
        """Measured gaps under both squares."""
        if not self.way.uses_squares:
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

    def choose(self, number: int) -> _Fitted:
        """The pair for a guitar, before it is bolted up."""
        reading = float(self.readings[number])
        wrong = (int(self.truth.wrong[number, 0]), int(self.truth.wrong[number, 1]))
        if not self.way.program:
            return _Fitted(number, reading, self.linear, 0.0, self._fixed(reading), wrong)
        neck, shift = self._neck_test(number)
        calibration = together([one for one in (self.shop, neck) if one is not None])
        bench = self.linear.with_calibration(calibration, neck_shift=shift)
        correction = self.squares(number).correction_deg(bench.geometry)
        pair, _ = stock_choice(bench, wanted_angles(bench, reading), correction=correction)
        strung = bench.strung(pair[0], pair[1] - correction)
        off = deviation(bench, reading, strung)
        chance = chance_of(bench, strung, off, self._uncertainty(number, bench.fixed_prior))
        expected = (float(off[0]), float(off[1]))
        return _Fitted(number, reading, bench, correction, pair, wrong, chance=chance, off_mm=expected)

    def _fixed(self, reading: float) -> tuple[float, float]:
        """Upper shim from the reading and the usual rise so far, lower shim by the usual offset."""
        linear, step = self.linear, self.settings.fixed_step_mm
        stock = np.array(linear.case.stock.angles_deg())
        offset, usual = self.settings.first_offset_deg, linear.base
        if self.log:
            usual = linear.base[:3] + np.mean([row.residuals for row in self.log], axis=0)
            offset = linear.base_deg[1] - linear.base_deg[0] - usual[1] / linear.slopes[1, 1]
        offset = float(stock[np.argmin(np.abs(stock - offset))])
        saddle = usual[0] + linear.slopes[0] @ (np.array([0.0, offset]) - linear.base_deg)
        saddle = round(saddle / step) * step
        upper = (linear.geometry.saddle_top - reading - saddle) / linear.slopes[0].sum()
        upper = float(stock[np.argmin(np.abs(stock - upper))])
        return upper, float(stock[np.argmin(np.abs(stock - upper - offset))])

    def _true(self, one: _Fitted) -> Array:
        pair = (one.pair[0] + self.step * one.wrong[0], one.pair[1] + self.step * one.wrong[1])
        cut = np.array([self.truth.angles[one.number, one.cut[pad], pad] for pad in (0, 1)])
        return self.truth.numbers(self.linear, one.number, pair, cut)

    def dry(self, one: _Fitted) -> _Fitted:
        """Read the bolted joint and change shims before the strings go on, as the program advises."""
        way, number = self.way, one.number
        if way.dry_deg is None:
            return one
        uncertainty = self._uncertainty(number, one.bench.fixed_prior)
        if way.rule:
            one = self._ruled(one, uncertainty)
        readings: list[DryReading] = []
        for attempt in range(TRIES - 1):
            noise = self.dry_noise[number, attempt]
            kinks = self._true(one)[2:] + self.truth.read_deg[number] + way.dry_deg * noise[:2]
            places = (BOLTED, TUNED_DOWN) if way.tuned_down else (BOLTED,)
            readings += [DryReading(one.pair, float(kinks[p - BOLTED]), way.dry_deg, place=p) for p in places]
            found = dry_check(one.bench, one.reading, readings, uncertainty, correction=one.correction)
            off = (found.best.action_off_mm, found.best.gap_off_mm)
            read = tuple(reading for reading in readings if reading.place == BOLTED)
            one = replace(one, chance=found.best.chance, off_mm=off, read=read)
            if found.odd and one.wrong != (0, 0):
                # the joint is inspected, and the wrong shim found
                one, readings = self._changed(one, one.pair, inspected=True), []
            elif found.change:
                one = self._changed(one, (found.change.upper_deg, found.change.lower_deg))
                if not way.reads_again:
                    return one
            else:
                break
        return one

    def _ruled(self, one: _Fitted, uncertainty: Uncertainty) -> _Fitted:
        """Read the shaft line with a rule, and the pocket again where the two contradict each other."""
        acting = one.bench.strung(one.pair[0], one.pair[1] - one.correction)
        # the line's true deviation from the model is that of the pocket and of the rotated shaft
        turned = self.truth.seats[one.number].sum() + self.truth.angles[one.number, 0, 1]
        turned = self.linear.slopes[0] @ np.array([self.truth.angles[one.number, 0, 0], turned])
        line = self.truth.pocket[one.number] + self.linear.strung(*one.pair).bolted_line_mm + turned
        line += RULE_MM * self.noise[one.number, 7]
        off, spread = line_off(one.bench, one.reading, float(line), acting, uncertainty)
        if abs(off) <= ODD * spread:
            return one
        again = self.truth.pocket[one.number] + self.truth.read_mm[one.number]
        again += self.reading_mm * self.dry_noise[one.number, -1, 0]
        self.readings[one.number] = again
        return replace(one, reading=float(again))

    def _changed(self, one: _Fitted, pair: tuple[float, float], *, inspected: bool = False) -> _Fitted:
        """Another pair; each new shim is the next one cut for the guitar, and the right one.

        A wrong shim that stays is replaced only where the joint is ``inspected``.
        """
        new = [pair[pad] != one.pair[pad] or (inspected and one.wrong[pad] != 0) for pad in (0, 1)]
        cut = (one.cut[0] + new[0], one.cut[1] + new[1])
        wrong = (0 if new[0] else one.wrong[0], 0 if new[1] else one.wrong[1])
        return replace(one, pair=pair, cut=cut, wrong=wrong, changed=one.changed + 1)

    def fit(self, one: _Fitted) -> Array:
        """String up a guitar, measure and log it; return its errors of action and gap, (2,) [mm]."""
        settings, number, geometry = self.settings, one.number, self.linear.geometry
        true = self._true(one)
        noise = self.noise[number]
        action = geometry.share * (geometry.saddle_top - float(self.truth.pocket[number]) - true[0])
        measured = settings.factor("action") * settings.action_mm / np.sqrt(2.0) * noise[1]
        saddle = geometry.saddle_top - self.readings[number] - (action + measured) / geometry.share
        kink, bolted = true[1:3] + settings.factor("kink") * settings.kink_deg * noise[5:7]
        self.log.append(self._row(one, np.array([saddle, kink, bolted])))
        if self.way.follows and self.learned:
            self._follow(self.learned, self.log[-1:], start=self.beside)
        return np.array([action, radians(true[1]) * geometry.tongue_lever])

    def _row(self, one: _Fitted, seen: Array) -> Row:
        """Row of the log from saddle height, kink at pitch and, without a dry check, bolted kink, (3,)."""
        linear, settings = self.linear, self.settings
        model = linear.strung(one.pair[0], one.pair[1] - one.correction)
        residuals = seen - model.numbers[:3]
        slopes = linear.learned_rows(model)[:3]
        errors = [settings.action_mm / sqrt(2.0) / linear.geometry.share, settings.kink_deg]
        errors.append(settings.kink_deg if self.way.dry_deg is None else self.way.dry_deg)
        before = [reading for reading in one.read if reading.pair_deg != one.pair]
        if self.way.dry_deg is not None:
            residuals[BOLTED] = np.nan
        for reading in one.read:
            there = linear.strung(reading.pair_deg[0], reading.pair_deg[1] - one.correction)
            off = reading.kink_deg - there.bolted_kink_deg
            if reading.pair_deg == one.pair:
                residuals[BOLTED] = off
                continue
            residuals = np.append(residuals, off)
            slopes = np.vstack([slopes, linear.learned_rows(there)[BOLTED]])
            errors.append(reading.error_deg)
        uncertainty = self._uncertainty(one.number, np.zeros((4, 4)))
        pairs = [*(reading.pair_deg for reading in before), one.pair]
        told = self._neck_test(one.number)[1] * self.way.gives_tests
        told = np.append(told[: BOLTED + 1], [told[BOLTED] for _ in before])
        scatter = guitar_scatter(linear, model, uncertainty, pairs)
        return Row(residuals, slopes, scatter, np.array(errors), told)

    def recalibrate(self, number: int) -> None:
        """Learn from the log so far."""
        linear = self.linear
        self.learned = learned_of(self.log[-(self.way.last or number) :], linear.fixed_prior)
        if self.way.follows:
            self._follow(self.learned, self.log, start=np.zeros(2))
        else:
            self._calibrate(self.learned, None)

    def _follow(self, learned: Posterior, rows: Sequence[Row], *, start: Array) -> None:
        """Follow the guitars since the last time, with what was learned last."""
        self.beside = weighted_mean(rows, learned.mean, start=start)
        self._calibrate(learned, self.beside)

    def _calibrate(self, learned: Posterior, beside: Array | None) -> None:
        rows = (f"{len(self.log)} guitars",)
        self.shop = shop_calibration(self.linear, learned, rows=rows, created=CREATED, beside=beside)
