"""Keys of a case file as names with a unit, for forms and axes."""

UNITS = {
    "_n_m_per_rad": "N·m/rad",
    "_um_per_mpa": "µm/MPa",
    "_percent": "%",
    "_kg_m3": "kg/m³",
    "_kg_m": "kg/m",
    "_n_m": "N·m",
    "_mpa": "MPa",
    "_gpa": "GPa",
    "_deg": "°",
    "_mm": "mm",
    "_in": "in",
    "_n": "N",
}


def name_and_unit(key: str) -> tuple[str, str]:
    """A key without the unit that ends it, and the unit, empty without one.

    >>> name_and_unit("bolts.low.torque_n_m"), name_and_unit("joint.friction")
    (('bolts.low.torque', 'N·m'), ('joint.friction', ''))
    """
    ending = next((one for one in UNITS if key.endswith(one)), "")
    return key.removesuffix(ending), UNITS.get(ending, "")
