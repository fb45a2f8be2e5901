"""Plane-section tie between beam and plate, and the block's held edges, as one sparse transformation ``u = Q
z``.

Slave rows of the stiffness are added to their masters (``Q^T K Q``), never dropped
(docs/theory-joint.md, section 8).
"""

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.errors import ModelError
from fem.geometry.mesh import Block
from fem.geometry.outline import Array, Outline
from fem.members.beam import Beam
from fem.members.plate import Plate, point_rows

SIX = np.polynomial.legendre.leggauss(6)
"""Gauss points and weights of a cell of the section's edge."""


def shear_weights(z: Array, weight: Array, young_width: Array) -> Array:
    """Weights of a shear-weighted mean of u_z over a section's height, shape (n,), adding to 1.

    The shear flow at height z is proportional to the first moment of ``E b`` above z about the neutral axis
    (D. J. Jourawski's formula, any strength-of-materials text). The mean with these weights is conjugate to
    the shear force. Quadrature points ``z``, increasing, and their lengths ``weight`` [m], E times width
    ``young_width`` [N/m], all (n,).
    """
    neutral = np.sum(weight * young_width * z) / np.sum(weight * young_width)
    moment = weight * young_width * (z - neutral)
    above = np.cumsum(moment[::-1])[::-1] - 0.5 * moment
    return weight * above / np.sum(weight * above)


def edge_points(body: Plate, x: float) -> tuple[Array, Array]:
    """Gauss points and weights in z on the mesh edge at x, increasing [m]."""
    on_edge = np.isclose(body.mesh.p[0], x, atol=1e-9)
    lines = np.unique(body.mesh.p[1][on_edge])
    if len(lines) < 2:
        raise ModelError(f"The plate has no edge at x = {1e3 * x:.2f} mm. Put the tie on a grid line.")
    nodes, weights = SIX
    half = 0.5 * np.diff(lines)[:, None]
    return (0.5 * (lines[1:] + lines[:-1])[:, None] + half * nodes).ravel(), (half * weights).ravel()


def held_nodes(body: Plate, outline: Outline, block: Block, edges: tuple[str, ...]) -> NDArray[np.int64]:
    """Scalar unknowns of the block on its held edges; `ModelError` for an unknown or empty one."""
    xj, zc = outline.corner
    x, z = body.nodes
    where = {
        "top": np.isclose(z, zc + block.wall, atol=1e-9) & (x > outline.tongue_end + 1e-9),
        "bottom": np.isclose(z, -block.height, atol=1e-9),
        "back": np.isclose(x, xj + block.stem, atol=1e-9)
        & ((z < zc - block.shelf + 1e-9) | (block.stem > block.length - 1e-9)),
    }
    chosen = np.zeros_like(x, dtype=bool)
    for edge in edges:
        if edge not in where:
            raise ModelError(f"'{edge}' is no edge of the block. Choose held edges among top, bottom, back.")
        if not where[edge].any():
            raise ModelError(
                f"The block's {edge} edge is empty. Make the block longer than the tongue,"
                " or hold another edge."
            )
        chosen |= where[edge]
    return np.flatnonzero(chosen)


def transformation(
    line: Beam,
    neck: Plate,
    block: Plate,
    *,
    tie: float,
    held: NDArray[np.int64],
    weights: tuple[Array, Array],
) -> sp.csr_matrix:
    """Sparse Q of shape (all unknowns, free unknowns); all = beam, neck x, neck z, block x, block z.

    At the tie the neck's u_x is ``u - z theta`` of the beam's end; the beam's w is the mean of the neck's
    u_z with ``weights`` (points z, weights), so the section may contract in depth.
    """
    offset = line.size
    total = line.size + 2 * neck.size + 2 * block.size
    on_tie = np.flatnonzero(np.isclose(neck.nodes[0], tie, atol=1e-9))
    z_tie = neck.nodes[1][on_tie]
    end_u, end_w, end_t = (line.at(name, tie) for name in ("u", "w", "t"))
    z_points, share = weights
    points = np.stack([np.full_like(z_points, tie), z_points])
    mean = sp.coo_matrix(point_rows(neck, points, inside=(1.0, 0.0)).sum_of(share)[None])
    block_first = offset + 2 * neck.size
    slaves = np.concatenate([[end_w], offset + on_tie, block_first + held, block_first + block.size + held])
    free = np.setdiff1d(np.arange(total), slaves)
    row = np.concatenate([free, offset + on_tie, offset + on_tie, np.full_like(mean.col, end_w)])
    column = np.concatenate(
        [free, np.full_like(on_tie, end_u), np.full_like(on_tie, end_t), offset + neck.size + mean.col]
    )
    value = np.concatenate([np.ones(len(free)), np.ones(len(on_tie)), -z_tie, mean.data])
    # columns are numbered over the free unknowns only
    return sp.csr_matrix((value, (row, np.searchsorted(free, column))), shape=(total, len(free)))
