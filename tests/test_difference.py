"""The difference of two offsets: what both share cancels, and the band holds what solving again finds."""

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from cases import load
from cases.casefile.errors import CaseError
from cases.offset.band import STEP
from cases.offset.difference import Solution, change_band, shared_sources, solution
from cases.offset.scatter import NINETY
from cases.studies.compare import Numbers, compare, difference
from cases.studies.load_cases import read_load_cases
from cases.studies.neck_woods import NeckWoods, neck_woods
from tests.command import Command

CASE = "fourteen-mahogany"
MEDIUM = {"strings.set": "acoustic-medium"}


@cache
def solved(*changes: tuple[str, object]) -> Solution:
    return solution(load(CASE).with_values(dict(changes)))


def stiffer(factor: float) -> tuple[tuple[str, object], ...]:
    """The case's neck wood with all moduli times a factor, as a wood of one's own."""
    own = {"density_kg_m3": 529.0, "e_l_gpa": 11.374 * factor, "relative": "mahogany-honduran"}
    return (("neck.wood", "m"), *((f"woods.m.{key}", value) for key, value in own.items()))


def test_an_effect_is_the_change_that_solving_again_finds() -> None:
    # the band's step to both sides of the median; the case is the mean, 0.22 the coefficient of variation;
    # 3 %: the condensation follows other moduli to first order
    deviation = math.sqrt(math.log(1.0 + 0.22**2))
    factors = [math.exp(part * deviation - 0.5 * deviation**2) for part in (-STEP, STEP)]
    ends = [solved(*stiffer(factor)).answer.offset_deg for factor in factors]
    assert solved().effects["neck wood"] == pytest.approx((ends[1] - ends[0]) / (2.0 * STEP), rel=0.03)


def test_what_is_left_of_a_shared_error_is_the_change_of_the_difference() -> None:
    """The same plank under light and under medium strings: the difference moves as both effects differ."""
    light, medium = solved(), solved(*MEDIUM.items())
    changes = [
        medium_neck.answer.offset_deg - solved(*stiffer(factor)).answer.offset_deg
        for factor in (0.89, 1.11)
        for medium_neck in [solved(*stiffer(factor), *MEDIUM.items())]
    ]
    left = medium.effects["neck wood"] - light.effects["neck wood"]
    assert left == pytest.approx(changes[1] - changes[0], rel=0.15)
    assert left < 0.3 * light.effects["neck wood"]


def test_the_band_is_nothing_for_the_same_case_and_widens_with_what_is_not_shared() -> None:
    light, medium = solved(), solved(*MEDIUM.items())
    assert change_band(light, light, same_guitar=True) == (0.0, 0.0)
    low, high = change_band(light, medium, same_guitar=True)
    change = medium.answer.offset_deg - light.answer.offset_deg
    assert low < change < high < 0.0
    wide = change_band(light, medium, same_guitar=False)
    assert wide[0] < low < high < wide[1]
    # two guitars share nothing: root of the sum of all squares, apart from friction
    variance = sum(value**2 for one in (light, light) for value in one.effects.values())
    assert change_band(light, light, same_guitar=False)[1] == pytest.approx(NINETY * variance**0.5)
    answer = light.answer.preload_offset_band_deg
    assert answer is not None
    own = NINETY * sum(value**2 for value in light.effects.values()) ** 0.5
    assert own == pytest.approx(0.5 * (answer[1] - answer[0]), rel=0.05)


def test_what_two_cases_share() -> None:
    case = load(CASE)
    everything = set(solved().effects)
    assert shared_sources(case, case) >= everything
    heavier = shared_sources(case, case.with_values(MEDIUM))
    assert everything - heavier == {"string tension"}
    other = shared_sources(case, case.with_values({"neck.wood": "maple-sugar"}))
    assert everything - other == {"neck wood", "neck wood, across and shear"}
    loose = shared_sources(case, case.with_values({"bolts.tongue.torque_n_m": 0.3}))
    assert everything - loose == {"bolt tongue"}


def numbers(steps: int, least: int, most: int) -> Numbers:
    row = compare(CASE).rows[0].numbers
    assert row is not None
    band = {"change_low_deg": -0.08, "change_high_deg": -0.03}
    return replace(row, steps=steps, steps_least=least, steps_most=most, **band)


@pytest.mark.parametrize(
    ("steps", "keep", "words"),
    [
        ((-2, 1, 2), False, "two steps further back, surely at least one"),
        ((-1, 1, 2), False, "one step further back, surely at least one, at most two"),
        ((1, 0, 1), False, "one step further forward, though perhaps none"),
        ((-1, 1, 1), True, "at most one step further back"),
        ((0, 0, 2), True, "at most two steps either way"),
        ((0, 0, 0), True, "surely no step"),
        ((-7, 6, 8), False, "7 steps further back, surely at least 6, at most 8"),
    ],
)
def test_the_difference_in_steps(steps: tuple[int, int, int], keep: bool, words: str) -> None:
    said = difference(numbers(*steps), keep=keep)
    assert said == f"the difference is -0.08 to -0.03 deg in 90 % of guitars: {words}"


LOADS = """
[heavy]
strings = "14 18 28w 38w 48w 58w"
[dropped]
tuning = "D A D G A D"
[loose]
bolts.heel-low.torque_n_m = 0.9
[impossible]
heel.height_mm = 9
"""


def test_load_cases_are_rows(tmp_path: Path, command: Command) -> None:
    file = tmp_path / "loads.toml"
    file.write_text(LOADS, encoding="utf-8")
    assert read_load_cases(file)["loose"] == {"bolts.heel-low.torque_n_m": 0.9}
    run = command("compare", CASE, "--load-cases", str(file), "--json", "--csv", "t.csv")
    assert run.code == 2
    assert "no numbers for impossible: heel.height_mm = 9: too small" in run.err
    rows = json.loads(run.out)["rows"]
    assert [row["name"] for row in rows][1:4] == ["heavy", "dropped (tuned D A D G A D)", "loose"]
    assert rows[1]["strings"] == "14 18 28w 38w 48w 58w"
    assert all(row.keys() == rows[0].keys() for row in rows)
    assert rows[1]["preload_offset_deg"] < rows[0]["preload_offset_deg"] < rows[2]["preload_offset_deg"]
    assert len((tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()) == 6


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x = 1", "this key stands above the first heading"),
        ("# nothing", "the file holds no load case"),
        ("[a", "line 1"),
    ],
)
def test_wrong_load_cases(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / "loads.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match=words):
        read_load_cases(file)


@cache
def woods() -> NeckWoods:
    return neck_woods(CASE, ["maple-sugar", "maple-sugar"])


def test_neck_woods_in_one_table() -> None:
    found = woods()
    assert [row.name for row in found.rows] == ["mahogany-honduran", "maple-sugar"]
    own, maple = (row.numbers for row in found.rows)
    assert own is not None
    assert maple is not None
    assert own.preload_offset_deg == pytest.approx(solved().answer.offset_deg)
    # maple is stiffer, so it bows less and needs less offset; nothing moves it against its range
    assert maple.relief_slack_mm < own.relief_slack_mm
    assert abs(maple.preload_offset_deg) < abs(own.preload_offset_deg)
    assert own.winter_action_range_mm[0] < own.winter_action_mm < own.winter_action_range_mm[1]
    assert found.findings[0].startswith("least offset: maple-sugar")
    assert "one plank can reverse that" in found.findings[0]
    assert "winter_action_low_mm" in found.to_rows()[0]
    assert "in a dry winter" in str(found)
    assert found.plot().axes


def test_a_wood_that_cannot_be_solved_has_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(case: Any) -> Solution:
        raise CaseError("x", [])

    monkeypatch.setattr("cases.studies.neck_woods.solution", fails)
    found = neck_woods(CASE, ["sapele"])
    assert all(row.numbers is None for row in found.rows)
    assert "not possible" in str(found)
    assert found.findings == ()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("--neck-wood koa", "this wood is not in the table"),
        ("--rh 60:40", "this is no range of humidity"),
        ("--rh x", "this is not low:high"),
        ("--set neck.e_l_gpa=11", "leave neck.e_l_gpa out"),
        ("--neck-wood a,,b", "a name is missing"),
    ],
)
def test_wrong_neck_woods(command: Command, line: str, words: str) -> None:
    run = command("neck-woods", CASE, *line.split())
    assert (run.code, words in run.err) == (2, True), run.err
