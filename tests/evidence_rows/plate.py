"""The plate of heel, tongue and block against closed forms and standard benchmarks of plane stress."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import spsolve
from skfem import FacetBasis, LinearForm, MeshQuad

from fem.geometry.outline import Array
from fem.members.plate import Plate, plate, point_rows, stiffness
from materials.orientation import plane_stress
from tests.evidence_rows.orientation import off_axis_wood
from tests.two_bodies import isotropic


def orthotropic(along: float, across: float, poisson: float, shear: float) -> Array:
    """Plane-stress stiffness of grain along x, order xx, zz, xz; Poisson's ratio for stress along it."""
    return np.linalg.inv(
        np.array([[1 / along, -poisson / along, 0], [-poisson / along, 1 / across, 0], [0, 0, 1 / shear]])
    )


@dataclass(frozen=True)
class Body:
    """A meshed plate with its moduli, constant thickness and load, ready to be held and solved."""

    plate: Plate
    moduli: Array
    thickness: Callable[[Array, Array], Array]

    def edge_load(
        self, edge: Callable[[Array], Array], pull: Callable[[Array], tuple[Array, Array]]
    ) -> Array:
        """Load of a force per area on an edge, found by facet middles; `pull` gets the outward normal."""
        mesh = self.plate.mesh.with_boundaries({"edge": edge})
        basis = FacetBasis(mesh, self.plate.basis.elem, facets=mesh.boundaries["edge"], intorder=5)
        forms = (LinearForm(lambda v, w, c=c: self.thickness(*w.x) * pull(w.n)[c] * v) for c in range(2))
        return np.concatenate([form.assemble(basis) for form in forms])

    def solve(self, load: Array, held: Array, at: Array | None = None) -> Array:
        """Displacement with some unknowns held, at zero or at the values `at`."""
        matrix = stiffness(self.plate, thickness=self.thickness, moduli=self.moduli)
        displacements = np.zeros(2 * self.plate.size)
        if at is not None:
            displacements[held] = at
        free = np.setdiff1d(np.arange(len(displacements)), held)
        displacements[free] = spsolve(
            matrix[free][:, free].tocsc(), load[free] - matrix[free][:, held] @ displacements[held]
        )
        return displacements

    def on(self, where: Callable[[Array], Array]) -> Array:
        """Numbers of the nodes that a condition on their positions picks."""
        return np.flatnonzero(where(self.plate.nodes))

    def node(self, x: float, z: float) -> int:
        """Number of the node at a place."""
        return int(self.on(lambda p: near(x, 0)(p) & near(z, 1)(p))[0])

    def held(self, x: Callable[[Array], Array], z: Callable[[Array], Array]) -> Array:
        """Unknowns u_x of the nodes that one condition picks and u_z of those that another picks."""
        return np.concatenate([self.on(x), self.plate.size + self.on(z)])

    def stress(self, displacements: Array, x: float, z: float, inside: tuple[float, float]) -> Array:
        """Stress xx, zz, xz at a point of the edge."""
        rows = point_rows(self.plate, np.array([[x], [z]]), inside=inside)
        u_x, u_z = displacements[: self.plate.size], displacements[self.plate.size :]
        strain = [rows.d_x @ u_x, rows.d_z @ u_z, rows.d_z @ u_x + rows.d_x @ u_z]
        return np.asarray(self.moduli @ np.array(strain)).ravel()


def body(
    columns: int,
    rows: int,
    shape: Callable[[Array, Array], tuple[Array, Array]],
    *,
    moduli: Array,
    thickness: float | Callable[[Array, Array], Array] = 1.0,
) -> Body:
    """A unit square of cells carried onto a shape."""
    flat = MeshQuad.init_tensor(np.linspace(0, 1, columns + 1), np.linspace(0, 1, rows + 1))
    mesh = MeshQuad(np.array(shape(*flat.p)), flat.t)
    law = thickness if callable(thickness) else lambda x, z: np.full_like(x, thickness)
    return Body(plate(mesh), moduli, law)


def near(place: float, axis: int) -> Callable[[Array], Array]:
    """Condition for points at one coordinate."""
    return lambda p: np.isclose(p[axis], place, atol=1e-9)


def rectangle(length: float, height: float) -> Callable[[Array, Array], tuple[Array, Array]]:
    """Shape of a bar that starts at x = 0 and stands on z = 0."""
    return lambda s, t: (length * s, height * t)


def patch_error() -> float:
    """Largest departure from the exact field inside a distorted patch, over its largest movement."""
    moduli = plane_stress(off_axis_wood(), depth_axis=0.0, runout=math.radians(20))
    strain = np.linalg.inv(moduli) @ [1e6, 0.0, 0.0]

    def distorted(s: Array, t: Array) -> tuple[Array, Array]:
        bump = np.sin(np.pi * s) * np.sin(np.pi * t)
        return s + 0.09 * bump, t - 0.12 * bump

    one = body(3, 3, distorted, moduli=moduli, thickness=lambda x, z: 0.04 * (1 + 0.7 * z))
    x, z = one.plate.nodes
    exact = np.concatenate([strain[0] * x + 0.4 * strain[2] * z, 0.6 * strain[2] * x + strain[1] * z])
    edge = one.on(lambda p: (np.abs(p - 0.5) > 0.5 - 1e-9).any(axis=0))
    held = np.concatenate([edge, one.plate.size + edge])
    displacements = one.solve(np.zeros_like(exact), held, exact[held])
    return float(np.max(np.abs(displacements - exact)) / np.max(np.abs(exact)))


def off_axis_bar() -> float:
    """Modulus of a bar with 30 deg grain from its end's movement under even pull [MPa]."""
    moduli = plane_stress(off_axis_wood(), depth_axis=0.0, runout=math.radians(30)) / 1e6
    bar = body(8, 2, rectangle(80.0, 20.0), moduli=moduli, thickness=10.0)
    load = sum(bar.edge_load(near(end, 0), lambda n: (n[0], 0 * n[0])) for end in (80.0, 0.0))
    origin, below = bar.node(0.0, 0.0), bar.node(80.0, 0.0)
    held = np.array([origin, bar.plate.size + origin, bar.plate.size + below])
    return 80.0 / float(bar.solve(load, held)[below])


def thinning_bar(cells: int) -> float:
    """Stretch of a bar whose thickness doubles along it, over F L/(E A0)."""
    bar = body(cells, 1, rectangle(1.0, 0.2), moduli=isotropic(1.0, 0.0), thickness=lambda x, z: 1 + x)
    load = bar.edge_load(near(1.0, 0), lambda n: (n[0], 0 * n[0]))  # force 2 x 0.2
    return float(bar.solve(load, bar.held(near(0.0, 0), near(0.0, 0)))[bar.node(1.0, 0.0)]) / 2.0


def thinning_order() -> float:
    """Order at which the error of that stretch falls, from 2 to 4 cells."""
    exact = math.log(2)
    return math.log2(abs(thinning_bar(2) - exact) / abs(thinning_bar(4) - exact))


def cook() -> float:
    """Rise of the middle of the loaded edge of Cook's membrane."""
    membrane = body(16, 16, lambda s, t: (48 * s, 44 * s + t * (44 - 28 * s)), moduli=isotropic(1.0, 1 / 3))
    load = membrane.edge_load(near(48.0, 0), lambda n: (0 * n[0], n[0] / 16))
    displacements = membrane.solve(load, membrane.held(near(0.0, 0), near(0.0, 0)))
    return float(displacements[membrane.plate.size + membrane.node(48.0, 52.0)])


def elliptic_membrane() -> float:
    """Stress zz at the inner edge on the x axis of benchmark LE1 [MPa]."""

    def quarter(s: Array, t: Array) -> tuple[Array, Array]:
        angle = 0.5 * np.pi * t
        return (2 + 1.25 * s) * np.cos(angle), (1 + 1.75 * s) * np.sin(angle)

    membrane = body(20, 40, quarter, moduli=isotropic(210e3, 0.3), thickness=0.1)

    def outer(p: Array) -> Array:
        return (p[0] / 3.25) ** 2 + (p[1] / 2.75) ** 2 > 0.98

    load = membrane.edge_load(outer, lambda n: (10 * n[0], 10 * n[1]))
    displacements = membrane.solve(load, membrane.held(near(0.0, 0), near(0.0, 1)))
    return float(membrane.stress(displacements, 2.0, 0.0, (1.0, 1e-3))[1])


def straight_beam() -> float:
    """End movement of the straight beam of MacNeal and Harder under a unit end shear in its plane [in]."""
    bar = body(60, 4, rectangle(6.0, 0.2), moduli=isotropic(1e7, 0.3), thickness=0.1)
    load = bar.edge_load(near(6.0, 0), lambda n: (0 * n[0], n[0] / (0.1 * 0.2)))
    displacements = bar.solve(load, bar.held(near(0.0, 0), near(0.0, 0)))
    return float(displacements[bar.plate.size + bar.node(6.0, 0.1)])


def curved_beam() -> float:
    """End movement of a quarter ring 4.12 to 4.32 under a unit radial end force [in]."""

    def ring(s: Array, t: Array) -> tuple[Array, Array]:
        angle, radius = 0.5 * np.pi * s, 4.12 + 0.2 * t
        return radius * np.cos(angle), radius * np.sin(angle)

    beam = body(60, 4, ring, moduli=isotropic(1e7, 0.25), thickness=0.1)
    load = beam.edge_load(near(0.0, 0), lambda n: (0 * n[0], -n[0] / (0.1 * 0.2)))
    displacements = beam.solve(load, beam.held(near(0.0, 1), near(0.0, 1)))
    return float(displacements[beam.plate.size + beam.node(0.0, 4.22)])


HOLE = (11000.0, 704.0, 0.533, 946.0)


def hole() -> float:
    """Stress along the grain at the side of a round hole over the stress far away, grain along the pull."""
    wide = 40.0

    def quarter(s: Array, t: Array) -> tuple[Array, Array]:
        angle = 0.5 * np.pi * t
        reach = wide / np.maximum(np.cos(angle), np.sin(angle))
        radius = reach**s
        return radius * np.cos(angle), radius * np.sin(angle)

    one = body(36, 64, quarter, moduli=orthotropic(*HOLE))
    load = one.edge_load(near(wide, 0), lambda n: (n[0], 0 * n[0]))
    displacements = one.solve(load, one.held(near(0.0, 0), near(0.0, 1)))
    return float(one.stress(displacements, 0.0, 1.0, (1e-3, 1.0))[0])


def hole_formula() -> float:
    """Lekhnitskii's factor 1 + sqrt(2 (sqrt(E1/E2) - nu) + E1/G)."""
    along, across, poisson, shear = HOLE
    return 1 + math.sqrt(2 * (math.sqrt(along / across) - poisson) + along / shear)


OURS = {
    "plate-patch": patch_error,
    "plate-off-axis-bar": off_axis_bar,
    "plate-thinning-bar": lambda: thinning_bar(8),
    "plate-order": thinning_order,
    "plate-cook": cook,
    "plate-elliptic-membrane": elliptic_membrane,
    "plate-straight-beam": straight_beam,
    "plate-curved-beam": curved_beam,
    "plate-hole": hole,
}
OUTSIDE = {
    "plate-thinning-bar": math.log(2),
    "plate-curved-beam": math.pi * 4.22**3 / (4 * 1e7 * 0.1 * 0.2**3 / 12),
    "plate-hole": hole_formula,
}
