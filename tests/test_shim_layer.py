"""Shims, friction and bolts: two bodies pressed together through the interface's own code, and its laws."""

import math
from dataclasses import replace

import numpy as np
import pytest
from skfem import MeshQuad

from fem.errors import ContactLostError, ConvergenceError, ModelError
from fem.geometry.pad import Pad
from fem.joint.shim_layer import Layer, PadPoints, gauss_points, layer, taper, traction
from tests.two_bodies import rig

WIDTH, BED = 60.0, 100.0  # mm and N/mm3, a strip one millimetre deep


@pytest.fixture(scope="module")
def strip():
    """Two blocks, fifty thousand times stiffer than their seat, meeting over 60 mm."""
    lines = np.linspace(0, WIDTH, 31)
    upper = MeshQuad.init_tensor(lines, np.linspace(0, 20, 3))
    lower = MeshQuad.init_tensor(lines, np.array([-10.0, 0.0]))
    return rig(upper, lower, young=(1e8, 1e8), pad=(0.0, WIDTH), floor=-10.0)


def test_friction_holds_up_to_its_limit_and_no_further(strip):
    """Pushed along with less than mu N the seat sticks, F/(k A); with more it has no state of rest."""
    law = strip.layer(bed=BED, friction=0.3)
    held = strip.press(law, (1000.0, 299.0, 0.0), stuck=True)
    assert held.contact.shear_force.sum() == pytest.approx(299.0, rel=1e-6)
    assert not held.contact.slipping.all()
    with pytest.raises(ConvergenceError, match="Check bolt tensions and friction"):
        strip.press(law, (1000.0, 301.0, 0.0), stuck=True)


def test_a_stuck_seat_gives_way_by_its_layer_alone(strip):
    end = strip.press(strip.layer(bed=BED, friction=50.0), (6000.0, 60.0, 0.0), stuck=True)
    slip = end.displacements[strip.count : 2 * strip.count]
    assert end.contact.slipping.sum() == 0
    assert slip.mean() == pytest.approx(60.0 / (BED * WIDTH), rel=1e-3)


def test_a_joint_that_is_lifted_off_is_an_error(strip):
    with pytest.raises((ContactLostError, ConvergenceError), match=r"Tighten the bolts|Check bolt tensions"):
        strip.press(strip.layer(bed=BED), (-10.0, 0.0, 0.0))


LAW = Layer(
    interference=np.array([0.0, 1e-5, 1e-5, 1e-5]),
    normal=np.full(4, 2e7),
    tangential=np.full(4, 1e7),
    friction=np.full(4, 0.3),
)


def test_return_mapping():
    """Open, stuck, slipping forwards, slipping backwards: forces and their limit mu N."""
    slip = np.array([5e-6, 2e-6, 9e-6, -9e-6])
    state = traction(LAW, np.array([1e-6, 0.0, 0.0, 0.0]), slip, stuck_at=np.zeros(4))
    np.testing.assert_allclose(state.push, [0.0, 200.0, 200.0, 200.0])
    np.testing.assert_allclose(state.shear_force, [0.0, 20.0, 60.0, -60.0])
    np.testing.assert_array_equal(state.closed, [False, True, True, True])
    np.testing.assert_array_equal(state.slipping, [False, False, True, True])


def test_slopes_are_those_of_the_forces():
    opening, slip = np.array([1e-6, 1e-6, 0.0, -2e-6]), np.array([5e-6, 2e-6, 9e-6, -9e-6])
    step = 1e-9

    def at(by_opening=0.0, by_slip=0.0):
        return traction(LAW, opening + by_opening, slip + by_slip, stuck_at=np.full(4, 1e-6))

    here = at()
    for name, found, change in (
        ("push", here.push_by_opening, {"by_opening": step}),
        ("shear_force", here.shear_by_opening, {"by_opening": step}),
        ("shear_force", here.shear_by_slip, {"by_slip": step}),
    ):
        np.testing.assert_allclose(
            (getattr(at(**change), name) - getattr(here, name)) / step, found, rtol=1e-5, atol=1e-3
        )


def test_seating_is_without_friction():
    """On the bench the seat may slide: only a stabiliser of a ten-thousandth of the layer holds it."""
    state = traction(LAW, np.zeros(4), np.full(4, 1e-6), stuck_at=None)
    np.testing.assert_allclose(state.shear_force, 1e-4 * LAW.tangential * 1e-6)
    assert not state.slipping.any()


UPPER = Pad(
    "upper",
    "tongue",
    start=0.004,
    end=0.074,
    bearing_width=0.03,
    middle=0.9e-3,
    young=1.2e9,
    shear=0.5e9,
    compliance=1e-12,
)


def test_taper_lies_the_way_the_words_say():
    """Positive lower: thicker towards the heel cap; positive upper: thicker towards the nut (the corner)."""
    s, angle = np.array([0.004, 0.039, 0.074]), math.radians(0.2)
    gap, thickness = taper(UPPER, s, angle)
    np.testing.assert_allclose(thickness - 0.9e-3, [0.035 * angle, 0.0, -0.035 * angle], atol=1e-15)
    np.testing.assert_allclose(gap, -angle * s)
    gap, thickness = taper(replace(UPPER, name="lower", face="heel"), s, angle)
    np.testing.assert_allclose(thickness - 0.9e-3, [-0.035 * angle, 0.0, 0.035 * angle], atol=1e-15)
    np.testing.assert_allclose(gap, angle * s)


def test_layer_stiffness_is_shim_and_bedding_in_series():
    s = np.array([0.02, 0.06])
    points = PadPoints(s, np.array([1e-4, 2e-4]))
    law = layer((UPPER,), (points,), angles=(math.radians(0.1),), friction=(0.25,))
    t = 0.9e-3 - math.radians(0.1) * (s - 0.039)
    np.testing.assert_allclose(law.normal, points.area / (t / 1.2e9 + 1e-12))
    np.testing.assert_allclose(law.tangential, points.area / (t / 0.5e9 + 1e-12))
    np.testing.assert_array_equal(law.friction, [0.25, 0.25])


def test_a_shim_too_thin_at_its_edge_is_named():
    with pytest.raises(ModelError, match=r"upper shim would be 0\.17 mm.*1\.20 degrees.*more thickness_mm"):
        taper(UPPER, np.array([0.004, 0.074]), math.radians(1.2))


def test_points_of_a_pad_cover_its_length_alone():
    s, length = gauss_points(np.linspace(0.0, 0.08, 41), UPPER)
    assert length.sum() == pytest.approx(0.070, rel=1e-12)
    assert s.min() > 0.004
    assert s.max() < 0.074
    assert (length * s**2).sum() == pytest.approx((0.074**3 - 0.004**3) / 3, rel=1e-12)
    with pytest.raises(ModelError, match=r"no length on its face\. Give from_mm < to_mm"):
        gauss_points(np.linspace(0.0, 0.08, 41), replace(UPPER, start=0.09, end=0.1))
