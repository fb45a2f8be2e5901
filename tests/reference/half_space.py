"""Waves of load on the face of an orthotropic half-space or layer: the exact answer, by a 6 x 6 eigenproblem.

Axes of a face: 1 into the wood, 2 and 3 along the face. The load is a wave in both directions,
``cos(k y) cos(q z)``, so the movements are ``U(x) cos cos``, ``V(x) sin cos`` and ``W(x) cos sin``, and the
equations of equilibrium turn into six first-order equations in x with constant coefficients (separation of
variables, as in any textbook of elasticity; written here from the equations, not from `fem.joint.across_width`).
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]
PLACE = {(0, 0): 0, (1, 1): 1, (2, 2): 2, (1, 2): 3, (0, 2): 4, (0, 1): 5}
"""Place of a pair of axes among xx, yy, zz, yz, xz, xy."""


def of_face(compliance: Array, axes: tuple[int, int, int]) -> Array:
    """Stiffness in a face's own axes: into the wood, across, along; `compliance` (6, 6) in the wood's [1/Pa]."""
    pairs = sorted(PLACE, key=lambda pair: PLACE[pair])
    a, b = (list(side) for side in zip(*pairs, strict=True))
    order = [PLACE[tuple(sorted((axes[i], axes[j])))] for i, j in zip(a, b, strict=True)]  # type: ignore[index]
    return np.asarray(np.linalg.inv(compliance[np.ix_(order, order)]))


def waves(c: Array, k: float, q: float) -> tuple[Array, Array, Array]:
    """Six solutions exp(rate x): rates (6,), movements (3, 6), stresses on the face (3, 6), all complex.

    Wave numbers k across and q along [1/m]; `c` (6, 6) stiffness in the face's axes.
    """
    second = np.diag([c[0, 0], c[5, 5], c[4, 4]])
    first = np.zeros((3, 3))
    first[0, 1], first[0, 2] = (c[0, 1] + c[5, 5]) * k, (c[0, 2] + c[4, 4]) * q
    first[1, 0], first[2, 0] = -first[0, 1], -first[0, 2]
    none = np.diag(
        [
            -(c[5, 5] * k**2 + c[4, 4] * q**2),
            -(c[1, 1] * k**2 + c[3, 3] * q**2),
            -(c[2, 2] * q**2 + c[3, 3] * k**2),
        ]
    )
    none[1, 2] = none[2, 1] = -(c[1, 2] + c[3, 3]) * k * q
    lower = [-np.linalg.solve(second, none), -np.linalg.solve(second, first)]
    rates, vectors = np.linalg.eig(np.block([[np.zeros((3, 3)), np.eye(3)], lower]))
    u, v, w = vectors[:3]
    stresses = [
        c[0, 0] * rates * u + c[0, 1] * k * v + c[0, 2] * q * w,
        c[5, 5] * (rates * v - k * u),
        c[4, 4] * (rates * w - q * u),
    ]
    return rates, vectors[:3], np.asarray(stresses)


def yielding(c: Array, k: float, q: float, *, depth: float = np.inf, dragged: bool = False) -> float:
    """Movement under a wave of pressure of height one, or of shear along 3 if `dragged`, in its own direction
    [m/Pa].

    The far side is at infinity, or free at `depth` [m].
    """
    rates, displacements, stresses = waves(c, k, q)
    axis = 2 if dragged else 0
    load = np.zeros(3)
    load[axis] = -1.0
    fading = rates.real < 0.0
    if np.isinf(depth):
        parts = np.linalg.solve(stresses[:, fading], load)
        return float((displacements[axis, fading] @ parts).real)
    # waves that grow are one at the far side, so that nothing overflows
    here = np.where(fading, 1.0, np.exp(-rates * depth))
    there = np.where(fading, np.exp(rates * depth), 1.0)
    both = np.concatenate([stresses * here, stresses * there])
    parts = np.linalg.solve(both, np.concatenate([load, np.zeros(3)]))
    return float((displacements[axis] * here @ parts).real)
