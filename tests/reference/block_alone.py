"""A neck block by itself under a pressure on one pad: as a solid, as the plate of the side view, and what
`fem.joint.across_width` adds to the plate.

The solid bears two loads: the pressure on the pad, and the same less its mean across the block's width. The
second is the load that a plate does not see, and so what the spreading stands for.

Meshes and elements are a library's and this file's own; of ours only the spreading and the share of the strain across that is held are used. The measure is work,
force times movement, so that no single point of a singular pressure edge is read.

    python -m tests.reference.block_alone
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import scipy.sparse.linalg as sparse
from numpy.typing import NDArray
from skfem import (
    Basis,
    BilinearForm,
    ElementHex2,
    ElementQuad2,
    ElementVector,
    FacetBasis,
    LinearForm,
    MeshHex,
    MeshQuad,
)
from skfem.helpers import grad

from fem.geometry.mesh import Block
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.joint.across_width import bodies, row_compliance, side_of
from fem.members.held_strain import block_moduli
from materials.orientation import block_compliance
from materials.wood import wood

Array = NDArray[np.float64]
BLOCK = Block(length=0.1, stem=0.04, shelf=0.015, height=0.083, width=0.08)
"""The fourteen-fret instrument's block; its bottom is held, and its top where no tongue bears."""
DOWN = 0.012
"""Depth of the joint corner below the glue line [m]."""
BEYOND = 0.088
"""Where the tongue ends [m]."""
COMPLIANCE = block_compliance(wood("mahogany-honduran"), grain="vertical")
PADS = {"heel": (0.003, 0.080, 0.035), "tongue": (0.003, 0.085, 0.042)}
"""Start and end from the corner, and bearing width [m]; the heel's is the mean of a tapering one."""
PRESSURES: dict[str, Callable[[Array], Array]] = {
    "even": lambda s: 1e6 + 0.0 * s,
    "linear": lambda s: 1e6 * (s - 0.0415) / 0.0385,
}
"""Pressure by distance from the corner [Pa]."""


@dataclass(frozen=True)
class Works:
    """Twice the energy that a load stores [J].

    ``solid`` and ``plate`` bear the pressure; ``waves`` is the solid's under the pressure less its mean across
    the width, and ``spread`` our spreading's.
    """

    solid: float
    waves: float
    plate: float
    spread: float

    @property
    def whole_ratio(self) -> float:
        """Plate and spreading, per the solid."""
        return (self.plate + self.spread) / self.solid

    @property
    def waves_ratio(self) -> float:
        """Spreading, per the solid under the load it stands for."""
        return self.spread / self.waves


def works(face: str, pressure: str, *, cell: float = 0.010) -> Works:
    """All four, for cells of a length in the solid [m]; they are smaller at the pad's ends and face."""
    return Works(*_solid(face, pressure, cell), _plate(face, pressure), _spread(face, pressure))


def _grid(breaks: list[float], cell: float) -> Array:
    lines = [breaks[0]]
    for left, right in itertools.pairwise(breaks):
        lines += list(np.linspace(left, right, max(1, int(np.ceil((right - left) / cell - 1e-9))) + 1)[1:])
    return np.asarray(lines)


def _solid(face: str, pressure: str, cell: float) -> tuple[float, float]:
    """Half of the block, y >= 0, in 27-node cells, no movement across at y = 0: both loads."""
    b, height, shelf, stem = BLOCK, BLOCK.height, BLOCK.shelf, BLOCK.stem
    start, end, bearing = PADS[face]
    away = cell / 0.7
    if face == "heel":
        x = _grid([0.0, 0.004, 0.012, 0.024, stem, 0.07, b.length], away)
        z = _grid([-height, -end, -shelf, -start, 0.0], cell)
    else:
        x = _grid([0.0, start, stem, end, BEYOND, b.length], cell)
        z = _grid([-height, -0.05, -0.03, -shelf, -0.0075, -0.003, 0.0], away)
    y = _grid(sorted({0.0, 0.5 * bearing, 0.5 * b.width}), 0.9 * cell)
    body = _body(MeshHex.init_tensor(x, y, z), ElementHex2())
    mesh = body.mesh
    middle_plane = body.get_dofs(mesh.facets_satisfying(lambda p: np.isclose(p[1], 0.0)))
    fixed = np.concatenate([middle_plane.all(["u^2"]), _fixed(body)])
    pad, across = (
        _push(
            body,
            mesh.facets_satisfying(lambda p, w=width: _on_pad(face, p[0], p[2]) & (p[1] < 0.5 * w)),
            face,
            pressure,
        )
        for width in (bearing, b.width)
    )
    loads = np.stack([pad, pad - bearing / b.width * across])
    everywhere = np.linalg.inv(COMPLIANCE)[:, :, None, None]
    first, second = 2.0 * _works(body, lambda at: everywhere, loads, fixed)
    return float(first), float(second)


def _plate(face: str, pressure: str) -> float:
    """The side view: one plane over the block's whole width, the strain across held in part."""
    start, _, bearing = PADS[face]
    x = _grid(
        [0.0, *([start] if face == "tongue" else []), BLOCK.stem, PADS["tongue"][1], BEYOND, BLOCK.length],
        0.003,
    )
    z = _grid([-BLOCK.height, -PADS["heel"][1], -BLOCK.shelf, -start, 0.0], 0.003)
    body = _body(MeshQuad.init_tensor(x, z), ElementQuad2())
    pad = body.mesh.facets_satisfying(lambda p: _on_pad(face, p[0], p[1]))
    load = bearing * _push(body, pad, face, pressure)
    return float(_works(body, _in_plane, load[None, :], _fixed(body))[0])


def _in_plane(at: Array) -> Array:
    """Stiffness in the side view times the width at places (2, ...), (3, 3, ...) [N/m]."""
    of = BLOCK.width * block_moduli(_structure(), at[0].ravel())
    return np.moveaxis(of, 0, -1).reshape(3, 3, *at[0].shape)


def _structure(*pads: Pad) -> Structure:
    pads = pads or tuple(_pad(face) for face in PADS)
    wood_plate = SimpleNamespace(solid=COMPLIANCE, moduli=None)
    outline = SimpleNamespace(
        joint=0.0, tongue_end=BEYOND, heel_height=BLOCK.height + DOWN, tongue_depth=DOWN
    )
    parts = {"outline": outline, "block": BLOCK, "block_wood": wood_plate, "pads": pads}
    return cast(Structure, SimpleNamespace(**parts, neck=SimpleNamespace(solid=None), held=("top", "bottom")))


def _pad(face: str) -> Pad:
    start, end, bearing = PADS[face]
    return Pad(face, face, start, end, bearing, 9e-4, 1.3e9, 1.2e9, 1e-12)


def _body(mesh: Any, element: Any) -> Basis:
    """Stem and shelf of a mesh of the whole box."""
    middle = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.restrict(np.flatnonzero((middle[0] < BLOCK.stem) | (middle[-1] > -BLOCK.shelf)))
    return Basis(mesh, ElementVector(element), intorder=4)


def _fixed(body: Basis) -> NDArray[np.int64]:
    """Unknowns of the bottom, and of the top where no tongue bears."""

    def held(p: Array) -> Array:
        return np.isclose(p[-1], -BLOCK.height) | (np.isclose(p[-1], 0.0) & (p[0] > BEYOND))

    return np.asarray(body.get_dofs(body.mesh.facets_satisfying(held)).all())


def _on_pad(face: str, x: Array, z: Array) -> Array:
    s, square = (-z, x) if face == "heel" else (x, z)
    return np.asarray(np.isclose(square, 0.0) & (s > PADS[face][0]) & (s < PADS[face][1]))


def _strain(u: Any) -> Array:
    slopes = grad(u)
    if len(slopes) == 2:
        return np.stack([slopes[0, 0], slopes[1, 1], slopes[0, 1] + slopes[1, 0]])
    shears = [slopes[i, j] + slopes[j, i] for i, j in ((1, 2), (0, 2), (0, 1))]
    return np.stack([slopes[0, 0], slopes[1, 1], slopes[2, 2], *shears])


def _push(body: Basis, loaded: NDArray[np.int64], face: str, pressure: str) -> Array:
    """Load of the pressure, along x on the heel face, down on the tongue's seat."""

    @LinearForm
    def push(v: Any, w: Any) -> Array:
        s, along = (-w.x[-1], v[0]) if face == "heel" else (w.x[0], -v[len(w.x) - 1])
        return np.asarray(PRESSURES[pressure](s) * along)

    return np.asarray(push.assemble(FacetBasis(body.mesh, body.elem, facets=loaded, intorder=4)))


def _works(body: Basis, stiff: Callable[[Array], Array], loads: Array, fixed: NDArray[np.int64]) -> Array:
    """Force times movement under each load; ``stiff`` by place."""

    @BilinearForm
    def energy(u: Any, v: Any, w: Any) -> Array:
        return np.asarray(np.einsum("i...,ij...,j...->...", _strain(u), stiff(w.x), _strain(v)))

    free = np.setdiff1d(np.arange(body.N), fixed)
    system = energy.assemble(body)[free][:, free].tocsc()
    factors = sparse.splu(
        system, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}, diag_pivot_thresh=0.0
    )
    return np.asarray([load[free] @ factors.solve(load[free]) for load in loads])


def _spread(face: str, pressure: str, *, cells: int = 40) -> float:
    """What our spreading yields under the same pressure, two Gauss points a cell."""
    start, end, bearing = PADS[face]
    edges = np.linspace(start, end, cells + 1)
    step = (end - start) / cells
    s = (edges[:-1, None] + step * np.array([0.5 - 0.5 / np.sqrt(3.0), 0.5 + 0.5 / np.sqrt(3.0)])).ravel()
    bearing_at, length = np.full_like(s, bearing), np.full_like(s, 0.5 * step)
    (block,) = bodies(_structure(), _pad(face), s, bearing_at)
    side = side_of(block)
    yields = row_compliance(side, side.pressure, s, length, bearing=bearing_at, rows=np.ones(1))
    force = PRESSURES[pressure](s) * length * bearing
    return float(force @ yields @ force)


if __name__ == "__main__":
    for where, how in itertools.product(PADS, PRESSURES):
        found = works(where, how)
        print(
            f"{where}, {how}: plate and spreading {found.plate + found.spread:.5f} J, solid {found.solid:.5f} J, "
            f"ratio {found.whole_ratio:.3f}; spreading {found.spread:.5f} J, solid without the mean "
            f"{found.waves:.5f} J, ratio {found.waves_ratio:.3f}"
        )
