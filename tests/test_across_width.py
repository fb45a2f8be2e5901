"""Local compliance of neck and block: half-space, layer, strip and disc against exact solutions, the whole
against a solid block; rows of contact points and bolts.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import k0

from fem.geometry.hardware import Bolt
from fem.geometry.pad import Pad
from fem.joint.across_width import (
    ROWS,
    Body,
    FaceCompliance,
    bodies,
    cells,
    integral_of_k0,
    kernels,
    row_compliance,
    row_means,
    side_of,
    strip,
)
from fem.joint.bolt_pinch import insert, pinch, washer
from fem.joint.shim_layer import PadPoints
from fem.members.half_plane import HalfPlane, half_plane
from fem.solve.widening import local_compliance
from materials.orientation import block_compliance
from materials.wood import wood
from tests.reference import block_alone, half_space
from tests.reference.instruments import instrument

WOOD = block_compliance(wood("mahogany-honduran"), grain="vertical")
FACES = {"heel": (0, 1, 2), "tongue": (2, 1, 0)}
"""Axes of a face: into the block, across it, along the pad."""
WAVE = 2.0 * np.pi / 0.08


def test_the_integral_of_k0_is_that_of_its_quadrature():
    """From small arguments through the change of method to where nothing is added, by scipy's quadrature."""
    ends = np.array([0.01, 0.5, 1.9, 1.999, 2.001, 2.5, 7.0, 20.0, 39.0, 41.0])
    parts = np.diff(ends, prepend=0.0)
    pieces = [quad(k0, end - part, end, epsabs=1e-13)[0] for end, part in zip(ends, parts, strict=True)]
    assert integral_of_k0(ends) == pytest.approx(np.cumsum(pieces), rel=1e-10)
    assert integral_of_k0(-ends) == pytest.approx(-np.cumsum(pieces), rel=1e-10)


def planes(face: str) -> tuple[HalfPlane, HalfPlane]:
    """Across the pad and along it."""
    into, across, along = FACES[face]
    return half_plane(WOOD, into=into, along=across), half_plane(WOOD, into=into, along=along)


def of_face(face: str) -> list[FaceCompliance]:
    """Of the block under pressure and under shear."""
    s = np.linspace(0.004, 0.079, 5)
    pad = Pad("", face, 0.003, 0.080, 0.03, 9e-4, 1.3e9, 1.2e9, 1e-12)
    side = side_of(bodies(instrument("fourteen", "quarter").structure, pad, s, np.full_like(s, 0.03))[0])
    return [side.pressure, side.shear]


@pytest.mark.parametrize("face", FACES)
@pytest.mark.parametrize("depth", [0.05, 1.0, 11.9, np.inf])
def test_a_layer_of_wood_is_exact(face: str, depth: float):
    """1e-5: the wave along the pad, which must not vanish in the exact answer, is a ten-thousandth."""
    stiffness = half_space.of_face(WOOD, FACES[face])
    exact = WAVE * half_space.yielding(stiffness, WAVE, 1e-4 * WAVE, depth=depth / WAVE)
    assert planes(face)[0].layer(np.array([depth]))[0] == pytest.approx(exact, rel=1e-5)


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
    plain = FaceCompliance(2e-9, 1e-9, (), None)
    ends = np.linspace(0.0, 10.0 * 0.08, 401)
    s = 0.5 * (ends[1:] + ends[:-1])
    height = np.cos(along * WAVE * (s - s[200]))
    kernel = 0.5 * 0.08 * kernels(plain, np.full_like(s, 0.08), s, ends)[0]
    displacements = kernel @ (height * np.diff(ends))
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
    displacements = strip(np.array([WAVE]), s, s, root)[0] @ load * step
    assert displacements == pytest.approx(x**2 * np.exp(-WAVE * x), abs=1e-3 * np.max(displacements))
    free = strip(np.array([WAVE]), s, s, None)[0].sum(axis=1) * step
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
    displacements = 0.5 * 0.08 * kernels(pressed, np.full_like(s, 0.08), s, ends)[0] @ np.diff(ends)
    shelf = planes("tongue")[0].layer(np.array([WAVE * block.shelf]))[0][0] / WAVE
    assert displacements[200] == pytest.approx(shelf, rel=0.02)
    assert displacements[20] < 0.5 * shelf


def test_the_cells_of_two_points_each_are_the_meshs():
    """Halves of cells between mesh lines, whose Gauss points are given."""
    lines = np.array([0.003, 0.005, 0.010, 0.020])
    middle, half = 0.5 * (lines[1:] + lines[:-1]), 0.5 * np.diff(lines)
    s = (middle[:, None] + half[:, None] * np.array([-1.0, 1.0]) / np.sqrt(3.0)).ravel()
    halves = np.sort(np.concatenate([lines, middle]))
    assert cells(s, np.repeat(half, 2)) == pytest.approx(halves)


def under(pad: Pad, s: np.ndarray, bearing: float) -> list[Body]:
    return bodies(instrument("fourteen", "quarter").structure, pad, s, np.full_like(s, bearing))


def whole(bearing: float, rows: np.ndarray) -> np.ndarray:
    """Compliance of the block under a heel pad."""
    s = np.linspace(0.004, 0.079, 30)
    pad = Pad("lower", "heel", 0.003, 0.080, bearing, 9e-4, 1.3e9, 1.2e9, 1e-12)
    block = side_of(under(pad, s, bearing)[0])
    length = np.full_like(s, 0.075 / 29)
    return row_compliance(block, block.pressure, s, length, bearing=np.full_like(s, bearing), rows=rows)


def test_a_pad_as_wide_as_the_block_does_not_indent_it():
    full, narrow = whole(0.08, np.ones(1)), whole(0.03, np.ones(1))
    assert np.max(np.abs(full)) < 1e-9 * np.max(np.abs(narrow))
    assert np.min(np.linalg.eigvalsh(narrow)) > 0.0


def test_rows_with_one_pressure_move_as_one_point_does():
    """A point's movement is the mean of its rows' under the same pressure; 1e-9: rounding."""
    one, rows = whole(0.03, np.ones(1)), whole(0.03, ROWS)
    shares = np.kron(np.eye(30), ROWS)
    assert shares @ rows @ shares.T == pytest.approx(one, rel=1e-9)
    assert np.min(np.linalg.eigvalsh(rows)) > 0.0
    # a load on the middle row sinks it more than the outer rows
    middle, outer = rows[45, 45], rows[47, 45]
    assert middle > 2.0 * outer


def bolt(**changes: float) -> Bolt:
    sizes = {"diameter": 6e-3, "washer_diameter": 0.025, "insert_length": 0.012, "insert_diameter": 0.009}
    return Bolt(name="", face="heel", position=0.04, young=0.0, tension=0.0, **(sizes | changes))


def test_a_load_at_the_face_is_that_of_the_rows():
    """An insert that ends just below the face opens the pad as a load on the face under its disc does.

    Both as a mean over the pad beside it, where the place within the disc no longer matters; 3 %.
    """
    s = np.linspace(0.0405, 0.0795, 40)
    pad = Pad("lower", "heel", 0.0, 0.080, 0.03, 9e-4, 1.3e9, 1.2e9, 1e-12)
    body = under(pad, s, 0.03)[1]
    side = side_of(body)
    moved, _ = insert(bolt(insert_length=1e-6, insert_diameter=1e-3), side, s)
    number = 2.0 * np.pi * np.arange(1, len(moved) + 1)
    ratio = side.pressure.along / side.pressure.across
    both = np.sqrt(np.interp(0.04, s, side.width) * side.width)
    face = 2.0 / both * side.pressure.along / np.pi * k0(number[:, None] / both * ratio * (s - 0.04))
    assert moved[:8, 2:12] == pytest.approx(face[:8, 2:12], rel=0.03)


@pytest.mark.parametrize("part", [0, 1], ids=["washer on the block", "insert in the neck"])
def test_a_bolt_opens_the_middle_of_a_pad_and_closes_its_edges(part: int):
    """Relative to the mean over the width, which the plates carry: pulled in the middle, left at the edge."""
    s = np.linspace(0.0305, 0.0795, 30)
    pad = Pad("lower", "heel", 0.0, 0.080, 0.03, 9e-4, 1.3e9, 1.2e9, 1e-12)
    column, own = pinch(bolt(), under(pad, s, 0.03)[part], s, bearing=np.full_like(s, 0.03), rows=ROWS)
    middle, between, edge = column.reshape(len(s), -1)[int(np.argmin(np.abs(s - 0.04)))]
    assert middle > between > edge
    assert middle > 0.0
    assert own > 0.0


@pytest.mark.parametrize("part", [0, 1])
def test_a_bolt_pinches_as_its_insert_or_washer_does(part: int):
    s = np.linspace(0.0305, 0.0795, 8)
    pad = Pad("lower", "heel", 0.0, 0.080, 0.03, 9e-4, 1.3e9, 1.2e9, 1e-12)
    body, bearing = under(pad, s, 0.03)[part], np.full_like(s, 0.03)
    one = bolt(angle=0.05, diameter=7e-3)
    side = side_of(body)
    moved, own = (insert if body.part == "neck" else washer)(one, side, s)
    column, sunk = pinch(one, body, s, bearing=bearing, rows=ROWS)
    assert sunk == own
    means = row_means(side.wave, bearing, ROWS)
    assert column == pytest.approx(np.einsum("wir,wi->ir", means, moved).ravel(), rel=1e-12)


def test_a_washer_sinks_as_a_disc_on_a_half_space():
    """Mean displacement under an even pressure on a disc, ``16 (1 - nu^2) F / (3 pi^2 E a)`` (K. L. Johnson,
    Contact Mechanics, 1985, section 3.4, from memory), less its mean over the width, which the plates carry:
    between two radii that differs by ``2 (1 - nu^2) F / (pi E B) ln(a2 / a1)`` (Flamant's line load).

    Isotropic, on a block far wider than the washers; 3 %: waves left out, quadrature over the disc.
    """
    young, nu, wide, radii = 1e9, 0.3, 0.16, (0.010, 0.020)
    wood = np.diag([1.0 / young] * 3 + [2.0 * (1.0 + nu) / young] * 3)
    wood[:3, :3] -= nu / young * (1.0 - np.eye(3))
    s = np.linspace(0.0, 0.08, 5)
    side = side_of(Body("block", "heel", wood.tobytes(), np.full_like(s, wide).tobytes(), np.inf, None))
    small, large = (washer(bolt(washer_diameter=2.0 * radius), side, s)[1] for radius in radii)
    flat = (1.0 - nu**2) / young
    disc = 16.0 * flat / (3.0 * np.pi**2) * (1.0 / radii[0] - 1.0 / radii[1])
    mean = 2.0 * flat / (np.pi * wide) * np.log(radii[1] / radii[0])
    assert small - large == pytest.approx(disc - mean, rel=0.03)


@pytest.mark.parametrize("name", ["fourteen", "twelve", "long"])
def test_the_local_compliance_stores_energy_whatever_the_forces(name: str):
    structure = instrument(name, "flat").structure
    s = np.linspace(0.006, 0.07, 20)
    pads = tuple(replace(pad, bearing_width=0.03) for pad in structure.pads)
    points = tuple(PadPoints(s, np.full_like(s, 1e-4), ROWS) for _ in pads)
    parts = local_compliance(replace(structure, pads=pads), points)
    for part in parts.values():
        assert np.min(np.linalg.eigvalsh(part)) > -1e-3 * np.max(part)
        assert np.allclose(part, part.T)


FULL = {"marks": pytest.mark.full}


@pytest.mark.parametrize(
    ("face", "pressure", "cell", "whole_within", "waves_within"),
    [
        ("heel", "even", 0.014, 0.04, 0.09),
        pytest.param("heel", "even", 0.010, 0.03, 0.09, **FULL),
        pytest.param("heel", "linear", 0.010, 0.02, 0.09, **FULL),
        pytest.param("tongue", "even", 0.010, 0.03, 0.35, **FULL),
        pytest.param("tongue", "linear", 0.010, 0.13, 0.10, **FULL),
    ],
)
def test_indentation_under_a_pad_is_a_solid_blocks(face, pressure, cell, whole_within, waves_within):
    """Plate and indentation, and indentation alone under the same part of the load, over the solid block's.

    Records of known errors, not goals: the first were 2.3 and 0.2 % too stiff, 1.6 and 11 % too soft, the
    second 7, 6 and 33 % too small, and right under the last; cells of 14 mm make the solid 2 % too stiff.
    Local indentation treats the block's free sides as planes of symmetry: the free edges of the tongue's
    shelf let it bend across more.
    """
    found = block_alone.works(face, pressure, cell=cell)
    assert found.whole_ratio == pytest.approx(1.0, abs=whole_within)
    assert found.waves_ratio == pytest.approx(1.0, abs=waves_within)
