"""Settings of the simulated workshop, invented, and the true necks drawn from them with a seed."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import degrees
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from cases.bench.shims.linearised import LinearBench
from cases.bench.shims.readings import FEELER_MM
from cases.bench.shims.strung_neck import Bench
from cases.bench.shims.swap import relief_effect
from materials.errors import InputError

Array = NDArray[np.float64]
POCKET_MM, LARGEST_POCKET_MM = 0.5, 1.2
"""Deviation of pockets from that for the middle of the stock: one standard deviation, and largest [mm]."""
TRIES = 6
"""Shims of each pad cut for a guitar, at most: the first and those after dry checks."""
SHIMS_AWAY = 3
"""A wrong shim is one to three angles of the stock away."""


@dataclass(frozen=True)
class Settings:
    """Settings of the workshop, fixed before the first result (docs/bench-simulation.md).

    The scatter from guitar to guitar is that of the case ([scatter] and [tolerance], defaults): normal for
    each source, log-normal for moduli.

    Attributes
    ----------
    case, changes : the instrument; its body stiffness is invented, above the lower bound of 2.5 kN m/rad from
        the usual clearance at the bridge.
    guitars, seeds : guitars per workshop, workshops.
    judged_from : earlier guitars only fill the log.
    recalibrated_every : number of guitars between calibrations.
    reading_mm : error of the reading at the saddle, one standard deviation.
    action_mm, kink_deg : errors of the logged action of each side, and of both logged kinks.
    neck_test : relative error of a neck's bending stiffness from a dead-weight test.
    first_offset_deg : offset of the workshop without the program until it has learned from its own guitars.
    fixed_step_mm : error with which that workshop knows its usual rise of the saddle line.
    batch_guitars, batch_share : guitars of one delivery of wood, and their share of the variance of moduli.
    year_guitars, season_mm, season_deg : guitars a year; amplitude of the reading's and the kink's yearly
        course, unknown to the program.
    benches, bench_mm, bench_deg : benches in turn; error of each one's gauge, and of its straightedge.
    rod_mm : error of the relief as set by the rod.
    wrong_shim, misread, misread_mm : share of guitars with a wrong shim, with a misread pocket, and its size.
    body_mean_cov, body_cov : other mechanism: error of the body's mean stiffness, scatter between guitars.
    creep, creep_cov : other mechanism: relative growth of the deformation by the strings until it is
        measured, and its scatter.
    shift_at, shift_seeds : guitar at which the action shifts by one standard deviation of its residual;
        workshops.
    times : true errors as multiples of those above and of the case, by name (`ERRORS`); the program does not
        know them.
    """

    case: str = "fourteen-mahogany"
    changes: Mapping[str, object] = field(
        default_factory=lambda: MappingProxyType({"body.stiffness_n_m_per_rad": 8000.0})
    )
    guitars: int = 400
    seeds: int = 20
    judged_from: int = 100
    recalibrated_every: int = 50
    reading_mm: float = 0.05
    action_mm: float = 0.05
    kink_deg: float = 0.01
    neck_test: float = 0.02
    first_offset_deg: float = -0.19
    fixed_step_mm: float = 0.2
    batch_guitars: int = 25
    batch_share: float = 0.5
    year_guitars: int = 400
    season_mm: float = 0.10
    season_deg: float = 0.01
    benches: int = 2
    bench_mm: float = 0.05
    bench_deg: float = 0.003
    rod_mm: float = FEELER_MM
    wrong_shim: float = 0.005
    misread: float = 0.005
    misread_mm: float = 1.0
    body_mean_cov: float = 0.30
    body_cov: float = 0.15
    creep: float = 0.15
    creep_cov: float = 0.30
    shift_at: int = 250
    shift_seeds: int = 200
    times: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def factor(self, name: str) -> float:
        """Multiple of a true error."""
        assert name in ERRORS, name
        return self.times.get(name, 1.0)


ERRORS: Mapping[str, str] = MappingProxyType(
    {
        "seat": "cut seats, 0.02 deg each",
        "shim": "angle of a shim, 0.01 deg",
        "reading": "reading at the saddle, 0.05 mm",
        "action": "logged action, 0.05 mm",
        "kink": "logged kink, 0.01 deg",
        "neck test": "neck test, 2 %",
        "across": "cross-grain ratios, 15 %",
        "layers": "stiffness of shim layers, 40 %",
        "batch": "batches' share of the scatter of moduli, one half",
        "season": "yearly course, 0.10 mm of reading and 0.01 deg of kink",
        "bench": "bench to bench, 0.05 mm of reading and 0.003 deg of kink",
        "rod": "relief as set, 0.015 mm",
        "gross": "wrong shim and misread reading, one guitar in 200 each",
        "body": "body: mean 30 %, guitars 15 % (kind body and creep only)",
        "creep": "creep before measuring, 15 % (kind body and creep only)",
    }
)
"""Errors without a source, by name: what they are, and their assumed sizes."""

SETTINGS = Settings()


@dataclass(frozen=True)
class Truth:
    """True guitars of a workshop, unknown to it.

    Attributes
    ----------
    shifts : changes of `Strung.numbers` at the reference pair, (guitars, 4).
    transfer : true transfer factor.
    angles : errors of the shims cut for a guitar, (guitars, `TRIES`, 2) [deg].
    seats : errors of both faces, (guitars, 2) [deg].
    pocket : true readings, (guitars,) [mm].
    read_mm, read_deg : systematic error of readings of the pocket and of the bolted kink, (guitars,).
    misread_mm : gross error of the reading, (guitars,) [mm].
    wrong : shim that is not the chosen one, as angles of the stock away from it, (guitars, 2).
    woods : in standard deviations, (guitars, sources).
    """

    shifts: Array
    transfer: float
    angles: Array
    seats: Array
    pocket: Array
    read_mm: Array
    read_deg: Array
    misread_mm: Array
    wrong: NDArray[np.int_]
    woods: Array

    def numbers(self, linear: LinearBench, number: int, pair_deg: tuple[float, float], cut: Array) -> Array:
        """True `Strung.numbers` of a guitar, (4,); ``cut`` : errors of its two shims, (2,) [deg]."""
        upper, lower = np.array(pair_deg) + cut
        raw = linear.raw(float(upper), float(lower + self.seats[number].sum()))
        raw[1:] += (self.transfer - 1.0) * (raw - linear.raw(0.0, 0.0))[1:]
        return np.asarray(raw + self.shifts[number])


@dataclass(frozen=True)
class OtherEffects:
    """Changes of `Strung.numbers`, (4,) each: by a body ten per cent softer, by ten per cent more deformation
    by the strings, and by a relief larger by 0.1 mm.
    """

    softer_body: Array
    creep: Array
    relief: Array


def other_effects(bench: Bench) -> OtherEffects:
    """Solve the full model at the reference pair; raises `InputError` without a body stiffness."""
    at = bench.reference_deg
    here = bench.strung(*at)
    stiffness = bench.question.body_stiffness
    if stiffness is None:
        raise InputError("The simulated workshop needs a body: set body.stiffness_n_m_per_rad.")
    softer = bench.solved(replace(bench.question, body_stiffness=stiffness / 1.1), *at)
    deformation = np.array(
        [here.line_mm - here.bolted_line_mm, here.misfit_deg - here.bolted_kink_deg, 0.0, 0.0]
    )
    action, gap = relief_effect(bench, at, bench.case.targets.relief_mm + 0.1)
    geometry = bench.geometry
    relief = [-action / geometry.share, degrees(gap / geometry.tongue_lever), 0.0, 0.0]
    return OtherEffects(softer.numbers - here.numbers, 0.1 * deformation, np.array(relief))


def truth_of(
    linear: LinearBench, settings: Settings, other: OtherEffects, *, seed: int, guitars: int | None = None
) -> Truth:
    """Draw a workshop; even seeds deviate from the model as its prior says, odd ones by body and creep."""
    rng = np.random.default_rng(seed)
    count = settings.guitars if guitars is None else guitars
    tolerance, times = linear.case.tolerance, settings.factor
    woods = _woods(rng, linear, settings, count)
    effects = linear.fixed_effects
    slopes, curvatures = np.array([e.slope for e in effects]), np.array([e.curvature for e in effects])
    shifts = woods @ slopes + woods**2 @ curvatures
    hidden = rng.standard_normal(4) * np.sqrt(np.diag(linear.fixed_prior))
    transfer = 1.0
    if seed % 2 == 0:
        level = linear.strung(0.0, 0.0)
        stretch = (level.tuned_down_kink_deg or 0.0) - level.bolted_kink_deg
        kink, factor, transfer_change, pitch = hidden
        transfer = 1.0 + float(transfer_change)
        learned = [kink + factor * linear.stretch_deg, kink, kink + factor * stretch]
        shifts += [-linear.geometry.fall(float(pitch)), *learned]
    else:
        body, creep = times("body"), settings.creep * times("creep")
        shop = float(np.exp(body * settings.body_mean_cov * rng.standard_normal()))
        softening = shop * np.exp(body * settings.body_cov * rng.standard_normal(count)) - 1.0
        growth = creep * np.exp(settings.creep_cov * rng.standard_normal(count))
        shifts += np.outer(softening, 10.0 * other.softer_body) + np.outer(growth, 10.0 * other.creep)
    middle = linear.geometry.saddle_top - linear.base[0]
    pocket = np.clip(POCKET_MM * rng.standard_normal(count), -LARGEST_POCKET_MM, LARGEST_POCKET_MM)
    angles = times("shim") * tolerance.shim_deg * rng.standard_normal((count, TRIES, 2))
    seats = times("seat") * tolerance.pocket_deg * rng.standard_normal((count, 2))
    shifts += np.outer(times("rod") * settings.rod_mm * rng.standard_normal(count), 10.0 * other.relief)
    season = times("season") * np.sin(2.0 * np.pi * (np.arange(count) / settings.year_guitars + rng.random()))
    shifts[:, 1] += settings.season_deg * season
    at_bench = (
        times("bench") * rng.standard_normal((settings.benches, 2))[np.arange(count) % settings.benches]
    )
    gross = times("gross")
    misread = (rng.random(count) < gross * settings.misread) * rng.choice([-1, 1], count)
    pad = np.eye(2, dtype=int)[rng.integers(2, size=count)]
    away = (rng.random(count) < gross * settings.wrong_shim) * rng.choice([-1, 1], count)
    return Truth(
        shifts=shifts,
        transfer=transfer,
        angles=angles,
        seats=seats,
        pocket=middle + pocket,
        read_mm=settings.season_mm * season + settings.bench_mm * at_bench[:, 0],
        read_deg=settings.bench_deg * at_bench[:, 1],
        misread_mm=settings.misread_mm * misread,
        wrong=pad * (away * rng.integers(1, SHIMS_AWAY + 1, size=count))[:, None],
        woods=woods,
    )


def _woods(rng: np.random.Generator, linear: LinearBench, settings: Settings, count: int) -> Array:
    """Every source of scatter in standard deviations, (guitars, sources); a part of each wood by delivery."""
    names = [effect.name for effect in linear.fixed_effects]
    alone = rng.standard_normal((count, len(names)))
    delivery = rng.standard_normal((count // settings.batch_guitars + 1, len(names)))
    share = np.array([settings.batch_share if "wood" in name else 0.0 for name in names])
    share = np.minimum(settings.factor("batch") * share, 1.0)
    drawn = np.sqrt(share) * np.repeat(delivery, settings.batch_guitars, axis=0)[:count]
    drawn = drawn + np.sqrt(1.0 - share) * alone
    for column, name in enumerate(names):
        if "across" in name or name == "shim layers":
            drawn[:, column] *= settings.factor("layers" if name == "shim layers" else "across")
    return np.asarray(drawn)
