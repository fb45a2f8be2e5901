"""Strain across a wide block, held in part: the closed form against its limits and a solid strip."""

import numpy as np
import pytest

from fem.members.half_plane import HalfPlane, half_plane
from fem.members.held_strain import block_moduli, held_moduli, in_shelf, under_moment
from materials.orientation import block_compliance
from materials.wood import wood
from tests.reference.instruments import instrument

WOOD = block_compliance(wood("mahogany-honduran"), grain="vertical")


def isotropic(nu: float) -> HalfPlane:
    """Plane strain, E = 1."""
    flat, between = 1.0 - nu**2, -nu * (1.0 + nu)
    return HalfPlane(flat, flat, between, 2.0 * (1.0 + nu))


@pytest.mark.parametrize("half", [0.2, 1.0, 3.0])
def test_an_isotropic_strip_is_the_textbooks(half: float):
    """A strip pressed in waves on both faces: mean over the width of ``sigma_y`` per its value there, from
    L. N. G. Filon's stress function (S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, 3rd ed. 1970,
    article 24, from memory): ``2 sinh^2 a / (a (sinh a cosh a + a))``. 1e-6: the roots are set apart.
    """
    exact = 2.0 * np.sinh(half) ** 2 / (half * (np.sinh(half) * np.cosh(half) + half))
    assert float(isotropic(0.3).reached(np.array(half))) == pytest.approx(exact, rel=1e-6)


def test_long_waves_hold_nothing_and_short_ones_everything():
    plane = half_plane(WOOD, into=1, along=2)
    assert float(plane.reached(np.array(1e-3))) == pytest.approx(1.0, abs=1e-5)
    assert float(plane.reached(np.array(1e3))) < 0.005
    assert under_moment(plane, length=10.0, width=0.08) < 0.001
    assert under_moment(plane, length=0.001, width=0.08) > 0.9
    assert in_shelf(plane, length=0.05, width=0.08, clamped=True) > in_shelf(
        plane, length=0.05, width=0.08, clamped=False
    )


def test_moduli_run_from_plane_stress_to_plane_strain():
    inside = (0, 2, 4)
    assert held_moduli(WOOD, 0.0) == pytest.approx(np.linalg.inv(WOOD[np.ix_(inside, inside)]))
    assert held_moduli(WOOD, 1.0) == pytest.approx(np.linalg.inv(WOOD)[np.ix_(inside, inside)])


def test_the_shelf_is_held_more_than_the_stem():
    structure = instrument("fourteen", "quarter").structure
    edge = structure.outline.joint + structure.block.stem
    stem, shelf = block_moduli(structure, np.array([edge - 0.01, edge + 0.01]))
    plain = held_moduli(WOOD, 0.0)
    assert plain[0, 0] < stem[0, 0] < shelf[0, 0] < held_moduli(WOOD, 1.0)[0, 0]
