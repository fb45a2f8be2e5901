"""Random instruments of both joint kinds: solved, balanced, and in the relations that hold for any neck."""

import math
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from cases.casefile.case import Case, resolve
from cases.casefile.errors import CaseError
from cases.offset.preload import answer_of
from cases.offset.solve import Solved, solve
from fem.results.reading import read
from fem.solve.offset import Question, gains, other_state
from materials.errors import NeckpreloadError
from tests.random_instruments import INSTRUMENTS, SCALE_MM

RIGHTLY_REFUSED = (
    "has no tension left",
    "No shim carries pressure",
    "too little of the shims still bears",
    "No setting of rod and saddle was found",
    "within 1 degree of shim",
)
"""Allowed refusals: a slack bolt, a joint that opens, no rod for the relief, no taper for the bridge."""


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
    assert max(vars(replace(answer.checks, mesh_error_deg=0.0)).values()) < 1e-8, answer.checks
    assert abs(solved.question.misfit(solved.pair.strung)) < 1e-10
    assert np.isfinite(solved.pair.strung.displacements).all()
    assert math.isfinite(answer.heel_stretch_deg)
    assert math.isfinite(answer.taper_mm)
    one_way = solved.case.rod.kind == "one-way"
    assert not (one_way and answer.rod.tension_n is not None and answer.rod.tension_n < 0.0)
    if solved.case.rod.kind == "two-way" or (one_way and answer.rod.tension_n):
        assert answer.relief.set_mm == pytest.approx(answer.relief.target_mm, abs=1e-8)


def ordered(solved: Solved) -> None:
    """More tension and softer wood bow the shaft further; a tightened rod straightens it; equal shims rotate
    the neck rigidly.
    """
    question, strung = solved.question, solved.pair.strung

    def slack_relief(asked: Question) -> float:
        return read(asked, other_state(asked, solved.pair, strings=True, rod=0.0)).relief

    slack = slack_relief(question)
    strings = replace(question.strings, tension=1.1 * question.strings.tension)
    assert slack_relief(replace(question, strings=strings)) > slack
    softer = question.flexibility.with_moduli({"neck along": 0.9})
    assert slack_relief(replace(question, flexibility=softer)) > slack
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
    """How ``count`` drawn instruments ended: solved, rejected by the case's limits, or refused as allowed."""
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
    assert set(ends) <= {"solved", "rejected", "refused"}, ends
    return ends


def test_some_random_instruments() -> None:
    ends = solved_in_turn(5)
    assert ends["solved"] >= 4, ends


@pytest.mark.full
def test_three_hundred_random_instruments() -> None:
    ends = solved_in_turn(330)
    assert ends["solved"] >= 300, ends
    assert ends["rejected"] < 0.2 * ends.total(), ends
    assert ends["refused"] < 0.05 * ends.total(), ends


def test_draws_cover_their_ranges_and_few_are_rejected() -> None:
    kept: list[Case] = []
    rejected: list[CaseError] = []

    @drawing(150)
    @given(INSTRUMENTS)
    def draw(raw: dict[str, Any]) -> None:
        try:
            kept.append(resolve(raw, where="drawn"))
        except CaseError as error:
            rejected.append(error)

    draw()
    assert len(rejected) < 0.2 * 150, rejected
    assert {case.joint.kind for case in kept} == {"two-shim", "flat-pocket"}
    assert {case.rod.kind for case in kept} == {"one-way", "two-way", "none"}
    assert len({wood for case in kept for wood in (case.neck.wood, case.block.wood)}) > 30
    assert len({case.strings.set for case in kept}) > 8
    scales = [case.instrument.scale_mm for case in kept]
    assert min(scales) < SCALE_MM[0] + 60.0 < SCALE_MM[1] - 60.0 < max(scales)
