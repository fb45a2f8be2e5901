"""Stiffness of a neck's cross-section: axial, bending and shear constants of the composite.

Axial and bending constants come from exact integrals; shear from finite elements on the half section.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from fem.errors import MeshError
from fem.geometry.outline import Array
from fem.geometry.quad_element import gauss_points
from fem.geometry.section_mesh import BOARD, FIRST_BAR, NECK, SLOTTED, SectionMesh, section_mesh
from fem.geometry.section_shape import (
    Bar,
    Channel,
    SectionMaterial,
    SectionShape,
    board_moments,
    neck_moments,
    rectangle_moments,
)

__all__ = ["Bar", "Channel", "SectionMaterial", "SectionShape", "SectionStiffness", "section_stiffness"]


@dataclass(frozen=True)
class SectionStiffness:
    """Constants of a cross-section for the beam, on the axis z = 0.

    With u_x = u - z theta the axial force is N = EA u' - ES theta' and the moment M = -ES u' + EI theta'.

    Parameters
    ----------
    ea, es, ei : Integrals of E, E z and E z^2 over the section [N, N·m, N·m2].
    parts : The same three, by material: "neck", "board", "bars"; they add up to `ea`, `es`, `ei`.
    area : Area of the section without the channel [m2].
    neutral_axis : Height of the neutral axis z_n = es/ea above the glue line [m].
    ei_centroid : Bending stiffness about the neutral axis, ei - es^2/ea [N·m2].
    shear_stiffness : Shear stiffness kGA for a force along z [N].
    shear_share : Share of the shear strain energy held by each material [-]; the shares add up to 1.
    """

    ea: float
    es: float
    ei: float
    parts: Mapping[str, tuple[float, float, float]]
    area: float
    neutral_axis: float
    ei_centroid: float
    shear_stiffness: float
    shear_share: Mapping[str, float]


# neighbouring instruments share most of their sections; a ranking of inputs meets some two hundred
@lru_cache(maxsize=512)
def section_stiffness(
    shape: SectionShape,
    *,
    neck: SectionMaterial,
    board: SectionMaterial,
) -> SectionStiffness:
    """Stiffness constants of a cross-section.

    Shear: under a force V the bending stress changes along the neck by ``E (z - z_n) V/EI_c``. The warping
    potential phi that balances it solves ``div(G grad phi) = -E (z - z_n) V/EI_c``, without traction on the
    outline; the shear stress is ``G grad phi`` with G = diag(shear_xy, shear_xz), and equal energies give
    ``kGA = V^2 / int tau^2/G``. Poisson's contraction is neglected.

    A rectangle of one wood gives kGA = 5/6 G A.

    Parameters
    ----------
    shape : Geometry of the section.
    neck, board : Moduli of the neck wood and of the fretboard [Pa].

    Raises `MeshError`: too little wood beside a channel or bar makes the mesh fold.

    Examples
    --------
    >>> wood = SectionMaterial(young=12e9, shear_xy=1e9, shear_xz=1e9)
    >>> square = SectionShape(
    ...     width=0.05,
    ...     neck_depth=0.05,
    ...     profile_exponent=float("inf"),
    ...     board_thickness=0.0,
    ...     board_radius=float("inf"),
    ... )
    >>> stiffness = section_stiffness(square, neck=wood, board=wood)
    >>> round(stiffness.ei_centroid), round(stiffness.shear_stiffness / (1e9 * stiffness.area), 4)
    (6250, 0.8333)
    """
    area, parts = section_integrals(shape, neck=neck, board=board)
    ea, es, ei = (float(sum(part[k] for part in parts.values())) for k in range(3))
    field = _Field(section_mesh(shape), shape=shape, neck=neck, board=board)
    shear_stiffness, shear_share = field.shear()
    return SectionStiffness(
        ea=ea,
        es=es,
        ei=ei,
        parts=parts,
        area=area,
        neutral_axis=es / ea,
        ei_centroid=ei - es**2 / ea,
        shear_stiffness=shear_stiffness,
        shear_share=shear_share,
    )


def section_integrals(
    shape: SectionShape, *, neck: SectionMaterial, board: SectionMaterial
) -> tuple[float, dict[str, tuple[float, float, float]]]:
    """Solid area [m2], and by material the exact integrals of E, E z and E z^2 [N, N·m, N·m2]."""
    wood = neck_moments(shape) if shape.neck_depth > 0.0 else np.zeros(3)
    if shape.channel is not None:
        wood = wood - rectangle_moments(
            shape.channel.width, bottom=shape.channel.bottom, top=shape.channel.top
        )
    bars = np.zeros(3)
    bar_area = 0.0
    for bar in shape.bars:
        one = rectangle_moments(bar.width, bottom=bar.bottom, top=bar.top)
        wood, bars, bar_area = wood - one, bars + bar.young * one, bar_area + float(one[0])
    plank = board_moments(shape)
    stiff_plank = plank
    if shape.slot_depth > 0.0:
        stiff_plank = plank - (1.0 - shape.slot_fraction) * board_moments(shape, depth=shape.slot_depth)
    parts = {"neck": neck.young * wood, "board": board.young * stiff_plank, "bars": bars}
    area = float(wood[0] + plank[0]) + bar_area
    return area, {name: (float(v[0]), float(v[1]), float(v[2])) for name, v in parts.items()}


class _Field:
    """The warping field on the half section; the other half follows by symmetry."""

    def __init__(
        self, mesh: SectionMesh, *, shape: SectionShape, neck: SectionMaterial, board: SectionMaterial
    ) -> None:
        young, shear_xy, shear_xz = _moduli(shape, neck=neck, board=board)
        self.mesh = mesh
        self.size = mesh.points.shape[1]
        self.young = young[mesh.material][:, None]
        modulus = np.stack([shear_xy, shear_xz])[:, mesh.material][:, :, None]
        # Arrays instead of a form for each of the 81 pairs of shape functions: a few milliseconds a section.
        _, weight, self.value, slope = gauss_points()
        nodes = mesh.points[:, mesh.elements].transpose(2, 0, 1)
        self.z = nodes[:, 1] @ self.value
        # Axes: element, direction y or z, direction of the reference square, Gauss point.
        jacobian = np.tensordot(nodes, slope, axes=1)
        swept = jacobian[:, 0, 0] * jacobian[:, 1, 1] - jacobian[:, 0, 1] * jacobian[:, 1, 0]
        if np.any(swept * swept.flat[0] <= 0.0):
            raise MeshError(
                "The section's mesh folds over itself, most likely beside a channel or bar that nearly breaks"
                " through the back: leave more wood around it."
            )
        self.weight: Array = np.abs(swept) * weight
        # What joins slopes along the reference square's two directions: J^-1 G J^-T times the area.
        by_y, by_z = (one * self.weight / swept**2 for one in modulus)
        (y_s, y_t), (z_s, z_t) = jacobian[:, 0].swapaxes(0, 1), jacobian[:, 1].swapaxes(0, 1)
        metric = np.concatenate(
            [
                by_y * z_t**2 + by_z * y_t**2,
                -by_y * z_s * z_t - by_z * y_s * y_t,
                by_y * z_s**2 + by_z * y_s**2,
            ],
            axis=1,
        )
        self.local: Array = (metric @ _products()).reshape(-1, 9, 9)
        self.stiffness = _banded(self.local, mesh.elements, size=self.size)

    def shear(self) -> tuple[float, dict[str, float]]:
        """KGA [N] and the share of the strain energy by material [-]."""
        # The mesh's own integrals, not the exact ones: the load must balance on this mesh.
        weight = self.young * self.weight
        neutral_axis = float((weight * self.z).sum() / weight.sum())
        arm = self.z - neutral_axis
        stress_rate = self.young * arm / (2.0 * float((weight * arm**2).sum()))
        pull = self.value @ (stress_rate * self.weight).T
        load = np.bincount(self.mesh.elements.ravel(), weights=pull.ravel(), minlength=self.size)
        # The load is in balance, so holding one node takes no force.
        potential = np.zeros(self.size)
        potential[1:] = solveh_banded(self.stiffness[:, 1:], load[1:], check_finite=False)
        there = potential[self.mesh.elements].T
        energy = 2.0 * (there * (self.local @ there[:, :, None])[:, :, 0]).sum(axis=1)
        total = float(energy.sum())
        masks = {
            "neck": self.mesh.material == NECK,
            "board": (self.mesh.material == BOARD) | (self.mesh.material == SLOTTED),
            "bars": self.mesh.material >= FIRST_BAR,
        }
        return 1.0 / total, {name: float(energy[mask].sum()) / total for name, mask in masks.items()}


@cache
def _products() -> Array:
    """Products of two shape functions' slopes, (3 Gauss points, 81): both along the first direction of the
    reference square, one along each, both along the second.
    """
    slope = gauss_points()[3]
    pairs = np.einsum("ikq,jlq->klqij", slope, slope).reshape(2, 2, -1, 81)
    return np.concatenate([pairs[0, 0], pairs[0, 1] + pairs[1, 0], pairs[1, 1]])


def _banded(local: Array, elements: NDArray[np.int64], *, size: int) -> Array:
    """Upper band, as LAPACK takes it, of the sum of element matrices (elements, 9, 9)."""
    above, index, band = _places(elements.tobytes(), size)
    total = np.bincount(index, weights=local.ravel()[above], minlength=(band + 1) * size)
    return np.asarray(total.reshape(size, band + 1).T, dtype=np.float64)


# sections with the same lattice of cells share the result
@lru_cache(maxsize=64)
def _places(elements: bytes, size: int) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
    """Places of the element matrices' entries above the diagonal, theirs in the band, and its width."""
    nodes = np.frombuffer(elements, dtype=np.int64).reshape(9, -1).T
    row, column = (np.ravel(one) for one in np.broadcast_arrays(nodes[:, :, None], nodes[:, None, :]))
    above = np.flatnonzero(column >= row)
    row, column = row[above], column[above]
    band = int((column - row).max())
    return above, column * (band + 1) + band + row - column, band


def _moduli(
    shape: SectionShape, *, neck: SectionMaterial, board: SectionMaterial
) -> tuple[Array, Array, Array]:
    """E, G_xy, G_xz for each material number of the mesh [Pa]."""
    bars = [(bar.young, bar.shear_modulus, bar.shear_modulus) for bar in shape.bars]
    solid = [(m.young, m.shear_xy, m.shear_xz) for m in (neck, board)]
    slotted = tuple(shape.slot_fraction * value for value in solid[1])
    young, shear_xy, shear_xz = np.array([solid[0], solid[1], slotted, *bars]).T
    return young, shear_xy, shear_xz
