"""Orthotropic plate in its own plane with varying thickness: stiffness matrices and point functionals
(docs/theory.md, section 4).

Displacements are stored as two scalar fields, all x components first; the stiffness is assembled from four
scalar blocks, which costs an eighth of the vector form (81 instead of 324 calls a block).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementQuad2, MeshQuad

from fem.errors import ModelError
from fem.outline import Array

Thickness = Callable[[Array, Array], Array]


@BilinearForm
def _block(u, v, w):  # type: ignore[no-untyped-def]
    return (w["xx"] * u.grad[0] + w["zx"] * u.grad[1]) * v.grad[0] + (
        w["xz"] * u.grad[0] + w["zz"] * u.grad[1]
    ) * v.grad[1]


@dataclass(frozen=True)
class Plate:
    """A meshed body and its scalar basis; displacement vectors are (u_x at all nodes, u_z at all nodes),
    length ``2 * size``.
    """

    mesh: MeshQuad
    basis: Basis

    @property
    def size(self) -> int:
        """Number of scalar unknowns."""
        return int(self.basis.N)

    @property
    def nodes(self) -> Array:
        """Positions of the scalar unknowns, shape (2, size) [m]."""
        return self.basis.doflocs


def plate(mesh: MeshQuad) -> Plate:
    """Plate on a quadrilateral mesh with quadratic (nine-node) displacements."""
    return Plate(mesh, Basis(mesh, ElementQuad2(), intorder=4))


def stiffness(
    body: Plate, *, thickness: Thickness, moduli: Array, cells: NDArray[np.int64] | None = None
) -> sp.csr_matrix:
    r"""Stiffness of some cells, :math:`\int b\, \varepsilon(v)^T Q\, \varepsilon(u)\, dA`.

    Parameters
    ----------
    body : plate.
    thickness : b(x, z) [m].
    moduli : (3, 3) array [Pa], plane-stress stiffness Q in the order xx, zz, engineering xz.
    cells : cell numbers; all cells when None.

    Returns
    -------
    csr_matrix of shape (2 size, 2 size) [N/m].

    Raises
    ------
    ModelError
        If the list of cells is empty or Q is not symmetric.
    """
    if cells is not None and len(cells) == 0:
        raise ModelError("A part of the plate has no cells. Check the lengths of heel, tongue and block.")
    if not np.allclose(moduli, moduli.T, rtol=1e-9):
        raise ModelError("The plane-stress stiffness is not symmetric. Check the wood's Poisson ratios.")
    basis = body.basis if cells is None else Basis(body.mesh, ElementQuad2(), intorder=4, elements=cells)
    b = thickness(*np.asarray(basis.global_coordinates()))
    q = moduli

    def part(xx: float, zx: float, xz: float, zz: float) -> sp.csr_matrix:
        return _block.assemble(basis, xx=b * xx, zx=b * zx, xz=b * xz, zz=b * zz)

    # test function v_x carries strains (v,x ; 0 ; v,z), v_z carries (0 ; v,z ; v,x); likewise for u.
    k_xx = part(q[0, 0], q[0, 2], q[2, 0], q[2, 2])
    k_zz = part(q[2, 2], q[2, 1], q[1, 2], q[1, 1])
    k_xz = part(q[0, 2], q[0, 1], q[2, 2], q[2, 1])
    return sp.bmat([[k_xx, k_xz], [k_xz.T, k_zz]], format="csr")


@dataclass(frozen=True)
class PointRows:
    """Sparse rows that evaluate a scalar field and its slopes at points: each of shape (points, size)."""

    value: sp.csr_matrix
    d_x: sp.csr_matrix
    d_z: sp.csr_matrix


def point_rows(body: Plate, points: Array, *, inside: tuple[float, float] | None = None) -> PointRows:
    """Rows of value, x slope and z slope at points of the body.

    Parameters
    ----------
    body : plate.
    points : (2, n) array [m].
    inside : a direction towards the body's inside, for points on its edge: the cell is searched a hair that
      way.

    Raises
    ------
    ModelError
        If a point is outside the body.
    """
    probe = np.array(points, dtype=float)
    if inside is not None:
        probe = probe + 1e-9 * np.asarray(inside)[:, None]
    try:
        cells = body.mesh.element_finder()(*probe)
    except ValueError as outside:
        raise ModelError(
            f"A point between x = {1e3 * points[0].min():.1f} and {1e3 * points[0].max():.1f} mm "
            "is outside the body. "
            "Check that pads, bolts and rod lie within neck and block."
        ) from outside
    local = body.basis.mapping.invF(probe[:, :, None], tind=cells)
    element = body.basis.elem
    rows = np.arange(len(cells))
    values, slopes_x, slopes_z, columns = [], [], [], []
    for i in range(body.basis.Nbfun):
        field = element.gbasis(body.basis.mapping, local, i, tind=cells)[0]
        values.append(np.asarray(field)[:, 0])
        slopes_x.append(field.grad[0][:, 0])
        slopes_z.append(field.grad[1][:, 0])
        columns.append(body.basis.dofs.element_dofs[i, cells])
    shape = (len(cells), body.size)
    where = (np.tile(rows, len(columns)), np.concatenate(columns))

    def matrix(entries: list[Array]) -> sp.csr_matrix:
        return sp.csr_matrix((np.concatenate(entries), where), shape=shape)

    return PointRows(matrix(values), matrix(slopes_x), matrix(slopes_z))
