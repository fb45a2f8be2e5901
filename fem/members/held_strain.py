"""Strain across a wide block, which its width holds in part (docs/theory-model.md, section 4).

A plate in the side view may strain across freely. In a wide block under a wave of load along it, the stress
across that would hold this strain is released from the two sides only, and fades towards the middle. What is
left of it, as a mean over the width, is the share of the strain that is held; the energy is then exactly that
of a plate with ``s_ij - share s_iy s_yj / s_yy``.
"""

import numpy as np

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.members.half_plane import HalfPlane, half_plane

IN_PLANE = (0, 2, 4)
"""Directions of the side view among xx, yy, zz, yz, xz, xy; 1 is across."""
PHASE = np.arange(0.05, 40.0, 0.05)
"""Half the length of a pad times the wave number: the waves of a pressure that grows along the pad."""


def under_moment(plane: HalfPlane, *, length: float, width: float) -> float:
    """Share held under a pressure that grows from ``-p`` to ``p`` over a length, in a deep block [-].

    The mean over the waves of that pressure, each weighted by its work on a half-space. Lengths [m].
    """
    amplitude = (np.sin(PHASE) - PHASE * np.cos(PHASE)) / PHASE**2
    work = amplitude**2 / PHASE
    return float(1.0 - np.sum(work * plane.reached(PHASE * width / length)) / work.sum())


def in_shelf(plane: HalfPlane, *, length: float, width: float, clamped: bool) -> float:
    """Share held in a shelf that bends over its free length [-]: ``1 - cos`` between two clamped ends, a
    quarter of a wave from one. Lengths [m].
    """
    wave = (2.0 if clamped else 0.5) * np.pi / length
    return float(1.0 - plane.reached(np.array(0.5 * wave * width)))


def held_moduli(compliance: Array, share: float) -> Array:
    """Stiffness in the side view with a share of the strain across held, (3, 3) [Pa], order xx, zz, xz."""
    plane = compliance[np.ix_(IN_PLANE, IN_PLANE)]
    across = compliance[IN_PLANE, 1]
    return np.asarray(np.linalg.inv(plane - share * np.outer(across, across) / compliance[1, 1]))


def block_moduli(structure: Structure, x: Array) -> Array:
    """Stiffness of the block's wood at positions x (n,) [m], (n, 3, 3) [Pa]: stem, and shelf beyond it.

    The stem bears the moment of the heel face; a block without a shelf that of the tongue's seat.
    """
    wood, block, outline = structure.block_wood, structure.block, structure.outline
    if wood.solid is None or not block.width > 0.0:
        return np.broadcast_to(wood.moduli, (len(x), 3, 3))
    clamped = "top" in structure.held
    seat = outline.tongue_end - outline.joint
    free = (seat if clamped else block.length) - block.stem
    upright = free > 1e-6
    face = outline.heel_height - outline.tongue_depth if upright else seat
    along = half_plane(wood.solid, into=1, along=2 if upright else 0)
    stem = held_moduli(wood.solid, under_moment(along, length=face, width=block.width))
    if not upright:
        return np.broadcast_to(stem, (len(x), 3, 3))
    lengthwise = half_plane(wood.solid, into=1, along=0)
    share = in_shelf(lengthwise, length=free, width=block.width, clamped=clamped)
    beyond = x > outline.joint + block.stem
    return np.where(beyond[:, None, None], held_moduli(wood.solid, share), stem)
