"""Bolts: elongation, stiffness, and tension from a torque (docs/theory-joint.md, section 6)."""

from collections.abc import Sequence

import numpy as np
import scipy.sparse as sp
from scipy.linalg import block_diag

from fem.geometry.hardware import Bolt
from fem.geometry.mesh import Block
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import face_of
from fem.members.plate import Plate, point_rows

Footprint = tuple[Array, Array]
"""Points (2, n) [m] and weights (n,) over which a displacement is averaged."""
ACROSS, DOWN = np.polynomial.legendre.leggauss(6), np.polynomial.legendre.leggauss(3)
"""Gauss points and weights across washer and insert, and along the insert."""


def torque_tension(torque: float, *, nut_factor: float, diameter: float) -> float:
    """Bolt tension from a torque, ``F = T / (k d)`` [N].

    Source: Shigley [shigley2011], Eq. 8-27, from memory.

    >>> torque_tension(1.0, nut_factor=0.2, diameter=0.00635)
    787.4
    """
    return torque / (nut_factor * diameter)


def bolt_stiffness(bolt: Bolt, block: Block) -> float:
    """Stiffness ``E A / l`` of the free length between washer and the middle of the insert [N/m]."""
    grip = (block.stem if bolt.face == "heel" else block.shelf) + 0.5 * bolt.insert_length
    return float(bolt.young * 0.25 * np.pi * bolt.diameter**2 * np.cos(bolt.angle) / grip)


def washer_area(bolt: Bolt) -> float:
    """Area under the washer without its hole [m2]."""
    return float(0.25 * np.pi * (bolt.washer_diameter**2 - bolt.diameter**2))


def elongation_rows(
    bolts: Sequence[Bolt], neck: Plate, block: Plate, outline: Outline, shape: Block
) -> sp.csr_matrix:
    """Rows of the bolts' elongations: mean displacement of the washer minus that of the insert, along the
    axis.

    Columns: neck x, neck z, block x, block z. Quadrature over the footprints; chords as weights make the
    means those over the washer's disc and over the insert's cylinder.
    """
    inserts, washers = zip(*(_footprints(bolt, outline, shape) for bolt in bolts), strict=True)
    normals = np.concatenate(
        [
            np.outer(face_of(outline, bolt.face).normal, np.ones(len(weights)))
            for bolt, (_, weights) in zip(bolts, washers, strict=True)
        ],
        axis=1,
    )
    pull = np.array([bolt.pull for bolt in bolts])
    in_neck, under_washer = _means(neck, inserts, None), _means(block, washers, normals)
    row = [-pull[:, :1] * in_neck, -pull[:, 1:] * in_neck, pull[:, :1] * under_washer]
    return sp.csr_matrix(np.concatenate([*row, pull[:, 1:] * under_washer], axis=1))


def _footprints(bolt: Bolt, outline: Outline, shape: Block) -> tuple[Footprint, Footprint]:
    """Points of the insert and of the washer."""
    nodes, weights = ACROSS
    across = 0.5 * bolt.washer_diameter * nodes
    chord = weights * np.sqrt(1.0 - nodes**2)
    depth_nodes, depth_weights = DOWN
    depth = 0.5 * bolt.insert_length * (1.0 + depth_nodes)
    radial = 0.5 * bolt.insert_diameter * nodes
    d, r = np.meshgrid(depth, radial, indexing="ij")
    share = np.outer(depth_weights, chord).ravel()
    at, (pull_x, pull_z) = face_of(outline, bolt.face), bolt.pull
    reach = (shape.stem if bolt.face == "heel" else shape.shelf) / np.cos(bolt.angle)
    crossing = at.points(np.array([bolt.position]))
    # the insert is a cylinder about the axis, the washer lies flat on the block
    pull = np.array([[pull_x], [pull_z]])
    aside = np.array([[-pull_z], [pull_x]])
    insert = crossing - pull * d.ravel() + aside * r.ravel()
    washer = crossing + pull * reach + np.asarray(at.along)[:, None] * across
    return (insert, share), (washer, chord)


def _means(body: Plate, footprints: Sequence[Footprint], inside: Array | None) -> Array:
    """Rows of the mean displacement over each footprint, (footprints, size)."""
    rows = point_rows(body, np.concatenate([points for points, _ in footprints], axis=1), inside=inside)
    share = block_diag(*(weights / weights.sum() for _, weights in footprints))
    return np.asarray((rows.value.T @ share.T).T)
