"""Shim pads: the facing points of neck and block, and the law of the layer between them
(docs/theory-joint.md, section 5).

Opening is positive when the faces part; slip is the neck's displacement relative to the block along the face.
The layer cannot pull, and friction limits its shear force.
"""

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.errors import ModelError
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import Pad, face_of
from fem.members.plate import Plate, point_rows

STABILISER = 1e-4
"""Fraction of the tangential stiffness that holds the joint while it is seated without friction."""
TWO = np.polynomial.legendre.leggauss(2)
"""Gauss points and weights of a cell of a face."""
THINNEST = 0.2e-3
"""Least thickness of a shim at its thin edge [m]; common practice, no source."""


@dataclass(frozen=True)
class PadPoints:
    """Integration points of a pad: distance ``s`` from the corner [m], and ``area`` [m2].

    Each has rows of contact points across the pad, of equal lengths and widths ``rows``, as parts of the half
    width, from the middle outwards: one unless resolved (`fem.joint.across_width.ROWS`).
    """

    s: Array
    area: Array
    rows: Array = field(default_factory=lambda: np.ones(1))

    @property
    def row_areas(self) -> Array:
        """Area of each row, point by point, (points * rows,) [m2]."""
        return np.asarray(np.outer(self.area, self.rows).ravel())

    def of_points(self, rows: Array) -> Array:
        """Values of the rows (points * rows, ...) by point, (points, rows, ...)."""
        return rows.reshape(len(self.s), len(self.rows), *rows.shape[1:])

    def mean(self, rows: Array) -> Array:
        """Mean over the width of values of the rows (points * rows,), shape (points,)."""
        return np.asarray(self.of_points(rows) @ self.rows)


def gauss_points(mesh_lines: Array, pad: Pad) -> tuple[Array, Array]:
    """Two Gauss points per cell of a face within the pad, and their weights, (n,), (n,) [m]."""
    left, right = mesh_lines[:-1], mesh_lines[1:]
    middle = 0.5 * (left + right)
    within = (middle > pad.start) & (middle < pad.end)
    if not within.any():
        raise ModelError(
            f"The {pad.name} shim has no length on its face. Give from_mm < to_mm within the face."
        )
    left, right = left[within], right[within]
    nodes, weights = TWO
    s = 0.5 * (left + right)[:, None] + 0.5 * (right - left)[:, None] * nodes
    w = 0.5 * (right - left)[:, None] * weights
    return s.ravel(), w.ravel()


def face_lines(body: Plate, outline: Outline, face: str) -> Array:
    """Mesh nodes along a face of the block, as distances from the face's origin, increasing [m]."""
    at = face_of(outline, face)
    from_origin = body.mesh.p - np.asarray(at.origin)[:, None]
    s = np.asarray(at.along) @ from_origin
    on_face = np.isclose(np.asarray(at.normal) @ from_origin, 0.0, atol=1e-9) & (s > -1e-9)
    return np.unique(np.round(s[on_face], 12))


def opening_rows(
    neck: Plate, block: Plate, outline: Outline, *, face: str, s: Array
) -> tuple[sp.csr_matrix, sp.csr_matrix]:
    """Rows of opening and of slip at points ``s`` of a face, each (points, 2 neck.size + 2 block.size);
    columns: neck x, neck z, block x, block z.
    """
    at = face_of(outline, face)
    points = at.points(s)
    of_neck = point_rows(neck, points, inside=at.normal).value
    of_block = point_rows(block, points, inside=(-at.normal[0], -at.normal[1])).value

    each = (of_neck, of_neck, of_block, of_block)
    sizes = [neck.size, neck.size, block.size, block.size]
    first = np.concatenate([[0], np.cumsum(sizes)])

    def apart(direction: tuple[float, float]) -> sp.csr_matrix:
        x, z = direction
        used = [(k, factor) for k, factor in enumerate((x, z, -x, -z)) if factor != 0.0]
        columns = [each[k].indices.reshape(len(s), -1) + first[k] for k, _ in used]
        entries = [factor * each[k].data.reshape(len(s), -1) for k, factor in used]
        # as many entries in each row: one matrix at once
        ends = np.arange(len(s) + 1) * sum(one.shape[1] for one in columns)
        where = (np.concatenate(columns, axis=1).ravel(), ends)
        return sp.csr_matrix((np.concatenate(entries, axis=1).ravel(), *where), shape=(len(s), first[-1]))

    return apart(at.normal), apart(at.slip_direction)


@dataclass(frozen=True)
class Layer:
    """Data of all interface points for one pair of shim angles.

    By row of contact points, (n rows,): ``interference`` is the overlap of shim and undeformed neck [m],
    ``normal`` the stiffness of the layer [N/m], ``limit`` the largest push that the wood bears before it is
    crushed [N], None if it bears any. By point, (n,): ``tangential`` is the layer's stiffness along the face
    [N/m], ``friction`` the Coulomb coefficient.
    """

    interference: Array
    normal: Array
    tangential: Array
    friction: Array
    limit: Array | None = None


def taper_rates(pad: Pad, s: Array) -> tuple[Array, Array]:
    """Change of interference and of thickness per radian of shim angle at distances ``s``, (n,), (n,) [m].

    A positive lower (heel) angle is thicker towards the heel cap, a positive upper (tongue) angle towards
    the nut; both lift the nut. Bare wood has no angle.
    """
    if pad.middle == 0.0:
        return np.zeros_like(s), np.zeros_like(s)
    sign = 1.0 if pad.face == "heel" else -1.0
    return sign * (s - pad.pivot), sign * (s - 0.5 * (pad.start + pad.end))


def compliances(pad: Pad, thickness: Array) -> tuple[Array, Array]:
    """Normal and tangential compliance of a shim with its bedding surfaces, as ``thickness`` [m/Pa]."""
    return thickness / pad.young + pad.compliance, thickness / pad.shear + pad.compliance


def taper(pad: Pad, s: Array, angle: float) -> tuple[Array, Array]:
    """Interference and thickness of a pad at distances ``s`` along its face for a shim angle [rad], each of
    shape (n,) [m].

    Raises `ModelError`: the shim would be thinner than `THINNEST`.
    """
    reach, rise = taper_rates(pad, s)
    interference, thickness = pad.lift + angle * reach, pad.middle + angle * rise
    if pad.middle > 0.0 and np.min(thickness) < THINNEST:
        raise ModelError(
            f"The {pad.name} shim would be {1e3 * np.min(thickness):.2f} mm at its thin edge "
            f"for {np.degrees(angle):.2f} degrees; "
            f"at least {1e3 * THINNEST:.1f} mm is needed. Give it more thickness_mm."
        )
    return interference, thickness


def layer(
    pads: tuple[Pad, ...],
    points: tuple[PadPoints, ...],
    *,
    angles: tuple[float, ...],
    friction: tuple[float, ...],
) -> Layer:
    """Layer of all pads, in order, for their angles [rad] and friction coefficients.

    Raises `ModelError`: a coefficient is below zero or no number, or a shim would be too thin.
    """
    if not all(coefficient >= 0.0 for coefficient in friction):
        raise ModelError(f"The friction coefficients are {friction}. Give numbers of at least 0.")
    found = []
    for pad, at, angle, coefficient in zip(pads, points, angles, friction, strict=True):
        interference, thickness = taper(pad, at.s, angle)
        across, along = compliances(pad, thickness)
        count = len(at.rows)
        found.append(
            (
                np.repeat(interference, count),
                at.row_areas / np.repeat(across, count),
                at.area / along,
                np.full_like(at.s, coefficient),
            )
        )
    return Layer(*(np.concatenate(one) for one in zip(*found, strict=True)))


@dataclass(frozen=True)
class Traction:
    """Forces of the interface points on the faces, and their derivatives.

    ``push`` [N] presses the faces apart, ``closed`` is its contact state: both by row, (n rows,), as are the
    derivatives by opening. ``shear_force`` [N] opposes slip, ``slipping`` is its state: by point, (n,).
    """

    push: Array
    shear_force: Array
    closed: NDArray[np.bool_]
    slipping: NDArray[np.bool_]
    push_by_opening: Array
    shear_by_opening: Array
    shear_by_slip: Array


def traction(
    law: Layer,
    opening: Array,
    slip: Array,
    *,
    stuck_at: Array | None,
    cap: Array | None = None,
    stabiliser: float = STABILISER,
) -> Traction:
    """Unilateral layer with Coulomb friction by return mapping; ``opening`` (n rows,) and ``slip`` (n,) [m].

    The friction of a point follows the push of all its rows. ``stuck_at`` (n,) is the slip without shear
    force [m]; None seats the joint without friction, held only by the fraction ``stabiliser`` of the
    tangential stiffness. ``cap`` (n,) is the largest friction force at
    each point [N]; None is friction times push.
    """
    squeeze = law.interference - opening
    closed = squeeze > 0.0
    push = np.where(closed, law.normal * squeeze, 0.0)
    push_by_opening = np.where(closed, -law.normal, 0.0)
    if law.limit is not None:
        push_by_opening = np.where(push > law.limit, 0.0, push_by_opening)
        push = np.minimum(push, law.limit)
    if stuck_at is None:
        soft = stabiliser * law.tangential
        nothing, still = np.zeros_like(push), np.zeros(len(slip), dtype=bool)
        return Traction(push, soft * slip, closed, still, push_by_opening, nothing, soft)
    rows = len(push) // len(slip)
    trial = law.tangential * (slip - stuck_at)
    by_push = law.friction if cap is None else np.zeros_like(slip)
    most = law.friction * push.reshape(-1, rows).sum(axis=1) if cap is None else cap
    slipping = np.abs(trial) > most
    sign = np.sign(trial)
    shear_force = np.where(slipping, most * sign, trial)
    drag_by_push = np.where(slipping, by_push * sign, 0.0)
    shear_by_opening = np.repeat(drag_by_push, rows) * push_by_opening
    shear_by_slip = np.where(slipping, 0.0, law.tangential)
    touching = closed.reshape(-1, rows).any(axis=1)
    return Traction(
        push, shear_force, closed, slipping & touching, push_by_opening, shear_by_opening, shear_by_slip
    )


def stick_points(law: Layer, slip: Array, contact: Traction) -> Array:
    """Slip at which the friction of each point would vanish, (n,) [m]: the slip less the shear of the layer.

    The friction of the next step starts from there.
    """
    return slip - contact.shear_force / law.tangential


def indentation(law: Layer, opening: Array) -> Array:
    """Depth by which each point is newly crushed, (n,) [m]: the squeeze that ``limit`` leaves unborne."""
    if law.limit is None:
        return np.zeros_like(opening)
    return np.maximum(law.interference - opening - law.limit / law.normal, 0.0)
