"""Four-cornered cells: position and its derivatives in local coordinates, and the cell that holds a point.

Corners go round the cell, as in scikit-fem's `MeshQuad`; local coordinates run from 0 to 1.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray
from skfem import ElementQuad2
from skfem.quadrature import get_quadrature

from fem.errors import ModelError
from fem.geometry.outline import Array

_BESIDE = 1e-6
"""A point outside a cell by less than this fraction of its size counts as inside: rounding of the mesh."""

_ELEMENT = ElementQuad2()

ORDER = 4
"""Degree that the quadrature of nine-node cells integrates exactly."""


@cache
def gauss_points() -> tuple[Array, Array, Array, Array]:
    """Gauss points (2, points) of the nine-node unit cell, their weights (points,), and values (9, points)
    and slopes (9, 2, points) of the shape functions there.
    """
    points, weights = get_quadrature(_ELEMENT, ORDER)
    return points, weights, *shapes(points)


def shapes(local: Array) -> tuple[Array, Array]:
    """Values (9, ...) and slopes (9, 2, ...) of the shape functions at local coordinates (2, ...)."""
    tables = [_ELEMENT.lbasis(local, i) for i in range(9)]
    return np.stack([value for value, _ in tables]), np.stack([slope for _, slope in tables])


def position(corners: Array, local: Array) -> Array:
    """Position of local coordinates (2, ...) in cells with corners (2, 4, ...), shape (2, ...) [m]."""
    s, t = local
    share = np.stack([(1.0 - s) * (1.0 - t), s * (1.0 - t), s * t, (1.0 - s) * t])
    return np.asarray((corners * share).sum(axis=1))


def stretch(corners: Array, local: Array) -> Array:
    """Derivative of position (first axis) by local coordinate (second axis), shape (2, 2, ...) [m]."""
    s, t = local
    by_s = np.stack([t - 1.0, 1.0 - t, t, -t])
    by_t = np.stack([s - 1.0, -s, s, 1.0 - s])
    return np.stack([(corners * by_s).sum(axis=1), (corners * by_t).sum(axis=1)], axis=1)


def inverse(matrix: Array) -> tuple[Array, Array]:
    """Inverse and determinant of matrices (2, 2, ...)."""
    (a, b), (c, d) = matrix
    determinant = a * d - b * c
    return np.stack([np.stack([d, -b]), np.stack([-c, a])]) / determinant, determinant


def local_of(corners: Array, points: Array) -> Array:
    """Local coordinates of points (2, n) [m] in cells with corners (2, 4, n), by Newton's method; (2, n).

    Far outside the cell, the coordinates only indicate that the point is outside.
    """
    first, second, third, fourth = corners.transpose(1, 0, 2)
    # points = first + along s + up t + skew s t
    along, up, skew = second - first, fourth - first, first - second + third - fourth
    aside = points - first
    s, t = np.full((2, points.shape[1]), 0.5)
    for _ in range(12):
        by_s, by_t = along + skew * t, up + skew * s
        off = aside - along * s - by_t * t
        area = by_s[0] * by_t[1] - by_s[1] * by_t[0]
        step_s = (off[0] * by_t[1] - off[1] * by_t[0]) / area
        step_t = (off[1] * by_s[0] - off[0] * by_s[1]) / area
        s = np.minimum(np.maximum(s + step_s, -1.0), 2.0)
        t = np.minimum(np.maximum(t + step_t, -1.0), 2.0)
        # quadratic convergence: after a step of 1e-8 only rounding is left
        if max(np.abs(step_s).max(initial=0.0), np.abs(step_t).max(initial=0.0)) < 1e-8:
            break
    return np.stack([s, t])


def holding(corners: Array, points: Array) -> tuple[NDArray[np.int64], Array]:
    """Number of the cell that holds each point (2, n) [m], of cells with corners (2, 4, cells), and its local
    coordinates there; (n,) and (2, n).

    Raises `ModelError`: a point lies in none.
    """
    low, high = corners.min(axis=1), corners.max(axis=1)
    slack = _BESIDE * (high - low).max(axis=0)
    near = np.all(
        (points[:, :, None] > (low - slack)[:, None]) & (points[:, :, None] < (high + slack)[:, None]), axis=0
    )
    point, cell = np.nonzero(near)
    local = local_of(corners[:, :, cell], points[:, point])
    depth = np.minimum(local, 1.0 - local).min(axis=0)
    order = np.lexsort((depth, point))
    point, cell, depth, local = point[order], cell[order], depth[order], local[:, order]
    deepest = np.flatnonzero(np.append(point[1:] != point[:-1], True)) if len(point) else order
    if len(deepest) < points.shape[1] or np.any(depth[deepest] < -_BESIDE):
        raise ModelError(
            f"A point between x = {1e3 * points[0].min():.1f} and {1e3 * points[0].max():.1f} mm "
            "is outside the body. "
            "Check that pads, bolts and rod lie within neck and block."
        )
    return cell[deepest], local[:, deepest]
