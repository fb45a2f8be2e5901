"""Orthotropic plate in its own plane with varying thickness: stiffness matrices and point functionals
(docs/theory.md, section 4).

Displacements are stored as two scalar fields, all x components first. Shape functions and quadrature are
scikit-fem's; the cells' matrices are formed in one product over all of them, since calling a form for each
pair of shape functions takes ten times as long (a test compares both).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementQuad2, MeshQuad

from fem.errors import ModelError
from fem.outline import Array

Thickness = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Plate:
    """A meshed body and its scalar basis; displacement vectors are (u_x at all nodes, u_z at all nodes),
    length ``2 * size``.
    """

    mesh: MeshQuad
    basis: Basis
    finder: Callable[..., NDArray[np.int64]]

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
    return Plate(mesh, Basis(mesh, ElementQuad2(), intorder=4), mesh.element_finder())


@dataclass(frozen=True)
class Strains:
    """Strains of unit unknowns at the quadrature points of some cells.

    Attributes
    ----------
    unknowns : (cells, 18) numbers of the unknowns, x components first.
    rows : (cells, points, 3, 18) strains xx, zz and engineering xz [1/m].
    area : (cells, points) quadrature weights [m2].
    x, z : (cells, points) positions [m].
    """

    unknowns: NDArray[np.int64]
    rows: Array
    area: Array
    x: Array
    z: Array


def strains(body: Plate, cells: NDArray[np.int64] | None = None) -> Strains:
    """Strains of some cells (all when None), from the basis' shape functions.

    Raises
    ------
    ModelError
        If the list of cells is empty.
    """
    if cells is None:
        cells = np.arange(body.mesh.t.shape[1])
    if len(cells) == 0:
        raise ModelError("A part of the plate has no cells. Check the lengths of heel, tongue and block.")
    basis = body.basis
    d_x = np.stack([field[0].grad[0][cells] for field in basis.basis], axis=-1)
    d_z = np.stack([field[0].grad[1][cells] for field in basis.basis], axis=-1)
    nothing = np.zeros_like(d_x)
    rows = np.stack(
        [
            np.concatenate([d_x, nothing], axis=-1),
            np.concatenate([nothing, d_z], axis=-1),
            np.concatenate([d_z, d_x], axis=-1),
        ],
        axis=-2,
    )
    scalar = basis.dofs.element_dofs[:, cells].T
    x, z = (np.asarray(c)[cells] for c in basis.global_coordinates())
    return Strains(np.concatenate([scalar, scalar + body.size], axis=1), rows, basis.dx[cells], x, z)


def stiffness(
    body: Plate, *, thickness: Thickness, moduli: Array, cells: NDArray[np.int64] | None = None
) -> sp.csr_matrix:
    r"""Stiffness of some cells, :math:`\int b\, \varepsilon(v)^T Q\, \varepsilon(u)\, dA`.

    Parameters
    ----------
    body : plate.
    thickness : b(x, z) [m].
    moduli : (3, 3) or (cells, 3, 3) array [Pa], plane-stress stiffness Q in the order xx, zz, engineering xz.
    cells : cell numbers; all cells when None.

    Returns
    -------
    csr_matrix of shape (2 size, 2 size) [N/m].

    Raises
    ------
    ModelError
        If the list of cells is empty, or Q is not finite or not symmetric.
    """
    if not np.all(np.isfinite(moduli)):
        raise ModelError("The plane-stress stiffness is not finite. Check the wood's moduli.")
    # rounding of the large entries stands in the small ones: they may differ by a share of the largest
    skew = np.abs(moduli - np.swapaxes(moduli, -1, -2)).max()
    if skew > 1e-9 * np.abs(moduli).max():
        raise ModelError("The plane-stress stiffness is not symmetric. Check the wood's Poisson ratios.")
    at = strains(body, cells)
    weight = at.area * thickness(at.x, at.z)
    count, points = weight.shape
    flat = at.rows.reshape(count, 3 * points, -1)
    each = np.broadcast_to(moduli, (count, 3, 3))[:, None]
    stress = (weight[..., None, None] * (each @ at.rows)).reshape(count, 3 * points, -1)
    cell = flat.transpose(0, 2, 1) @ stress
    own = at.unknowns
    row = np.repeat(own, own.shape[1], axis=1).ravel()
    column = np.tile(own, (1, own.shape[1])).ravel()
    return sp.csr_matrix((cell.ravel(), (row, column)), shape=(2 * body.size, 2 * body.size))


class PointRows:
    """Sparse rows that evaluate a scalar field and its slopes at points: ``value``, ``d_x`` and ``d_z``, each
    of shape (points, size). Slopes are worked out when first asked for: most points are only read.
    """

    def __init__(self, body: Plate, local: Array, cells: NDArray[np.int64]) -> None:
        self._body, self._local, self._cells = body, local, cells

    @cached_property
    def _shapes(self) -> list[tuple[Array, Array]]:
        element = self._body.basis.elem
        return [element.lbasis(self._local, i) for i in range(self._body.basis.Nbfun)]

    @cached_property
    def value(self) -> sp.csr_matrix:
        """Rows of the value."""
        return self._matrix(np.stack([phi[:, 0] for phi, _ in self._shapes]))

    @cached_property
    def _slopes(self) -> Array:
        inverse = self._body.basis.mapping.invDF(self._local, self._cells)
        along = [np.einsum("ijkl,ikl->jkl", inverse, gradient)[:, :, 0] for _, gradient in self._shapes]
        return np.stack(along)

    @cached_property
    def d_x(self) -> sp.csr_matrix:
        """Rows of the slope along x."""
        return self._matrix(self._slopes[:, 0])

    @cached_property
    def d_z(self) -> sp.csr_matrix:
        """Rows of the slope along z."""
        return self._matrix(self._slopes[:, 1])

    def _matrix(self, entries: Array) -> sp.csr_matrix:
        points = len(self._cells)
        unknowns = self._body.basis.dofs.element_dofs[:, self._cells].ravel()
        where = (np.tile(np.arange(points), len(entries)), unknowns)
        return sp.csr_matrix((entries.ravel(), where), shape=(points, self._body.size))


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
        cells = body.finder(*probe)
    except ValueError as outside:
        raise ModelError(
            f"A point between x = {1e3 * points[0].min():.1f} and {1e3 * points[0].max():.1f} mm "
            "is outside the body. "
            "Check that pads, bolts and rod lie within neck and block."
        ) from outside
    local = body.basis.mapping.invF(np.asarray(points, dtype=float)[:, :, None], tind=cells)
    return PointRows(body, local, cells)
