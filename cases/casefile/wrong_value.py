"""Sentences about one value: outside its limits, or of the wrong kind."""

import math
import re
from collections.abc import Mapping
from typing import Any

from cases.casefile.errors import Problem

# By the ending of the key: factors that correct a usual mistake of the unit, and the unit then given.
SLIPS: tuple[tuple[str, tuple[tuple[float, str], ...]], ...] = (
    (
        "_mm",
        ((25.4, "inches"), (1000.0, "metres"), (10.0, "centimetres"), (0.0254, "thousandths of an inch")),
    ),
    ("_gpa", ((1e-3, "MPa (N/mm2)"), (1e-9, "Pa"), (6.894757, "million psi"))),
    ("_deg", ((57.29578, "radians"),)),
    ("_percent", ((100.0, "a fraction of one"),)),
    ("_kg_m3", ((1000.0, "g/cm3"), (16.01846, "lb/ft3"))),
    ("_n_m", ((0.112985, "inch-pounds"), (1e-3, "N mm"))),
    ("_n", ((1000.0, "kN"), (4.44822, "lbf"))),
)
UNITS = {
    "_n_m_per_rad": "N m/rad",
    "_um_per_mpa": "um/MPa",
    "_kg_m3": "kg/m3",
    "_kg_m": "kg/m",
    "_n_m": "N m",
    "_mm": "mm",
    "_gpa": "GPa",
    "_deg": "degrees",
    "_percent": "%",
    "_in": "inch",
    "_n": "N",
}
"""Unit by the ending of a key."""
NAME = "1 to 80 letters, digits, spaces and . , + - _ ( ), no space or dot first or last"
KINDS = {
    "float_type": ("this is not a number", "one number"),
    "int_type": ("this is not a whole number", "one whole number"),
    "int_from_float": ("this is not a whole number", "a whole number"),
    "finite_number": ("this is not a finite number", "a finite number"),
    "string_type": ("this is not text", "text in quotes"),
    "tuple_type": ("this is not a list", "a list in brackets"),
    "date_type": ("this is not a date", "a date as 2026-03-31, without quotes"),
    "string_too_short": ("this is empty", "1 to 80 characters"),
    "string_too_long": ("this is too long", "1 to 80 characters"),
    "string_pattern_mismatch": ("a key path cannot hold this name", "1 to 40 letters, digits, - and _"),
}
"""By the type of the validation error: what is wrong, and what is allowed."""
UNKNOWN_KIND = ("this is of the wrong kind", "a value as docs/case-file.md describes it")


def shown(value: object) -> str:
    """Return a value as a message shows it: text in quotes, long ones cut."""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(list(value) if isinstance(value, tuple) else value)
    text = re.sub(r"[^\x20-\x7e\u00a0-\uffff]", "?", text)
    return text if len(text) <= 60 else text[:57] + "..."


def plain(value: float) -> str:
    """Return a number without a power of ten, unless it is extremely large.

    Examples
    --------
    >>> plain(1e12), plain(0.1), plain(95.0)
    ('1000000000000', '0.1', '95')
    """
    text = f"{value:.10g}"
    return f"{value:.0f}" if "e" in text and 1.0 < abs(value) < 1e15 else text


def unit_of(path: str) -> str:
    """Return the unit that the ending of a key names.

    Examples
    --------
    >>> unit_of("instrument.scale_mm"), unit_of("bolts.low.torque_n_m"), unit_of("joint.friction")
    ('mm', 'N m', '')
    """
    return next((unit for ending, unit in UNITS.items() if path.endswith(ending)), "")


def limits_of(field: Any) -> tuple[float, float] | None:
    """Return the lowest and the highest value that a field of the schema allows, if it has limits."""
    low = [item.ge for item in field.metadata if hasattr(item, "ge")]
    high = [item.le for item in field.metadata if hasattr(item, "le")]
    return (low[0], high[0]) if low and high else None


def span(path: str, limits: tuple[float, float] | None) -> str:
    """Return the limits of a key with its unit; empty without limits.

    Examples
    --------
    >>> span("heel.height_mm", (10, 150))
    '10 to 150 mm'
    """
    return "" if limits is None else f"{limits[0]:g} to {limits[1]:g} {unit_of(path)}".rstrip()


def outside(path: str, value: float, *, low: float, high: float) -> Problem:
    """Say that a number lies outside its limits, and name the wrong unit that would explain it."""
    unit = unit_of(path)
    factors = next((factors for ending, factors in SLIPS if path.endswith(ending)), ())
    guesses = [(value * factor, name) for factor, name in factors if low <= value * factor <= high]
    remedy = f"write a value within these limits{unit and ', in ' + unit}"
    if guesses:
        right, name = guesses[0]
        remedy = f"it looks like {name}: write {right:.6g}"
    wrong = "too small" if value < low else "too large"
    return Problem(path, plain(value), wrong, span(path, (low, high)), remedy)


def as_float(value: float) -> float:
    """Return a number as a float, infinite if it is too large for one."""
    try:
        return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        return math.inf if value > 0 else -math.inf


def wrong_kind(kind: str, path: str, *, value: object, field: Any) -> Problem:
    """Say that a value is not of the kind that its key takes.

    Parameters
    ----------
    kind : type of the validation error.
    path, value : the key and its value.
    field : the key's field of the schema, or None.
    """
    wrong, allowed = KINDS.get(kind, UNKNOWN_KIND)
    limits = span(path, limits_of(field)) if field is not None else ""
    allowed += f" from {limits}" if limits else ""
    table, _, key = path.rpartition(".")
    if isinstance(value, Mapping):
        place = f"under [{table}]" if table else "above the first heading"
        remedy = f"write {key} = and the value {place}"
        return Problem(path, "", "this is a heading or has keys under it", allowed, remedy)
    remedy = "write the value in that form"
    if isinstance(value, list | tuple) and kind != "tuple_type":
        wrong, remedy = "the brackets make this a list", "remove the brackets"
    elif isinstance(value, str) and kind in ("float_type", "int_type"):
        wrong, allowed = "the quotes make this text", f"{allowed}, without quotes"
        pointed = value.replace(",", ".", 1)
        remedy = "remove the quotes" if _is_number(value) else "write the number alone"
        if pointed != value and _is_number(pointed):
            wrong, remedy = f"{wrong}, and it has a comma for the decimal point", f"write {pointed}"
    elif path == "name" and kind == "string_pattern_mismatch":
        wrong, allowed = "no file can have this name", NAME
        remedy = "choose another (a case without a name has that of its file)"
    return Problem(path, shown(value), wrong, allowed, remedy)


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
