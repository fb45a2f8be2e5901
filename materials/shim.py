"""Shim materials by name. Numbers in brackets: `sources.md`."""

import math
from dataclasses import dataclass

from materials.table import named_row, number, read_table
from materials.wood import wood


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
