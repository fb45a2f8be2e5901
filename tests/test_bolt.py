"""Bolts: what their elongation reads, their stiffness, tightening in two steps, and the load they share."""

from dataclasses import replace

import numpy as np
import pytest
from skfem import MeshQuad

from fem.errors import ContactLostError
from fem.geometry.hardware import Bolt
from fem.geometry.mesh import Block
from fem.joint.bolt import bolt_stiffness, elongation_rows, torque_tension, washer_area
from fem.members.plate import plate
from tests.evidence_rows.contact import joint
from tests.two_bodies import outline_at_origin

HEEL = Bolt("probe", "heel", 0.05, 6e-3, 18e-3, 12e-3, 9e-3, 205e9, 1000.0)
TONGUE = replace(HEEL, face="tongue", diameter=5e-3)
BLOCK = Block(length=0.1, stem=0.03, shelf=0.02, height=0.1, width=0.08)


@pytest.fixture(scope="module")
def bodies():
    """A neck of 0.2 x 0.14 m round the corner at the origin and a block beyond it (they may overlap here)."""
    neck = MeshQuad.init_tensor(np.linspace(-0.1, 0.1, 11), np.linspace(-0.1, 0.04, 8))
    block = MeshQuad.init_tensor(np.linspace(0, 0.1, 11), np.linspace(-0.1, 0.0, 11))
    return plate(neck), plate(block)


def elongation(bolt, bodies, field, *, of=0):
    """Elongation when the neck (0) or the block (1) moves by `field(x, z) -> (u_x, u_z)`, the other stays."""
    displacements = [np.zeros(2 * body.size) for body in bodies]
    x, z = bodies[of].nodes
    displacements[of] = np.concatenate([np.broadcast_to(u, len(x)) for u in field(x, z)])
    row = elongation_rows([bolt], *bodies, outline_at_origin(), BLOCK)
    return float((row @ np.concatenate(displacements))[0])


@pytest.mark.parametrize(("bolt", "away"), [(HEEL, (-1.0, 0.0)), (TONGUE, (0.0, 1.0))])
def test_a_neck_that_leaves_the_block_stretches_the_bolt(bodies, bolt, away):
    """The neck leaves a heel face towards the nut, a tongue face upwards; the other way shortens the bolt."""
    assert elongation(bolt, bodies, lambda x, z: away) == pytest.approx(1.0, rel=1e-12)
    assert elongation(bolt, bodies, lambda x, z: away, of=1) == pytest.approx(-1.0, rel=1e-12)
    across = (away[1], away[0])
    assert elongation(bolt, bodies, lambda x, z: across) == pytest.approx(0.0, abs=1e-12)


def test_a_turn_about_the_corner_has_the_bolts_distance_as_its_arm(bodies):
    turn = lambda x, z: (z, -x)  # noqa: E731  unit rotation that lifts the nut (x < 0)
    assert elongation(HEEL, bodies, turn) == pytest.approx(0.05, rel=1e-12)
    assert elongation(TONGUE, bodies, turn) == pytest.approx(-0.05, rel=1e-12)


def test_the_washer_is_a_disc_and_the_insert_a_cylinder(bodies):
    """Mean of y^2 over a disc is R^2/4; over the insert's depth l the mean of d^2 is l^2/3."""
    washer = elongation(HEEL, bodies, lambda x, z: ((z + 0.05) ** 2, 0 * z), of=1)
    # six points across integrate the disc's chord to better than a hundredth
    assert washer == pytest.approx(0.009**2 / 4, rel=1e-2)
    insert = elongation(HEEL, bodies, lambda x, z: (-(x**2), 0 * z))
    assert insert == pytest.approx(0.012**2 / 3, rel=1e-9)
    radial = elongation(HEEL, bodies, lambda x, z: (-((z + 0.05) ** 2), 0 * z))
    assert radial == pytest.approx(0.0045**2 / 4, rel=1e-2)


def test_stiffness_area_and_torque():
    """E A/l from washer to mid-insert; annulus under the washer; F = T/(k d)."""
    area = np.pi * 0.006**2 / 4
    assert bolt_stiffness(HEEL, BLOCK) == pytest.approx(205e9 * area / 0.036, rel=1e-12)
    assert bolt_stiffness(TONGUE, BLOCK) == pytest.approx(205e9 * np.pi * 0.005**2 / 4 / 0.026, rel=1e-12)
    assert washer_area(HEEL) == pytest.approx(np.pi / 4 * (0.018**2 - 0.006**2), rel=1e-12)
    assert torque_tension(1.2, nut_factor=0.2, diameter=6e-3) == pytest.approx(1000.0, rel=1e-12)


def test_beyond_separation_the_bolt_takes_all():
    """The members part at P = F0/(1 - C); from there the bolt carries the pull alone."""
    share = 1e8 / 4e8
    parting = 40e3 / (1 - share)
    before = joint(0.99 * parting, preload=40e3, members=3e8, bolt=1e8)
    assert before.contact.closed.all()
    assert before.contact.push[0] == pytest.approx(0.01 * 40e3, rel=1e-6)
    with pytest.raises(ContactLostError, match="No shim carries pressure"):
        joint(1.01 * parting, preload=40e3, members=3e8, bolt=1e8)
