"""The rod in the answer: its setting, its turns, and warnings when it cannot reach the relief."""

from math import isclose, pi

import pytest

from cases import load, preload
from cases.offset.preload import answer_of
from cases.offset.solve import solve
from tests.instrument import resolved
from tests.pictures import case_of, readme_solved


@pytest.mark.parametrize("name", ["fourteen-mahogany", "fourteen-maple"])
def test_turns_of_the_rod_count_from_slack_at_pitch(name: str) -> None:
    """A rod set half way has turned as far per newton: turns are zero at zero tension, strings at pitch."""
    case = case_of(name)
    solved = readme_solved() if name == "fourteen-mahogany" else solve(case)
    whole = answer_of(solved, effects=False)
    middle = 0.5 * (whole.relief.rod_slack_mm + whole.relief.set_mm)
    half = answer_of(resolved(solved, {"targets.relief_mm": middle}), effects=False)
    assert half.rod.tension_n < 0.6 * whole.rod.tension_n
    assert isclose(half.rod.turns / half.rod.tension_n, whole.rod.turns / whole.rod.tension_n, rel_tol=0.01)
    stretch = whole.rod.tension_n / (case.rod.young_gpa * 1e3 * 0.25 * pi * case.rod.diameter_mm**2)
    members = 2.0 if case.rod.kind == "two-way" else 1.0
    own = members * stretch * (case.rod.end_mm - case.rod.start_mm) / case.rod.thread_pitch_mm
    assert whole.rod.turns > own > 0.0


def test_without_a_rod_the_relief_is_not_adjustable() -> None:
    answer = preload(case_of("fourteen-mahogany").with_values({"rod.kind": "none"}), effects=False)
    assert answer.rod.torque_n_m is None
    assert isclose(answer.relief.set_mm, answer.relief.rod_slack_mm, abs_tol=1e-9)
    assert any("no rod" in text for text in answer.warnings)


def test_a_one_way_rod_never_pushes() -> None:
    answer = preload(load("twelve-cedar-parlour"), effects=False)
    assert answer.rod.tension_n == 0.0
    assert answer.relief.set_mm < 0.20
    assert any("one-way" in text for text in answer.warnings)


@pytest.mark.parametrize(
    "values",
    [
        {"rod.depth_ends_mm": 3.0, "rod.depth_middle_mm": 3.0},
        {"neck.depth_fret1_mm": 40.0, "neck.depth_fret10_mm": 45.0},
    ],
    ids=["slack though the relief is too large", "tight though the relief was too small"],
)
def test_a_rod_above_the_neutral_axis_is_said_to_work_the_wrong_way(values) -> None:
    answer = preload(case_of("fourteen-mahogany").with_values(values), effects=False)
    assert (answer.relief.rod_slack_mm > 0.2) == (answer.rod.tension_n == 0.0)
    assert any(text.startswith("Tightened, this rod bows the neck forward") for text in answer.warnings)
    assert not any("Even with the rod slack" in text for text in answer.warnings)
