"""Whether what a test gives can be wood at all: within the limits of the case file's keys, and how far from
the wood table.
"""

from math import log

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from materials.errors import InputError

WOOD_KEYS = {
    "neck.e_l_gpa": ("a modulus along the grain", "GPa"),
    "fretboard.e_l_gpa": ("a modulus along the grain", "GPa"),
    "neck.density_kg_m3": ("a density", "kg/m3"),
}
"""Keys that a test of wood gives, with what they are and their unit."""
FAR = 3.0
"""Scatters from the wood table beyond which a test is worth a second look (our choice)."""


def limits_of(key: str) -> tuple[float, float]:
    """What a case file allows for one of `WOOD_KEYS`.

    >>> limits_of("neck.e_l_gpa")
    (3.0, 30.0)
    """
    table, name = key.split(".")
    found = table_models(Case)[table].model_fields[name].metadata
    low = next(one.ge for one in found if getattr(one, "ge", None) is not None)
    high = next(one.le for one in found if getattr(one, "le", None) is not None)
    return float(low), float(high)


def check_wood(key: str, value: float, *, what: str, readings: str) -> None:
    """Refuse a modulus or a density that no wood has.

    Parameters
    ----------
    what : which piece was tested.
    readings : what to read again.

    Raises
    ------
    InputError
        With what is allowed.
    """
    low, high = limits_of(key)
    if not low <= value <= high:
        of, unit = WOOD_KEYS[key]
        raise InputError(
            f"{what}: {of} of {value:.4g} {unit} is no wood's; {low:g} to {high:g} {unit} are allowed. "
            f"Check {readings}."
        )


def far_from_table(
    key: str, value: float, *, table: tuple[str, float], cov: float, what: str, readings: str
) -> str | None:
    """What to say of a value more than `FAR` scatters from that of a table (its name, value), else None."""
    scatters = abs(log(value / table[1])) / cov
    if scatters <= FAR:
        return None
    of, unit = WOOD_KEYS[key]
    return (
        f"{what}: {of} of {value:.4g} {unit} lies {scatters:.1f} scatters from the {table[1]:.4g} of "
        f"{table[0]}: check {readings}, and the name of the wood, before you use it."
    )
