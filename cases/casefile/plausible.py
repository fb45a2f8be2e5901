"""Whether a tested modulus or density can be wood: limits of the case file, distance from the wood table."""

from math import log

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.wrong_value import limits_of as field_limits
from materials.errors import InputError

WOOD_KEYS = {
    "neck.e_l_gpa": ("a modulus along the grain", "GPa"),
    "fretboard.e_l_gpa": ("a modulus along the grain", "GPa"),
    "neck.density_kg_m3": ("a density", "kg/m3"),
}
"""Keys that a test of wood measures, with their meaning and unit."""
FAR = 3.0
"""Distance from the wood table, in scatters, beyond which a test gets a warning (our choice)."""


def limits_of(key: str) -> tuple[float, float]:
    """Return the limits that a case file sets to one of `WOOD_KEYS`.

    >>> limits_of("neck.e_l_gpa")
    (3.0, 30.0)
    """
    table, name = key.split(".")
    low, high = field_limits(table_models(Case)[table].model_fields[name]) or (0.0, 0.0)
    return float(low), float(high)


def check_wood(key: str, value: float, *, what: str, readings: str) -> None:
    """Refuse a modulus or a density that no wood has: `InputError` with what is allowed.

    Parameters
    ----------
    what : which piece was tested.
    readings : what to read again.
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
    """A warning for a value more than `FAR` scatters from that of a table (name, value), else None."""
    scatters = abs(log(value / table[1])) / cov
    if scatters <= FAR:
        return None
    of, unit = WOOD_KEYS[key]
    return (
        f"{what}: {of} of {value:.4g} {unit} lies {scatters:.1f} scatters from the {table[1]:.4g} of "
        f"{table[0]}: check {readings}, and the name of the wood, before you use it."
    )
