"""Tapered composite Timoshenko beam with coupled axial force and bending (docs/theory-model.md, section 3).

Unknowns: u along x and w along z of the z = 0 axis, and theta, the slope of the section. ``u_x = u - z
theta``; ``N = EA u' - ES theta'``; ``M = -ES u' + EI theta'``; ``Q = kGA (w' - theta)``. M is positive when
it bows the shaft forward.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementLineP2, ElementLinePp, MeshLine
from skfem.element import DiscreteField

from fem.errors import ModelError
from fem.geometry.outline import Array, merged

Along = Callable[[Array], Array]


@dataclass(frozen=True)
class BeamStrains:
    """Strains of unit unknowns at the quadrature points of some elements.

    ``unknowns`` (elements, 10) are their numbers; ``stretch``, ``bend`` and ``shear`` (elements, points, 10)
    are u', theta' and w' - theta [1/m]; quadrature weights ``length`` and positions ``x`` are (elements,
    points) [m].
    """

    unknowns: NDArray[np.int64]
    stretch: Array
    bend: Array
    shear: Array
    length: Array
    x: Array

    def of(self, elements: NDArray[np.int64]) -> "BeamStrains":
        """Strains of fewer elements."""
        return BeamStrains(*(getattr(self, field.name)[elements] for field in fields(self)))


@dataclass(frozen=True)
class Beam:
    """Beam with nodes at ``x``; ``dof[name]`` numbers the unknowns ``u``, ``w`` or ``t`` at the nodes."""

    x: Array
    basis: Basis
    dof: dict[str, Array]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return int(self.basis.N)

    @cached_property
    def strains(self) -> BeamStrains:
        """Strains of all elements, from the basis' shape functions."""
        u, w, turn = zip(*self.basis.basis, strict=True)

        def of(field: Sequence[DiscreteField], *, slope: bool) -> Array:
            return np.stack([one.grad[0] if slope else np.asarray(one) for one in field], axis=-1)

        return BeamStrains(
            unknowns=self.basis.dofs.element_dofs.T,
            stretch=of(u, slope=True),
            bend=of(turn, slope=True),
            shear=of(w, slope=True) - of(turn, slope=False),
            length=self.basis.dx,
            x=np.asarray(self.basis.global_coordinates())[0],
        )

    def at(self, name: str, x: float) -> int:
        """Unknown ``name`` at the node at x [m]; `ModelError` where there is none."""
        near = int(np.argmin(np.abs(self.x - x)))
        if abs(self.x[near] - x) > 1e-7:
            raise ModelError(
                f"The beam has no node at x = {1e3 * x:.3f} mm. Put the position among the beam's breaks."
            )
        return int(self.dof[name][near])


def beam(breaks: Array, *, longest: float = 0.04) -> Beam:
    """Beam with nodes at all ``breaks`` and no element longer than ``longest`` [m].

    Deflection is cubic, stretch and rotation quadratic: exact for a uniform beam under end loads with one
    element.
    """
    breaks = merged(breaks)
    x = [breaks[:1]]
    for left, right in pairwise(breaks):
        x.append(np.linspace(left, right, int(np.ceil((right - left) / longest - 1e-9)) + 1)[1:])
    return _with_nodes(np.concatenate(x).tobytes())


# neighbouring instruments have the same nodes
@lru_cache(maxsize=4)
def _with_nodes(at: bytes) -> Beam:
    nodes = np.frombuffer(at)
    # a new element for each basis: some scikit-fem elements cache their first mesh
    basis = Basis(MeshLine(nodes), ElementLineP2() * ElementLinePp(3) * ElementLineP2(), intorder=6)
    names = {"u": 0, "w": 1, "t": 2}
    nodal = basis.dofs.nodal_dofs
    return Beam(nodes, basis, {name: nodal[row] for name, row in names.items()})


def stretch_and_bend(line: Beam, *, section: Callable[[Array], tuple[Array, Array, Array]]) -> sp.csr_matrix:
    """Stiffness of axial force and bending; ``section(x)`` gives EA [N], ES [N m], EI [N m2]."""
    at = line.strains
    ea, es, ei = (value[..., None] for value in section(at.x))
    force = ea * at.stretch - es * at.bend
    moment = ei * at.bend - es * at.stretch
    return _assembled(line, [(at.stretch, force), (at.bend, moment)])


def shear(line: Beam, *, kga: Along) -> sp.csr_matrix:
    """Stiffness of shear: kGA [N] as a function of x."""
    at = line.strains
    return _assembled(line, [(at.shear, kga(at.x)[..., None] * at.shear)])


def _assembled(line: Beam, pairs: Sequence[tuple[Array, Array]]) -> sp.csr_matrix:
    """Matrix of the work of forces on strains, both (elements, points, 10) for unit unknowns."""
    at = line.strains
    weight = at.length[..., None]
    cell = sum(strain.transpose(0, 2, 1) @ (weight * force) for strain, force in pairs)
    own = at.unknowns
    row, column = np.broadcast_arrays(own[:, :, None], own[:, None, :])
    entries = (np.ravel(cell), (row.ravel(), column.ravel()))
    return sp.csr_matrix(entries, shape=(line.size, line.size))


def line_stretch(line: Beam, *, z: Along, slope: Along, first: float, last: float) -> Array:
    """Row of the change of length of a line at z(x) between ``first`` and ``last``, both nodes [m].

    It vanishes on rigid motions, so a tension along the line is self-equilibrated.
    """
    line.at("u", first), line.at("u", last)
    middle = 0.5 * (line.x[1:] + line.x[:-1])
    cells = np.flatnonzero((middle > first) & (middle < last))
    at = line.strains.of(cells)
    height, lean = z(at.x)[..., None], slope(at.x)[..., None]
    # along the tangent: u_x' and, where the line slopes, the shear angle
    stretch = (at.stretch - height * at.bend + lean * at.shear) / np.sqrt(1.0 + lean**2)
    each = np.sum(at.length[..., None] * stretch, axis=1)
    return np.bincount(at.unknowns.ravel(), weights=each.ravel(), minlength=line.size).astype(float)
