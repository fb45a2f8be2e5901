"""Gives a metal, a bonded bar or the proof stress of a bolt class by name; [numbers]: `sources.md`."""

from dataclasses import dataclass

from materials.table import number, read_table, unknown_name


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

    Raises
    ------
    MaterialError
        Unknown name; the nearest are given.
    """
    table = read_table("metals.csv")
    key = name.strip().lower()
    if key not in table:
        raise unknown_name(name, table, what="metal", remedy=f"known: {', '.join(table)}")
    row = table[key]
    return Metal(
        name=key,
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

    A bolt is never tightened to it in a guitar: the wood gives first. The bolt maker's own limit holds.

    Raises
    ------
    MaterialError
        Unknown class.
    """
    table = read_table("bolt_classes.csv")
    if bolt_class not in table:
        raise unknown_name(bolt_class, table, what="bolt class", remedy=f"known: {', '.join(table)}")
    return number(table[bolt_class], "proof_stress_mpa") * 1e6
