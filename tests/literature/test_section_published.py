"""Cross-sections against closed forms beyond those of `tests.evidence_rows`.

Shear coefficient of the circle 6/7 without Poisson's contraction: Cowper, Journal of Applied Mechanics 33
(1966) 335-340, with nu = 0 (from memory).
"""

import math

import numpy as np
import pytest

from fem.members.section import SectionMaterial, SectionShape, section_stiffness

ONE = SectionMaterial(young=2.0, shear_xy=1.0, shear_xz=1.0)
FLAT = math.inf


def slab(width, depth, *, board=0.0):
    """Stand a rectangle of neck wood under a rectangular board."""
    return SectionShape(
        width=width, neck_depth=depth, profile_exponent=math.inf, board_thickness=board, board_radius=FLAT
    )


def test_circle():
    # A half-round neck under a board cut to the same radius. Shear 6/7: Cowper (1966) with nu = 0. The mesh
    # is at its worst here (the board's edge closes to a point), hence 0.2 %; the error falls with
    # refinement.
    disc = SectionShape(2.0, 1.0, 2.0, 1.0, 1.0)
    errors = []
    for refinement in (1, 2):
        result = section_stiffness(disc, neck=ONE, board=ONE, refinement=refinement)
        assert result.torsion_stiffness == pytest.approx(math.pi / 2, rel=2e-3 / refinement)
        assert result.shear_stiffness == pytest.approx(6.0 / 7.0 * math.pi, rel=2e-3 / refinement)
        errors.append(abs(result.torsion_stiffness / (math.pi / 2) - 1.0))
    assert errors[1] < 0.6 * errors[0]
    assert result.area == pytest.approx(math.pi, rel=1e-5)
    assert result.ei == pytest.approx(2.0 * math.pi / 4, rel=1e-5)


# Half-ellipse neck under a flat board of 6.35 mm; no source: an independent hand calculation of this project.
BY_HAND = [
    (16e9, 10.3e9, 342, 551, 8.4, 9.4),
    (12e9, 10.3e9, 302, 487, 9.1, 10.1),
    (16e9, 12.6e9, 383, 618, 8.9, 9.9),
    (12e9, 9.0e9, 280, 451, 8.8, 9.8),
]


@pytest.mark.parametrize(("board", "neck", "at_first", "at_tenth", "axis_first", "axis_tenth"), BY_HAND)
def test_composite_neck_by_hand(board, neck, at_first, at_tenth, axis_first, axis_tenth):
    thickness = 6.35e-3
    sizes = ((0.046, 0.0215, at_first, axis_first), (0.054, 0.024, at_tenth, axis_tenth))
    for width, overall, stiffness, axis in sizes:
        shape = SectionShape(width, overall - thickness, 2.0, thickness, FLAT)
        woods = {
            name: SectionMaterial(young, young / 12, young / 15)
            for name, young in (("neck", neck), ("board", board))
        }
        result = section_stiffness(shape, **woods, torsion=False)
        assert result.ei_centroid == pytest.approx(stiffness, abs=0.55)
        assert (thickness - result.neutral_axis) * 1e3 == pytest.approx(axis, abs=0.055)


def test_torsion_of_a_rectangle_with_two_shear_moduli():
    # Saint-Venant with G_xy and G_xz apart: stretching y by sqrt(G_xz/G_xy) turns it into an isotropic
    # rectangle (Lekhnitskii, Theory of Elasticity of an Anisotropic Body; from memory). The series, 60 terms.
    width, depth, g_xy, g_xz = 0.05, 0.02, 0.9, 0.6
    odd = np.arange(1, 121, 2)
    ratio = width / depth * math.sqrt(g_xz / g_xy)
    # J of b x t: t^3 b/3 (1 - 192 t/(pi^5 b) sum tanh(k pi b/(2 t))/k^5), b/t scaled, times G_xy b t^3.
    series = 1.0 - 192.0 / (math.pi**5 * ratio) * np.sum(np.tanh(odd * math.pi * ratio / 2.0) / odd**5)
    wood = SectionMaterial(young=1.0, shear_xy=g_xy, shear_xz=g_xz)
    result = section_stiffness(slab(width, depth), neck=wood, board=wood)
    assert result.torsion_stiffness == pytest.approx(g_xy * width * depth**3 / 3.0 * series, rel=1e-4)
