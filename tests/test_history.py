"""The joint's memory: closed hysteresis loops, wood that yields, and histories of whole instruments."""

from dataclasses import replace
from itertools import pairwise
from math import degrees

import numpy as np
import pytest
from skfem import MeshQuad

from cases import load
from cases.offset.solve import Solved, solve
from cases.studies.history import History, history
from cases.studies.history_steps import FIRST, events_of, words_of
from fem.joint.shim_layer import Layer, indentation, stick_points, traction
from fem.solve.equilibrium import Bolting, State, Strings, Targets, bolt_up, string_up
from fem.solve.history import Event, back_from, follow
from fem.solve.newton import Problem
from fem.solve.newton import solve as settle
from fem.solve.offset import find_offset, pair
from materials.errors import InputError
from tests.cantilever import EA, LENGTH, instrument
from tests.command import Command
from tests.pages import PAGES, blocks, run_block
from tests.test_shim_layer import BED, WIDTH
from tests.two_bodies import Rig, rig

FRICTION, PUSH, TANGENTIAL = 0.3, 1000.0, 1e7
CAP = FRICTION * PUSH


def pulled(tensions: list[float]) -> tuple[list[float], list[State]]:
    """A bar pulled along at its end, where one seat with friction holds it: end movement [m] and states."""
    flexibility, line = instrument()
    matrix = flexibility.matrix.copy()
    end, slip = flexibility.at["nut u"][0], flexibility.at["slip"][0]
    matrix[slip], matrix[:, slip] = matrix[end], matrix[:, end]
    matrix[slip, slip] = matrix[end, end]
    flexibility = replace(flexibility, matrix=matrix)
    stiff = np.array([TANGENTIAL])
    law = Layer(np.array([PUSH / 1e7]), np.array([1e7]), stiff, np.array([FRICTION]))
    bolting = Bolting(np.array([PUSH]), np.array([1e7]))
    state = bolted = bolt_up(flexibility, law, bolting)
    ends, states = [], []
    for tension in tensions:
        state = string_up(
            flexibility,
            law,
            bolting,
            bolted=bolted,
            line=line,
            strings=Strings(tension, 0.0, 2 * LENGTH),
            wanted=Targets(relief=None, rod=0.0, height=None, saddle_height=0.0, height_x=0.1),
            after=state,
        )
        ends.append(float(state.displacements[end]))
        states.append(state)
    return ends, states


def area(along: np.ndarray, force: np.ndarray) -> float:
    """Work around a closed path."""
    return float(np.sum(0.5 * (force[1:] + force[:-1]) * np.diff(along)))


def test_a_spring_with_a_slider_dissipates_four_caps_times_its_slip():
    """Elastic slider (Jenkins element; Segalman, SAND2001-0811): a loop between two ends 2 U apart encloses
    4 mu P (U - mu P / k), here with a bar beside it, which stores and gives back.
    """
    most = 6000.0
    up, down = np.linspace(0.0, most, 301), np.linspace(most, 0.0, 301)[1:]
    tensions = np.concatenate([up, down, up[1:]])
    ends, states = pulled(tensions.tolist())
    loop = slice(300, 901)
    half = 0.5 * (max(ends[loop]) - min(ends[loop]))
    assert half > 2.0 * CAP / TANGENTIAL
    expected = 4.0 * CAP * (half - CAP / TANGENTIAL)
    assert area(np.array(ends[loop]), tensions[loop]) == pytest.approx(expected, rel=1e-3)
    assert ends[900] == pytest.approx(ends[300], abs=1e-15)
    # the bar alone: what the slider takes is its cap
    bar = EA / LENGTH
    assert tensions[300] - bar * ends[300] == pytest.approx(CAP)
    assert tensions[600] - bar * ends[600] == pytest.approx(-CAP)
    np.testing.assert_allclose(states[300].stuck_at, ends[300] - CAP / TANGENTIAL)


def test_unloading_is_the_first_loading_at_twice_the_scale():
    """Masing's rule: from the end of a first loading, u falls by 2 f(dT / 2), f the first loading."""
    most = 6000.0
    first, _ = pulled([1000.0, most])
    back, _ = pulled([most, most - 2000.0])
    assert back[0] - back[1] == pytest.approx(2.0 * first[0], rel=1e-9)


BAR, BAR_LENGTH, PER_LENGTH = 1e6, 0.1, 15e3
"""EA [N] and length [m] of the bar on the bed, and the bed's greatest friction per length [N/m]."""


def bar_on_a_bed(forces: list[float], *, points: int = 100) -> list[float]:
    """End movement [m] of an elastic bar on an evenly pressed bed with friction, pulled at one end."""
    each, spring = np.ones(points), BAR / (BAR_LENGTH / points)
    step = np.diff(np.eye(points), axis=0)
    ground = 1e6 * each
    c = np.zeros((2 * points, 2 * points))
    c[points:, points:] = np.linalg.inv(spring * step.T @ step + np.diag(ground))
    push = PER_LENGTH * BAR_LENGTH / points / FRICTION
    law = Layer(push / 1e9 * each, 1e9 * each, 1e11 * each, FRICTION * each)
    displacements, stuck, ends = np.zeros(2 * points), np.zeros(points), []
    for force in forces:
        problem = Problem(
            c=c,
            base=force * c[:, -1],
            columns=np.zeros((2 * points, 0)),
            conditions=(),
            opening=np.arange(points),
            slip=np.arange(points, 2 * points),
            bolt=np.zeros(0, dtype=int),
            reference=ground,
            law=law,
            stuck_at=stuck,
            locked=np.zeros(0),
            bolt_stiffness=np.zeros(0),
        )
        found = settle(problem, displacements=displacements, settings=np.zeros(0))
        displacements = found.displacements
        stuck = stick_points(law, displacements[points:], found.contact)
        ends.append(float(displacements[-1]))
    return ends


def test_a_bar_on_a_bed_slips_from_its_end_and_loses_the_cube_of_the_force():
    """Friction q per length: u = F^2/(2 EA q), and a cycle between F and -F loses 2 F^3/(3 EA q) (Goodman and
    Klumpp, J. Appl. Mech. 23, 1956, from memory; derived anew in docs/history.md).
    """
    most = 1200.0
    one_way = np.linspace(0.0, most, 31)
    forces = np.concatenate([one_way, one_way[-2::-1], -one_way[1:], -one_way[-2::-1], one_way[1:]])
    ends = np.array(bar_on_a_bed(forces.tolist()))
    assert ends[30] == pytest.approx(
        most**2 / (2.0 * BAR * PER_LENGTH), rel=0.02
    )  # eighty points slip, the last in part
    cycle = slice(30, 151)
    assert area(ends[cycle], forces[cycle]) == pytest.approx(
        2.0 * most**3 / (3.0 * BAR * PER_LENGTH), rel=0.02
    )
    assert ends[150] == pytest.approx(ends[30], rel=1e-9)


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
def strip() -> Rig:
    lines = np.linspace(0, WIDTH, 61)
    upper = MeshQuad.init_tensor(lines, np.linspace(0, 20, 3))
    lower = MeshQuad.init_tensor(lines, np.array([-10.0, 0.0]))
    return rig(upper, lower, young=(1e8, 1e8), pad=(0.0, WIDTH), floor=-10.0)


def test_a_foot_off_its_middle_crushes_the_edge_of_its_bed(strip: Rig):
    """Pressure linear from p0 to the limit, then even over the length c: force and arm by statics, turn
    (limit - p0)/(bed (B - c)), dent at the edge turn times c.
    """
    least, limit, even = 10.0, 40.0, 12.0
    rising = WIDTH - even
    force = limit * WIDTH - 0.5 * (limit - least) * rising
    moment = 0.5 * (limit - least) * rising * (0.5 * WIDTH - rising / 3.0)
    law = strip.layer(bed=BED)
    free = strip.press(law, (force, 0.0, moment))
    capped = replace(law, limit=limit * strip.points.area)
    found = strip.press(capped, (force, 0.0, moment), start=free.displacements)
    turn = (limit - least) / (BED * rising)
    n = strip.count
    s, dent = strip.points.s, indentation(capped, found.displacements[:n])
    np.testing.assert_allclose(dent, np.maximum(turn * (s - rising), 0.0), atol=2e-3 * turn * even)
    assert found.contact.push.sum() == pytest.approx(force, rel=1e-6)
    assert np.max(found.contact.push / strip.points.area) <= limit * (1 + 1e-9)
    assert np.max(free.contact.push / strip.points.area) > 1.1 * limit


@pytest.fixture(scope="module")
def solved() -> Solved:
    return solve(load("fourteen-mahogany"))


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
