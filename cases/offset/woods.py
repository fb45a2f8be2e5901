"""The woods of a case, and their moduli in the model."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cases.casefile.case import Case
from cases.casefile.schema.instrument import Fretboard, Neck
from cases.casefile.schema.joint import Block
from fem.geometry.section_shape import SectionMaterial
from fem.geometry.structure import WoodPlate
from materials.orientation import (
    Grain,
    block_compliance,
    block_plane_stress,
    lengthwise_compliance,
    plane_stress,
    section_moduli,
)
from materials.own_wood import own_wood
from materials.wood import Wood, wood


def named_wood(case: Case, name: str) -> Wood:
    """Wood of the table, or of a case's own woods, at 12 % moisture."""
    own = next((one for one in case.woods if one.name == name), None)
    if own is None:
        return wood(name)
    e_l = 1e9 * own.e_l_gpa
    return own_wood(name, density=own.density_kg_m3, e_l=e_l, relative=own.relative, kind=own.kind)


def wood_of(case: Case, table: Neck | Fretboard | Block) -> Wood:
    """Wood of a table of the case at its moisture, with measured modulus and density where given."""
    density = table.density_kg_m3 if isinstance(table, Neck) else None
    e_l = None if table.e_l_gpa is None else table.e_l_gpa * 1e9
    return _cut(named_wood(case, table.wood), table.moisture_percent, e_l, density)


# an answer builds about thirty variants of its case, most of them of the same woods
@lru_cache(maxsize=64)
def _cut(whole: Wood, moisture: float, e_l: float | None, density: float | None) -> Wood:
    return whole.at_moisture(moisture).with_measured(e_l=e_l, density=density)


@lru_cache(maxsize=16)
def wood_plate(cut: Wood, *, ring: float, runout: float = 0.0) -> WoodPlate:
    """Moduli of neck or board in side view and cross-section; ring angle and runout [rad]."""

    def moduli(cut: Wood) -> np.ndarray:
        return plane_stress(cut, depth_axis=ring, runout=runout)

    stiffness = moduli(cut)
    compliance = np.linalg.inv(stiffness)
    _, g_xy, _ = section_moduli(cut, ring)
    section = SectionMaterial(float(1.0 / compliance[0, 0]), g_xy, float(1.0 / compliance[2, 2]))
    solid = lengthwise_compliance(cut, depth_axis=ring, runout=runout)
    return WoodPlate(stiffness, _by_along(cut, moduli), section, solid)


def _by_along(cut: Wood, moduli: Callable[[Wood], np.ndarray]) -> np.ndarray:
    """Derivative of a wood's moduli by ln E_L."""
    step = 1e-4
    stiffer, softer = (moduli(cut.scaled(along=1.0 + by, across=1.0, shear=1.0)) for by in (step, -step))
    return np.asarray((stiffer - softer) / (2.0 * step))


@dataclass(frozen=True)
class Woods:
    """Woods of an instrument in their present state: moist, measured or aged."""

    neck: Wood
    board: Wood
    block: Wood

    def changed(self, change: Callable[[Wood], Wood]) -> "Woods":
        """All three woods changed in the same way."""
        return Woods(change(self.neck), change(self.board), change(self.block))


def woods_of(case: Case) -> Woods:
    """Woods of a case."""
    return Woods(wood_of(case, case.neck), wood_of(case, case.fretboard), wood_of(case, case.block))


def weaker_compression(case: Case) -> float:
    """Compressive strength across the grain of neck or block, whichever is weaker [Pa]."""
    return min(wood_of(case, table).compression_across for table in (case.neck, case.block))


@lru_cache(maxsize=16)
def block_plate(cut: Wood, *, grain: Grain) -> WoodPlate:
    """Moduli of the neck block; no beam section uses it."""

    def moduli(cut: Wood) -> np.ndarray:
        return block_plane_stress(cut, grain=grain)

    return WoodPlate(
        moduli(cut),
        _by_along(cut, moduli),
        SectionMaterial(cut.e_l, cut.g_lr, cut.g_lt),
        block_compliance(cut, grain=grain),
    )
