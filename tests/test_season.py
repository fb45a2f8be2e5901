"""A year of humidity and of heat: effect of weather on neck, shims and steel."""

from dataclasses import replace
from functools import cache

import pytest

from cases import load
from cases.offset.build import structure_of
from cases.studies.aging import SetUp, set_up
from cases.studies.season import Season, _heated, _in_plane, _state, humid_year, warm_year


@cache
def steel() -> SetUp:
    return set_up(load("fourteen-mahogany"))


@cache
def dry_and_wet() -> Season:
    """A humid year in three weathers."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cases.studies.season.STEPS", {"humidity": 3})
        return humid_year(load("nylon-twelve"), humidity=(40.0, 60.0))


def test_swelling_goes_the_way_of_the_grain():
    """Quarter-sawn wood swells tangentially in depth; a vertical block little in height, much along."""
    case, movement = load("fourteen-mahogany"), (0.001, 0.03, 0.05)
    assert _in_plane(case, "block", *movement) == (0.05, 0.001)
    assert _in_plane(case, "neck", *movement) == pytest.approx((0.001, 0.05))
    flat = case.with_values({"neck.ring_orientation": "flat"})
    assert _in_plane(flat, "neck", *movement) == pytest.approx((0.001, 0.03))


def test_a_dry_room_loosens_bolts_and_a_board_that_moves_more_bows_the_neck():
    season = dry_and_wet()
    assert season.moisture_percent[0] == pytest.approx(7.7, abs=0.05)
    alike, board, neck = season.courses
    for course in season.courses:
        assert course.bolt_low[1] == pytest.approx(1.0, abs=1e-6)
        assert course.bolt_low[0] < 0.9
        assert course.bolt_high[-1] > 1.1
    # a board that dries and shrinks more than the neck pulls the nut up: more relief in the dry
    assert board.relief_mm[0] > alike.relief_mm[0] > neck.relief_mm[0]
    year = alike.over_the_year("relief_mm")
    assert year[0] == pytest.approx(alike.relief_mm[0])
    assert year[24] == pytest.approx(alike.relief_mm[-1])


def test_the_weather_of_the_set_up_changes_nothing():
    """Bolts kept tight hold their tension at pitch, not that on the bench."""
    start = steel()
    state = _state(start, start.question, start.kept)
    reading = state.reading
    assert (reading.relief, reading.action_change) == pytest.approx((2e-4, 0.0), abs=1e-9)
    assert reading.kink == pytest.approx(0.0, abs=1e-8)
    assert reading.bolt_shares == pytest.approx([1.0, 1.0, 1.0], abs=1e-6)
    assert state.bolts_left == pytest.approx([1.0, 1.0, 1.0], abs=1e-6)


def test_a_warm_room_bows_the_neck():
    """-0.2 % of E a kelvin: 15 K warmer, at least 2 % more relief without a rod."""
    season = warm_year(load("nylon-twelve"), temperature=(15.0, 30.0))
    (heat,) = season.courses
    assert season.moisture_percent is None
    assert heat.relief_mm[0] < heat.relief_mm[1] < heat.relief_mm[2]
    assert heat.relief_mm[2] / heat.relief_mm[0] > 1.02


def test_a_wet_season_swells_the_shims_too(monkeypatch):
    monkeypatch.setattr("cases.studies.season._shim_swelling", lambda case: 0.0)
    monkeypatch.setattr("cases.studies.season.STEPS", {"humidity": 2})
    without = humid_year(load("nylon-twelve"), humidity=(40.0, 60.0)).courses[0]
    assert dry_and_wet().courses[0].bolt_high[-1] > without.bolt_high[-1] + 1e-3


def test_heat_lengthens_what_is_steel():
    """12e-6 per kelvin times grip for the bolts, times its length for a one-way rod, nothing for a pair."""
    start = steel()
    structure = structure_of(start.case)
    hot = _heated(start, structure, 10.0)
    stem, insert = structure.block.stem, structure.bolts[0].insert_length
    assert hot.bolt_growth[0] == pytest.approx(12e-5 * (stem + 0.5 * insert))
    rod = start.case.rod
    assert hot.rod_growth == pytest.approx(12e-5 * (rod.end_mm - rod.start_mm) * 1e-3)
    two_way = {"rod.kind": "two-way", "rod.slot_depth_mm": 11.0, "rod.depth_ends_mm": 6.0}
    pairwise = replace(start, case=start.case.with_values(two_way | {"rod.depth_middle_mm": 6.0}))
    assert _heated(pairwise, structure, 10.0).rod_growth == 0.0


def test_shims_that_shrink_out_of_contact_are_followed_there():
    """A flat pocket in a dry room: at first its shim touches nothing, so swelling too comes in steps."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("cases.studies.season.STEPS", {"humidity": 3})
        season = humid_year(load("solid-25"), humidity=(30.0, 70.0))
    # a wet room swells the shim, which leans the neck: over the year the action falls
    assert all(course.action_mm[0] > course.action_mm[-1] for course in season.courses)
