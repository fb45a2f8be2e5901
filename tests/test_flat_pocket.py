"""Flat pocket: one shim under the heel sets the neck's pitch; same plate, interface and bolt code."""

import json
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cases.casefile.errors import CaseError
from cases.offset.build import question_of, string_lines, structure_of
from cases.offset.flat_pocket import ABSENT, action_error, strip_answer, strip_pads
from cases.offset.results import string_pulls
from cases.offset.solve import solve
from fem.geometry.hardware import Bolt
from fem.geometry.mesh import MeshSize
from fem.geometry.pad import Pad, face_of
from fem.joint.shim_layer import layer, taper
from fem.results.checks import Checks, check
from fem.results.reading import string_height
from fem.solve.condensation import condense
from fem.solve.equilibrium import bolt_up
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Offset, Question, find_offset, gains, pair
from materials.errors import InputError
from tests.command import said
from tests.instrument import resolved
from tests.pictures import answer_of, case_of

COARSE = MeshSize(corner=4e-3, far=20e-3, growth=3.0, curve=5e-3)


@cache
def condensed(name: str) -> tuple[Flexibility, Fields]:
    return condense(structure_of(case_of(name)), COARSE)


@cache
def asked(name: str) -> Question:
    return question_of(case_of(name), condensed(name)[0], structure_of(case_of(name)))


@cache
def found(name: str) -> Offset:
    return find_offset(asked(name), upper=0.0)


def wall(question: Question) -> slice:
    """Rows of contact points of the end wall."""
    first = len(question.flexibility.points[0].row_areas)
    return slice(first, first + len(question.flexibility.points[1].row_areas))


def balance(name: str, *, bolts: tuple[Bolt, ...]) -> Checks:
    question, at = asked(name), found(name).pair
    return check(
        question,
        at,
        condensed(name)[1],
        outline=structure_of(case_of(name)).outline,
        strings=string_pulls(string_lines(case_of(name)), question, at.strung),
        bolts=bolts,
    )


@pytest.mark.parametrize("name", ["solid-25", "bass-34", "short-scale"])
def test_everything_balances(name):
    """Seat, wall and (tilted) bolts against the strings; library instruments settle on a taper."""
    checks = balance(name, bolts=structure_of(case_of(name)).bolts)
    assert max(vars(checks).values()) < 1e-8


def test_neglecting_the_tilt_of_a_bolt_breaks_the_balance():
    bolts = structure_of(case_of("short-scale")).bolts
    square = balance("short-scale", bolts=tuple(replace(bolt, angle=0.0) for bolt in bolts))
    assert square.force_balance > 0.1


def test_the_taper_brings_the_saddle_to_its_height():
    """At the taper found, a saddle fixed at the preset height gives the action wanted."""
    question, offset = asked("solid-25"), found("solid-25")
    fixed = replace(question.wanted, height=None, saddle_height=question.target_saddle)
    there = pair(replace(question, wanted=fixed), offset.pair.angles, start=offset.pair)
    height = string_height(question, there.strung, question.wanted.height_x)
    assert height == pytest.approx(question.wanted.height, abs=1e-8)
    assert action_error(question, offset.pair, math.degrees(offset.offset)) == pytest.approx(0.0, abs=1e-5)


def test_a_tenth_of_a_degree_moves_the_action_as_geometry_says():
    """A rigid neck turns about the shim's middle x_p; the saddle stays: the gap at fret 12
    changes by ``angle * x_12 (x_s - x_p) / x_s``.
    """
    question, offset = asked("solid-25"), found("solid-25")
    pivot = question.line.x[question.line.joint - 1] + question.pads[0].pivot
    saddle, x12 = question.strings.saddle, question.line.x[11]
    rigid = math.radians(0.1) * x12 * (saddle - pivot) / saddle * 1e3
    change = action_error(question, offset.pair, math.degrees(offset.offset) + 0.1)
    assert change == pytest.approx(rigid, rel=0.03)


def test_the_neck_turns_with_its_shim():
    """One shim turns the neck by its own angle and leaves the kink alone, but for the wood's compliance. The
    misfit is an angle at the shim: for a nearly rigid heel it falls by one degree a degree.
    """
    gain = gains(asked("solid-25"), found("solid-25").pair)
    assert gain.pitch == pytest.approx((1.0,), abs=0.02)
    assert abs(gain.kink[0]) < 0.02
    assert found("solid-25").transfer == pytest.approx(1.0, abs=0.03)


def test_a_tilted_bolt_presses_the_heel_home():
    """Seated without friction, the wall takes the bolt's tension times the sine of its tilt."""
    question = asked("short-scale")
    law = layer(question.pads, question.flexibility.points, angles=(0.0, 0.0), friction=question.friction)
    push = bolt_up(question.flexibility, law, question.bolting).contact.push
    tilt = math.radians(4.0)
    assert push[wall(question)].sum() == pytest.approx(2200.0 * math.sin(tilt), rel=2e-3)
    assert push[: wall(question).start].sum() == pytest.approx(2200.0 * math.cos(tilt), rel=2e-3)


def test_without_friction_the_wall_takes_the_strings_and_without_a_wall_friction():
    """Without friction and tilt the wall carries the whole tension of the strings; with the wall too far away
    to be reached, the seat's drag does.
    """
    question = replace(asked("solid-25"), friction=(0.0, 0.0))
    strung = pair(question, (0.0, 0.0)).strung
    assert strung.contact.push[wall(question)].sum() == pytest.approx(question.strings.tension, rel=1e-6)
    case = case_of("solid-25").with_values({"joint.end_gap_mm": 1.0})
    question = question_of(case, condensed("solid-25")[0], structure_of(case))
    strung = pair(question, (0.0, 0.0)).strung
    seat = slice(0, len(question.flexibility.points[0].s))
    assert strung.contact.push[wall(question)].sum() == 0.0
    assert strung.contact.shear_force[seat].sum() == pytest.approx(question.strings.tension, rel=1e-6)


def test_an_elongation_row_reads_rigid_motion():
    """The row of a tilted bolt: minus its pull along x and z, its arm times the turn."""
    question = asked("short-scale")
    structure = structure_of(case_of("short-scale"))
    bolt = structure.bolts[0]
    row = question.flexibility.rigid[question.flexibility.at["bolt"][0]]
    along, across = math.sin(bolt.angle), -math.cos(bolt.angle)
    # a positive turn lifts the nut: u_z = -(x - x_corner) at the crossing
    assert row == pytest.approx([-along, -across, across * bolt.position], rel=1e-6, abs=1e-9)
    # a heel bolt pulls the neck towards the block and, tilted, down on its seat
    bolt = replace(bolt, face="heel", angle=math.radians(5.0))
    assert bolt.pull == pytest.approx((math.cos(bolt.angle), -math.sin(bolt.angle)))
    outline = structure_of(case_of("solid-25")).outline
    assert face_of(outline, "end").origin == (outline.tongue_end, -outline.tongue_depth)


PAD = Pad("pocket", "tongue", 0.0, 0.07, 0.05, 0.9e-3, 1e9, 1e8, 1e-12, pivot=0.035)


def test_the_reach_of_a_taper_is_its_thickness():
    """Measured from its middle, a shim reaches by just what it is thicker than its middle."""
    s = np.linspace(0.0, 0.07, 5)
    reach, thickness = taper(PAD, s, 0.005)
    assert reach == pytest.approx(thickness - PAD.middle, abs=1e-15)
    assert reach[0] == pytest.approx(0.005 * 0.035)
    lifted, _ = taper(replace(PAD, lift=2e-4), s, 0.005)
    assert lifted - reach == pytest.approx(2e-4)


@pytest.mark.parametrize("angle", [0.006, -0.006])
def test_a_strip_lies_where_the_taper_would(angle):
    """Strip and bare floor reach as far as the full taper at the strip and at the far end."""
    strip, floor = strip_pads(PAD, taper=angle)
    far = 0.07 if angle > 0.0 else 0.0
    middle = np.array([0.5 * (strip.start + strip.end)])
    assert taper(strip, middle, angle)[0] == pytest.approx(taper(PAD, middle, angle)[0])
    assert taper(floor, np.array([far]), 0.0)[0] == pytest.approx(taper(PAD, np.array([far]), angle)[0])
    assert strip.end - strip.start == pytest.approx(0.012)
    assert floor.end - floor.start == pytest.approx(0.058)


def test_a_strip_lifts_the_last_frets():
    """Over the gap the screws bend the heel: the last frets kick up, the more the tighter the screws."""
    bends = []
    solved = solve(case_of("solid-25"))
    for tension in (300.0, 600.0):
        screws = {f"bolts.{bolt.name}.tension_n": tension for bolt in solved.case.bolts}
        strip = strip_answer(resolved(solved, screws))
        assert strip.at_end == "rear"
        assert 0.2 < strip.gap_mm < strip.thickness_mm
        assert strip.peak_pressure_mpa > 2.0 * strip.full_taper_pressure_mpa
        bends.append(strip.bend_deg)
    assert bends[0] > 0.005
    assert 1.5 < bends[1] / bends[0] < 2.5


def test_a_lighter_set_and_a_taller_bridge_lean_the_neck_the_right_way():
    """A taller bridge asks for a neck that leans back: a more negative taper, by geometry."""
    base, offset = asked("solid-25"), found("solid-25")
    taller = replace(base, target_saddle=base.target_saddle + 1e-3)
    there = find_offset(taller, upper=0.0, start=offset.pair, lower=offset.offset)
    pad = base.pads[0]
    reach = base.strings.saddle - base.line.x[base.line.joint - 1] - pad.pivot
    assert there.offset - offset.offset == pytest.approx(-1e-3 / reach, rel=0.05)


def test_answer_has_no_offset_but_a_taper():
    """Fields of two shims are null; what needs an offset gets one sentence."""
    answer = answer_of("solid-25")
    content = json.loads(json.dumps(answer.to_dict()))
    assert [content[name] for name in ABSENT] == [None] * 11
    assert content["gain"]["kink_per_lower"] is None
    assert content["pocket"]["taper_on_stock_deg"] == pytest.approx(answer.pocket.taper_deg, abs=0.05)
    assert content["shims"][0]["thick_end"] == "towards the bridge"
    with pytest.raises(InputError, match="no preload offset"):
        _ = answer.offset_deg


@pytest.mark.parametrize(
    ("key", "value", "part"),
    [
        ("bolts.front-bass.face", "heel", "no heel face"),
        ("targets.kink_deg", 0.1, "the kink follows"),
        ("tongue.depth_mm", 12.0, "the heel itself"),
        ("block.wall_mm", 30.0, "deep"),
        ("block.length_mm", 72.0, "wall needs 10 mm"),
        ("heel.height_mm", 16.0, "shaft before it"),
        ("joint.kind", "dovetail", "two-shim"),
    ],
)
def test_wrong_pockets_get_one_sentence(key, value, part):
    with pytest.raises(CaseError, match=part):
        case_of("solid-25").with_values({key: value})
    with pytest.raises(CaseError, match="only a flat pocket"):
        case_of("fourteen-mahogany").with_values({"block.wall_mm": 10.0})


def test_the_command_prints_the_taper():
    text = said("offset", "solid-25", "--full")
    assert "TAPER" in text
    assert "offset" not in text.lower()
    assert "largest effects on the taper" in text
