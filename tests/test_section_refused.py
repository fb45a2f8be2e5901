"""A section that cannot be is refused in words."""

import dataclasses
import math

import pytest

from fem.errors import MeshError
from fem.geometry.section_mesh import section_mesh
from fem.members.section import Bar, Channel, SectionMaterial
from materials.errors import InputError
from tests.test_section import PAIR, PLAIN, stiffness

WRONG_SHAPES = [
    ({"width": 0.0}, "width"),
    ({"width": math.nan}, "width"),
    ({"neck_depth": -0.01}, "neck_depth"),
    ({"neck_depth": 0.0, "board_thickness": 0.0}, "neither neck wood nor board"),
    ({"profile_exponent": 0.8}, "profile exponent"),
    ({"profile_exponent": 15.0}, "profile exponent"),
    ({"board_radius": 0.02}, "board radius"),
    ({"board_radius": 0.03, "board_thickness": 0.004}, "board radius"),
    ({"slot_fraction": 0.0}, "slot fraction"),
    ({"slot_depth": 0.0064}, "slot depth"),
    ({"channel": Channel(0.006, 0.0, -0.0155)}, "rod channel reaches"),
    ({"channel": Channel(0.04, 0.0, -0.01)}, "rod channel reaches"),
    ({"neck_depth": 0.0, "channel": Channel(0.006, 0.0, -0.01)}, "rod channel reaches"),
    ({"bars": (PAIR[0],)}, "mirror image"),
    ({"bars": (PAIR[0], dataclasses.replace(PAIR[1], young=1e9))}, "mirror image"),
    ({"bars": PAIR, "channel": Channel(0.022, 0.0, -0.008)}, "overlap"),
    (
        {"bars": (Bar(0.02, -0.006, 0.003, 0.009, 1e11), Bar(-0.02, -0.006, 0.003, 0.009, 1e11))},
        "bonded bar reaches",
    ),
]


@pytest.mark.parametrize(("change", "message"), WRONG_SHAPES)
def test_wrong_shapes_are_named(change, message):
    with pytest.raises(InputError, match=message) as caught:
        dataclasses.replace(PLAIN, **change)
    assert str(caught.value).endswith(".")
    assert ":" in str(caught.value)  # the remedy follows the colon


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: SectionMaterial(0.0, 1.0, 1.0), "young"),
        (lambda: SectionMaterial(1.0, math.inf, 1.0), "shear_xy"),
        (lambda: SectionMaterial(1.0, 1.0, -1.0), "shear_xz"),
        (lambda: Channel(-0.006, 0.0, -0.01), "width"),
        (lambda: Channel(0.006, 0.001, -0.01), "rod channel runs"),
        (lambda: Channel(0.006, -0.01, -0.002), "rod channel runs"),
        (lambda: Bar(0.0, 0.0, 0.003, 0.009, 1e11), "above the glue line"),
        (lambda: Bar(0.0, -0.01, 0.003, 0.0, 1e11), "height"),
        (lambda: Bar(0.0, -0.01, 0.003, 0.009, 1e11, shear=0.0), "shear modulus"),
    ],
)
def test_other_wrong_values_are_named(build, message):
    with pytest.raises(InputError, match=message):
        build()


def test_a_folded_mesh_is_refused(monkeypatch):
    good = section_mesh(PLAIN)
    points = good.points.copy()
    points[:, good.elements[0, 0]] = points.mean(axis=1)  # one corner thrown across the section
    monkeypatch.setattr(
        "fem.members.section.section_mesh", lambda *_, **__: dataclasses.replace(good, points=points)
    )
    with pytest.raises(MeshError, match="folds over itself"):
        stiffness(PLAIN)
