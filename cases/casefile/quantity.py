"""Lengths and angles as a person types them: `1.8mm`, `0.071in`, `5/64in`, `0.1deg`."""

import math
import re
from fractions import Fraction

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
NUMBER = re.compile(
    r"^\s*(?P<sign>[+-]?)\s*(?:(?:(?P<whole>\d+)[\s-]+)?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)"
    r"|(?P<decimal>\d+\.?\d*(?:[eE][+-]?\d+)?|\.\d+))\s*(?P<unit>[^\d\s.]*)\s*$"
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
    return _parse(text, name=name, units=MM_PER_UNIT, bare_unit=bare_unit, example="1.8mm, 0.071in or 5/64in")


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


def is_angle(text: str) -> bool:
    """Return whether a typed quantity carries a unit of angle.

    Examples
    --------
    >>> is_angle("0.1deg"), is_angle("1.8mm")
    (True, False)
    """
    found = NUMBER.match(text)
    return found is not None and found["unit"].lower() in DEG_PER_UNIT


def _parse(text: str, *, name: str, units: dict[str, float], bare_unit: str | None, example: str) -> float:
    def refused(wrong: str, remedy: str) -> CaseError:
        return Problem(name, f'"{text}"', wrong, f"a number with its unit, as {example}", remedy).error()

    found = NUMBER.match(text.replace("−", "-"))
    if found is None:
        remedy = "write the decimal point as a point" if "," in text else "write it in that form"
        raise refused("this is not a quantity", remedy)
    unit = found["unit"].lower() or bare_unit
    if unit is None:
        raise refused("the unit is missing", "add the unit")
    if unit not in units:
        raise refused(f"the unit {unit} is not known here", "change the unit")
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
