"""What we take for granted about scikit-fem, one small test each, so that an upgrade tells us what moved.

The strict xfails document faults of 12.0.2 that we work around; when upstream mends one, the test shouts
and the workaround can go. They were found by running the library, not read in its documentation.
"""

import numpy as np
import pytest
import scipy.sparse
import skfem
from skfem import (
    Basis,
    BilinearForm,
    ElementLineHermite,
    ElementLineP2,
    ElementLinePp,
    ElementQuad2,
    ElementVector,
    Functional,
    LinearForm,
    MeshLine,
    MeshQuad,
    condense,
    enforce,
    solve,
)
from skfem.helpers import dd, ddot


@BilinearForm
def bending(u, v, w):
    return ddot(dd(u), dd(v))


@BilinearForm
def plane_strain_energy(u, v, w):
    """Isotropic, lambda = 2 and mu = 1, by components so that the index order of the gradient matters."""
    e_u = (u.grad[0, 0], u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0])
    e_v = (v.grad[0, 0], v.grad[1, 1], v.grad[0, 1] + v.grad[1, 0])
    return 4 * (e_u[0] * e_v[0] + e_u[1] * e_v[1]) + 2 * (e_u[0] * e_v[1] + e_u[1] * e_v[0]) + e_u[2] * e_v[2]


def quad_mesh(columns: int = 4, rows: int = 2) -> MeshQuad:
    return MeshQuad.init_tensor(np.linspace(0, 2, columns + 1), np.linspace(0, 1, rows + 1))


def hermite_cantilever(length: float, element: ElementLineHermite) -> float:
    mesh = MeshLine(np.linspace(0, length, 5)).with_boundaries(
        {"root": lambda x: np.isclose(x[0], 0), "tip": lambda x: np.isclose(x[0], length)},
        boundaries_only=True,
    )
    basis = Basis(mesh, element)
    load = LinearForm(lambda v, w: v).assemble(basis.boundary("tip"))
    x = solve(*condense(bending.assemble(basis), load, D=basis.get_dofs("root")))
    return float(load @ x)


def test_version_is_the_one_the_contract_was_written_for():
    assert skfem.__version__.split(".")[0] == "12"


def test_gradient_index_is_component_then_direction():
    basis = Basis(quad_mesh(), ElementVector(ElementQuad2()), intorder=4)
    field = basis.project(lambda x: np.array([0 * x[0], 3 * x[0]]))
    gradient = basis.interpolate(field).grad
    np.testing.assert_allclose(gradient[1, 0], 3, rtol=1e-10)
    np.testing.assert_allclose(gradient[0, 1], 0, atol=1e-10)


def test_hermite_end_moment_form_is_a_unit_moment():
    mesh = MeshLine(np.linspace(0, 2, 5)).with_boundaries(
        {"root": lambda x: np.isclose(x[0], 0), "tip": lambda x: np.isclose(x[0], 2)}, boundaries_only=True
    )
    basis = Basis(mesh, ElementLineHermite())
    moment = LinearForm(lambda v, w: v.grad[0]).assemble(basis.boundary("tip"))
    x = solve(*condense(bending.assemble(basis), moment, D=basis.get_dofs("root")))
    slope = moment @ x
    assert slope == pytest.approx(2.0, rel=1e-9)  # M L / EI
    assert LinearForm(lambda v, w: v).assemble(basis.boundary("tip")) @ x == pytest.approx(2.0, rel=1e-9)


def test_timoshenko_p3_p2_is_exact_with_one_element():
    """w = L^3/3 + L/k for EI = 1 and shear stiffness k: no locking and no refinement needed."""
    shear = 0.5

    @BilinearForm
    def beam(w_, t, dw, dt, p):
        return t.grad[0] * dt.grad[0] + shear * (w_.grad[0] - t) * (dw.grad[0] - dt)

    mesh = MeshLine(np.array([0.0, 2.0])).with_boundaries(
        {"root": lambda x: np.isclose(x[0], 0), "tip": lambda x: np.isclose(x[0], 2)}, boundaries_only=True
    )
    basis = Basis(mesh, ElementLinePp(3) * ElementLineP2(), intorder=6)
    load = LinearForm(lambda dw, dt, p: dw).assemble(basis.boundary("tip"))
    x = solve(*condense(beam.assemble(basis), load, D=basis.get_dofs("root")))
    assert load @ x == pytest.approx(8 / 3 + 2 / shear, rel=1e-12)


def test_condense_keeps_symmetry_and_enforce_does_not():
    basis = Basis(quad_mesh(), ElementVector(ElementQuad2()), intorder=4)
    stiffness = plane_strain_energy.assemble(basis)
    held = basis.get_dofs(lambda x: np.isclose(x[0], 0))
    condensed = condense(stiffness, np.zeros(basis.N), D=held)[0]
    enforced = enforce(stiffness, np.zeros(basis.N), D=held)[0]
    assert abs(condensed - condensed.T).max() <= 1e-14 * abs(condensed).max()
    assert abs(enforced - enforced.T).max() > 0.1


def test_facets_around_gives_outward_normals():
    mesh = quad_mesh(4, 4).with_subdomains({"left": lambda x: x[0] < 1})
    element = ElementQuad2()
    around = skfem.FacetBasis(mesh, element, facets=mesh.facets_around("left"))
    closed = [Functional(lambda w, i=i: w.n[i]).assemble(around) for i in range(2)]
    np.testing.assert_allclose(closed, 0, atol=1e-14)
    divergence = Functional(lambda w: w.x[0] * w.n[0] + w.x[1] * w.n[1]).assemble(around)
    assert divergence == pytest.approx(2.0, rel=1e-12)  # div x = 2 over the unit square x < 1


def test_a_field_per_element_is_passed_as_a_column():
    mesh = quad_mesh()
    basis = Basis(mesh, ElementQuad2(), intorder=4)
    modulus = np.arange(1.0, mesh.nelements + 1)
    weighted = Functional(lambda w: w["modulus"]).assemble(basis, modulus=modulus[:, None])
    assert weighted == pytest.approx(modulus.sum() * 2 / mesh.nelements, rel=1e-12)
    with pytest.raises(ValueError, match="wrong size"):
        Functional(lambda w: w["modulus"]).assemble(basis, modulus=modulus)


def test_an_interior_tag_needs_boundaries_only_false():
    def middle(x):
        return np.isclose(x[0], 1)

    mesh = quad_mesh()
    assert mesh.with_boundaries({"joint": middle}).boundaries["joint"].size == 0
    assert mesh.with_boundaries({"joint": middle}, boundaries_only=False).boundaries["joint"].size == 2


def test_an_empty_tag_is_accepted_in_silence():
    """The reason for our own check on empty tags: neither the tag nor its degrees of freedom raise."""
    mesh = quad_mesh().with_boundaries({"nowhere": lambda x: x[0] == 0.7})
    assert Basis(mesh, ElementQuad2()).get_dofs("nowhere").flatten().size == 0


def test_an_unknown_tag_raises():
    with pytest.raises(ValueError, match="nowhere"):
        Basis(quad_mesh(), ElementQuad2()).get_dofs("nowhere")


def test_uniform_refinement_keeps_names_on_quads():
    mesh = quad_mesh().with_subdomains({"left": lambda x: x[0] < 1}).with_defaults().refined(1)
    assert np.all(mesh.p[:, mesh.t[:, mesh.subdomains["left"]]].mean(axis=1)[0] < 1)
    assert mesh.subdomains["left"].size == mesh.nelements // 2
    left_edge = mesh.p[0, mesh.facets[:, mesh.boundaries["left"]]]
    np.testing.assert_allclose(left_edge, 0, atol=1e-15)


def test_a_tensor_mesh_keeps_its_names_when_morphed():
    mesh = quad_mesh().with_defaults().morphed(lambda p: p[0], lambda p: p[1] * (1 + p[0]))
    assert set(mesh.boundaries) >= {"left", "right", "bottom", "top"}
    np.testing.assert_allclose(mesh.p[0, mesh.facets[:, mesh.boundaries["right"]]], 2)


def test_scalar_block_assembly_equals_vector_assembly():
    """Four scalar matrices of geometry alone make the same stiffness as the vector form, and faster."""
    mesh = quad_mesh()
    scalar = Basis(mesh, ElementQuad2(), intorder=4)
    vector = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
    # d[a][b] is the integral of u,a v,b; rows belong to v.
    d = [
        [BilinearForm(lambda u, v, w, a=a, b=b: u.grad[a] * v.grad[b]).assemble(scalar) for b in range(2)]
        for a in range(2)
    ]
    blocks = {
        (0, 0): 4 * d[0][0] + d[1][1],
        (0, 1): 2 * d[1][0] + d[0][1],
        (1, 0): 2 * d[0][1] + d[1][0],
        (1, 1): 4 * d[1][1] + d[0][0],
    }
    whole = plane_strain_energy.assemble(vector).toarray()
    for (row, column), block in blocks.items():
        part = whole[np.ix_(vector_dofs(vector, row), vector_dofs(vector, column))]
        np.testing.assert_allclose(part, block.toarray(), atol=1e-13)


def vector_dofs(basis: Basis, component: int) -> np.ndarray:
    """Degrees of freedom of one component, in the order of the scalar basis."""
    dofs = basis.dofs
    parts = [
        table[component::2].flatten("F") for table in (dofs.nodal_dofs, dofs.facet_dofs, dofs.interior_dofs)
    ]
    return np.concatenate(parts)


def test_reactions_from_the_full_matrix_balance_the_load():
    mesh = quad_mesh().with_defaults()
    basis = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
    stiffness = plane_strain_energy.assemble(basis)
    load = LinearForm(lambda v, w: v[1]).assemble(basis.boundary("right"))
    held = basis.get_dofs("left")
    x = solve(*condense(stiffness, load, D=held))
    reaction = stiffness @ x - load
    upward = held.all(["u^2"])
    assert reaction[upward].sum() == pytest.approx(-1.0, rel=1e-10)
    assert np.abs(np.delete(reaction, held.flatten())).max() < 1e-10


def test_a_free_body_solves_without_a_word():
    """Why we test the rank of the rigid modes before a solve: upstream returns numbers, not an error."""
    mesh = quad_mesh().with_defaults()
    basis = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
    load = LinearForm(lambda v, w: v[1]).assemble(basis.boundary("right"))
    with np.errstate(all="ignore"):
        x = solve(*condense(plane_strain_energy.assemble(basis), load, D=np.array([0])))
    assert np.abs(x).max() > 1e6 or not np.all(np.isfinite(x))


@pytest.mark.xfail(
    strict=True, raises=AssertionError, reason="skfem.mpc drops the rows of the tied degrees of freedom"
)
def test_a_rigid_link_by_mpc_carries_the_load_of_its_far_end():
    """Two springs in series, the end node tied to the middle one and loaded: x = F / k = 1 at both."""
    stiffness = scipy.sparse.csr_matrix(np.array([[1.0, 0.0], [0.0, 0.0]]))
    tie = scipy.sparse.csr_matrix(np.array([[1.0]]))
    x = solve(*skfem.utils.mpc(stiffness, np.array([0.0, 1.0]), S=np.array([1]), M=np.array([0]), T=tie))
    np.testing.assert_allclose(x, [1.0, 1.0], rtol=1e-9)


def test_the_same_rigid_link_by_projection_carries_it():
    """Q^T K Q on the same two nodes: what we use instead."""
    stiffness, link, load = np.diag([1.0, 0.0]), np.array([[1.0], [1.0]]), np.array([0.0, 1.0])
    x = link @ np.linalg.solve(link.T @ stiffness @ link, link.T @ load)
    np.testing.assert_allclose(x, [1.0, 1.0], rtol=1e-12)


@pytest.mark.xfail(
    strict=True,
    raises=AssertionError,
    reason="MeshLine.refined numbers children otherwise than its subdomains expect",
)
def test_refining_a_line_keeps_its_subdomains():
    mesh = MeshLine(np.linspace(0, 1, 5)).with_subdomains({"half": lambda x: x[0] < 0.5}).refined(1)
    middles = mesh.p[0, mesh.t[:, mesh.subdomains["half"]]].mean(axis=0)
    assert np.all(middles < 0.5)


@pytest.mark.xfail(
    strict=True,
    raises=AssertionError,
    reason="global elements cache the inverse Vandermonde matrix of their first mesh",
)
def test_a_global_element_can_serve_a_second_mesh():
    element = ElementLineHermite()
    assert hermite_cantilever(1.0, element) == pytest.approx(1 / 3, rel=1e-6)
    assert hermite_cantilever(2.0, element) == pytest.approx(8 / 3, rel=1e-6)


def test_a_fresh_global_element_for_each_mesh_is_right():
    assert hermite_cantilever(1.0, ElementLineHermite()) == pytest.approx(1 / 3, rel=1e-6)
    assert hermite_cantilever(2.0, ElementLineHermite()) == pytest.approx(8 / 3, rel=1e-6)
