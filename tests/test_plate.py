"""The plate in its plane beside the benchmarks of `tests.evidence_rows.plate`: rows, forms, errors."""

import numpy as np
import pytest
import scipy.sparse as sp
from skfem import BilinearForm, MeshQuad

from fem.errors import ModelError
from fem.members.plate import plate, point_rows, stiffness
from tests.evidence_rows.plate import body, isotropic, rectangle


def distorted(s, t):
    bump = np.sin(np.pi * s) * np.sin(np.pi * t)
    return s + 0.09 * bump, 0.8 * t - 0.12 * bump


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


def test_stiffness_is_that_of_forms_and_of_its_parts():
    """One product over all cells makes the matrices that scikit-fem's forms make on the same numbering."""
    one = body(4, 3, distorted, moduli=isotropic(1.0, 0.3), thickness=lambda x, z: 1 + x)
    law = {"thickness": one.thickness, "moduli": one.moduli}
    whole = stiffness(one.plate, **law)
    parts = [stiffness(one.plate, cells=cells, **law) for cells in (np.arange(5), np.arange(5, 12))]
    assert abs(whole - sum(parts)).max() < 1e-14
    d = {  # the integral of u,a v,b
        (a, b): BilinearForm(lambda u, v, w, a=a, b=b: one.thickness(*w.x) * u.grad[a] * v.grad[b]).assemble(
            one.plate.basis
        )
        for a in range(2)
        for b in range(2)
    }
    (q, p, _), (_, r, _), (_, _, g) = one.moduli
    cross = p * d[1, 0] + g * d[0, 1]
    forms = sp.bmat([[q * d[0, 0] + g * d[1, 1], cross], [cross.T, r * d[1, 1] + g * d[0, 0]]])
    assert abs(whole - forms).max() < 1e-13


def test_refusals_say_what_to_do():
    one = body(1, 1, rectangle(1.0, 1.0), moduli=np.eye(3))
    law = {"thickness": one.thickness}
    with pytest.raises(ModelError, match=r"no cells\. Check the lengths"):
        stiffness(one.plate, moduli=np.eye(3), cells=np.zeros(0, dtype=int), **law)
    with pytest.raises(ModelError, match=r"not symmetric\. Check the wood's Poisson"):
        stiffness(one.plate, moduli=np.array([[1, 0.3, 0], [0.2, 1, 0], [0, 0, 1]]), **law)
    with pytest.raises(ModelError, match=r"outside the body\. Check that pads"):
        point_rows(one.plate, np.array([[1.5], [0.5]]))
