"""Relations independent of the numbers: scaling, doubling, balance, budget, rigid rotations.

On the README's instrument with a coarse mesh. Where a relation holds only for a part of the model, the other
parts are switched off: second order by zero stiffness, friction by a coefficient so high that nothing slips,
changes of contact by tighter bolts.
"""

import math
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from cases.offset.build import string_lines
from cases.offset.results import string_pulls
from cases.offset.woods import wood_of
from fem.geometry.fret_line import FretLine
from fem.joint.shim_layer import traction
from fem.results.budget import flex_budget, kink_row, nut_row
from fem.results.checks import check
from fem.solve import equilibrium, newton
from fem.solve.offset import find_offset, gains, other_state, pair
from tests.instrument import (
    asked_of,
    reading,
    readme_case,
    readme_condensed,
    readme_question,
    readme_structure,
    rod_slack,
    saddle_height,
    scaled,
)

EQUAL = (0.0, 0.0)
STOCK_STEP = math.radians(0.04)


@pytest.fixture
def first_order(monkeypatch):
    """Strings as a dead load: no second-order terms of shaft or string."""
    whole = equilibrium.second_order_stiffness

    def nothing(*arguments):
        rows, stiffness = whole(*arguments)
        return rows, 0.0 * stiffness

    monkeypatch.setattr(equilibrium, "second_order_stiffness", nothing)


def tuned(question, factor):
    """The strings' tension times a factor."""
    return replace(question, strings=replace(question.strings, tension=factor * question.strings.tension))


def bolted_tighter(question, factor):
    tension = factor * question.bolting.bolt_tension
    return replace(question, bolting=replace(question.bolting, bolt_tension=tension))


def sticking(question):
    """Friction too high for any slip."""
    return replace(question, friction=tuple(1e3 for _ in question.friction))


def quiet(question):
    """Rod slack, saddle fixed, nothing slips, nothing opens or closes."""
    return bolted_tighter(sticking(rod_slack(tuned(question, 0.01))), 6.0)


def from_strings_off(question):
    """Nut rise and kink that the strings bring to the locked joint, the bow taken out at the strung fret."""
    at = pair(question, EQUAL)
    off = other_state(question, at, strings=False, rod=0.0)
    assert np.array_equal(off.contact.closed, at.strung.contact.closed)
    displacements = at.strung.displacements - off.displacements
    row = question.line.kink_row(question.heights(at.strung))
    rows = question.flexibility.at
    return float(displacements[rows["nut w"]][0]), float(row @ displacements[rows["crown"]])


@pytest.mark.usefixtures("first_order")
def test_first_order_response_is_proportional_to_the_tension():
    """Rod slack, contact unchanged: tension x 1.1 gives stretch and nut rise x 1.1 to 1e-6."""
    question = quiet(readme_question())
    assert not pair(question, EQUAL).strung.contact.slipping.any()
    before, after = from_strings_off(question), from_strings_off(tuned(question, 1.1))
    assert after[0] / before[0] == pytest.approx(1.1, rel=1e-6)
    assert after[1] / before[1] == pytest.approx(1.1, rel=1e-6)


def test_without_strings_nothing_moves(monkeypatch):
    """Locking the bolts releases only the seating's stabiliser: displacements of tens of nanometres."""

    def moved():
        question = readme_question()
        at = pair(question, EQUAL)
        off = other_state(question, at, strings=False, rod=0.0)
        return float(np.abs(off.displacements - at.bolted.displacements).max())

    usual = moved()
    assert usual < 5e-8
    monkeypatch.setattr(newton, "traction", partial(traction, stabiliser=1e-6))
    assert moved() < 0.015 * usual, "a hundredth of the stabiliser, a hundredth of the movement: nothing else"


def test_all_moduli_and_all_tensions_doubled_move_nothing():
    """Every modulus, string and bolt tension x 2: displacements unchanged to 1e-9, the rod twice as tight."""
    question = readme_question()
    double = tuned(asked_of(scaled(readme_structure(), 2.0)), 2.0)
    np.testing.assert_array_equal(double.bolting.bolt_tension, 2.0 * question.bolting.bolt_tension)
    one, two = pair(question, EQUAL), pair(double, EQUAL)
    for a, b in ((one.bolted, two.bolted), (one.strung, two.strung)):
        assert np.abs(b.displacements - a.displacements).max() < 1e-9 * np.abs(a.displacements).max()
    assert two.strung.rod == pytest.approx(2.0 * one.strung.rod, rel=1e-9)
    assert find_offset(double, upper=0.0).offset == pytest.approx(
        find_offset(question, upper=0.0).offset, rel=1e-8
    )


def neck_with(*, e_along=1.0, e_across=None, g=None):
    """The structure with one modulus of the neck's wood changed, the others held [-, Pa, Pa]."""
    structure = readme_structure()
    wood = structure.neck
    moduli = wood.moduli + (e_along - 1.0) * wood.along
    compliance = np.linalg.inv(moduli)
    section = replace(wood.section, young=e_along * wood.section.young)
    if e_across is not None:
        compliance[1, 1] = 1.0 / e_across
    if g is not None:
        compliance[2, 2] = 1.0 / g
        section = replace(section, shear_xz=g)
    return replace(structure, neck=replace(wood, moduli=np.linalg.inv(compliance), section=section))


def test_stiffer_along_the_grain_bows_less():
    before, after = reading(readme_question()), reading(asked_of(neck_with(e_along=1.1)))
    assert 0.9 < after.slack_relief / before.slack_relief < 0.98
    assert after.nut_rise < before.nut_rise
    assert after.stretch < before.stretch


def test_radial_for_tangential_modulus_alone_then_shear_alone():
    """Quarter to flat sawn in two steps: E_T -> E_R stiffens the heel, G_LT -> G_LR softens this mahogany.

    Each has the sign of its modulus' change; the two together nearly cancel and no direction is asserted.
    """
    wood = wood_of(readme_case(), readme_case().neck)
    quarter = np.linalg.inv(readme_structure().neck.moduli)
    assert 1 / quarter[1, 1] == pytest.approx(wood.e_t, rel=1e-9)
    assert 1 / quarter[2, 2] == pytest.approx(wood.g_lt, rel=1e-9)
    assert wood.e_r > wood.e_t
    assert wood.g_lr < wood.g_lt
    before = reading(readme_question()).stretch
    across = reading(asked_of(neck_with(e_across=wood.e_r))).stretch
    shear = reading(asked_of(neck_with(g=wood.g_lr))).stretch
    assert across < 0.97 * before
    assert shear > 1.03 * before


def test_loose_bolts_open_the_heel_face():
    """At a tenth of the tension the heel face opens at pitch, and the kink grows."""
    question = readme_question()
    tight, loose = (pair(bolted_tighter(question, factor), EQUAL) for factor in (1.0, 0.1))
    heel = slice(len(question.flexibility.points[0].row_areas), None)
    gap = [
        float(at.strung.displacements[question.flexibility.at["opening"]][heel].max())
        for at in (tight, loose)
    ]
    assert loose.bolted.contact.closed[heel].mean() > 0.7, "before the strings it lies on"
    assert loose.strung.contact.closed[heel].mean() < tight.strung.contact.closed[heel].mean() - 0.2
    assert gap[1] > 2.0 * gap[0]
    assert question.kink(loose.strung) > question.kink(tight.strung) + math.radians(0.02)


def test_a_drawn_hump_is_a_negative_kink_and_a_drawn_hollow_a_positive_one():
    """Tongue falling away by 0.1 deg from a straight shaft; its bow, if any, is taken out."""
    x = readme_question().line.x
    line = FretLine(x, 14, np.zeros_like(x))
    slope = math.radians(0.1)
    hump = -slope * np.clip(x - x[13], 0.0, None)
    assert line.kink(hump) == pytest.approx(-slope, rel=1e-9)
    assert line.kink(-hump) == pytest.approx(slope, rel=1e-9)
    assert line.tongue_gap(hump) == pytest.approx(hump[-1], rel=1e-9)
    # the same with the shaft bowed by 0.2 mm as an arc that ends level at the joint, and everything turned
    bowed = hump + 0.2e-3 / line.relief(line.bow())[0] * line.bow() + 0.003 * x
    # the deepest gap stands at a fret, not at the arc's own deepest place
    assert line.kink(bowed) == pytest.approx(-slope, abs=math.radians(0.002))
    straightedge = float(line.straightedge_row() @ bowed)
    assert abs(straightedge + slope) > math.radians(0.05), "what the bow alone shows on a straightedge"


@pytest.mark.usefixtures("first_order")
def test_a_softer_body_leaves_the_offset_alone():
    """First order: the body turns everything together; stiffness x 0.1 moves the offset by under 1e-6."""
    asked = readme_question()
    asked = replace(asked, wanted=replace(asked.wanted, height=None, saddle_height=saddle_height()))
    bodies = [replace(asked, body_stiffness=stiffness) for stiffness in (3000.0, 300.0)]
    offsets = [find_offset(question, upper=0.0).offset for question in bodies]
    assert offsets[1] == pytest.approx(offsets[0], rel=1e-6)
    turn = [asked.line.shaft_slope(question.heights(pair(question, EQUAL).strung)) for question in bodies]
    assert abs(turn[1] - turn[0]) > math.radians(0.1), "the body's turn itself must show"


def test_equal_angles_turn_the_neck_and_leave_the_kink():
    """One stock step on both shims: kink within 1e-4 deg, gains 1 and 0 within half a per cent.

    What is left is the wedges' own squeeze: thicker shim wood gives way more.
    """
    question = readme_question()
    before, after = pair(question, EQUAL), pair(question, (STOCK_STEP, STOCK_STEP))
    assert abs(math.degrees(question.kink(after.strung) - question.kink(before.strung))) < 1e-4
    turn = question.line.shaft_slope(question.heights(before.strung)) - question.line.shaft_slope(
        question.heights(after.strung)
    )
    assert turn == pytest.approx(STOCK_STEP, rel=5e-3)
    both = gains(question, before)
    assert sum(both.pitch) == pytest.approx(1.0, abs=5e-3)
    assert sum(both.kink) == pytest.approx(0.0, abs=5e-3)
    assert 0.2 < both.pitch[0] < 0.8, "each shim has a part in it"
    assert both.kink[1] > 0.2, "a larger lower angle leans the shaft up: the tongue rises against it less"


@pytest.mark.usefixtures("first_order")
def test_incompressible_shims_turn_the_neck_exactly():
    """Then the turn is a rigid motion: gains 1 and 0 to 1e-6, if the strings' load does not turn along. The
    bedding still gives way, the same for every angle.
    """
    pads = tuple(replace(pad, young=1e22, shear=1e22) for pad in readme_structure().pads)
    question = rod_slack(asked_of(replace(readme_structure(), pads=pads)))
    both = gains(question, pair(question, EQUAL))
    assert sum(both.pitch) == pytest.approx(1.0, abs=1e-6)
    assert sum(both.kink) == pytest.approx(0.0, abs=1e-6)


def checked(question, at, *, tension=1.0, nut=0.0):
    """The balance, with every string's tension times a factor and its nut height raised [m]."""
    pulls = string_pulls(string_lines(readme_case()), question, at.strung)
    structure = readme_structure()
    return check(
        question,
        at,
        readme_condensed()[1],
        outline=structure.outline,
        strings=tuple(
            replace(one, tension=tension * one.tension, nut_height=one.nut_height + nut) for one in pulls
        ),
        bolts=structure.bolts,
    )


@pytest.mark.parametrize("angles", [EQUAL, (0.0, math.radians(-0.12)), (math.radians(0.2), 0.0)])
def test_everything_balances(angles):
    """Shims, bolts and block edges against the strings, worked out one by one from their own heights."""
    found = checked(readme_question(), pair(readme_question(), angles))
    assert max(vars(found).values()) < 1e-8


@pytest.mark.parametrize(("wrong", "which"), [({"tension": 1.0001}, "force"), ({"nut": 1e-5}, "moment")])
def test_a_wrong_load_fails_the_balance(wrong, which):
    """A string a hundredth of a per cent tighter, or a nut 0.01 mm higher, is noticed."""
    found = checked(readme_question(), pair(readme_question(), EQUAL), **wrong)
    assert getattr(found, f"{which}_balance") > 1e-5


@pytest.mark.parametrize("body", [None, 800.0])
@pytest.mark.parametrize("quantity", ["nut", "kink"])
def test_the_budget_adds_up(quantity, body):
    """Shares are worked out part by part and add to the change read on the frets, to 1e-8, unnormalised."""
    question = replace(readme_question(), body_stiffness=body)
    at = pair(question, EQUAL)
    row = nut_row(question) if quantity == "nut" else kink_row(question, at)
    found = flex_budget(question, readme_condensed()[1], at, row)
    assert found.contributions.sum() == pytest.approx(found.total, rel=1e-8)
    assert ("body" in found.rows) == (body is not None)
    # each row stands for itself: none is what the others leave over
    assert np.count_nonzero(np.abs(list(found.by_part.values())) > 1e-4 * abs(found.total)) >= 7
