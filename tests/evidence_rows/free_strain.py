"""Free strain as a load against the strip of two metals."""

from __future__ import annotations

import numpy as np
from scipy.sparse.linalg import splu

from fem.geometry.mesh import MeshSize
from fem.members.beam import beam, shear, stretch_and_bend
from fem.solve.assembly import Bodies, Piece
from fem.time.free_strain import FreeStrain, free_strain_load
from tests.evidence_rows.mutation import Edited
from tests.evidence_rows.row import Row
from tests.instrument import readme_structure

LENGTH, WIDTH, BOARD, NECK = 0.35, 0.04, 0.006, 0.020

WRONG_WAY = Edited(
    "grown wood that pulls in the place of pushing",
    "fem.time.free_strain:free_strain_load",
    "+= piece.matrix @ field",
    "-= piece.matrix @ field",
)
NO_COUPLING = Edited(
    "moment without the axial strain",
    "fem.members.beam:stretch_and_bend",
    "- es * at.stretch",
    "- 0 * es * at.stretch",
)


def _layer(young: float, low: float, high: float):  # type: ignore[no-untyped-def]
    constants = [young * WIDTH * (high**k - low**k) / k for k in (1, 2, 3)]
    return lambda x: tuple(np.full_like(x, one) for one in constants)


def strip_fall() -> float:
    """Fall of a strip's free end when its upper layer (17 GPa on 11 GPa) grows by 0.001 [m]."""
    from fem.solve import assembly

    line = beam(np.linspace(0.0, LENGTH, 9))
    whole: Bodies = assembly.bodies(readme_structure(), MeshSize(4e-3, 24e-3, 4.0, 4e-3))
    body = Bodies(line, whole.neck, whole.block, whole.parts, whole.shaft, whole.points, whole.indents)
    pieces = {
        "bend board": Piece(0, stretch_and_bend(line, section=_layer(17e9, 0.0, BOARD))),
        "bend neck": Piece(0, stretch_and_bend(line, section=_layer(11e9, -NECK, 0.0))),
    }
    stiffness = pieces["bend board"].matrix + pieces["bend neck"].matrix
    stiffness = stiffness + shear(line, kga=lambda x: np.full_like(x, 1e9))
    load = free_strain_load(body, pieces, FreeStrain(board=(1e-3, 0.0)))[: line.size]
    held = [line.at(name, LENGTH) for name in ("u", "w", "t")]
    free = np.setdiff1d(np.arange(line.size), held)
    moved = np.zeros(line.size)
    moved[free] = splu(stiffness.tocsc()[np.ix_(free, free)]).solve(load[free])
    return float(-moved[line.at("w", 0.0)])


def two_metals() -> float:
    """The same by the strip of two metals [m]."""
    m, n, h = BOARD / NECK, 17.0 / 11.0, BOARD + NECK
    kappa = 6e-3 * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))
    return 0.5 * kappa * LENGTH**2


ROWS = [
    Row(
        "beam-two-metals [m]",
        "fall of the end of a strip 0.35 m long, 6 mm (17 GPa) on 20 mm (11 GPa), the upper layer longer by 0.001",
        ours=strip_fall,
        outside=two_metals,
        tolerance="0.0001 %: constant curvature, which the elements hold exactly; shear put in stiff",
        source="memory: Timoshenko, Analysis of bi-metal thermostats, J. Opt. Soc. Am. 11 (1925), p. 233, eq. 4",
        mutations=(WRONG_WAY, NO_COUPLING),
    ),
]
