"""A search for the offset that does not end names its cause: the key, what is allowed, what to do."""

import pytest

from cases import load
from cases.casefile.errors import CaseError
from cases.offset.no_answer import NO_ANSWER, why_no_answer
from cases.offset.solve import aimed_upper, solve
from tests.pictures import readme_solved

OCTAVE_UP = "E3 A3 D4 G4 B4 E5"
LOOSE = {f"bolts.{name}.torque_n_m": 0.01 for name in ("heel-top", "heel-low", "tongue")}
PLANED = {"fretboard.planed_relief_mm": 1.0, "fretboard.fallaway_mm": 2.0}


@pytest.mark.parametrize(
    ("values", "key", "cause"),
    [
        ({"instrument.scale_mm": 1000.0}, "instrument.scale_mm = 1000:", "the strings pull 17"),
        ({"strings.tuning": OCTAVE_UP}, f"strings.tuning = {OCTAVE_UP}:", "the strings pull 28"),
        (LOOSE, "bolts.heel-top.torque_n_m = 0.01:", "the seat does not bear at pitch"),
        ({"targets.kink_deg": 1.0}, "targets.kink_deg = 1:", "no pair of shims bends"),
        ({"targets.tongue_gap_mm": 1.5}, "targets.tongue_gap_mm = 1.5:", "no pair of shims bends"),
        (PLANED, "fretboard.fallaway_mm = 2 and fretboard.planed_relief_mm = 1:", "more kink than shims"),
        ({"fretboard.fallaway_mm": 2.0}, "fretboard.fallaway_mm = 2:", "more kink than shims"),
    ],
)
def test_each_cause_has_its_own_key(values: dict[str, object], key: str, cause: str):
    with pytest.raises(CaseError, match="allowed: ") as caught:
        solve(load("fourteen-mahogany").with_values(values))
    said = str(caught.value)
    assert said.startswith(f"fourteen-mahogany: {key}"), said
    assert cause in said
    assert NO_ANSWER in said
    assert caught.value.exit_code == 2


def test_what_is_said_to_be_allowed_has_an_answer():
    """The sentence for a kink of 1 degree gives a span; a target inside it is met."""
    case = load("fourteen-mahogany")
    with pytest.raises(CaseError) as caught:
        solve(case.with_values({"targets.kink_deg": 1.0}))
    high = float(str(caught.value).split(" to +")[1].split(" deg")[0])
    met = solve(case.with_values({"targets.kink_deg": round(0.9 * high, 2)}))
    assert abs(met.offset.offset) < 0.0175
    outside = round(1.2 * high, 2)
    with pytest.raises(CaseError, match=r"targets\.kink_deg"):
        solve(case.with_values({"targets.kink_deg": outside}))


def test_a_case_with_an_answer_is_not_asked_why():
    """Every trial of a sound case ends, so the first cause is only ever named after the search has failed."""
    solved = readme_solved()
    found = why_no_answer(solved.case, solved.structure, solved.question, upper=aimed_upper(solved.case))
    assert found is not None
    assert "bolts." in str(found)
