"""The dry check: the update against closed forms and drawn guitars, the advice against the full model."""

from dataclasses import replace
from functools import cache
from math import degrees, radians, sqrt

import numpy as np
import pytest

from cases.bench.shims.choose_pair import choose_pair
from cases.bench.shims.dry_check import (
    RULE_MM,
    SAME_EACH_TIME_MM,
    TUNED_DOWN,
    DryCheck,
    DryReading,
    dry_check,
    dry_prediction,
    dry_reading,
    kink_of_gap,
    line_off,
)
from cases.bench.shims.readings import FEELER_MM
from cases.bench.shims.strung_neck import Bench, Uncertainty, bench_of, covariance_of
from cases.offset.calibration import KINK_BIAS, calibration_of
from cases.show.text.dry import dry_text, verdict
from fem.solve.offset import other_state, pair
from materials.errors import InputError
from tests.benches import READING, START, bench, case, right_pair, rigid_bench

SEATS = 0.02 * sqrt(2.0)


@cache
def unsure() -> Uncertainty:
    return bench().uncertainty(right_pair(), reading_mm=0.05, seats_deg=SEATS)


def check(*readings: DryReading, on: Bench | None = None) -> DryCheck:
    return dry_check(on or bench(), READING, readings, unsure())


def off_by(kink: float, *, error: float = 0.01) -> DryReading:
    """The pair's bolted kink as the model has it, and ``kink`` more."""
    return DryReading(right_pair(), bench().strung(*right_pair()).bolted_kink_deg + kink, error)


def test_the_gap_expected_after_a_reading_is_the_conditional_normal():
    """Two jointly normal numbers: mean C12/(C22 + e2) y, variance C11 - C12^2/(C22 + e2)."""
    at = bench().strung(*right_pair())
    covariance = covariance_of(bench(), at, unsure())
    lever = radians(1.0) * bench().geometry.tongue_lever
    share = covariance[1, 2] / (covariance[2, 2] + 0.01**2)
    found = check(off_by(0.03))
    assert found.stay.gap_off_mm == pytest.approx(lever * (at.misfit_deg + 0.03 * share), abs=1e-9)
    left = covariance[1, 1] - covariance[1, 2] * share
    assert found.gap_sd_mm == pytest.approx((lever * sqrt(covariance[1, 1]), lever * sqrt(left)), rel=1e-9)
    assert found.expected_error_deg == pytest.approx(sqrt(covariance[2, 2] + 0.01**2), rel=1e-9)


def test_a_useless_reading_changes_nothing():
    found = check(off_by(0.03, error=50.0))
    assert found.change is None
    assert found.stay.chance == pytest.approx(found.chance_before, abs=1e-4)
    forecast = choose_pair(bench(), [READING]).pair
    assert found.chance_before == pytest.approx(forecast.chance, abs=0.01)


def test_drawn_guitars_are_right_as_often_as_calculated_and_a_new_shim_brings_its_own_error():
    """Guitars drawn from the covariances, shims cut badly, those kept whose kink is near the reading."""
    rough = replace(bench(), case=bench().case.with_values({"tolerance.shim_deg": 0.04}))
    found = check(off_by(0.04), on=rough)
    assert found.change is not None
    assert found.change.upper_deg == right_pair()[0]
    rng = np.random.default_rng(4)
    at = bench().strung(*right_pair())
    tolerance, geometry = rough.case.tolerance, bench().geometry
    gains = bench().gains(*right_pair())
    exact = replace(bench(), case=bench().case.with_values({"tolerance.shim_deg": 0.0}))
    base = rng.multivariate_normal(np.zeros(3), covariance_of(exact, at, unsure()), 400_000)
    shims = tolerance.shim_deg * rng.standard_normal((len(base), 3))
    kink = (base + shims[:, :2] @ gains.T)[:, 2] + 0.01 * rng.standard_normal(len(base))
    kept = np.abs(kink - 0.04) < 0.0005
    assert kept.sum() > 2000
    for one, chosen in ((found.stay, shims[kept][:, :2]), (found.change, shims[kept][:, [0, 2]])):
        there = bench().strung(one.upper_deg, one.lower_deg)
        saddle, misfit, bolted = (there.numbers + base[kept] + chosen @ gains.T).T
        action = geometry.action_of(1.0) * (geometry.saddle_top - READING - saddle)
        gap = radians(1.0) * misfit * geometry.tongue_lever
        right = (np.abs(action) <= tolerance.action_mm) & (np.abs(gap) <= tolerance.tongue_gap_mm)
        assert right.mean() == pytest.approx(one.chance, abs=3.0 * sqrt(0.25 / kept.sum()))
        assert gap.mean() == pytest.approx(one.gap_off_mm, abs=0.003)
        assert bolted.mean() == pytest.approx(one.bolted_kink_deg, abs=0.002)
        logged = dry_prediction(rough, READING, one, correction=0.0)
        assert logged["kink_bolted_deg"] == one.bolted_kink_deg
        raised = saddle.mean() - there.saddle_mm
        clearance = geometry.saddle_top - READING - there.line_mm - raised
        assert logged["saddle_clearance_mm"] == pytest.approx(clearance, abs=0.02)


def test_a_seat_out_of_square_is_answered_with_the_opposite_lower_shim():
    """On the full model, a seat that acts like 0.08 deg of lower shim."""
    turned = bench().strung(right_pair()[0], right_pair()[1] + 0.08)
    found = check(DryReading(right_pair(), turned.bolted_kink_deg, 0.002))
    assert found.change is not None
    assert (found.change.upper_deg, found.change.lower_deg) == pytest.approx(
        (right_pair()[0], right_pair()[1] - 0.08), abs=0.041
    )
    assert found.change.chance > found.stay.chance + 0.2
    assert verdict(found).startswith("CHANGE THE LOWER SHIM TO ")
    assert not found.odd


def test_a_second_reading_after_a_change_narrows_what_is_known():
    first = off_by(0.05)
    changed = check(first).change
    assert changed is not None
    pair_deg = (changed.upper_deg, changed.lower_deg)
    model = bench().strung(*pair_deg).bolted_kink_deg
    again = check(first, DryReading(pair_deg, model + 0.05, 0.01))
    alone = check(DryReading(pair_deg, model + 0.05, 0.01))
    assert again.gap_sd_mm[1] < alone.gap_sd_mm[1]
    # what the seats do was known from the first reading: the second is expected to be off as well
    assert again.expected_deg - model == pytest.approx(0.05 * 0.88, abs=0.008)
    assert again.expected_deg == pytest.approx(changed.bolted_kink_deg, abs=1e-3)
    assert alone.expected_deg == pytest.approx(model)


def test_a_learned_kink_bias_is_expected_of_the_bolted_kink_too():
    bias = calibration_of(
        "shop", created=START, rows=["x"], parameters=[KINK_BIAS], mean=[0.03], covariance=np.array([[1e-8]]),
        valid_for={"case": case().name, "case_sha256": case().sha256},
    )  # fmt: skip
    found = check(off_by(0.03), on=bench_of(case(), calibration=bias))
    assert found.expected_deg == pytest.approx(off_by(0.03).kink_deg, abs=1e-6)


def test_the_error_of_a_mean_is_that_of_the_feeler_and_of_the_straightedge():
    lever = bench().geometry.tongue_lever
    feeler, same = (degrees(size / lever) for size in (FEELER_MM, SAME_EACH_TIME_MM))
    one, four = (dry_reading((0.0, 0.0), [-0.05] * count, bench().geometry) for count in (1, 4))
    assert one.error_deg == pytest.approx(sqrt(feeler**2 + same**2))
    assert four.error_deg == pytest.approx(sqrt(feeler**2 / 4 + same**2))
    wide = dry_reading((0.0, 0.0), [-0.09, -0.01], bench().geometry)
    assert wide.error_deg == pytest.approx(sqrt(0.04**2 + same**2), rel=1e-3)
    with pytest.raises(InputError, match="1 to 5 are allowed"):
        dry_reading((0.0, 0.0), [-0.05] * 6, bench().geometry)


def test_a_gap_is_the_kink_that_leaves_it_on_the_full_model():
    """The least-squares kink is a tenth more than the last fret alone says; the model relates the two."""
    at, turned = bench().strung(0.0, -0.12), bench().strung(0.0, -0.06)
    assert degrees(at.bolted_gap_mm / bench().geometry.tongue_lever) > at.bolted_kink_deg + 0.005
    found = kink_of_gap(turned.bolted_gap_mm, at, bench())
    assert found == pytest.approx(turned.bolted_kink_deg, abs=0.0005)


def test_the_line_at_the_saddle_finds_a_pocket_misread_by_a_millimetre():
    at = bench().strung(*right_pair())
    off, spread = line_off(bench(), READING + 1.0, READING + at.bolted_line_mm, at, unsure())
    assert off == pytest.approx(-1.0)
    assert RULE_MM < spread < 1.0 / 3.0


def test_half_the_tension_is_not_half_the_way():
    """Slip and contact on the full model, rod slack: half the tension turns the joint by less than half."""
    on = bench_of(case(), tuned_down=6.0)
    at = on.strung(*on.reference_deg)
    angles = (radians(on.reference_deg[0]), radians(on.reference_deg[1]))
    slack = pair(on.question, angles, start=on.reference)
    full = degrees(on.question.kink(other_state(on.question, slack, strings=True, rod=0.0)))
    assert at.tuned_down_kink_deg is not None
    part = (at.tuned_down_kink_deg - at.bolted_kink_deg) / (full - at.bolted_kink_deg)
    assert 0.2 < part < 0.4
    assert bench().strung(*on.reference_deg).numbers == pytest.approx(at.numbers[:3], abs=1e-9)
    # read as well as the bolted kink, it says more about the gap
    uncertainty = on.uncertainty(on.reference_deg, reading_mm=0.05, seats_deg=SEATS)
    bolted = DryReading(on.reference_deg, at.bolted_kink_deg, 0.005)
    down = DryReading(on.reference_deg, at.tuned_down_kink_deg, 0.005, place=TUNED_DOWN)
    one, both = (dry_check(on, READING, seen, uncertainty) for seen in ([bolted], [bolted, down]))
    assert both.gap_sd_mm[1] < 0.97 * one.gap_sd_mm[1]


def test_what_the_usual_errors_do_not_explain_is_inspected_first():
    found = check(off_by(0.2))
    assert found.odd
    assert verdict(found).startswith("INSPECT THE JOINT")
    assert "->" not in dry_text(found)


def test_without_a_body_the_chance_is_that_of_the_gap_alone():
    on = rigid_bench()
    at = on.strung(*right_pair())
    found = check(DryReading(right_pair(), at.bolted_kink_deg + 0.05, 0.01), on=on)
    assert not found.body_included
    assert found.change is not None
    assert found.change.upper_deg == found.stay.upper_deg
    assert found.stay.chance < found.change.chance < 1.0
