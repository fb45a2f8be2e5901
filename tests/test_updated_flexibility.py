"""Other pads and bolts on the same meshed bodies, and another block under the same neck, against a full
condensation.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.geometry.mesh import JointMesh, joint_mesh
from fem.geometry.structure import Structure
from fem.joint.shim_layer import face_lines
from fem.solve.assembly import bodies
from fem.solve.condensation import condense
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.other_block import with_other_block
from fem.solve.updated_flexibility import updated_flexibility
from tests.instrument import COARSE, readme_structure


@cache
def meshed() -> Structure:
    """The instrument with a given mesh, so that other pads do not change it."""
    plain = readme_structure()
    ends: dict[str, list[float]] = {"tongue": [], "heel": [], "end": []}
    for pad in plain.pads:
        ends[pad.face] += [pad.start, pad.end]
    mesh: JointMesh = joint_mesh(plain.outline, plain.block, breaks=ends, size=COARSE)
    return replace(plain, mesh=mesh)


@cache
def condensed() -> tuple[Flexibility, Fields]:
    return condense(meshed(), COARSE)


def other_pads(shift: float) -> Structure:
    """The upper pad ends ``shift`` of a cell before a mesh line, the lower is narrower."""
    whole = meshed()
    upper, lower = whole.pads
    lines = face_lines(bodies(whole, COARSE).block, whole.outline, upper.face)
    before = lines[lines < upper.end - 1e-6]
    end = float(before[-2] - shift * (before[-2] - before[-3]))
    pads = (replace(upper, end=end), replace(lower, bearing_width=0.8 * lower.bearing_width))
    return replace(whole, pads=pads)


def other_bolts() -> Structure:
    """One bolt leans and grips deeper; another has a wider washer."""
    first, second, *rest = meshed().bolts
    leaning = replace(first, angle=0.05, insert_length=1.1 * first.insert_length)
    wide = replace(second, washer_diameter=1.2 * second.washer_diameter)
    return replace(meshed(), bolts=(leaning, wide, *rest))


def one_pad_and_bolts() -> Structure:
    """The second pad shorter, the first as it was, and bolts changed too."""
    upper, lower = meshed().pads
    return replace(other_bolts(), pads=(upper, replace(lower, end=0.9 * lower.end)))


@pytest.mark.parametrize(
    "changed",
    [lambda: other_pads(0.0), lambda: other_pads(0.4), other_bolts, one_pad_and_bolts],
    ids=["pads on mesh lines", "a pad that ends within a cell", "bolts", "one pad and bolts"],
)
def test_it_is_the_flexibility_of_a_full_condensation(changed) -> None:
    before = condensed()
    quick = updated_flexibility(changed(), *before)
    whole, _ = condense(changed(), COARSE)
    assert {k: list(v) for k, v in quick.at.items()} == {k: list(v) for k, v in whole.at.items()}
    assert quick.reference == pytest.approx(whole.reference, rel=1e-12)
    assert quick.rigid == pytest.approx(whole.rigid, abs=1e-12)
    scale = np.sqrt(np.outer(np.diag(whole.matrix), np.diag(whole.matrix)))
    assert np.max(np.abs(quick.matrix - whole.matrix) / scale) < 1e-9
    # the change itself is far larger than that
    if whole.size == before[0].size:
        assert np.max(np.abs(before[0].matrix - whole.matrix) / scale) > 1e-4


@pytest.mark.parametrize("key", ["length", "height", "width"])
def test_another_block_is_that_of_a_full_condensation(key) -> None:
    """Longer, higher or wider by a tenth, its plane stiffness a tenth less."""
    whole = readme_structure()
    block = replace(whole.block, **{key: 1.1 * getattr(whole.block, key)})
    wood = replace(whole.block_wood, moduli=0.9 * whole.block_wood.moduli)
    other = replace(whole, block=block, block_wood=wood)
    before, fields = condense(whole, COARSE)
    quick, exact = with_other_block(other, fields, COARSE), condense(other, COARSE)[0]
    assert quick is not None
    scale = np.sqrt(np.outer(np.diag(exact.matrix), np.diag(exact.matrix)))
    assert np.max(np.abs(quick.matrix - exact.matrix) / scale) < 1e-9
    assert np.max(np.abs(before.matrix - exact.matrix) / scale) > 1e-4


def test_a_block_that_moves_points_of_the_pads_is_left_to_a_full_condensation() -> None:
    whole = readme_structure()
    other = replace(whole, block=replace(whole.block, shelf=0.9 * whole.block.shelf))
    assert with_other_block(other, condense(whole, COARSE)[1], COARSE) is None


def test_tension_alone_leaves_the_flexibility_as_it_is() -> None:
    before = condensed()
    tighter = tuple(replace(one, tension=1.1 * one.tension) for one in meshed().bolts)
    assert updated_flexibility(replace(meshed(), bolts=tighter), *before) is before[0]
