"""Rotation of the wood's tensor against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from materials import orientation
from materials.wood import wood, wood_names

NAMES = st.sampled_from(wood_names())
SOME = pytest.mark.parametrize("name", ["mahogany-honduran", "maple-sugar", "spruce-sitka", "walnut-black"])


@SOME
@pytest.mark.parametrize("degrees", [2, 5, 10, 15, -5])
@pytest.mark.parametrize(("ring", "plane"), [("quarter", "t"), ("flat", "r")])
def test_runout_follows_the_off_axis_formula(name, degrees, ring, plane):
    # 1/E = c^4/E_L + s^4/E_2 + c^2 s^2 (1/G_L2 - 2 nu_L2/E_L): standard, e.g. Mascia and Lahr 2006.
    timber = wood(name)
    e_2, g, nu = (getattr(timber, stem + plane) for stem in ("e_", "g_l", "nu_l"))
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    expected = c**4 / timber.e_l + s**4 / e_2 + c**2 * s**2 * (1 / g - 2 * nu / timber.e_l)
    stiffness = orientation.plane_stress(
        timber, depth_axis=orientation.ring_angle(ring), runout=math.radians(degrees)
    )
    assert np.linalg.inv(stiffness)[0, 0] == pytest.approx(expected, rel=1e-10)


@SOME
def test_sawn_directions_take_the_right_moduli(name):
    # Quarter sawn: depth tangential, shear of vertical bending G_LT; flat sawn: depth radial, G_LR
    # (Wood Handbook 1999 ch. 8: vertical faces that are flat-grained take G_LT).
    timber = wood(name)
    quarter = np.linalg.inv(orientation.plane_stress(timber, depth_axis=orientation.ring_angle("quarter")))
    flat = np.linalg.inv(orientation.plane_stress(timber, depth_axis=orientation.ring_angle("flat")))
    np.testing.assert_allclose(1 / np.diag(quarter), [timber.e_l, timber.e_t, timber.g_lt], rtol=1e-10)
    np.testing.assert_allclose(1 / np.diag(flat), [timber.e_l, timber.e_r, timber.g_lr], rtol=1e-10)
    assert orientation.section_moduli(timber, 0.0) == pytest.approx((timber.e_l, timber.g_lr, timber.g_lt))
    assert orientation.section_moduli(timber, math.pi / 2) == pytest.approx(
        (timber.e_l, timber.g_lt, timber.g_lr)
    )
    e_x, g_xy, g_xz = orientation.section_moduli(timber, math.pi / 4)
    assert e_x == pytest.approx(timber.e_l)
    assert g_xy == pytest.approx(g_xz)
    assert g_xz == pytest.approx(2 / (1 / timber.g_lr + 1 / timber.g_lt))


@SOME
def test_block_takes_the_grain_where_it_is_put(name):
    timber = wood(name)
    quarter, flat = orientation.RING_ANGLES["quarter"], orientation.RING_ANGLES["flat"]
    expected = {
        ("vertical", quarter): (timber.e_t, timber.e_l, timber.g_lt),
        ("vertical", flat): (timber.e_r, timber.e_l, timber.g_lr),
        ("lengthwise", quarter): (timber.e_l, timber.e_t, timber.g_lt),
        ("lengthwise", flat): (timber.e_l, timber.e_r, timber.g_lr),
        ("across", quarter): (timber.e_r, timber.e_t, timber.g_rt),
        ("across", flat): (timber.e_t, timber.e_r, timber.g_rt),
    }
    for (grain, ring), moduli in expected.items():
        stiffness = orientation.block_plane_stress(timber, grain=grain, ring_angle=ring)
        np.testing.assert_allclose(1 / np.diag(np.linalg.inv(stiffness)), moduli, rtol=1e-10)


@settings(max_examples=60, deadline=None)
@given(name=NAMES, ring=st.floats(-math.pi, math.pi), runout=st.floats(-0.5, 0.5))
def test_stiffness_stays_symmetric_and_positive_definite(name, ring, runout):
    stiffness = orientation.plane_stress(wood(name), depth_axis=ring, runout=runout)
    scale = np.sqrt(np.diag(stiffness))
    np.testing.assert_allclose(stiffness, stiffness.T, atol=1e-9 * scale.max() ** 2)
    assert np.linalg.eigvalsh(stiffness / np.outer(scale, scale)).min() > 0


@settings(max_examples=30, deadline=None)
@given(name=NAMES, angles=st.tuples(*[st.floats(-3, 3)] * 3))
def test_rotation_keeps_the_bulk_compliance(name, angles):
    # The response to pressure, sum of the normal block, is an invariant of every rotation of the tensor.
    turn = np.eye(3)
    for axis, angle in enumerate(angles):
        c, s = math.cos(angle), math.sin(angle)
        step = np.eye(3)
        i, j = [k for k in range(3) if k != axis]
        step[i, i], step[j, j], step[i, j], step[j, i] = c, c, -s, s
        turn = turn @ step
    before = wood(name).compliance()
    after = orientation.rotated_compliance(wood(name), turn)
    assert after[:3, :3].sum() == pytest.approx(before[:3, :3].sum(), rel=1e-9)
