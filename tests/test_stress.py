from math import radians

import numpy as np
import pytest
from skfem import MeshQuad

from cases.studies.stress import CLEAR_MM, PartStress, corner_stress, is_clear
from fem.geometry.outline import Array
from fem.members.plate import Plate, plate
from fem.solve.assembly import young_width
from tests.pictures import readme_flex, readme_solved

MODULI = np.array([[11.0e9, 0.3e9, 0.2e9], [0.3e9, 0.9e9, -0.1e9], [0.2e9, -0.1e9, 0.7e9]])


def crooked() -> Plate:
    """A patch of cells that are no rectangles."""
    mesh = MeshQuad.init_tensor(np.linspace(0.0, 0.03, 4), np.linspace(0.0, 0.02, 3))
    points = mesh.p.copy()
    inner = (points[0] > 0.001) & (points[0] < 0.029) & (points[1] > 0.001) & (points[1] < 0.019)
    points[:, inner] += np.array([[0.002], [-0.0015]])
    return plate(MeshQuad(points, mesh.t))


def displaced(body: Plate, strain: tuple[float, float, float]) -> Array:
    xx, zz, xz = strain
    x, z = body.nodes
    return np.concatenate([xx * x + 0.3 * xz * z, zz * z + 0.7 * xz * x])


@pytest.mark.parametrize("strain", [(1e-4, 0.0, 0.0), (0.0, -2e-4, 0.0), (0.0, 0.0, 3e-4)])
def test_a_patch_of_known_strain_has_its_stress_at_every_corner(strain: tuple[float, float, float]):
    body = crooked()
    cells = np.arange(body.mesh.t.shape[1])
    stress = corner_stress(body, displaced(body, strain), moduli=MODULI, cells=cells)
    wanted = MODULI @ np.array(strain)
    np.testing.assert_allclose(stress, np.tile(wanted[:, None], stress.shape[1]), rtol=1e-9, atol=1e-3)


def test_stress_that_grows_along_and_across_is_straight_at_the_corners():
    body = plate(MeshQuad.init_tensor(np.linspace(0.0, 0.03, 4), np.linspace(-0.01, 0.01, 3)))
    x, z = body.nodes
    along, across, young = 0.7, 0.05, 10e9
    moduli = np.diag([young, 1e9, 0.7e9])
    moved = np.concatenate([0.5 * along * x**2 - across * x * z, 0.5 * across * x**2])
    stress = corner_stress(body, moved, moduli=moduli, cells=np.arange(body.mesh.t.shape[1]))
    at_x, at_z = body.mesh.p[:, np.unique(body.mesh.t)]
    np.testing.assert_allclose(stress[0], young * (along * at_x - across * at_z), atol=1e-2)
    np.testing.assert_allclose(stress[1:], 0.0, atol=1e-2)


def of(xx: float, zz: float, xz: float, *, grain: float | None, limit: float | None = 2.0) -> PartStress:
    stress = np.array([[xx], [zz], [xz]])
    nowhere = np.zeros((2, 1))
    return PartStress("piece", "wood", nowhere, nowhere.astype(int), *stress, grain, limit, nowhere[0] == 0.0)


def test_principal_stress_of_pure_shear_and_of_a_turned_pull():
    shear = of(0.0, 0.0, 3.0, grain=0.0).principal_mpa()
    assert np.ravel(shear) == pytest.approx([3.0, -3.0, np.pi / 4.0])
    turn = radians(30.0)
    c, s = np.cos(turn), np.sin(turn)
    pull = of(5.0 * c * c, 5.0 * s * s, 5.0 * c * s, grain=0.0).principal_mpa()
    assert np.ravel(pull) == pytest.approx([5.0, 0.0, turn], abs=1e-12)


@pytest.mark.parametrize(("grain", "across"), [(0.0, 2.0), (np.pi / 4.0, 1.5 - 0.4), (None, 2.140312)])
def test_stress_across_the_grain(grain: float | None, across: float):
    assert of(1.0, 2.0, 0.4, grain=grain).across_mpa()[0] == pytest.approx(across, abs=1e-6)


def test_only_tension_counts_against_the_limit():
    assert of(0.0, 1.0, 0.0, grain=0.0).utilisation() == pytest.approx([0.5])
    assert of(0.0, -1.0, 0.0, grain=0.0).utilisation() == pytest.approx([0.0])
    assert of(0.0, 1.0, 0.0, grain=0.0, limit=None).utilisation() is None


def test_stress_in_the_heel_carries_tension_and_moment_of_the_strings():
    """On cuts through heel and board the stress adds up to the string's pull, counted from its geometry."""
    solved, stress = readme_solved(), readme_flex().stress
    structure, question, strung = solved.structure, solved.question, solved.pair.strung
    pull, checked = question.strings.tension, 0
    for column in cuts(stress.parts):
        x = column * 1e-3
        force = moment = 0.0
        for part in stress.parts[:3]:
            on = np.flatnonzero(np.abs(part.corner_mm[0] - column) < 1e-6)
            if len(on) < 2:
                continue
            on = on[np.argsort(part.corner_mm[1, on])]
            ends = part.corner_mm[1, on] * 1e-3
            z = np.linspace(ends[0], ends[-1], 2001)
            wood = structure.board if part.name == "fretboard" else structure.neck
            inside = np.clip(z, ends[0] + 1e-7, ends[-1] - 1e-7)
            # load-bearing width without slots: stiffness across over the modulus
            width = young_width(structure, x, inside) / wood.section.young
            along = np.interp(z, ends, part.xx_mpa[on] * 1e6) * width
            force += np.trapezoid(along, z)
            moment -= np.trapezoid(along * z, z)
        share = x / question.strings.saddle
        nut = question.strings.nut_height + float(strung.displacements[question.flexibility.at["nut w"]][0])
        height = (1.0 - share) * nut + share * strung.saddle_height
        # linear interpolation of a curved stress: error of a few per cent
        assert force == pytest.approx(-pull, rel=0.06)
        if column - structure.outline.tie * 1e3 < 25.0:
            # deeper in the heel the moment is the small difference of large ones
            sag = np.interp(x, question.line.x, strung.displacements[question.flexibility.at["crown"]])
            assert moment == pytest.approx(pull * (height - sag), rel=0.06)
            checked += 1
    assert checked >= 2


def cuts(parts: tuple[PartStress, ...]) -> list[float]:
    """Columns of the mesh in the middle of the heel [mm]."""
    columns = np.unique(np.round(parts[0].corner_mm[0], 6))
    middle = columns[(columns > columns[0] + 15.0) & (columns < columns[-1] - 25.0)]
    return [float(x) for x in middle[:: max(1, len(middle) // 4)]]


def test_pressure_of_the_bolted_shims_carries_the_bolts():
    solved, pads = readme_solved(), readme_flex().stress.pads
    tension = {"tongue": 0.0, "heel": 0.0}
    for bolt in solved.structure.bolts:
        tension[bolt.face] += bolt.tension
    for pad, points in zip(pads, solved.question.flexibility.points, strict=True):
        area = points.area[np.argsort(points.s)]
        # seating holds along the face by a stabiliser only: a trace of the load may go that way
        assert np.sum(pad.bolted_mpa * 1e6 * area) == pytest.approx(tension[pad.face], rel=0.01)
        assert np.all(np.diff(pad.s_mm) > 0.0)


def test_named_stress_keeps_its_distance():
    solved, stress = readme_solved(), readme_flex().stress
    assert stress.clear_mm == CLEAR_MM
    xj, zc = (1e3 * value for value in solved.structure.outline.corner)
    assert stress.worst_at_mm is not None
    assert np.hypot(stress.worst_at_mm[0] - xj, stress.worst_at_mm[1] - zc) > CLEAR_MM
    best = max(float(part.utilisation()[part.clear].max()) for part in stress.parts)
    assert stress.worst_utilisation == pytest.approx(best)
    # the corner itself is more stressed: without the distance it would be named instead
    assert max(float(part.utilisation().max()) for part in stress.parts) > best


def test_what_lies_near_corners_washers_and_inserts_is_left_out():
    structure = readme_solved().structure
    (xj, zc), block = structure.outline.corner, structure.block
    bolt = next(one for one in structure.bolts if one.face == "heel")
    at = np.array([
        (xj - 1e-3, zc + 1e-3),
        (xj + block.stem, zc - block.shelf - 2e-3),
        (xj - 0.5 * bolt.insert_length, zc - bolt.position),
        (xj + block.stem - 1e-3, zc - bolt.position + 8e-3),
        (structure.outline.tie + 1e-3, -5e-3),
        (xj - 20e-3, -4e-3),
    ]).T  # fmt: skip
    assert list(is_clear(structure, at)) == [False, False, False, False, False, True]
