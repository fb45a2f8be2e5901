"""Truss rod: the row on which its setting acts (docs/theory-joint.md, section 7)."""

import numpy as np
import scipy.sparse as sp

from fem.geometry.hardware import Rod
from fem.geometry.outline import Array
from fem.members.beam import Beam, line_stretch
from fem.members.plate import Plate, point_rows


def setting_row(rod: Rod, line: Beam, neck: Plate | None) -> tuple[Array, sp.csr_matrix | None]:
    """Row of the displacement conjugate to the rod's setting: over the beam's unknowns, and over the neck
    plate's (x, z) unknowns, None for a rod that ends before the plate.

    One-way: its change of length. Two-way: the rotation between its anchors, the difference of its members'
    changes of length over their distance. The load ``- setting * row`` contains the anchor forces and the
    transverse push of a curved rod; it is self-equilibrated, since the row vanishes on rigid motions.
    """
    if rod.arm is None:
        return _stretch(rod, line, neck, 0.0)
    beam_low, plate_low = _stretch(rod, line, neck, -0.5 * rod.arm)
    beam_high, plate_high = _stretch(rod, line, neck, +0.5 * rod.arm)
    on_plate = None if plate_low is None or plate_high is None else (plate_low - plate_high) / rod.arm
    return (beam_low - beam_high) / rod.arm, on_plate


def _stretch(rod: Rod, line: Beam, neck: Plate | None, offset: float) -> tuple[Array, sp.csr_matrix | None]:
    end = float(line.x[-1])
    on_beam = line_stretch(
        line, z=lambda x: rod.z(x) + offset, slope=rod.slope, first=rod.first, last=min(rod.last, end)
    )
    if rod.last <= end + 1e-9 or neck is None:
        return on_beam, None
    # in the plate the pull is spread over the rod's height; Gauss points on fixed spans along the line
    nodes, weights = np.polynomial.legendre.leggauss(4)
    edges = np.linspace(end, rod.last, max(2, int(np.ceil((rod.last - end) / 4e-3))) + 1)
    half = 0.5 * np.diff(edges)
    x = (0.5 * (edges[1:] + edges[:-1])[:, None] + half[:, None] * nodes).ravel()
    length = (half[:, None] * weights).ravel()
    total = sp.csr_matrix((1, 2 * neck.size))
    for lift, share in ((-0.7746, 5 / 18), (0.0, 8 / 18), (0.7746, 5 / 18)):
        rows = point_rows(neck, np.stack([x, rod.z(x) + offset + 0.5 * rod.height * lift]))
        slope = rod.slope(x)
        scale = sp.csr_matrix(share * length / np.sqrt(1.0 + slope**2))
        by_slope, by_square = sp.diags(slope), sp.diags(slope**2)
        total = total + sp.hstack(
            [scale @ (rows.d_x + by_slope @ rows.d_z), scale @ (by_slope @ rows.d_x + by_square @ rows.d_z)]
        )
    return on_beam, sp.csr_matrix(total)
