"""The twenty-node hexahedron: order of its nodes, shape functions, the cell that holds a point."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CORNERS, SIDES = ((0, 0), (2, 0), (2, 2), (0, 2)), ((1, 0), (2, 1), (1, 2), (0, 1))
LATTICE = tuple(
    (*across, height)
    for around, height in ((CORNERS, 0), (CORNERS, 2), (SIDES, 0), (SIDES, 2), (CORNERS, 1))
    for across in around
)
"""Nodes in the outside program's order, in half cells."""
LOCAL = np.asarray(LATTICE, dtype=float) - 1.0
FACES = {"z-": 1, "z+": 2, "y-": 3, "x+": 4, "y+": 5, "x-": 6}
"""Numbers of a cell's faces in the outside program."""


def shapes(at: Array) -> tuple[Array, Array]:
    """Values (20,) and slopes (20, 3) of the shape functions at a local point (3,)."""
    values, slopes = np.empty(20), np.empty((20, 3))
    for n, node in enumerate(LOCAL):
        side = np.flatnonzero(node == 0.0)
        linear = 0.5 * (1.0 + node * at)
        grown = 0.5 * node.copy()
        if len(side):
            linear[side[0]], grown[side[0]] = 1.0 - at[side[0]] ** 2, -2.0 * at[side[0]]
            whole, whole_slope = 1.0, np.zeros(3)
        else:
            whole, whole_slope = float(node @ at) - 2.0, node
        product = float(np.prod(linear))
        values[n] = product * whole
        for axis in range(3):
            others = np.prod(np.delete(linear, axis))
            slopes[n, axis] = grown[axis] * others * whole + product * whole_slope[axis]
    return values, slopes


def local_point(corners: Array, point: Array) -> Array:
    """Local coordinates of a point in a cell with nodes `corners` (20, 3), by Newton's method, (3,)."""
    at = np.zeros(3)
    for _ in range(20):
        values, slopes = shapes(at)
        miss = point - values @ corners
        if np.max(np.abs(miss)) < 1e-10:
            break
        at = np.clip(at + np.linalg.solve((slopes.T @ corners).T, miss), -3.0, 3.0)
    return at


def weights_at(points: Array, cells: Array, place: Array) -> tuple[NDArray[np.int64], Array]:
    """Nodes and their weights of the cell that holds a place (3,); `points` (n, 3), `cells` (m, 20).

    Raises
    ------
    LookupError
        If no cell holds it.
    """
    middle = points[cells].mean(axis=1)
    for cell in np.argsort(np.sum((middle - place) ** 2, axis=1))[:30]:
        at = local_point(points[cells[cell]], place)
        if np.max(np.abs(at)) < 1.0 + 1e-6:
            return cells[cell], shapes(at)[0]
    raise LookupError(f"no cell of the solid holds the point {np.round(place, 3)}")
