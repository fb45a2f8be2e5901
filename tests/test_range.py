"""Further instruments and outside checks; their inputs stand in docs/range-checks-inputs.md."""

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from cases import load
from cases.casefile.case import resolve
from cases.casefile.errors import CaseError
from cases.offset.build import MM, preset_saddle_height, question_of, structure_of
from cases.offset.woods import woods_of
from cases.studies.aging import readjusted, set_up, untouched
from cases.studies.drift import crept
from fem.geometry.mesh import MeshSize
from fem.members.shaft import shaft_constants
from fem.solve.assembly import neck_width_at
from fem.solve.condensation import condense
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair
from materials.creep import CREEP_BAND, kelvin_chain
from materials.metal import metal
from materials.moisture import swelling
from materials.wood import wood

COARSE = MeshSize(corner=5e-3, far=20e-3, growth=3.0, curve=5e-3)
INPUTS = (Path(__file__).parent.parent / "docs" / "range-checks-inputs.md").read_text(encoding="utf-8")


def asked(case) -> Question:
    structure = structure_of(case)
    return question_of(case, condense(structure, COARSE)[0], structure)


@cache
def found_in(name: str) -> tuple[Question, Offset]:
    """The question of a library case and its solution."""
    question = asked(load(name))
    return question, find_offset(question, upper=0.0)


def loose_bow(question: Question, at: Pair) -> float:
    """Relief at pitch with the rod slack [m]."""
    state = other_state(question, at, strings=True, rod=0.0)
    return question.line.relief(question.heights(state))[0]


def bow(question: Question, state, *, first: int, last: int) -> float:
    """Largest gap under a straightedge on two frets [mm], negative for a back-bow."""
    x, z = question.line.x[first - 1 : last], question.heights(state)[first - 1 : last]
    gaps = z[0] + (z[-1] - z[0]) * (x - x[0]) / (x[-1] - x[0]) - z
    return float(gaps[np.argmax(np.abs(gaps))]) / MM


def test_a_bass_rod_bends_its_neck_as_measured():
    """Measured +0.36 and -0.60 mm round a loose 0.36 mm: same signs, within a factor 2."""
    assert "+0.71 mm" in INPUTS
    rod = {"kind": "two-way", "depth_ends_mm": 6.5, "depth_middle_mm": 6.5, "slot_depth_mm": 11.0}
    case = load("bass-34").with_values({f"rod.{key}": value for key, value in rod.items()})
    question = asked(case)
    at = find_offset(question, upper=0.0).pair
    tension = case.rod.limit_torque_n_m / (case.rod.nut_factor * case.rod.thread_diameter_mm * MM)
    couple = tension * case.rod.arm_mm * MM
    states = [other_state(question, at, strings=True, rod=setting) for setting in (0.0, -couple, couple)]
    loose, forward, back = (bow(question, state, first=3, last=14) for state in states)
    assert loose > 0.0
    assert 0.36 / 2 < forward - loose < 0.36 * 2
    assert 0.60 / 2 < loose - back < 0.60 * 2


def test_stringing_uses_up_the_builders_clearance():
    """0.4 to 1.6 mm at the bridge, straightedge on frets 1 to 14, rod slack."""
    question, found = found_in("fourteen-mahogany")
    saddle = question.strings.saddle

    def carried(state) -> float:
        z, x = question.heights(state), question.line.x
        last = question.line.joint - 1
        return float(z[0] + (z[last] - z[0]) * (saddle - x[0]) / (x[last] - x[0])) / MM

    slack, strung = (other_state(question, found.pair, strings=strings, rod=0.0) for strings in (False, True))
    assert 0.4 < carried(slack) - carried(strung) < 1.6


def test_a_neck_due_for_a_reset():
    """Plane 3 mm low and almost 4 mm action after 45 years: geometry closes, creep explains a part."""
    case = load("fourteen-mahogany")
    start = set_up(case)
    share = start.question.line.x[11] / start.question.strings.saddle
    assert 2.4 + 3.0 * share == pytest.approx(3.9, rel=0.05)
    cuts = []
    for k_def in CREEP_BAND:
        phi = kelvin_chain(k_def=k_def).at(45.0)
        cuts.append(-readjusted(crept(start, phi), start.kept).saddle_rise / MM)
    assert 0.3 < cuts[1] < 3.0
    assert cuts[0] < cuts[1] < cuts[2] < 3.0


@pytest.mark.parametrize(
    ("name", "radial", "tangential"),
    [("maple-sugar", 0.00165, 0.00353), ("alder-red", 0.00151, 0.00256), ("cherry-black", 0.00126, 0.00248)],
)
def test_movement_as_the_handbook_has_it(name, radial, tangential):
    """Dimensional change coefficients for 6 to 14 %: Wood Handbook FPL-GTR-190, Table 13-5."""
    cut = wood(name)
    for total, coefficient in ((cut.shrink_r, radial), (cut.shrink_t, tangential)):
        per_percent = swelling(total, from_moisture=6.0, to_moisture=14.0) / 8.0
        assert per_percent == pytest.approx(coefficient, rel=0.06)


def test_a_nylon_string_beside_a_steel_string():
    """Massive neck, low tension: little flex (common practice, no source).

    Its saddle is lower over the board's plane than a parallel neck asks for, a steel-string's higher.
    """
    differences, bows = [], []
    for name in ("nylon-twelve", "fourteen-mahogany"):
        question, found = found_in(name)
        needed = pair(question, (0.0, 0.0)).strung.saddle_height
        differences.append(preset_saddle_height(load(name)) - needed)
        bows.append(loose_bow(question, found.pair))
    assert differences[0] < 0.0 < differences[1]
    assert bows[0] < 0.6 * bows[1]


HOLLOW = {"name": "slot", "from_mm": 10.0, "to_mm": 60.0, "top_mm": 6.0, "bottom_mm": 12.0, "width_mm": 20.0}


def with_list(table: str, items: list[dict]):
    """The mahogany case with a list of its own."""
    return resolve({**load("fourteen-mahogany")._raw, table: items}, where="test")


def test_a_hollow_takes_the_tongue_s_own_share():
    """Half the tongue's depth gone over 20 mm of its width: that area and second moment are lost."""
    structure = structure_of(with_list("hollows", [HOLLOW]))
    plain = structure_of(load("fourteen-mahogany"))
    x = np.full(2001, structure.outline.joint + 0.03)
    z = np.linspace(-0.012, 0.0, 2001)
    lost = neck_width_at(plain, x, z) - neck_width_at(structure, x, z)
    area = np.trapezoid(lost, z)
    assert area == pytest.approx(0.020 * 0.006, rel=2e-3)
    moment = np.trapezoid(lost * z**2, z)
    assert moment == pytest.approx(0.020 * (0.012**3 - 0.006**3) / 3.0, rel=2e-3)
    outside = np.full_like(z, structure.outline.joint + 0.07)
    assert np.all(neck_width_at(structure, outside, z) == neck_width_at(plain, outside, z))


def test_a_hollow_under_the_tongue_softens_it():
    """Less wood under the board: the tongue resists less, so more of a taper reaches the fretboard."""
    _, plain = found_in("fourteen-mahogany")
    hollow = find_offset(asked(with_list("hollows", [HOLLOW])), upper=0.0)
    assert hollow.transfer != pytest.approx(plain.transfer, abs=1e-5)
    small = HOLLOW | {"width_mm": 1.0, "top_mm": 10.9, "bottom_mm": 12.0}
    least = find_offset(asked(with_list("hollows", [small])), upper=0.0)
    assert abs(least.offset - plain.offset) < 0.1 * abs(hollow.offset - plain.offset) + 1e-5


def test_a_hollow_must_lie_in_the_tongue():
    for change, words in (({"to_mm": 140.0}, "tongue ends there"), ({"width_mm": 60.0}, "on either side")):
        with pytest.raises(CaseError, match=words):
            with_list("hollows", [HOLLOW | change])


BARS = [{"name": side, "y_mm": y, "depth_mm": 4.0} for side, y in (("bass", -12.0), ("treble", 12.0))]


def whole_section(case) -> np.ndarray:
    """EA, ES and EI of the shaft 150 mm from the nut."""
    shaft = shaft_constants(structure_of(case))
    materials = [name for name in ("neck", "board", "bars") if shaft.has(name)]
    stretch = (shaft.stretch(np.array([0.15]), material=name) for name in materials)
    return np.sum([[float(value[0]) for value in one] for one in stretch], axis=0)


def test_carbon_bars_add_their_own_stiffness():
    """A pair of 3.2 x 6.4 mm bars, 4 mm deep: EA, ES, EI rise by the bars less the wood they replace."""
    barred = with_list("bars", BARS)
    change = whole_section(barred) - whole_section(load("fourteen-mahogany"))
    extra = metal("carbon-bar").young - woods_of(load("fourteen-mahogany")).neck.e_l
    area, depth, height = 2 * 3.2e-3 * 6.4e-3, 4.0e-3, 6.4e-3
    assert change[0] == pytest.approx(extra * area, rel=5e-3)
    assert change[1] == pytest.approx(-extra * area * depth, rel=5e-3)
    assert change[2] == pytest.approx(extra * area * (depth**2 + height**2 / 12.0), rel=5e-3)


def test_carbon_bars_take_their_share_of_the_bow():
    """Slack bow with and without bars goes as the bending stiffness about the neutral axis, upside down; what
    the joint adds leaves a few per cent.
    """
    barred = with_list("bars", BARS)
    questions = (found_in("fourteen-mahogany")[0], asked(barred))
    bows = [loose_bow(question, pair(question, (0.0, 0.0))) for question in questions]
    sections = (whole_section(case) for case in (load("fourteen-mahogany"), barred))
    stiff = [ei - es**2 / ea for ea, es, ei in sections]
    assert bows[1] / bows[0] == pytest.approx(stiff[0] / stiff[1], rel=0.05)
    assert bows[1] < 0.97 * bows[0]


def test_runout_softens_the_neck_as_the_tensor_says():
    """5 degrees of runout, Honduran mahogany quarter sawn: E falls to 0.939, so the slack bow grows alike."""
    case = load("nylon-twelve").with_values({"neck.wood": "mahogany-honduran"})
    bows = [read_bow(asked(case.with_values({"neck.grain_runout_deg": runout}))) for runout in (0.0, 5.0)]
    assert 1.0 < bows[1] / bows[0] < 1.0 / 0.939


def read_bow(question: Question) -> float:
    """Relief at pitch of an instrument without a rod [m]."""
    return question.line.relief(question.heights(pair(question, (0.0, 0.0)).strung))[0]


def test_rings_change_shear_and_heel_but_not_the_first_order_bow():
    """E_L stays: the bow moves by shear alone, a few per cent; flat and quarter bound rift."""
    quarter, rift, flat = (
        read_bow(asked(load("nylon-twelve").with_values({"neck.ring_orientation": rings})))
        for rings in ("quarter", "rift", "flat")
    )
    assert quarter != pytest.approx(flat, rel=1e-6)
    assert flat == pytest.approx(quarter, rel=0.05)
    assert 0.98 * min(quarter, flat) < rift < 1.02 * max(quarter, flat)


@pytest.mark.parametrize("name", ["solid-25", "bass-34", "short-scale", "nylon-twelve"])
def test_two_lives_of_each_instrument(name):
    """Every further instrument ages: relief grows, bolts relax, none pushes."""
    start = set_up(load(name))
    left = untouched(start, crept(start, 0.5), start.kept)
    fresh = start.question.line.relief(start.question.heights(start.offset.pair.strung))[0]
    assert left.relief > fresh
    assert 0.0 <= left.bolt_shares.min() < 1.0
    assert math.isfinite(left.action_change)
    assert left.action_change > 0.0
