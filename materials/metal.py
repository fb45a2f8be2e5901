"""Metals, bonded bars and the proof stress of bolt classes, by name. Numbers in brackets: `sources.md`."""

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


def proof_stress(bolt_class: str) -> float:
    """Return the proof stress of a bolt class, such as `8.8` [Pa], ISO 898-1 [22] from memory.

    In a guitar the wood yields long before the bolt. The bolt maker's own limit takes precedence.

    Raises `MaterialError`: unknown class.
    """
    return number(named_row("bolt_classes.csv", bolt_class, what="bolt class"), "proof_stress_mpa") * 1e6
