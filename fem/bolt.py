"""Bolts: where they grip, how they stretch, what tension a torque gives (docs/theory.md, section 6)."""

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from fem.mesh import Block
from fem.outline import Array, Outline
from fem.plate import Plate, point_rows


@dataclass(frozen=True)
class Bolt:
    """A bolt through the block into the neck, square to its face.

    ``position`` is the distance of its axis from the joint corner along the face [m]; ``tension`` is set on
    the bench [N].
    """

    name: str
    face: str
    position: float
    diameter: float
    washer_diameter: float
    insert_length: float
    insert_diameter: float
    young: float
    tension: float


def torque_tension(torque: float, *, nut_factor: float, diameter: float) -> float:
    """Tension a torque gives, ``F = T / (k d)`` [N].

    Source: short form of the torque equation, e.g. J. Fail. Anal. Prev. 2019, doi 10.1007/s11668-019-00693-z.

    >>> torque_tension(1.0, nut_factor=0.2, diameter=0.00635)
    787.4
    """
    return torque / (nut_factor * diameter)


def bolt_stiffness(bolt: Bolt, block: Block) -> float:
    """Stiffness ``E A / l`` of the free length between washer and the middle of the insert [N/m]."""
    grip = (block.stem if bolt.face == "heel" else block.shelf) + 0.5 * bolt.insert_length
    return bolt.young * 0.25 * np.pi * bolt.diameter**2 / grip


def washer_area(bolt: Bolt) -> float:
    """Area under the washer, its hole left out [m2]."""
    return float(0.25 * np.pi * (bolt.washer_diameter**2 - bolt.diameter**2))


def elongation_row(bolt: Bolt, neck: Plate, block: Plate, outline: Outline, shape: Block) -> sp.csr_matrix:
    """Row of the bolt's elongation: mean movement over the insert against that over the washer, by
    quadrature over their footprints.

    Columns: neck x, neck z, block x, block z. The washer's chord at each height weighs its points, so that
    the mean is one over the disc's area; the insert is a cylinder seen from the side.
    """
    xj, zc = outline.corner
    nodes, weights = np.polynomial.legendre.leggauss(6)
    across = 0.5 * bolt.washer_diameter * nodes
    chord = weights * np.sqrt(1.0 - nodes**2)
    depth_nodes, depth_weights = np.polynomial.legendre.leggauss(3)
    depth = 0.5 * bolt.insert_length * (1.0 + depth_nodes)
    radial = 0.5 * bolt.insert_diameter * nodes
    d, r = np.meshgrid(depth, radial, indexing="ij")
    share = np.outer(depth_weights, chord).ravel()
    if bolt.face == "heel":
        washer = np.stack([np.full_like(across, xj + shape.stem), zc - bolt.position + across])
        insert = np.stack([(xj - d).ravel(), (zc - bolt.position + r).ravel()])
        inwards = (-1.0, 0.0)
        component = 0
    else:
        washer = np.stack([xj + bolt.position + across, np.full_like(across, zc - shape.shelf)])
        insert = np.stack([(xj + bolt.position + r).ravel(), (zc + d).ravel()])
        inwards = (0.0, 1.0)
        component = 1
    under_washer = _mean(block, washer, chord, inwards)
    in_neck = _mean(neck, insert, share, None)
    row = [sp.csr_matrix((1, body.size)) for body in (neck, neck, block, block)]
    # the insert lies on the neck's side: for a heel bolt towards the nut (x falls), for a tongue bolt above
    # the washer (z rises)
    sign = -1.0 if bolt.face == "heel" else 1.0
    row[component], row[2 + component] = sign * in_neck, -sign * under_washer
    return sp.csr_matrix(sp.hstack(row))


def _mean(body: Plate, points: Array, weights: Array, inside: tuple[float, float] | None) -> sp.csr_matrix:
    rows = point_rows(body, points, inside=inside).value
    return sp.csr_matrix(weights / weights.sum()) @ rows
