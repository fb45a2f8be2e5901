"""Shim materials by name, and the thickness of paper. Numbers in brackets: `sources.md`."""

import math
from dataclasses import dataclass

import numpy as np

from materials.errors import MaterialError
from materials.table import named_row, number, read_table
from materials.wood import wood

# Thickness of a sheet of 80 g/m2 office paper [m], [24]; measure your own.
PAPER_SHEET_THICKNESS = 0.10e-3
# An assumption, no source: dry wood on wood in a clamped joint.
DEFAULT_FRICTION = 0.3


@dataclass(frozen=True)
class ShimMaterial:
    """A shim material.

    Attributes
    ----------
    wood : Name of its wood, None if it is not wood.
    e_across, g_across : Young's modulus through the thickness and shear modulus along the pad [Pa].
    friction, friction_band : Coulomb coefficient and its band [-]; an assumption.
    """

    name: str
    title: str
    wood: str | None
    e_across: float
    g_across: float
    friction: float
    friction_band: tuple[float, float]
    note: str
    source: str
    mark: str


def shim_names() -> tuple[str, ...]:
    """Return the names of all shim materials."""
    return tuple(read_table("shims.csv"))


def shim_material(name: str) -> ShimMaterial:
    """Return a shim material by name, such as `maple`, `card` or `paper`.

    A wooden shim has side grain on its faces and growth rings in any direction: its modulus through the
    thickness is the geometric mean of E_R and E_T, its shear modulus that of G_LR and G_LT (grain along the
    pad).

    Raises `MaterialError`: unknown name; the nearest are given.
    """
    row = named_row("shims.csv", name, what="shim material")
    if row["wood"]:
        timber = wood(row["wood"])
        e_across, g_across = math.sqrt(timber.e_r * timber.e_t), math.sqrt(timber.g_lr * timber.g_lt)
    else:
        e_across, g_across = number(row, "e_across_mpa") * 1e6, number(row, "g_across_mpa") * 1e6
    return ShimMaterial(
        name=row["name"],
        title=row["title"],
        wood=row["wood"] or None,
        e_across=e_across,
        g_across=g_across,
        friction=number(row, "friction"),
        friction_band=(number(row, "friction_low"), number(row, "friction_high")),
        note=row["note"],
        source=row["source"],
        mark=row["mark"],
    )


def paper_thickness(grammage: float) -> float:
    """Return the thickness of a sheet of paper or card [m] by its grammage [g/m2], 45 to 400.

    Uncoated stock [24]; read under about 50 to 100 kPa [33], thinner when clamped in a joint.

    Raises `MaterialError`: grammage out of range.

    Examples
    --------
    >>> round(paper_thickness(80) * 1e3, 3)
    0.1
    """
    rows = tuple(read_table("papers.csv").values())
    grammages = [number(row, "grammage_g_m2") for row in rows]
    if not grammages[0] <= grammage <= grammages[-1]:
        raise MaterialError(
            f"paper of {grammage:g} g/m2 is outside {grammages[0]:g} to {grammages[-1]:g}; "
            "measure a stack of sheets and give the thickness itself"
        )
    return float(np.interp(grammage, grammages, [number(row, "thickness_mm") for row in rows])) * 1e-3
