"""The block's local indentation: half-space, layer and strip against exact solutions, the whole against a
solid block.
"""

import numpy as np
import pytest
from fem.joint.local_indentation import FaceCompliance, HalfPlane, half_plane

from fem.geometry.pad import Pad
from fem.joint import local_indentation
from fem.joint.shim_layer import PadPoints
from materials.orientation import block_compliance
from materials.wood import wood
from tests.reference import block_alone, half_space
from tests.reference.instruments import instrument

WOOD = block_compliance(wood("mahogany-honduran"), grain="vertical")
FACES = {"heel": (0, 1, 2), "tongue": (2, 1, 0)}
"""Axes of a face: into the block, across it, along the pad."""
WAVE = 2.0 * np.pi / 0.08


def planes(face: str) -> tuple[HalfPlane, HalfPlane]:
    """Across the pad and along it."""
    into, across, along = FACES[face]
    return half_plane(WOOD, into=into, along=across), half_plane(WOOD, into=into, along=along)


def of_face(face: str) -> list[FaceCompliance]:
    structure = instrument("fourteen", "quarter").structure
    return local_indentation._of_face(structure.outline, structure.block, face, WOOD, np.array([WAVE]))


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("depth", [0.05, 1.0, 11.9, np.inf])
def test_a_layer_of_wood_is_exact(face: str, depth: float):
    """1e-5: the wave along the pad, which must not vanish in the exact answer, is a ten-thousandth."""
    stiffness = half_space.of_face(WOOD, FACES[face])
    exact = WAVE * half_space.yielding(stiffness, WAVE, 1e-4 * WAVE, depth=depth / WAVE)
    assert planes(face)[0].layer(depth) == pytest.approx(exact, rel=1e-5)


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("along", [1e-3, 0.25, 0.5, 1.0, 2.0, 4.0, 1e3])
def test_waves_both_ways_follow_the_ellipse(face: str, along: float):
    """Pressure within 6 %, shear within 13 %, and each exact where one of the waves is long.

    The ellipse joins the two exact ends; 5.2 and 12.5 % are the furthest that the exact half-space of this
    wood was from it when the two were first compared.
    """
    stiffness = half_space.of_face(WOOD, FACES[face])
    ends = along in (1e-3, 1e3)
    for kind, dragged, far in zip(of_face(face), (False, True), (0.06, 0.13), strict=True):
        ellipse = 1.0 / np.hypot(WAVE / kind.across, along * WAVE / kind.along)
        exact = half_space.yielding(stiffness, WAVE, along * WAVE, dragged=dragged)
        assert ellipse == pytest.approx(exact, rel=1e-4 if ends else far)


@pytest.mark.parametrize("along", [0.0, 0.5, 2.0])
def test_the_kernel_is_the_ellipses_transform(along: float):
    """A long strip, loaded by a wave along it, moves in its middle as the ellipse says; 1 %: the load is
    even over each cell, a twentieth of the shortest wave.
    """
    plain = FaceCompliance(2e-9, 1e-9, np.zeros(1), None)
    ends = np.linspace(0.0, 10.0 * 0.08, 401)
    s = 0.5 * (ends[1:] + ends[:-1])
    height = np.cos(along * WAVE * (s - s[200]))
    displacements = local_indentation._kernels(plain, np.array([WAVE]), s, ends)[0] @ (height * np.diff(ends))
    exact = 1.0 / np.hypot(WAVE / plain.across, along * WAVE / plain.along)
    assert displacements[200] == pytest.approx(exact, rel=0.01)


def test_a_strip_held_at_its_root_bends_as_its_equation_says():
    """``w = x^2 exp(-k x)`` is clamped at 0 and solves ``(k^2 - d^2/dx^2)^2 w = 8 k^2 exp(-k x)``; without a
    root an even load ``p`` sinks ``p / k^4``. 1e-3: midpoint rule.
    """
    root, step = 0.03, 5e-4
    s = np.arange(0.5 * step, 0.6, step)
    x = np.maximum(s - root, 0.0)
    load = np.where(s > root, 8.0 * WAVE**2 * np.exp(-WAVE * x), 0.0)
    displacements = local_indentation._strip(np.array([WAVE]), s, root)[0] @ load * step
    assert displacements == pytest.approx(x**2 * np.exp(-WAVE * x), abs=1e-3 * np.max(displacements))
    free = local_indentation._strip(np.array([WAVE]), s, None)[0].sum(axis=1) * step
    assert free[len(s) // 2] == pytest.approx(WAVE**-4, rel=1e-3)


def test_a_shelf_bends_beyond_its_root():
    """Half a wave and more beyond the stem, an even load sinks a long shelf as the layer says, not the
    half-space; 2 %: the clamped root is still felt, by ``(1 + k x) exp(-k x)``.
    """
    pressed = of_face("tongue")[0]
    block = instrument("fourteen", "quarter").structure.block
    assert pressed.root == block.stem
    ends = np.linspace(0.0, 0.4, 401)
    s = 0.5 * (ends[1:] + ends[:-1])
    displacements = local_indentation._kernels(pressed, np.array([WAVE]), s, ends)[0] @ np.diff(ends)
    shelf = planes("tongue")[0].layer(WAVE * block.shelf) / WAVE
    assert displacements[200] == pytest.approx(shelf, rel=0.02)
    assert displacements[20] < 0.5 * shelf


def test_the_cells_of_two_points_each_are_the_meshs():
    """Halves of cells between mesh lines, whose Gauss points are given."""
    lines = np.array([0.003, 0.005, 0.010, 0.020])
    middle, half = 0.5 * (lines[1:] + lines[:-1]), 0.5 * np.diff(lines)
    s = (middle[:, None] + half[:, None] * np.array([-1.0, 1.0]) / np.sqrt(3.0)).ravel()
    halves = np.sort(np.concatenate([lines, middle]))
    assert local_indentation._cells(s, np.repeat(half, 2)) == pytest.approx(halves)


def whole(bearing: float) -> np.ndarray:
    structure = instrument("fourteen", "quarter").structure
    s = np.linspace(0.004, 0.079, 30)
    points = PadPoints(s, np.full_like(s, 0.075 / 29 * bearing))
    pad = Pad("lower", "heel", 0.003, 0.080, bearing, 9e-4, 1.3e9, 1.2e9, 1e-12)
    return local_indentation.indentation(
        structure.outline,
        structure.block,
        (pad,),
        (points,),
        bearing=(np.full_like(s, bearing),),
        compliance=WOOD,
    )


def test_a_pad_as_wide_as_the_block_does_not_indent_it():
    """At full width only `LEAST` remains, a ten-millionth of the block's own compression."""
    full, narrow = whole(0.08), whole(0.03)
    assert np.max(np.abs(full)) < 1e-5 * np.max(np.abs(narrow))
    for one in (full, narrow):
        assert one == pytest.approx(one.T, abs=1e-12 * np.max(one))
        assert np.min(np.linalg.eigvalsh(one)) > 0.0


FULL = {"marks": pytest.mark.full}


@pytest.mark.parametrize(
    ("face", "pressure", "cell", "whole_within", "waves_within"),
    [
        ("heel", "even", 0.014, 0.04, 0.09),
        pytest.param("heel", "even", 0.010, 0.02, 0.09, **FULL),
        pytest.param("heel", "linear", 0.010, 0.04, 0.09, **FULL),
        pytest.param("tongue", "even", 0.010, 0.10, 0.35, **FULL),
        pytest.param("tongue", "linear", 0.010, 0.20, 0.10, **FULL),
    ],
)
def test_indentation_under_a_pad_is_a_solid_blocks(face, pressure, cell, whole_within, waves_within):
    """Plate and indentation, and indentation alone under the same part of the load, over the solid block's.

    Records of known errors, not goals: the first were 0.4, 2.7, 7 and 17 % too soft, the second 7, 6 and 33 %
    too small, and right under the last, when first compared; cells of 14 mm make the solid 2 % too stiff.
    Indentation treats the block's free sides as planes of symmetry; the plate's plane stress errs the other
    way. The tongue's shelf is wider than long and held at both ends: it cannot curl across its width as in
    the plate, and its free edges let it bend across more than waves between planes of symmetry.
    """
    found = block_alone.works(face, pressure, cell=cell)
    assert found.whole_ratio == pytest.approx(1.0, abs=whole_within)
    assert found.waves_ratio == pytest.approx(1.0, abs=waves_within)
