"""Quantities as a person types them: `1.8mm`, `0.071in`, `5/64in`, `0.1deg`, `163 lbf`, `9 ft-lb`."""

import math
import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from cases.casefile.errors import CaseError, Problem

MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "inch": 25.4,
    '"': 25.4,
    "thou": 0.0254,
    "um": 0.001,
}
DEG_PER_UNIT = {"deg": 1.0, "°": 1.0, "degrees": 1.0, "rad": 180.0 / math.pi}
POUND_FORCE_N = 4.4482216152605
N_PER_UNIT = {"n": 1.0, "kn": 1000.0, "lbf": POUND_FORCE_N, "lb": POUND_FORCE_N, "lbs": POUND_FORCE_N}
N_M_PER_UNIT = {
    **{"nm": 1.0, "ncm": 0.01, "nmm": 0.001, "kgfcm": 0.0980665},
    **dict.fromkeys(("ftlb", "lbft", "ftlbf", "lbfft", "ftlbs"), POUND_FORCE_N * 0.3048),
    **dict.fromkeys(("inlb", "lbin", "inlbf", "lbfin", "inlbs"), POUND_FORCE_N * 0.0254),
}
PSI_GPA = POUND_FORCE_N / 0.0254**2 * 1e-9
GPA_PER_UNIT = {
    **{"gpa": 1.0, "mpa": 1e-3, "n/mm2": 1e-3, "pa": 1e-9},
    **{"psi": PSI_GPA, "ksi": 1e3 * PSI_GPA, "mpsi": 1e6 * PSI_GPA},
}
KG_M3_PER_UNIT = {"kg/m3": 1.0, "g/cm3": 1000.0, "lb/ft3": 16.018463}
LENGTH_EXAMPLE = "1.8mm, 0.071in or 5/64in"
QUANTITIES: Mapping[str, tuple[Mapping[str, float], str]] = MappingProxyType(
    {
        "mm": (MM_PER_UNIT, LENGTH_EXAMPLE),
        "degrees": (DEG_PER_UNIT, "0.10deg"),
        "N": (N_PER_UNIT, "725 N or 163 lbf"),
        "N m": (N_M_PER_UNIT, "1.2 N m, 10 in-lb or 0.9 ft-lb"),
        "GPa": (GPA_PER_UNIT, "11.4 GPa or 1650 ksi"),
        "kg/m3": (KG_M3_PER_UNIT, "530 kg/m3 or 33 lb/ft3"),
        "%": ({"%": 1.0, "percent": 1.0}, "12 %"),
    }
)
"""By the unit of a key: the units that may be typed, each with its size in that unit, and an example."""
NUMBER = re.compile(
    r"^\s*(?P<sign>[+-]?)\s*(?:(?:(?P<whole>\d+)[\s-]+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
    r"|(?P<decimal>\d+\.?\d*(?:[eE][+-]?\d+)?|\.\d+))\s*(?P<unit>(?:[^\d\s.,][^.,]*)?)\s*$"
)


def parse_length(text: str, *, name: str = "length", bare_unit: str | None = None) -> float:
    """Read a length [mm], such as `1.8mm`, `0.071in`, `5/64in` or `1 5/64in`.

    Parameters
    ----------
    name : its name in messages.
    bare_unit : unit of a number without one, which is otherwise refused.

    Examples
    --------
    >>> parse_length("1.8mm"), parse_length("5/64in"), parse_length("0.071 in")
    (1.8, 1.984375, 1.8034)
    """
    return _parse(text, name=name, units=MM_PER_UNIT, bare_unit=bare_unit, example=LENGTH_EXAMPLE)


def length_or_none(text: str | None, name: str) -> float | None:
    """Read a length that may be left out [mm]."""
    return None if text is None else parse_length(text, name=name)


def parse_angle(text: str, *, name: str = "angle", bare_unit: str | None = None) -> float:
    """Read an angle [deg], such as `0.10deg`; parameters and errors as of `parse_length`.

    Examples
    --------
    >>> parse_angle("-0.1deg")
    -0.1
    """
    return _parse(text, name=name, units=DEG_PER_UNIT, bare_unit=bare_unit, example="0.10deg")


def parse_quantity(text: str, *, name: str, unit: str) -> float:
    """Read a number with its unit, in the unit of a key; `CaseError` if it has none or another kind.

    Examples
    --------
    >>> parse_quantity("9 ft-lb", name="torque", unit="N m"), parse_quantity("2 kN", name="pull", unit="N")
    (12.202361535, 2000.0)
    """
    units, example = QUANTITIES.get(unit, ({_plain(unit): 1.0}, f"1 {unit}"))
    return _parse(text, name=name, units=units, bare_unit=None, example=example)


def has_unit(text: str) -> bool:
    """Return whether a text is a number with a unit, or a fraction.

    Examples
    --------
    >>> has_unit("0.008in"), has_unit("5/64"), has_unit("43"), has_unit("maple")
    (True, True, False, False)
    """
    found = NUMBER.match(text)
    return found is not None and bool(found["unit"] or found["top"])


def is_angle(text: str) -> bool:
    """Return whether a typed quantity carries a unit of angle.

    Examples
    --------
    >>> is_angle("0.1deg"), is_angle("1.8mm")
    (True, False)
    """
    found = NUMBER.match(text)
    return found is not None and _plain(found["unit"]) in DEG_PER_UNIT


def _plain(unit: str) -> str:
    """A unit without its variants of spelling, as of `N·m`, `N m` or `ft-lb`."""
    return re.sub(r"[\s·*-]", "", unit.lower()).replace("²", "2").replace("³", "3")


def _parse(text: str, *, name: str, units: Mapping[str, float], bare_unit: str | None, example: str) -> float:
    def refused(wrong: str, remedy: str) -> CaseError:
        return Problem(name, f'"{text}"', wrong, f"a number with its unit, as {example}", remedy).error()

    found = NUMBER.match(text.replace("−", "-"))
    if found is None:
        remedy = "write the decimal point as a point" if "," in text else "write it in that form"
        raise refused("this is not a quantity", remedy)
    unit = _plain(found["unit"]) or bare_unit
    if unit is None:
        raise refused("the unit is missing", "add the unit")
    if unit not in units:
        raise refused(f"the unit {found['unit'].strip()} is not known here", "change the unit")
    if found["decimal"] is not None:
        size = float(found["decimal"])
    elif int(found["bottom"]) == 0:
        raise refused("the fraction divides by zero", "correct it")
    else:
        size = float(int(found["whole"] or 0) + Fraction(int(found["top"]), int(found["bottom"])))
    value = (-size if found["sign"] == "-" else size) * units[unit]
    if not math.isfinite(value):
        raise refused("the number is too large", "correct it")
    return round(value, 9)
