"""First-time-right: the first fit judged by what was measured at pitch, beside pairs that stayed."""

import math

import pytest

from cases.bench.learning.trend import errors_at_pitch, first_time_right, pair_stayed
from cases.bench.logbook.current_rows import Fit, Measurement
from cases.bench.shims.dry_log import advice
from cases.bench.shims.geometry import geometry_of
from tests.benches import bench, case, logged


def first(serial: str, *, attempt: int = 1, reason: str = "new", **measured: float) -> Fit:
    """A fit on the case with its values at pitch, angles by a name that ends in kink."""
    rows = [
        Measurement(id=n, kind=kind, state="strung", value=value, unit="deg" if kind == "kink" else "mm")
        for n, (kind, value) in enumerate(measured.items())
    ]
    return logged(serial, attempt=attempt, reason=reason, case_sha256=case().sha256, measurements=tuple(rows))


def test_a_first_fit_is_right_when_action_and_gap_are_within_tolerance() -> None:
    setup, lever = case().setup, geometry_of(case()).tongue_lever
    bass, treble = setup.action_bass_mm, setup.action_treble_mm
    assert (case().tolerance.action_mm, case().tolerance.tongue_gap_mm) == (0.15, 0.05)
    edge = math.degrees(0.05 / lever)
    rows = [
        first("within", action_bass=bass + 0.15, action_treble=treble + 0.15, tongue_gap=0.05),
        # measured, kept and 0.35 mm out: not right, though no swap was logged
        first("high", action_bass=bass + 0.35, action_treble=treble + 0.35, tongue_gap=0.0),
        first("gap", action_bass=bass, action_treble=treble, tongue_gap=-0.06),
        first("kink", action_bass=bass, action_treble=treble, kink=1.01 * edge),
        first("both", action_bass=bass, action_treble=treble, tongue_gap=0.0, kink=0.99 * edge),
        # one side high, one low: the mean counts, twist is no error of the pair
        first("twist", action_bass=bass + 0.2, action_treble=treble - 0.2, kink=0.0),
        first("no gap", action_bass=bass, action_treble=treble),
        first("no gap, high", action_bass=bass + 0.2, action_treble=treble + 0.2),
        first("swapped, unmeasured"),
        first("swapped, unmeasured", attempt=2, reason="swap"),
        first("swapped, within", action_bass=bass, action_treble=treble, kink=0.0),
        first("swapped, within", attempt=2, reason="swap"),
    ]
    (found,) = first_time_right(rows, cases={case().sha256: case()})
    assert (found.right, found.judged, found.open) == (4, 9, 1)
    (stayed,) = pair_stayed(rows)
    assert (stayed.right, stayed.judged, stayed.open) == (8, 10, 0)
    (unknown,) = first_time_right(rows, cases={})
    assert (unknown.right, unknown.judged, unknown.open) == (0, 2, 8)


def test_gap_and_kink_are_related_by_the_prediction_and_each_target_has_the_other() -> None:
    """On the full model a kink of zero leaves a tongue gap of 0.012 mm: the gap wanted with a target kink."""
    at = bench().strung(*bench().reference_deg)
    lever = geometry_of(case()).tongue_lever
    beyond = at.tongue_gap_mm - math.radians(at.misfit_deg) * lever
    assert beyond > 0.01
    row = first("1", tongue_gap=0.03, kink=0.02).model_copy(
        update={"predicted": {"kink_deg": at.misfit_deg, "tongue_gap_mm": at.tongue_gap_mm}}
    )
    gaps = [0.03 - beyond, math.radians(0.02) * lever]
    assert errors_at_pitch(row, case())[1] == pytest.approx(gaps)
    by_gap = case().with_values({"targets.kink_deg": None, "targets.tongue_gap_mm": 0.02})
    gaps = [0.03 - 0.02, math.radians(0.02) * lever + beyond - 0.02]
    assert errors_at_pitch(row, by_gap)[1] == pytest.approx(gaps)


def test_a_pair_changed_before_string_up_is_not_the_first_fit() -> None:
    bass, treble = case().setup.action_bass_mm, case().setup.action_treble_mm
    dry = [Measurement(id=n, **one) for n, one in enumerate(advice((0.1, -0.09), "bolted"))]
    rows = [
        first("1").model_copy(update={"measurements": tuple(dry)}),
        first("1", attempt=2, reason="swap", action_bass=bass, action_treble=treble, kink=0.0),
    ]
    (right,), (stayed,) = first_time_right(rows, cases={case().sha256: case()}), pair_stayed(rows)
    assert (right.right, right.judged, stayed.right, stayed.judged) == (1, 1, 1, 1)
    # strung up and measured before the change, it was a swap
    strung = Measurement(id=9, kind="relief", state="strung", value=0.2, unit="mm")
    rows[0] = rows[0].model_copy(update={"measurements": (*dry, strung)})
    (stayed,) = pair_stayed(rows)
    assert (stayed.right, stayed.judged) == (0, 1)
