"""Metals and bonded bars, by name. Numbers in brackets: `sources.md`."""

from dataclasses import dataclass

from materials.table import named_row, number, read_table


@dataclass(frozen=True)
class Metal:
    """A bar, rod or bolt material: moduli [Pa], density [kg/m3], thermal expansion [1/K]."""

    name: str
    title: str
    young: float
    shear: float
    density: float
    expansion: float
    note: str
    source: str
    mark: str


def metal_names() -> tuple[str, ...]:
    """Return the names of all metals and bars."""
    return tuple(read_table("metals.csv"))


def metal(name: str) -> Metal:
    """Return a metal or bar by name, such as `steel`, `brass` or `carbon-bar`.

    Raises `MaterialError`: unknown name; the nearest are given.
    """
    row = named_row("metals.csv", name, what="metal")
    return Metal(
        name=row["name"],
        title=row["title"],
        young=number(row, "young_gpa") * 1e9,
        shear=number(row, "shear_gpa") * 1e9,
        density=number(row, "density_kg_m3"),
        expansion=number(row, "expansion_per_k"),
        note=row["note"],
        source=row["source"],
        mark=row["mark"],
    )
