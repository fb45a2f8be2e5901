"""Sentences about one value: outside its limits, or of the wrong kind."""

import math
import re
from collections.abc import Mapping
from typing import Any

from cases.casefile.errors import Problem

# By the ending of the key: factors that undo a usual slip of the unit, and what the number then looks like.
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
NAME = "1 to 80 letters, digits, spaces and . , + - _ ( ), no space or dot first or last"
NAME_REMEDY = "choose another (a case without a name has that of its file)"
NUMBERS = ("float_type", "int_type")
WRONG = {
    "finite_number": "this is not a finite number",
    "string_too_short": "this is empty",
    "string_too_long": "this is too long",
    "string_pattern_mismatch": "this is no name that a key path can hold",
}
ALLOWED = {
    "float_type": "one number",
    "int_type": "one whole number",
    "finite_number": "a finite number",
    "string_type": "text in quotes",
    "tuple_type": "a list in brackets",
    "date_type": "a date as 2026-03-31, without quotes",
    "string_too_short": "1 to 80 characters",
    "string_too_long": "1 to 80 characters",
    "int_from_float": "a whole number",
    "string_pattern_mismatch": "1 to 40 letters, digits, - and _",
}


def shown(value: object) -> str:
    """Return a value as a message shows it: text in quotes, long ones cut."""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(list(value) if isinstance(value, tuple) else value)
    text = re.sub(r"[^\x20-\x7e\u00a0-\uffff]", "?", text)
    return text if len(text) <= 60 else text[:57] + "..."


def plain(value: float) -> str:
    """Return a number without a power of ten, unless it is beyond all sense.

    Examples
    --------
    >>> plain(1e12), plain(0.1), plain(95.0)
    ('1000000000000', '0.1', '95')
    """
    text = f"{value:.10g}"
    return f"{value:.0f}" if "e" in text and 1.0 < abs(value) < 1e15 else text


def slip(path: str, value: float, *, low: float | None, high: float | None) -> str | None:
    """Return in words which wrong unit would explain a value outside its limits, with the value put right."""
    for ending, factors in SLIPS:
        if path.endswith(ending):
            for factor, unit in factors:
                right = value * factor
                if (low is None or right >= low) and (high is None or right <= high):
                    return f"it looks like {unit}: write {right:.6g}"
            return None
    return None


def unit_of(path: str) -> str:
    """Return the unit that the ending of a key names.

    Examples
    --------
    >>> unit_of("instrument.scale_mm"), unit_of("bolts.low.torque_n_m"), unit_of("joint.friction")
    ('mm', 'N m', '')
    """
    endings = {
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
    return next((unit for ending, unit in endings.items() if path.endswith(ending)), "")


def outside(path: str, value: float, *, low: float | None, high: float | None) -> Problem:
    """Say that a number lies outside its limits; guess a wrong unit where one explains it."""
    unit = f" {unit_of(path)}".rstrip()
    allowed = (
        f"{low:g} to {high:g}{unit}"
        if low is not None and high is not None
        else f"at least {low:g}{unit}"
        if low is not None
        else f"at most {high:g}{unit}"
    )
    guess = slip(path, value, low=low, high=high)
    too = "too small" if low is not None and value < low else "too large"
    return Problem(
        path,
        plain(value),
        too,
        allowed,
        guess or f"write a value within these limits{unit and ', in' + unit}",
    )


def as_float(value: float) -> float:
    """Return a number as a float, infinite where it is too large for one."""
    try:
        return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        return math.inf if value > 0 else -math.inf


def limits_of(field: Any) -> tuple[float | None, float | None]:
    """Return the lowest and the highest value that a field allows."""
    low = (
        next((item.ge for item in field.metadata if hasattr(item, "ge")), None) if field is not None else None
    )
    high = (
        next((item.le for item in field.metadata if hasattr(item, "le")), None) if field is not None else None
    )
    return low, high


def wrong_kind(kind: str, path: str, *, value: object, field: Any) -> Problem:
    """Say that a value is not of the kind that its key takes.

    Parameters
    ----------
    kind : str
        What the schema calls the error.
    path : str
        The key.
    value : object
        What stands there.
    field : Any
        The key's field of the schema, or None.

    Returns
    -------
    Problem
        In plain words.
    """
    low, high = limits_of(field)
    span = (
        f" from {low:g} to {high:g} {unit_of(path)}".rstrip() if low is not None and high is not None else ""
    )
    table, _, key = path.rpartition(".")
    if isinstance(value, Mapping):
        place = f"write {key} = and the value" + (
            f" under [{table}]" if table else " above the first heading"
        )
        return Problem(
            path, "", "this is a heading or has keys under it", ALLOWED.get(kind, "one value") + span, place
        )
    allowed = ALLOWED.get(kind, "what docs/case-file.md says of this key") + span
    if isinstance(value, list | tuple) and kind != "tuple_type":
        return Problem(path, shown(value), "the brackets make this a list", allowed, "take the brackets away")
    if isinstance(value, str) and kind in NUMBERS:
        wrong = "the quotes make this text"
        remedy = "take the quotes away" if _is_number(value) else "write the number alone"
        return Problem(path, shown(value), wrong, f"{allowed}, without quotes", remedy)
    if path == "name" and kind == "string_pattern_mismatch":
        return Problem(path, shown(value), "this name does not do for files", NAME, NAME_REMEDY)
    wrong = WRONG.get(kind, "this is of the wrong kind")
    if kind in NUMBERS:
        wrong = "this is no number" if isinstance(value, bool) else "this is no whole number"
    return Problem(path, shown(value), wrong, allowed, "write the value in that form")


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False
