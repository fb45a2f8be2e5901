"""The shaft's beam against closed forms of strength of materials, and the string's second-order effect."""

import math

import numpy as np
import pytest

from fem.errors import ModelError
from fem.geometry.outline import merged
from fem.members.beam import beam, line_stretch
from fem.solve.equilibrium import Strings
from tests.cantilever import EA, EI, LENGTH, clamped, lifted_by_string, strung, uniform_stiffness

KGA = 5e5
AXIS = 0.004  # height of the neutral axis over z = 0


@pytest.mark.parametrize("cells", [1, 3])
@pytest.mark.parametrize("axis", [-AXIS, 0.0, AXIS])
def test_flexibility_of_the_free_end(axis, cells):
    """u, w, theta at the free end x = 0, clamped at LENGTH, under F_x, F_z, M: the moment M + z_n F_x bends
    about the neutral axis, the z = 0 axis stretches by z_n theta, and P L/kGA is the part of shear.
    """
    line = beam(np.array([0.0, LENGTH]), longest=LENGTH / cells)
    matrix = uniform_stiffness(line, static=EA * axis, bending=EI + EA * axis**2, kga=KGA)
    end = [line.at(name, 0.0) for name in ("u", "w", "t")]
    found = clamped(line, matrix, np.eye(line.size)[:, end], at=LENGTH)[end]
    turn, sag = LENGTH / EI, -(LENGTH**2) / (2 * EI)
    exact = np.array(
        [
            [LENGTH / EA + axis**2 * turn, axis * sag, axis * turn],
            [axis * sag, LENGTH**3 / (3 * EI) + LENGTH / KGA, sag],
            [axis * turn, sag, turn],
        ]
    )
    np.testing.assert_allclose(found, exact, rtol=1e-9, atol=1e-15)


def first_order(tension, *, nut, saddle_height, saddle):
    """Lift by the same loads on the undeformed beam: moment T h and rise T (z_s - h)/X at the nut."""
    upward = tension * (saddle_height - nut) / saddle
    return tension * nut * LENGTH**2 / (2 * EI) + upward * LENGTH**3 / (3 * EI)


def lift(tension, *, frets=40, **where):
    """Return the nut's lift by the program's search."""
    strings = Strings(tension, where["nut"], where["saddle"])
    state, flexibility, _ = strung(strings, saddle_height=where["saddle_height"], frets=frets)
    return float(state.displacements[flexibility.at["nut w"]][0])


@pytest.mark.parametrize("tension", [300.0, 1200.0])
@pytest.mark.parametrize(
    ("nut", "saddle_height", "saddle"), [(0.008, 0.017, 0.651), (0.010, 0.0, 0.5), (0.008, 0.008, 1e9)]
)
def test_string_to_a_fixed_saddle(tension, nut, saddle_height, saddle):
    """Forty chords instead of the curve are within 1/40^2 of an effect of a tenth; fourteen, as on a neck,
    leave under 1 % of it.
    """
    where = {"nut": nut, "saddle_height": saddle_height, "saddle": saddle}
    exact, first = lifted_by_string(tension, **where), first_order(tension, **where)
    assert lift(tension, **where) == pytest.approx(exact, rel=2e-4)
    assert abs(exact / first - 1) > 5e-3, "the second order must show"
    assert abs(lift(tension, frets=14, **where) - exact) < 0.01 * abs(exact - first)


def test_the_saddle_is_found_for_the_height_of_the_strung_line():
    """The final line, from the displaced nut to the saddle, stands over the displaced board as asked."""
    strings = Strings(730.0, 0.008, 0.651)
    state, flexibility, line = strung(strings, height=0.009)
    x, lift_of_nut = float(line.x[20]), float(state.displacements[flexibility.at["nut w"]][0])
    nut = strings.nut_height + lift_of_nut
    string = nut + (state.saddle_height - nut) * x / strings.saddle
    assert string - state.displacements[flexibility.at["crown"]][20] == pytest.approx(0.009, abs=1e-12)
    again, _, _ = strung(strings, saddle_height=state.saddle_height)
    np.testing.assert_allclose(again.displacements, state.displacements, atol=1e-12)


def test_stretch_of_a_line_vanishes_on_rigid_motions_and_reads_strain():
    line = beam(np.array([0.0, 0.05, 0.3, LENGTH]), longest=0.1)
    row = line_stretch(
        line, z=lambda x: 0.02 * x - 0.01, slope=lambda x: np.full_like(x, 0.02), first=0.05, last=0.3
    )
    turn, pull = np.zeros(line.size), np.zeros(line.size)
    turn[line.dof["w"]], turn[line.dof["t"]] = line.x, 1.0
    turn[line.basis.dofs.interior_dofs[3]] = 1.0
    pull[line.dof["u"]] = line.x
    pull[line.basis.dofs.interior_dofs[0]] = 0.5 * (line.x[1:] + line.x[:-1])
    shift = np.zeros(line.size)
    shift[line.dof["u"]] = shift[line.basis.dofs.interior_dofs[0]] = 1.0
    assert abs(row @ turn) < 1e-14
    assert abs(row @ shift) < 1e-14
    assert row @ pull == pytest.approx(0.25 / math.sqrt(1 + 0.02**2), rel=1e-12)


def test_a_place_without_a_node_is_named():
    with pytest.raises(ModelError, match=r"no node at x = 123\.000 mm.*Put the position"):
        beam(np.array([0.0, 0.3])).at("w", 0.123)


def test_breaks_that_almost_coincide_leave_no_sliver():
    np.testing.assert_array_equal(merged(np.array([0.2, 0.1, 0.1 + 5e-8, 0.0])), [0.0, 0.1, 0.2])
