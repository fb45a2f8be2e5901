"""Two plates on either side of one shim face, condensed as the instrument is: a rig for contact problems.

The upper body stands in the place of the tongue, the lower one in that of the block; the joint corner is at
the origin, so a distance s along the face is x.
"""

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu
from skfem import MeshQuad

from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad
from fem.joint.shim_layer import Layer, PadPoints, face_lines, gauss_points, opening_rows
from fem.members.plate import Plate, plate, stiffness
from fem.solve.newton import Problem, Solution, solve


def outline_at_origin() -> Outline:
    """Only the joint corner of it is used: it lies at (0, 0)."""
    one = 1.0
    return Outline(
        scale=one,
        joint=0.0,
        heel_start=-one,
        tie=-one,
        board_end=one,
        tongue_end=one,
        width_nut=one,
        width_joint=one,
        depth_at=(0.0, one),
        depth_total=(one, one),
        profile_exponent=2.0,
        board_thickness=0.1,
        board_radius=np.inf,
        slot_depth=0.0,
        tongue_depth=0.0,
        tongue_width=one,
        heel_height=one,
        heel_exponent=2.0,
        heel_cap_length=0.1,
        heel_width_top=one,
        heel_width_cap=one,
    )


def isotropic(young: float, poisson: float = 0.0) -> Array:
    """Plane-stress stiffness, order xx, zz, xz."""
    normal = young / (1 - poisson**2)
    shear = young / (2 * (1 + poisson))
    return np.array([[normal, poisson * normal, 0], [poisson * normal, normal, 0], [0, 0, shear]])


@dataclass(frozen=True)
class Rig:
    """The condensed pair. Rows: openings, slips, then the upper body's top: down, along, turn."""

    c: Array
    points: PadPoints
    reference: Array

    @property
    def count(self) -> int:
        """Number of interface points."""
        return len(self.points.s)

    def layer(self, *, bed: float, interference: Array | float = 0.0, friction: float = 0.0) -> Layer:
        """A layer of stiffness `bed` per area, the same along the face."""
        stiff = bed * self.points.area
        gap = np.broadcast_to(np.asarray(interference, dtype=float), stiff.shape)
        return Layer(gap, stiff, stiff, np.full_like(stiff, friction))

    def press(
        self, law: Layer, load: tuple[float, float, float], *, stuck: bool = False, start: Array | None = None
    ) -> Solution:
        """Push down, along and turn (a moment that presses the far side); frictionless unless `stuck`."""
        n = self.count
        base = self.c[:, 2 * n :] @ np.asarray(load)
        problem = Problem(
            c=self.c,
            base=base,
            columns=np.zeros((len(base), 0)),
            conditions=(),
            opening=np.arange(n),
            slip=np.arange(n, 2 * n),
            bolt=np.zeros(0, dtype=int),
            reference=np.tile(self.reference, 2),
            law=law,
            stuck_at=np.zeros(n) if stuck else None,
            locked=np.zeros(0),
            bolt_stiffness=np.zeros(0),
        )
        if start is None:
            start = np.zeros_like(base)
            start[:n] = -1e-3 * self.points.s.max()  # begin pressed: a free body has no stiffness when open
        return solve(problem, displacements=start, settings=np.zeros(0), tolerance=1e-12)


def rig(
    upper: MeshQuad, lower: MeshQuad, *, young: tuple[float, float], pad: tuple[float, float], floor: float
) -> Rig:
    """Condense an upper body on a lower one that is held at z = floor; a pad from `pad[0]` to `pad[1]`."""
    above, below, outline = plate(upper), plate(lower), outline_at_origin()
    shim = Pad("seat", "tongue", pad[0], pad[1], 1.0, 1.0, 1.0, 1.0, 0.0)
    s, length = gauss_points(face_lines(below, outline, "tongue"), shim)
    opening, slip = opening_rows(above, below, outline, face="tongue", s=s)
    size = 2 * above.size + 2 * below.size
    rows = sp.vstack([opening, slip, _top_rows(above, pad, size)]).tocsr()
    one = lambda x, z: np.ones_like(x)  # noqa: E731
    whole = sp.block_diag(
        [
            stiffness(body, thickness=one, moduli=isotropic(e))
            for body, e in zip((above, below), young, strict=True)
        ]
    ).tocsr()
    held = np.flatnonzero(np.isclose(below.nodes[1], floor))
    held = 2 * above.size + np.concatenate([held, below.size + held])
    free = np.setdiff1d(np.arange(size), held)
    n, reference = len(s), max(young) * length / (pad[1] - pad[0])
    spring = np.concatenate([reference, reference, np.zeros(3)])
    matrix = rows[:, free]
    grounded = whole[free][:, free] + matrix.T @ sp.diags(spring) @ matrix
    c = matrix @ splu(sp.csc_matrix(grounded)).solve(matrix.T.toarray())
    assert len(c) == 2 * n + 3
    return Rig(0.5 * (c + c.T), PadPoints(s, length), reference)


def _top_rows(above: Plate, pad: tuple[float, float], size: int) -> sp.csr_matrix:
    """Mean sinking, mean shift and turn of the upper body's top: a force on each is spread over the top."""
    x, z = above.nodes
    top = np.flatnonzero(np.isclose(z, z.max()))
    arm = x[top] - 0.5 * (pad[0] + pad[1])
    rows = np.zeros((3, size))
    rows[0, above.size + top] = -1.0 / len(top)
    rows[1, top] = 1.0 / len(top)
    rows[2, above.size + top] = -(arm - arm.mean()) / np.sum((arm - arm.mean()) ** 2)
    return sp.csr_matrix(rows)
