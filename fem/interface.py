"""Shim pads: where the two bodies face each other, and the law of the layer between them (docs/theory.md,
section 5).

Opening is positive when the faces part, slip is the neck's movement against the block along the face. The
layer cannot pull, and what it can carry along the face is capped by friction.
"""

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.errors import ModelError
from fem.outline import Array, Outline
from fem.plate import Plate, point_rows

THINNEST = 0.2e-3
"""Least thickness of a shim at its thin edge [m]; common practice, no source."""


@dataclass(frozen=True)
class Pad:
    """A shim between neck and block.

    ``face`` is ``tongue`` (under the tongue, faces down) or ``heel`` (the heel face, faces the bridge);
    ``start`` and ``end`` are distances from the joint corner along the face [m]; ``bearing_width`` is the
    width that really bears [m].
    """

    name: str
    face: str
    start: float
    end: float
    bearing_width: float
    middle: float
    """Thickness in the middle of the pad, the same for every angle [m]."""
    young: float
    """Modulus of the shim across its thickness [Pa]."""
    shear: float
    """Shear modulus of the shim [Pa]."""
    compliance: float
    """Compliance of the two bedding surfaces, added to t/E [m/Pa]."""


@dataclass(frozen=True)
class PadPoints:
    """Integration points of a pad: distance from the corner ``s`` [m], and ``area`` = length share x
    bearing width [m2].
    """

    s: Array
    area: Array


def pad_points(mesh_lines: Array, pad: Pad) -> tuple[Array, Array]:
    """Gauss points and weights on the cells of a face that lie within the pad: two points a cell, shapes
    (n,), (n,) [m].
    """
    left, right = mesh_lines[:-1], mesh_lines[1:]
    middle = 0.5 * (left + right)
    within = (middle > pad.start) & (middle < pad.end)
    if not within.any():
        raise ModelError(
            f"The {pad.name} shim has no length on its face. Give from_mm < to_mm within the face."
        )
    left, right = left[within], right[within]
    nodes, weights = np.polynomial.legendre.leggauss(2)
    s = 0.5 * (left + right)[:, None] + 0.5 * (right - left)[:, None] * nodes
    w = 0.5 * (right - left)[:, None] * weights
    return s.ravel(), w.ravel()


def face_lines(body: Plate, outline: Outline, face: str) -> Array:
    """Mesh nodes along a face of the block, as distances from the joint corner, increasing [m]."""
    xj, zc = outline.corner
    x, z = body.mesh.p
    s = x[np.isclose(z, zc, atol=1e-9)] - xj if face == "tongue" else zc - z[np.isclose(x, xj, atol=1e-9)]
    return np.unique(np.round(s, 12))


def opening_rows(
    neck: Plate, block: Plate, outline: Outline, *, face: str, s: Array
) -> tuple[sp.csr_matrix, sp.csr_matrix]:
    """Rows of opening and slip at points ``s`` of a face; columns: neck x, neck z, block x, block z.

    Returns
    -------
    (opening, slip) : csr matrices of shape (points, 2 neck.size + 2 block.size).
    """
    xj, zc = outline.corner
    if face == "tongue":
        points = np.stack([xj + s, np.full_like(s, zc)])
        of_neck, of_block = (
            point_rows(neck, points, inside=(0.0, 1.0)).value,
            point_rows(block, points, inside=(0.0, -1.0)).value,
        )
        opening = sp.hstack([0 * of_neck, of_neck, 0 * of_block, -of_block])
        slip = sp.hstack([of_neck, 0 * of_neck, -of_block, 0 * of_block])
    else:
        points = np.stack([np.full_like(s, xj), zc - s])
        of_neck, of_block = (
            point_rows(neck, points, inside=(-1.0, 0.0)).value,
            point_rows(block, points, inside=(1.0, 0.0)).value,
        )
        opening = sp.hstack([-of_neck, 0 * of_neck, of_block, 0 * of_block])
        slip = sp.hstack([0 * of_neck, of_neck, 0 * of_block, -of_block])
    return sp.csr_matrix(opening), sp.csr_matrix(slip)


@dataclass(frozen=True)
class Layer:
    """State-independent data of all interface points for one pair of shim angles.

    Attributes
    ----------
    interference : how far the shim reaches into the neck's place at each point, (n,) [m].
    normal, tangential : stiffness of the layer at each point, force per movement, (n,) [N/m].
    friction : Coulomb coefficient at each point, (n,).
    """

    interference: Array
    normal: Array
    tangential: Array
    friction: Array


def taper(pad: Pad, s: Array, angle: float) -> tuple[Array, Array]:
    """Interference and thickness of a pad at distances ``s`` from the corner for a shim angle [rad], each of
    shape (n,) [m].

    A positive lower (heel) angle is thicker towards the heel cap, a positive upper (tongue) angle towards
    the nut; both lift the nut.
    """
    rise = angle if pad.face == "heel" else -angle
    interference = rise * s
    thickness = pad.middle + rise * (s - 0.5 * (pad.start + pad.end))
    if np.min(thickness) < THINNEST:
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
    """Layer of all pads, in order, for their angles [rad] and friction coefficients."""
    gap, normal, tangential, mu = [], [], [], []
    for pad, at, angle, coefficient in zip(pads, points, angles, friction, strict=True):
        interference, thickness = taper(pad, at.s, angle)
        gap.append(interference)
        normal.append(at.area / (thickness / pad.young + pad.compliance))
        tangential.append(at.area / (thickness / pad.shear + pad.compliance))
        mu.append(np.full_like(at.s, coefficient))
    return Layer(np.concatenate(gap), np.concatenate(normal), np.concatenate(tangential), np.concatenate(mu))


@dataclass(frozen=True)
class Traction:
    """Forces of the interface points on the faces and their slopes; arrays of shape (n,).

    ``push`` [N] presses the faces apart, ``drag`` [N] opposes slip; ``closed`` and ``slipping`` are the
    contact state.
    """

    push: Array
    drag: Array
    closed: NDArray[np.bool_]
    slipping: NDArray[np.bool_]
    push_by_opening: Array
    drag_by_opening: Array
    drag_by_slip: Array


def traction(
    law: Layer, opening: Array, slip: Array, *, stuck_at: Array | None, stabiliser: float = 1e-4
) -> Traction:
    """Unilateral layer with Coulomb friction by return mapping.

    Parameters
    ----------
    law : the layer.
    opening, slip : movements of the faces, (n,) [m].
    stuck_at : slip at which the layer is free of drag, (n,) [m]; None seats the joint without friction, held
      only by a small
        fraction ``stabiliser`` of the layer's tangential stiffness.
    """
    squeeze = law.interference - opening
    closed = squeeze > 0.0
    push = np.where(closed, law.normal * squeeze, 0.0)
    push_by_opening = np.where(closed, -law.normal, 0.0)
    if stuck_at is None:
        soft = stabiliser * law.tangential
        nothing = np.zeros_like(push)
        return Traction(push, soft * slip, closed, np.zeros_like(closed), push_by_opening, nothing, soft)
    trial = law.tangential * (slip - stuck_at)
    cap = law.friction * push
    slipping = np.abs(trial) > cap
    sign = np.sign(trial)
    drag = np.where(slipping, cap * sign, trial)
    drag_by_opening = np.where(slipping, law.friction * push_by_opening * sign, 0.0)
    drag_by_slip = np.where(slipping, 0.0, law.tangential)
    return Traction(push, drag, closed, slipping & closed, push_by_opening, drag_by_opening, drag_by_slip)
