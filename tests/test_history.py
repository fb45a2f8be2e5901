"""The joint's memory: closed hysteresis loops, wood that yields, and histories of whole instruments."""

from dataclasses import replace
from itertools import pairwise
from math import degrees

import numpy as np
import pytest

from cases.offset.solve import Solved
from cases.studies.history import History, history
from cases.studies.history_steps import FIRST, events_of, words_of
from fem.joint.shim_layer import Layer, indentation, traction
from fem.solve.history import Event, back_from, follow
from fem.solve.offset import find_offset, pair
from materials.errors import InputError
from tests.command import Command
from tests.evidence_rows.contact_memory import CAP, TANGENTIAL, area, pulled
from tests.pages import PAGES, blocks, run_block
from tests.pictures import readme_solved


def test_unloading_is_the_first_loading_at_twice_the_scale():
    """Masing's rule: from the end of a first loading, u falls by 2 f(dT / 2), f the first loading."""
    most = 6000.0
    first, _ = pulled([1000.0, most])
    back, states = pulled([most, most - 2000.0])
    assert back[0] - back[1] == pytest.approx(2.0 * first[0], rel=1e-9)
    np.testing.assert_allclose(states[0].stuck_at, back[0] - CAP / TANGENTIAL)


def test_wood_yields_at_its_strength_and_keeps_the_dent():
    """Pressed beyond its limit, let go and pressed again: the work lost is the limit times the dent."""
    law = Layer(np.zeros(1), np.array([2e7]), np.array([1e7]), np.array([0.3]), np.array([400.0]))
    deep, dent = 30e-6, 10e-6
    assert traction(law, np.array([-deep]), np.zeros(1), stuck_at=None).push == pytest.approx(400.0)
    assert indentation(law, np.array([-deep])) == pytest.approx(dent)
    dented = replace(law, interference=law.interference - dent)
    openings = np.linspace(0.0, -deep, 3001)
    way_in, way_out = (
        np.array([float(traction(one, np.array([o]), np.zeros(1), stuck_at=None).push[0]) for o in openings])
        for one in (law, dented)
    )
    assert way_out[-1] == pytest.approx(400.0)
    assert way_out[openings > -dent].max() == 0.0
    assert area(-openings, way_in - way_out) == pytest.approx(400.0 * dent, rel=1e-3)


@pytest.fixture(scope="module")
def solved() -> Solved:
    return readme_solved()


def kinks(solved: Solved, steps: str) -> list[float]:
    """Kink after each step, bolted up first [deg]."""
    question = solved.question
    return [degrees(question.kink(one.state)) for one in follow(question, solved.pair, events_of(steps))]


def test_up_to_pitch_in_parts_is_the_answer(solved: Solved):
    """While nothing turns back, one step is as good as forty: the answer needs no history."""
    *_, last = follow(solved.question, solved.pair, events_of("rod, 1"), parts=40)
    np.testing.assert_allclose(
        last.state.displacements,
        solved.pair.strung.displacements,
        atol=1e-9 * np.abs(last.state.displacements).max(),
    )


def test_slackened_and_tuned_again_it_is_where_it_was(solved: Solved):
    """Slack, the joint is not back where it was bolted; at pitch again it is (return-point memory)."""
    bolted, _, pitch, slack, again = kinks(solved, "rod, 1, 0, 1")
    fresh = kinks(solved, "rod")[-1]
    assert 0.4 < (pitch - slack) / (pitch - fresh) < 0.7
    assert again == pytest.approx(pitch, abs=1e-5)
    assert bolted < slack


def test_an_overshoot_stays_and_repeats_add_nothing(solved: Solved):
    _, _, pitch, *cycles = kinks(solved, "rod, 1, 5 x (1.05, 1)")
    once, *more = cycles[1::2]
    assert once > pitch + 0.003
    np.testing.assert_allclose(more, once, atol=1e-6)
    left = [
        solved.question.misfit(back_from(solved.question, solved.pair, share=s)) for s in (1.0, 1.02, 1.1)
    ]
    np.testing.assert_allclose(left[0], solved.question.misfit(solved.pair.strung), atol=1e-9)
    assert left[0] < left[1] < left[2]


def test_a_knock_forgets_everything(solved: Solved):
    """Without friction the state depends on the loads alone, whatever came before."""
    question = solved.question
    direct = degrees(
        question.kink(
            [*follow(replace(question, friction=(0.0,) * 2), solved.pair, events_of("rod, 1"))][-1].state
        )
    )
    for steps in ("rod, 1, knock", "1, rod, 0, 1.1, 1, knock", "rod, knock, 1, 0.5, 1, knock, knock"):
        assert kinks(solved, steps)[-1] == pytest.approx(direct, abs=1e-6)


def test_bolts_tightened_again_have_their_tension(solved: Solved):
    """Tightened again to the bench's tension: the bolts then have it, and keep it while nothing moves."""
    moments = [*follow(solved.question, solved.pair, events_of("rod, 1, bolts, 1"))]
    np.testing.assert_allclose(moments[3].state.bolts, solved.question.bolting.bolt_tension)
    np.testing.assert_allclose(moments[4].state.bolts, moments[3].state.bolts, rtol=1e-6)
    assert not np.allclose(moments[2].state.bolts, moments[3].state.bolts, rtol=0.01)


def test_crushed_wood_stays_crushed(solved: Solved):
    """A strength above every pressure changes nothing; a low one leaves a dent that no step undoes."""
    question, at = solved.question, solved.pair
    strong = find_offset(replace(question, strength=1e9), upper=solved.upper, start=at)
    assert strong.offset == pytest.approx(solved.offset.offset, abs=1e-9)
    weak = replace(question, strength=3e6)
    crushed = pair(weak, at.angles, start=at)
    depth = [
        one.state.crushed
        for one in follow(weak, replace(crushed, strung=at.strung), events_of("rod, 1, 0, 1.1, 1"))
    ]
    assert depth[-1].max() > 1e-5
    assert all(np.all(b >= a) for a, b in pairwise(depth))
    np.testing.assert_allclose(depth[3], depth[2])
    np.testing.assert_allclose(depth[2], crushed.strung.crushed, atol=1e-7)


@pytest.fixture(scope="module")
def told() -> History:
    return history("fourteen-mahogany", crushing=True)


def test_a_history_is_told(told: History):
    """Kinks at pitch lie between a joint that never slips and one without friction."""
    assert [point.what for point in told.points][1:4] == ["strings 100 %", "rod 100 %", "strings 0 %"]
    assert told.kink_stuck_deg < told.at_pitch[0].kink_deg < told.kink_smooth_deg
    assert told.points[3].action_mm is None
    rows = told.to_rows()
    assert len(rows) == 1 + len(events_of(FIRST))
    assert rows[-1]["offset_change_deg"] < -0.05
    assert told.to_dict()["path"]["step"][-1] == 7
    assert "after a moment without friction" in str(told)
    assert "crushed mm" in str(told)
    assert len(told.plot().axes) == 3


def test_a_rod_that_stays_slack_is_left_out():
    found = history("nylon-twelve")
    assert [point.step for point in found.points] == list(range(len(events_of(FIRST))))
    assert len(found.at_pitch) == 4
    with pytest.raises(InputError, match="step 2 = rod 100 %: nylon-twelve has no rod"):
        history("nylon-twelve", "1, rod")


@pytest.mark.parametrize("name", ["bass-34", "short-scale", "twelve-string"])
def test_other_instruments_have_a_history(name: str):
    found = history(name, "1, 2 x (0, 1), knock, bolts")
    assert np.isfinite([point.kink_deg for point in found.points]).all()


def test_steps_read():
    kinds = [(one.kind, one.share) for one in events_of(" 1.05 ,rod 0.5,2 x (0, 1),bolts,  knock")]
    again = [("strings", 0.0), ("strings", 1.0)] * 2
    assert kinds == [("strings", 1.05), ("rod", 0.5), *again, ("bolts", 1.0), ("knock", 1.0)]
    assert words_of(Event("rod", 0.5)) == "rod 50 %"


@pytest.mark.parametrize(
    ("steps", "sentence"),
    [
        ("", 'step 1 = ""'),
        ("1, 2", "step 2 = 2: this share of the tension at pitch is out of range; allowed: 0 to 1.2"),
        ("rod 2", "the rod's setting is out of range; allowed: 0 to 1.5"),
        ("nan", "out of range"),
        ("1, hammer", 'step 2 = "hammer": this is no step'),
        ("999 x (0, 1)", "too many; allowed: at most 200"),
    ],
)
def test_a_wrong_step_is_named(steps: str, sentence: str):
    with pytest.raises(InputError, match=r"write the steps like") as found:
        events_of(steps)
    assert sentence in str(found.value)


def test_the_page_shows_what_the_command_prints(command: Command):
    ran = [run_block(block, command) for block in blocks(PAGES / "history.md") if block.language == "console"]
    assert ran == [1]
