"""Tapered composite Timoshenko beam, axial force and bending coupled (docs/theory.md, section 3).

Unknowns: u along x and w along z of the z = 0 axis, and theta, the slope of the section. ``u_x = u - z
theta``; ``N = EA u' - ES theta'``; ``M = -ES u' + EI theta'``; ``Q = kGA (w' - theta)``. M is positive when
it bows the shaft forward.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.sparse as sp
from skfem import Basis, BilinearForm, ElementLineP2, ElementLinePp, LinearForm, MeshLine

from fem.errors import ModelError
from fem.outline import Array

Along = Callable[[Array], Array]


@BilinearForm
def _stretch_and_bend(u, w, t, du, dw, dt, p):  # type: ignore[no-untyped-def]
    return (p["ea"] * u.grad[0] - p["es"] * t.grad[0]) * du.grad[0] + (
        p["ei"] * t.grad[0] - p["es"] * u.grad[0]
    ) * dt.grad[0]


@BilinearForm
def _shear(u, w, t, du, dw, dt, p):  # type: ignore[no-untyped-def]
    return p["kga"] * (w.grad[0] - t) * (dw.grad[0] - dt)


@LinearForm
def _line_stretch(du, dw, dt, p):  # type: ignore[no-untyped-def]
    # change of length of a line at height z(x): its tangent carries u_x' and, where it slopes, the shear
    # angle
    z, slope = p["z"], p["slope"]
    return (du.grad[0] - z * dt.grad[0] + slope * (dw.grad[0] - dt)) / np.sqrt(1.0 + slope**2)


@dataclass(frozen=True)
class Beam:
    """Beam on [first, last] with nodes at ``x``; ``dof[name]`` gives the unknown ``u``, ``w`` or ``t`` at
    each node.
    """

    x: Array
    basis: Basis
    dof: dict[str, Array]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return int(self.basis.N)

    def at(self, name: str, x: float) -> int:
        """Unknown ``name`` at the node at x [m].

        Raises
        ------
        ModelError
            If the beam has no node there.
        """
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
    nodes = np.concatenate(x)
    # the element is built here, never shared: some scikit-fem elements cache the mesh they first met
    basis = Basis(MeshLine(nodes), ElementLineP2() * ElementLinePp(3) * ElementLineP2(), intorder=6)
    names = {"u": 0, "w": 1, "t": 2}
    nodal = basis.dofs.nodal_dofs
    return Beam(nodes, basis, {name: nodal[row] for name, row in names.items()})


def merged(positions: Array, *, nearer_than: float = 1e-7) -> Array:
    """Positions in order, each once; of two nearer than ``nearer_than`` [m] the first stays: no sliver
    arises.
    """
    ordered = np.sort(np.asarray(positions, dtype=float))
    return ordered[np.concatenate([[True], np.diff(ordered) > nearer_than])]


def stretch_and_bend(line: Beam, *, section: Callable[[Array], tuple[Array, Array, Array]]) -> sp.csr_matrix:
    """Stiffness of axial force and bending; ``section(x)`` gives EA [N], ES [N m], EI [N m2]."""
    ea, es, ei = section(np.asarray(line.basis.global_coordinates())[0])
    return _stretch_and_bend.assemble(line.basis, ea=ea, es=es, ei=ei)


def shear(line: Beam, *, kga: Along) -> sp.csr_matrix:
    """Stiffness of shear: kGA [N] as a function of x."""
    x = np.asarray(line.basis.global_coordinates())[0]
    return _shear.assemble(line.basis, kga=kga(x))


def line_stretch(line: Beam, *, z: Along, slope: Along, first: float, last: float) -> Array:
    """Row whose product with the unknowns is the change of length of a line at z(x) between ``first`` and
    ``last`` [m].

    Both ends must be nodes. The row vanishes on rigid motions, so a tension along the line is
    self-equilibrated.
    """
    line.at("u", first), line.at("u", last)
    middle = 0.5 * (line.x[1:] + line.x[:-1])
    cells = np.flatnonzero((middle > first) & (middle < last))
    basis = Basis(
        line.basis.mesh, ElementLineP2() * ElementLinePp(3) * ElementLineP2(), intorder=6, elements=cells
    )
    x = np.asarray(basis.global_coordinates())[0]
    return _line_stretch.assemble(basis, z=z(x), slope=slope(x))
