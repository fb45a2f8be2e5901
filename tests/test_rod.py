"""The rod: self-equilibrated to rounding, right in closed form, and indifferent to where the plate begins."""

from dataclasses import replace

import numpy as np
import pytest

from fem.geometry.hardware import Rod
from fem.members.beam import beam
from fem.members.rod import setting_row
from fem.solve.condensation import neck_rigid_modes
from fem.solve.offset import other_state, pair
from tests.cantilever import EA, EI, LENGTH, STIFF_SHEAR, clamped, uniform_stiffness
from tests.instrument import asked_of, reading, readme_condensed, readme_question, readme_structure

FIRST, LAST = 0.03, 0.33
ROUNDING = 1e-10  # rad of 1e-3: a shear stiffness of 1e11 N costs that many digits


def line_of_rod():
    return beam(np.array([0.0, FIRST, LAST, LENGTH]), longest=0.02)


def deflected(rod, *, axis=0.0, kga=STIFF_SHEAR):
    """Beam and its movements under a unit setting, clamped at the nut, neutral axis at `axis`."""
    line = line_of_rod()
    row, beyond = setting_row(rod, line, None)
    assert beyond is None
    matrix = uniform_stiffness(line, static=EA * axis, bending=EI + EA * axis**2, kga=kga)
    return line, clamped(line, matrix, -row, at=0.0)


STRAIGHT = Rod(first=FIRST, last=LAST, depth_ends=0.009, depth_middle=0.009, height=0.006)
CURVED = replace(STRAIGHT, depth_ends=0.005, depth_middle=0.011)
COUPLE = replace(STRAIGHT, arm=0.008)


@pytest.mark.parametrize("arm", [None, 0.008])
@pytest.mark.parametrize("shift", [0.0, 0.025])
def test_no_resultant_over_beam_and_plate(arm, shift):
    """A unit setting does no work on rigid motions, on the beam alone or past the tie into the plate."""
    structure = readme_structure()
    rod = replace(structure.rod, arm=arm, last=structure.rod.last + shift)
    body = readme_condensed()[1].bodies
    on_beam, on_plate = setting_row(rod, body.line, body.neck)
    assert (on_plate is not None) == (shift > 0)
    row = np.zeros(body.size)
    row[: body.line.size] = on_beam
    if on_plate is not None:
        row[body.line.size : body.line.size + 2 * body.neck.size] = on_plate.toarray().ravel()
    assert np.abs(row).max() > 0.1
    assert np.abs(row @ neck_rigid_modes(structure, body)).max() < 1e-12


@pytest.mark.parametrize("axis", [0.0, 0.004, -0.009])
@pytest.mark.parametrize("rod", [STRAIGHT, COUPLE])
def test_a_straight_rod_bends_at_constant_curvature(rod, axis):
    """One way at depth d: N = -1 and curvature -(d + z_n)/EI, back-bow below the neutral axis; a couple C
    bends back by C/EI wherever that axis is.
    """
    line, displacements = deflected(rod, axis=axis)
    inside = np.clip(line.x - FIRST, 0.0, LAST - FIRST)
    pull, moment = (1.0, 0.009 + axis) if rod.arm is None else (0.0, 1.0)
    theta = -moment * inside / EI
    np.testing.assert_allclose(displacements[line.dof["t"]], theta, atol=ROUNDING)
    np.testing.assert_allclose(
        displacements[line.dof["u"]], -pull * inside / EA + axis * theta, atol=ROUNDING
    )


def test_the_slope_of_the_rod_is_the_slope_of_its_height():
    x = np.linspace(FIRST, LAST, 7)[1:-1]
    by_difference = (CURVED.z(x + 1e-6) - CURVED.z(x - 1e-6)) / 2e-6
    np.testing.assert_allclose(CURVED.slope(x), by_difference, atol=1e-8)


def test_a_curved_rod_shears_the_neck_by_its_slope():
    """The rod's pull has the upward part -P dz/dx on the section it leaves: w' - theta = -(dz/dx)/kGA."""
    kga = 2e4  # soft, so that the shear shows beside the bending
    line, stiff = deflected(CURVED)
    _, soft = deflected(CURVED, kga=kga)
    w, inside = line.dof["w"], np.clip(line.x, FIRST, LAST)
    risen = (soft - stiff)[w] + (CURVED.z(inside) - CURVED.z(np.array(FIRST))) / kga
    second_order = (4 * 0.006 / (LAST - FIRST)) ** 2
    assert np.abs(risen).max() < second_order * 0.006 / kga


def test_moving_the_tie_past_an_anchor_changes_relief_by_under_a_hundredth():
    """The anchor's pull is a node's on the beam, a footprint's in the plate."""
    structure = readme_structure()
    short = replace(structure, rod=replace(structure.rod, last=structure.outline.heel_start - 0.012))
    base = reading(asked_of(short))
    moved = reading(asked_of(short.with_tie(structure.outline.heel_start - 0.018)))
    for read in ("slack_relief", "rod", "nut_rise"):
        assert getattr(moved, read) == pytest.approx(getattr(base, read), rel=1e-2)


def test_the_rod_found_brings_the_relief_asked_for_and_a_tighter_one_takes_it_out():
    question = readme_question()
    at = pair(question, (0.0, 0.0))
    states = [other_state(question, at, strings=True, rod=part * at.strung.rod) for part in (0.0, 1.0, 1.5)]
    relief = [question.line.relief(question.heights(state))[0] for state in (*states, at.strung)]
    assert np.all(np.diff(relief[:3]) < 0)
    assert relief[1] == pytest.approx(question.wanted.relief, abs=1e-9)
    assert relief[3] == pytest.approx(question.wanted.relief, abs=1e-12)
