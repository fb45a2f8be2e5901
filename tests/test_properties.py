"""Random instruments of both joint kinds: solved, balanced, and in the relations that hold for any neck."""

import math
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, reject, settings

from cases.casefile.case import Case, resolve
from cases.casefile.errors import CaseError
from cases.offset.preload import answer_of
from cases.offset.solve import Solved, solve
from fem.results.reading import read
from fem.solve.offset import gains, other_state
from materials.errors import NeckpreloadError
from tests.random_instruments import INSTRUMENTS, SCALE_MM, two_shim

RIGHTLY_REFUSED = (
    "has no tension left",
    "No shim carries pressure",
    "too little of the shims still bears",
    "No setting of rod and saddle was found",
    "within 1 degree of shim",
)
"""What an instrument may be refused for: a bolt that goes slack, a joint that comes apart, a relief that no
rod gives, a bridge that no taper suits.
"""


def drawing(count: int) -> settings:
    """A run of some draws, the same each time."""
    return settings(
        max_examples=count,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )


def balanced(solved: Solved) -> None:
    """The answer is in balance, meets its target, and every number of it is finite."""
    answer = answer_of(solved, effects=False)
    checks = answer.checks
    assert max(checks.residual, checks.force_balance, checks.moment_balance) < 1e-8, checks
    assert max(checks.energy_balance, checks.budget_closure) < 1e-8, checks
    assert abs(solved.question.misfit(solved.pair.strung)) < 1e-10
    assert np.isfinite(solved.pair.strung.displacements).all()
    assert math.isfinite(answer.heel_stretch_deg)
    assert math.isfinite(answer.taper_mm)
    one_way = solved.case.rod.kind == "one-way"
    assert not (one_way and answer.rod.tension_n is not None and answer.rod.tension_n < 0.0)
    if solved.case.rod.kind == "two-way" or (one_way and answer.rod.tension_n):
        assert answer.relief.set_mm == pytest.approx(answer.relief.target_mm, abs=1e-8)


def slack_relief(solved: Solved, *, pull: float = 1.0) -> float:
    """Relief with the rod slack and the strings' tension times ``pull`` [m]."""
    question = solved.question
    strings = replace(question.strings, tension=pull * question.strings.tension)
    louder = replace(question, strings=strings)
    return read(louder, other_state(louder, solved.pair, strings=True, rod=0.0)).relief


def ordered(solved: Solved) -> None:
    """More pull bows the shaft further; a tightened rod straightens it; equal shims turn the neck rigidly."""
    question, strung = solved.question, solved.pair.strung
    slack = slack_relief(solved)
    assert slack_relief(solved, pull=1.1) > slack
    if "rod" in question.flexibility.at:
        more = abs(strung.rod) + (100.0 if question.one_way else 0.5)
        tight = read(question, other_state(question, solved.pair, strings=True, rod=more)).relief
        assert tight < slack
    turn = gains(question, solved.pair)
    assert all(0.0 < one < 1.1 for one in turn.pitch)
    if len(turn.kink) == 2:
        assert sum(turn.pitch) == pytest.approx(1.0, abs=0.02)
        assert turn.kink[0] < 0.0 < turn.kink[1]
        assert sum(turn.kink) == pytest.approx(0.0, abs=0.02)


def solved_in_turn(count: int) -> Counter[str]:
    """How ``count`` drawn instruments ended: solved, rejected by the case's limits, refused."""
    ends: Counter[str] = Counter()

    @drawing(count)
    @given(INSTRUMENTS)
    def draw(raw: dict[str, Any]) -> None:
        try:
            case = resolve(raw, where="drawn")
        except CaseError:
            ends["rejected"] += 1
            return
        try:
            solved = solve(case)
            balanced(solved)
        except NeckpreloadError as refusal:
            known = [words for words in RIGHTLY_REFUSED if words in str(refusal)]
            ends["refused" if known else f"{refusal} {raw}"] += 1
            return
        ordered(solved)
        ends["solved"] += 1

    draw()
    return ends


def test_some_random_instruments() -> None:
    ends = solved_in_turn(6)
    assert set(ends) <= {"solved", "rejected", "refused"}, ends
    assert ends["solved"] >= 5, ends


@pytest.mark.full
def test_three_hundred_random_instruments() -> None:
    ends = solved_in_turn(330)
    assert set(ends) <= {"solved", "rejected", "refused"}, ends
    assert ends["solved"] >= 300, ends
    assert ends["rejected"] < 0.2 * ends.total(), ends
    assert ends["refused"] < 0.05 * ends.total(), ends


def test_draws_cover_their_ranges_and_few_are_rejected() -> None:
    seen: dict[str, set[object]] = {"scale": set(), "kind": set(), "wood": set(), "rod": set(), "set": set()}
    ends: Counter[str] = Counter()

    @drawing(150)
    @given(INSTRUMENTS)
    def draw(raw: dict[str, Any]) -> None:
        try:
            case: Case = resolve(raw, where="drawn")
        except CaseError:
            ends["rejected"] += 1
            return
        ends["kept"] += 1
        seen["scale"].add(case.instrument.scale_mm)
        seen["kind"].add(case.joint.kind)
        seen["wood"] |= {case.neck.wood, case.fretboard.wood, case.block.wood}
        seen["rod"].add(case.rod.kind)
        seen["set"].add(case.strings.set)

    draw()
    assert ends["rejected"] < 0.2 * ends.total(), ends
    assert seen["kind"] == {"two-shim", "flat-pocket"}
    assert seen["rod"] == {"one-way", "two-way", "none"}
    assert len(seen["wood"]) > 30
    assert len(seen["set"]) > 8
    assert min(seen["scale"]) < SCALE_MM[0] + 30.0  # type: ignore[type-var]
    assert max(seen["scale"]) > SCALE_MM[1] - 30.0  # type: ignore[type-var]


@drawing(2)
@given(two_shim())
def test_softer_neck_bows_further(raw: dict[str, Any]) -> None:
    try:
        case = resolve(raw, where="drawn")
    except CaseError:
        reject()
    stiff, soft = (solve(case.with_values({"neck.e_l_gpa": modulus})) for modulus in (14.0, 9.0))
    assert slack_relief(soft) > slack_relief(stiff)
