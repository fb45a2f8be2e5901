"""The plate in its plane: patch tests, bars, benchmarks of plane stress, rates, and what it refuses."""

import math

import numpy as np
import pytest
from skfem import FacetBasis, LinearForm, MeshQuad

from fem.errors import ModelError
from fem.members.plate import plate, point_rows, stiffness
from materials.orientation import plane_stress
from tests.evidence_rows.orientation import off_axis_wood
from tests.evidence_rows.plate import body, isotropic, near, rectangle


def distorted(s, t):
    bump = np.sin(np.pi * s) * np.sin(np.pi * t)
    return s + 0.09 * bump, 0.8 * t - 0.12 * bump


@pytest.mark.parametrize("runout", [0.0, 12.0, -25.0])
@pytest.mark.parametrize("ring", [0.0, 0.6, math.pi / 2])
@pytest.mark.parametrize("stress", [(1e6, 0.0, 0.0), (0.0, 1e6, 0.0), (0.0, 0.0, 1e6)])
def test_patch_of_orthotropic_wood(stress, ring, runout):
    """Any even stress stands exactly on distorted cells (Irons' patch test)."""
    moduli = plane_stress(off_axis_wood(), depth_axis=ring, runout=math.radians(runout))
    strain = np.linalg.inv(moduli) @ np.array(stress)
    one = body(3, 3, distorted, moduli=moduli, thickness=0.04)
    x, z = one.plate.nodes
    exact = np.concatenate([strain[0] * x + strain[2] * z, strain[1] * z])
    edge = one.on(lambda p: ~((p > 1e-9).all(axis=0) & (p[0] < 1 - 1e-9) & (p[1] < 0.8 - 1e-9)))
    held = np.concatenate([edge, one.plate.size + edge])
    displacements = one.solve(np.zeros_like(exact), held, exact[held])
    np.testing.assert_allclose(displacements, exact, atol=1e-10 * np.abs(exact).max())


@pytest.mark.parametrize("direction", [0, 1])
def test_patch_of_varying_thickness(direction):
    """Thickness that varies across the pull leaves an even strain; its forces follow the thickness."""
    moduli = plane_stress(off_axis_wood(), depth_axis=0.0)
    stress = np.zeros(3)
    stress[direction] = 1e6
    strain = np.linalg.inv(moduli) @ stress
    one = body(
        3, 3, distorted, moduli=moduli, thickness=lambda x, z: 0.04 * (1 + 0.7 * (x if direction else z))
    )
    matrix = stiffness(one.plate, thickness=one.thickness, moduli=moduli)
    x, z = one.plate.nodes
    force = matrix @ np.concatenate([strain[0] * x, strain[1] * z])
    inner = one.on(lambda p: (p > 1e-9).all(axis=0) & (p[0] < 1 - 1e-9) & (p[1] < 0.8 - 1e-9))
    assert np.abs(force[np.concatenate([inner, one.plate.size + inner])]).max() < 1e-10 * np.abs(force).max()
    pulled = one.on(near((1.0, 0.8)[direction], direction))
    total = force[direction * one.plate.size + pulled].sum()
    side = (0.8, 1.0)[direction]
    assert total == pytest.approx(1e6 * 0.04 * side * (1 + 0.7 * side / 2), rel=1e-9)


def timoshenko_goodier(columns, rows):
    """Tip deflection and largest error of the cantilever of Timoshenko & Goodier, art. 21, held as there."""
    length, depth, young, nu, force = 48.0, 12.0, 3e7, 0.3, -1000.0
    inertia = depth**3 / 12
    bar = body(
        columns,
        rows,
        lambda s, t: (length * s, depth * (t - 0.5)),
        moduli=isotropic(young, nu),
    )

    def field(x, z):
        u_x = (
            -force * z / (6 * young * inertia) * ((6 * length - 3 * x) * x + (2 + nu) * (z**2 - depth**2 / 4))
        )
        u_z = (
            force
            / (6 * young * inertia)
            * (3 * nu * z**2 * (length - x) + (4 + 5 * nu) * depth**2 * x / 4 + (3 * length - x) * x**2)
        )
        return np.concatenate([u_x, u_z])

    mesh = bar.plate.mesh.with_boundaries({"end": near(length, 0)})
    basis = FacetBasis(mesh, bar.plate.basis.elem, facets=mesh.boundaries["end"], intorder=5)
    shear = LinearForm(lambda v, w: force / (2 * inertia) * (depth**2 / 4 - w.x[1] ** 2) * v).assemble(basis)
    exact = field(*bar.plate.nodes)
    left = bar.on(near(0.0, 0))
    held = np.concatenate([left, bar.plate.size + left])
    displacements = bar.solve(np.concatenate([0 * shear, shear]), held, exact[held])
    tip = bar.on(lambda p: near(length, 0)(p) & near(0.0, 1)(p))[0]
    return displacements[bar.plate.size + tip], float(np.abs(displacements - exact).max())


def test_cantilever_of_timoshenko_and_goodier():
    """P/(6EI) [(4 + 5 nu) D^2 L/4 + 2 L^3] = 0.0089 (art. 21, formula from memory)."""
    tip, error = timoshenko_goodier(16, 4)
    inertia = 12**3 / 12
    exact = -1000 / (6 * 3e7 * inertia) * ((4 + 5 * 0.3) * 144 * 48 / 4 + 2 * 48**3)
    assert exact == pytest.approx(-0.0089, abs=5e-5)
    assert tip == pytest.approx(exact, rel=1e-4)
    assert error < 1e-4 * abs(exact)


def test_cantilever_converges_at_the_order_of_quadratic_cells():
    """Movements at the order three to four: the exact field is cubic in x and in z."""
    errors = np.array([timoshenko_goodier(4 * n, 2 * n)[1] for n in (1, 2, 4)])
    rates = np.log2(errors[:-1] / errors[1:])
    assert np.all(rates > 2.7)
    assert np.all(rates < 4.4)


def test_rows_read_value_and_slopes_of_a_quadratic_field():
    """Exact on cells with straight, parallel sides; points on an edge are read on the side asked for."""
    one = plate(MeshQuad.init_tensor(np.linspace(0, 2, 4), np.linspace(-1, 0, 3)))
    x, z = one.nodes
    field = 1 + 2 * x - z + 3 * x * z + 0.5 * x**2 - z**2
    points = np.array([[0.13, 2.0, 1.0], [-0.4, -0.2, 0.0]])
    rows = point_rows(one, points, inside=(-1.0, -1.0))
    px, pz = points
    np.testing.assert_allclose(
        rows.value @ field, 1 + 2 * px - pz + 3 * px * pz + 0.5 * px**2 - pz**2, atol=1e-12
    )
    np.testing.assert_allclose(rows.d_x @ field, 2 + 3 * pz + px, atol=1e-11)
    np.testing.assert_allclose(rows.d_z @ field, -1 + 3 * px - 2 * pz, atol=1e-11)


def test_stiffness_of_parts_adds_up_to_the_whole():
    one = body(4, 3, distorted, moduli=isotropic(1.0, 0.3), thickness=lambda x, z: 1 + x)
    law = {"thickness": one.thickness, "moduli": one.moduli}
    whole = stiffness(one.plate, **law)
    parts = [stiffness(one.plate, cells=cells, **law) for cells in (np.arange(5), np.arange(5, 12))]
    assert abs(whole - sum(parts)).max() < 1e-14
    assert abs(whole - whole.T).max() < 1e-14


def test_refusals_say_what_to_do():
    one = body(1, 1, rectangle(1.0, 1.0), moduli=np.eye(3))
    law = {"thickness": one.thickness}
    with pytest.raises(ModelError, match=r"no cells\. Check the lengths"):
        stiffness(one.plate, moduli=np.eye(3), cells=np.zeros(0, dtype=int), **law)
    with pytest.raises(ModelError, match=r"not symmetric\. Check the wood's Poisson"):
        stiffness(one.plate, moduli=np.array([[1, 0.3, 0], [0.2, 1, 0], [0, 0, 1]]), **law)
    with pytest.raises(ModelError, match=r"outside the body\. Check that pads"):
        point_rows(one.plate, np.array([[1.5], [0.5]]))
