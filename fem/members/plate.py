"""Orthotropic plate in its own plane with varying thickness: stiffness matrices and point functionals
(docs/theory-model.md, section 4).

Displacements are two scalar fields, all x components first. Shape functions, quadrature and numbering of
unknowns are scikit-fem's. One product over all cells forms their matrices: a form called for each pair of
shape functions takes ten times as long (a test compares both).
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementQuad2, MeshQuad
from skfem.assembly import Dofs

from fem.errors import ModelError
from fem.geometry import quad_element
from fem.geometry.outline import Array

_ELEMENT = ElementQuad2()

Thickness = Callable[[Array, Array], Array]


@dataclass(frozen=True)
class Plate:
    """A meshed body with nine-node cells; displacement vectors are (u_x at all nodes, u_z at all nodes),
    length ``2 * size``.

    ``unknowns`` (9, cells) are the numbers of the scalar unknowns, ``nodes`` (2, size) their positions [m].
    """

    mesh: MeshQuad
    unknowns: NDArray[np.int64]
    nodes: Array

    @property
    def size(self) -> int:
        """Number of scalar unknowns."""
        return self.nodes.shape[1]

    @property
    def corners(self) -> Array:
        """Corners of all cells, (2, 4, cells) [m]."""
        return np.asarray(self.mesh.p[:, self.mesh.t])

    @cached_property
    def basis(self) -> Basis:
        """The scalar basis of scikit-fem."""
        return Basis(self.mesh, _ELEMENT, intorder=quad_element.ORDER)

    @cached_property
    def strains(self) -> "PlateStrains":
        """Strains of all cells."""
        return _strains(self)


def plate(mesh: MeshQuad) -> Plate:
    """Plate on a quadrilateral mesh with quadratic (nine-node) displacements."""
    dofs = Dofs(mesh, _ELEMENT)
    unknowns = np.asarray(dofs.element_dofs)
    nodes = np.empty((2, int(dofs.N)))
    nodes[:, unknowns] = quad_element.position(mesh.p[:, mesh.t][:, :, None], _ELEMENT.doflocs.T[:, :, None])
    return Plate(mesh, unknowns, nodes)


@dataclass(frozen=True)
class PlateStrains:
    """Strains of unit unknowns at the quadrature points of some cells.

    ``unknowns`` (cells, 18) are numbered x components first; ``rows`` (cells, points, 3, 18) are strains xx,
    zz and engineering xz [1/m]; quadrature weights ``area`` [m2] and positions ``x``, ``z`` [m] are (cells,
    points).
    """

    unknowns: NDArray[np.int64]
    rows: Array
    area: Array
    x: Array
    z: Array


def _strains(body: Plate) -> PlateStrains:
    at, weight, _, slopes = quad_element.gauss_points()
    slope = np.ascontiguousarray(np.moveaxis(slopes, 0, -1))
    corners, local = body.corners[..., None], at[:, None, :]
    turned, swept = quad_element.inverse(quad_element.stretch(corners, local))
    d_x, d_z = (turned[..., None] * slope[:, None, None]).sum(axis=0)
    nothing = np.zeros_like(d_x)
    rows = np.stack(
        [
            np.concatenate([d_x, nothing], axis=-1),
            np.concatenate([nothing, d_z], axis=-1),
            np.concatenate([d_z, d_x], axis=-1),
        ],
        axis=-2,
    )
    x, z = quad_element.position(corners, local)
    unknowns = np.concatenate([body.unknowns, body.unknowns + body.size]).T
    return PlateStrains(unknowns, rows, np.abs(swept) * weight, x, z)


def strains(body: Plate, cells: NDArray[np.int64] | None = None) -> PlateStrains:
    """Strains of some cells (all when None); `ModelError` for an empty list."""
    every = body.strains
    if cells is None:
        return every
    if len(cells) == 0:
        raise ModelError("A part of the plate has no cells. Check the lengths of heel, tongue and block.")
    return PlateStrains(*(getattr(every, field.name)[cells] for field in fields(every)))


def stiffness(
    body: Plate, *, thickness: Thickness, moduli: Array, cells: NDArray[np.int64] | None = None
) -> sp.csr_matrix:
    r"""Stiffness of some cells, :math:`\int b\, \varepsilon(v)^T Q\, \varepsilon(u)\, dA`, (2 size, 2 size)
    [N/m].

    ``thickness`` is b(x, z) [m]; ``moduli`` (3, 3) or (cells, 3, 3) the plane-stress stiffness Q [Pa] in the
    order xx, zz, engineering xz; ``cells`` None takes all.

    Raises `ModelError`: the list of cells is empty, or Q is not finite or not symmetric.
    """
    if not np.all(np.isfinite(moduli)):
        raise ModelError("The plane-stress stiffness is not finite. Check the wood's moduli.")
    # small entries contain the rounding of large ones: the tolerance is relative to the largest
    skew = np.abs(moduli - np.swapaxes(moduli, -1, -2)).max()
    if skew > 1e-9 * np.abs(moduli).max():
        raise ModelError("The plane-stress stiffness is not symmetric. Check the wood's Poisson ratios.")
    at = strains(body, cells)
    weight = at.area * thickness(at.x, at.z)
    count, points = weight.shape
    flat = at.rows.reshape(count, 3 * points, -1)
    each = np.broadcast_to(moduli, (count, 3, 3))[:, None]
    stress = (weight[..., None, None] * (each @ at.rows)).reshape(count, 3 * points, -1)
    of_cells = flat.transpose(0, 2, 1) @ stress
    own = at.unknowns
    row = np.repeat(own, own.shape[1], axis=1).ravel()
    column = np.tile(own, (1, own.shape[1])).ravel()
    return sp.csr_matrix((of_cells.ravel(), (row, column)), shape=(2 * body.size, 2 * body.size))


class PointRows:
    """Sparse rows of a scalar field and its slopes at points: ``value``, ``d_x`` and ``d_z``, each of shape
    (points, size), computed on first use.
    """

    def __init__(self, body: Plate, local: Array, cells: NDArray[np.int64]) -> None:
        self._body, self._local, self._cells = body, local, cells

    @cached_property
    def _shapes(self) -> tuple[Array, Array]:
        return quad_element.shapes(self._local)

    @cached_property
    def value(self) -> sp.csr_matrix:
        """Rows of the value."""
        return self._matrix(self._shapes[0])

    def sum_of(self, weights: Array) -> Array:
        """Row of the sum of all values with weights (points,), shape (size,)."""
        each = self._shapes[0] * weights
        unknowns = self._body.unknowns[:, self._cells]
        return np.bincount(unknowns.ravel(), weights=each.ravel(), minlength=self._body.size).astype(float)

    @cached_property
    def _slopes(self) -> Array:
        turned, _ = quad_element.inverse(
            quad_element.stretch(self._body.corners[..., self._cells], self._local)
        )
        return np.stack([(turned * slope[:, None]).sum(axis=0) for slope in self._shapes[1]], axis=1)

    @cached_property
    def d_x(self) -> sp.csr_matrix:
        """Rows of the slope along x."""
        return self._matrix(self._slopes[0])

    @cached_property
    def d_z(self) -> sp.csr_matrix:
        """Rows of the slope along z."""
        return self._matrix(self._slopes[1])

    def _matrix(self, entries: Array) -> sp.csr_matrix:
        count = len(self._cells)
        # nine entries in each row: no conversion is needed
        unknowns = self._body.unknowns[:, self._cells].T.ravel()
        where = (unknowns, 9 * np.arange(count + 1))
        return sp.csr_matrix((entries.T.ravel(), *where), shape=(count, self._body.size))


def point_rows(body: Plate, points: Array, *, inside: tuple[float, float] | Array | None = None) -> PointRows:
    """Rows of value, x slope and z slope at points (2, n) of the body [m].

    On an edge, ``inside`` is a direction into the body, one or one a point (2, n); the cell is the one 1e-9 m
    in that direction.

    Raises `ModelError`: a point is outside the body.
    """
    points = np.asarray(points, dtype=float)
    corners = body.corners
    aside = np.zeros((2, 1)) if inside is None else 1e-9 * np.reshape(inside, (2, -1))
    cells, local = quad_element.holding(corners, points + aside)
    turned, _ = quad_element.inverse(quad_element.stretch(corners[..., cells], local))
    return PointRows(body, local - (turned * aside).sum(axis=1), cells)
