"""The simulated workshop: same seed same result, linear truth near the full model; rates, chances, alarms.

The large numbers (20 workshops of 400 guitars, 200 shifts) run with -m full; docs/bench.md has the results.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from types import MappingProxyType

import numpy as np
import pytest
from scipy.stats import norm

from cases.bench.learning.stiffness_test import modulus_scatter, updated
from cases.bench.shims.choose_pair import choose_pair, deviation, stock_choice, wanted_angles
from cases.bench.shims.readings import FEELER_MM
from cases.bench.simulated.simulate import (
    WAY_NAMES,
    WAYS,
    Simulation,
    Way,
    alarms,
    rates,
    simulation_of,
    workshop,
)
from cases.bench.simulated.truth import POCKET_MM, SETTINGS, Settings, truth_of
from cases.offset.build import structure_of
from cases.offset.calibration import stiffer
from cases.offset.scatter import sources
from cases.offset.solve import FINE
from cases.offset.woods import Woods, woods_of
from fem.solve.condensation import condense
from tests.benches import bench


@cache
def simulation() -> Simulation:
    return simulation_of()


def test_the_settings_are_those_fixed_before_the_first_result():
    fixed = Settings(
        guitars=400, seeds=20, judged_from=100, recalibrated_every=50, reading_mm=0.05, action_mm=0.05,
        kink_deg=0.01, neck_test=0.02, fixed_step_mm=0.2, body_mean_cov=0.30, body_cov=0.15, creep=0.15,
        creep_cov=0.30, shift_at=250, shift_seeds=200,
    )  # fmt: skip
    assert fixed == SETTINGS
    case = simulation().linear.case
    tolerance = case.tolerance
    assert (tolerance.reading_mm, tolerance.pocket_deg, tolerance.shim_deg) == (0.05, 0.02, 0.01)
    assert (case.scatter.neck_e_cov, case.scatter.board_e_cov) == (0.22, 0.22)


def test_a_workshop_is_the_same_every_time_and_another_with_another_seed():
    one, again, other = (workshop(simulation(), "model", seed=s, guitars=30).action_mm for s in (3, 3, 4))
    assert np.array_equal(one, again)
    assert not np.array_equal(one, other)


def test_the_linear_bench_agrees_with_the_full_one():
    for reading in (1.2, 2.4):
        slow, fast = (choose_pair(one, [reading]).pair for one in (bench(), simulation().linear))
        assert fast.upper_deg == pytest.approx(slow.upper_deg, abs=0.041)
        assert fast.action_bass_mm == pytest.approx(slow.action_bass_mm, abs=0.06)
        assert fast.chance == pytest.approx(slow.chance, abs=0.06)


def test_the_linear_truth_is_near_the_full_model():
    """Two drawn necks, solved on the full model: saddle within 0.05 mm, kink within 0.008 deg."""
    linear = simulation().linear
    case = linear.case
    assert case == bench().case
    names = [effect.name for effect in linear.fixed_effects]
    deviations = {one.name: one.deviation for one in sources(case)}
    rng = np.random.default_rng(7)
    for _ in range(2):
        x = {name: float(rng.standard_normal()) for name in ("neck wood", "fretboard wood", "block wood")}
        cut = woods_of(case)
        factors = [np.exp(deviations[name] * size) for name, size in x.items()]
        woods = Woods(*map(stiffer, (cut.neck, cut.board, cut.block), factors))
        flexibility, _ = condense(structure_of(case, woods=woods), FINE)
        question = replace(bench().question, flexibility=flexibility)
        full = bench().solved(question, *linear.reference_deg).numbers
        expected = linear.raw(*linear.reference_deg)
        for name, size in x.items():
            effect = linear.fixed_effects[names.index(name)]
            expected = expected + effect.slope * size + effect.curvature * size**2
        assert np.all(np.abs(expected - full) < [0.05, 0.008, 0.003])


def test_the_truth_scatters_as_the_spread_does():
    linear = simulation().linear
    truth = truth_of(linear, SETTINGS, simulation().other, seed=0, guitars=4000)
    effects = linear.fixed_effects
    spread = np.sqrt(sum(effect.slope**2 for effect in effects))
    assert truth.shifts.std(axis=0) == pytest.approx(spread, rel=0.06)
    assert truth.seats.std() == pytest.approx(0.02, rel=0.05)
    draw = partial(truth_of, linear, SETTINGS, simulation().other, guitars=1000)
    others = [draw(seed=seed).shifts[:, 0] for seed in range(1, 40, 2)]
    # body and creep let the saddle line fall on the whole, and scatter on top
    assert np.mean([one.mean() for one in others]) < -0.05
    assert all(one.std() > 1.05 * spread[0] for one in others)


def test_learning_helps_and_measuring_the_neck_and_the_seats_helps_more():
    small = replace(simulation(), settings=replace(SETTINGS, guitars=150, judged_from=50))
    found = {way: [workshop(small, way, seed=seed) for seed in (0, 1)] for way in WAYS}
    rate = {way: np.mean([one.rate(50) for one in each]) for way, each in found.items()}
    assert rate["model"] < rate["log"] < rate["log+neck"] < rate["log+neck+squares"]
    assert rate["log+neck"] > rate["fixed"]
    for way in ("log", "log+neck", "log+neck+squares"):
        # 200 guitars: one standard deviation of a rate is about 2.5 points
        assert np.mean([one.mean_chance(50) for one in found[way]]) == pytest.approx(rate[way], abs=0.07)
    assert all(np.isnan(one.chance).all() for one in found["fixed"])


def test_a_shift_is_flagged_and_the_price_is_said():
    found = alarms(simulation(), seeds=range(8))
    assert found.flagged >= 0.75
    assert found.false <= 0.75
    assert found.false_a_month > 0.0


@pytest.mark.full
@pytest.mark.parametrize(
    ("way", "changes", "least"),
    [
        ("fixed", {}, 0.65),
        ("log", {}, 0.65),
        ("log+neck", {}, 0.80),
        ("log+neck+squares", {}, 0.89),
        ("log+neck", {"tolerance.tongue_gap_mm": 0.08}, 0.93),
        ("log+neck", {"tolerance.pocket_deg": 0.0}, 0.92),
        ("log+neck+squares", {"tolerance.tongue_gap_mm": 0.06}, 0.93),
        ("log+neck+squares", {"tolerance.shim_deg": 0.005, "stock.step_deg": 0.02}, 0.93),
    ],
)
def test_twenty_workshops_of_four_hundred(way: Way, changes: dict[str, float], least: float):
    """What came out is asserted, not what was hoped for; each row printed is one of docs/bench.md."""
    other = replace(SETTINGS, changes=MappingProxyType({**SETTINGS.changes, **changes}))
    one = rates(simulation_of(other), way, seeds=range(SETTINGS.seeds))
    cells = " | ".join(f"{cell:.3f}" for cell in (one.median, one.worst, *one.kinds, one.by_gap))
    print(f"| {WAY_NAMES[way]} {changes} | {cells} | {100 * one.difference:+.2f} points |")
    assert least <= one.median
    # a fixed offset calculates no chance
    assert one.median <= 0.85 if way == "fixed" else abs(one.difference) <= 0.03


def gap_budget() -> dict[str, float]:
    """Standard deviation that each source leaves in the tongue gap of a shop that knows its model [mm]."""
    linear = simulation().linear
    tolerance, geometry = linear.case.tolerance, linear.geometry
    lever = np.radians(1.0) * geometry.tongue_lever
    upper, lower = lever * linear.slopes[1]
    effect = {one.name: lever * one.slope[1] for one in linear.fixed_effects}
    names = ["neck wood", "fretboard wood"]
    scatter = modulus_scatter(linear.case)
    row = np.array([effect[name] for name in names]) / scatter
    left = updated(simulation().powers, 0.0, error=SETTINGS.neck_test, scatter=scatter)[1]
    rounded = []
    # the offset wanted lies anywhere between two steps, from shop to shop and from neck to neck
    step = float(np.diff(linear.case.stock.angles_deg())[0])
    for number, away in enumerate(np.linspace(-2.0, 2.0, 400)):
        reading = float(geometry.saddle_top - linear.base[0] + POCKET_MM * away)
        turned = step * (number * 0.618034 % 1.0)
        pair, _ = stock_choice(linear, wanted_angles(linear, reading), correction=turned)
        rounded.append(deviation(linear, reading, linear.strung(pair[0], pair[1] - turned))[1])

    def together(chosen: Callable[[str], bool]) -> float:
        return float(np.sqrt(sum(value**2 for name, value in effect.items() if chosen(name))))

    return {
        "neck and fretboard": together(lambda name: name in names),
        "the same, neck tested": float(np.sqrt(row @ left @ row)),
        "cross-grain ratios": together(lambda name: "across" in name),
        "block": together(lambda name: name == "block wood"),
        "layers, bolts, strings": together(lambda name: "wood" not in name),
        "two cut seats": float(np.sqrt(2.0) * tolerance.pocket_deg * lower),
        "the same, squares laid on": float(np.sqrt(2.0) * np.degrees(FEELER_MM / geometry.heel_face) * lower),
        "two shims": float(tolerance.shim_deg * np.hypot(upper, lower)),
        "step of the stock": float(np.sqrt(np.mean(np.square(rounded)))),
    }


@pytest.mark.full
def test_the_gaps_scatter_is_the_sum_of_its_sources():
    """No fitting could do better: the limit of 0.05 mm over the scatter is the rate that can be reached."""
    parts = gap_budget()
    instead = {
        "log": ("the same, neck tested", "the same, squares laid on"),
        "log+neck": ("neck and fretboard", "the same, squares laid on"),
        "log+neck+squares": ("neck and fretboard", "two cut seats"),
    }
    ways: tuple[Way, ...] = ("log", "log+neck", "log+neck+squares")
    for name, value in parts.items():
        print(f"| {name} | {value:.4f} |")
    for way in ways:
        whole = np.sqrt(sum(value**2 for name, value in parts.items() if name not in instead[way]))
        seen = [workshop(simulation(), way, seed=seed).gap_mm[100:] for seed in (0, 2, 4)]
        print(f"| {WAY_NAMES[way]} | {whole:.4f} | within 0.05 mm: {1.0 - 2.0 * norm.sf(0.05 / whole):.3f} |")
        # 900 guitars: 2.4 % by chance; curvature adds about 3 % that the sum leaves out
        assert np.mean([one.std() for one in seen]) == pytest.approx(1.03 * whole, rel=0.07)


@pytest.mark.full
def test_two_hundred_shifts():
    found = alarms(simulation(), seeds=range(SETTINGS.shift_seeds))
    print(f"flagged {found.flagged:.3f}, false {found.false:.3f}, {found.false_a_month:.1f} a month")
    assert found.flagged >= 0.90
    assert found.false <= 0.50
