"""Validation errors of the schema, put into sentences that a person can act on."""

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from cases.errors import Problem
from cases.values import LISTS, item_label

# By the ending of the key: factors that undo a usual slip of the unit, and what the number then looks like.
SLIPS: tuple[tuple[str, tuple[tuple[float, str], ...]], ...] = (
    (
        "_mm",
        ((25.4, "inches"), (1000.0, "metres"), (10.0, "centimetres"), (1 / 25.4, "thousandths of an inch")),
    ),
    ("_gpa", ((1e-3, "MPa (N/mm2)"), (1e-9, "Pa"), (6.894757, "million psi"))),
    ("_deg", ((57.29578, "radians"),)),
    ("_percent", ((100.0, "a fraction of one"),)),
    ("_kg_m3", ((1000.0, "g/cm3"), (16.01846, "lb/ft3"))),
    ("_n_m", ((0.112985, "inch-pounds"), (1e-3, "N mm"))),
    ("_n", ((1000.0, "kN"), (4.44822, "lbf"))),
)


def nearest(word: str, names: Iterable[str], *, count: int = 3) -> tuple[str, ...]:
    """Return the names most like a word.

    Examples
    --------
    >>> nearest("mahogony", ["mahogany", "maple"])
    ('mahogany',)
    """
    return tuple(difflib.get_close_matches(word, list(names), n=count, cutoff=0.55))


def shown(value: object) -> str:
    """Return a value as a message shows it: text in quotes, long ones cut."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "a table"
    text = f'"{value}"' if isinstance(value, str) else str(list(value) if isinstance(value, tuple) else value)
    text = re.sub(r"[^\x20-\x7e\u00a0-\uffff]", "?", text)
    return text if len(text) <= 60 else text[:57] + "..."


def _no_item(path: str, kind: str, name: str, names: Sequence[str]) -> Problem:
    return Problem(
        path,
        "",
        f"the case has no {kind.removesuffix('s')} of the name {name}",
        ", ".join(names) or f"none, for it has no {kind}",
        f"{'take one of these, or ' if names else ''}add it to the case file under [[{kind}]], with its name "
        "and the keys of docs/case-file.md",
    )


def unknown_key(path: str, known: Sequence[str]) -> Problem:
    """Say that a key does not exist, with the nearest ones that do."""
    item = ".".join(path.split(".")[:2])
    kind, _, name = item.partition(".")
    if kind in LISTS and name and path != item:
        names = sorted({key.split(".")[1] for key in known if key.startswith(f"{kind}.")})
        if not names or (name not in names and not nearest(name, names)):
            return _no_item(path, kind, name, names)
    close = nearest(path, known) or nearest(path.split(".")[-1], [key.split(".")[-1] for key in known])
    table = path.rpartition(".")[0]
    siblings = [key for key in known if key.rpartition(".")[0] == table]
    allowed = (
        ", ".join(close)
        if close
        else ", ".join(sorted(siblings or {key.split(".")[0] for key in known})[:12])
    )
    remedy = (
        f"write {close[0]} or take the key away"
        if close
        else "take the key away (docs/case-file.md lists all keys)"
    )
    return Problem(path, "", "there is no such key", allowed, remedy)


def unknown_name(path: str, value: str, names: Sequence[str], *, listed_by: str) -> Problem:
    """Say that a name is not in its table, with the nearest ones that are."""
    close = nearest(value, names) or nearest(value.split("-")[0], names)
    allowed = "nearest are " + ", ".join(close) if close else f"the {len(names)} names of its table"
    remedy = f"write one of them; {listed_by} lists all" if close else f"{listed_by} lists all"
    return Problem(path, shown(value), "there is no such name", allowed, remedy)


def repeated_name(table: str, label: str) -> Problem:
    """Say that two items of a list have the same name."""
    return Problem(
        f"{table}.{label}", "", "this name is there twice", "each name once", "give one another name"
    )


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
        f"{value:.10g}",
        f"{too}",
        allowed,
        guess or f"write a value within these limits{unit and ', in' + unit}",
    )


def translate(
    error: ValidationError,
    *,
    content: Mapping[str, Any],
    models: Mapping[str, type[BaseModel]],
    top: Sequence[str],
    own: type[BaseModel],
    under: str = "",
) -> list[Problem]:
    """Put every error of a validation into one sentence.

    Parameters
    ----------
    error : ValidationError
        What the schema found.
    content : mapping
        What was validated, defaults included.
    models : mapping
        The class of each table.
    top : sequence of str
        The keys at the top of a file.
    own : type
        The class of the whole file.
    under : str
        The table that was validated by itself, if it was not the whole file.

    Returns
    -------
    list of Problem
        In the order of the file's keys, each path once.
    """
    found: dict[str, Problem] = {}
    for detail in error.errors(include_url=False):
        path = _path((under, *detail["loc"]) if under else detail["loc"], content)
        problem = _problem(detail, path=path, models=models, top=top, own=own)
        if problem is not None:
            found.setdefault(problem.path, problem)
    return list(found.values())


def _path(location: tuple[int | str, ...], content: Mapping[str, Any]) -> str:
    parts = list(location)
    if len(parts) > 1 and parts[0] in LISTS and isinstance(parts[1], int):
        entry = content[str(parts[0])][parts[1]]
        label = item_label(entry, position=parts[1] + 1) if isinstance(entry, Mapping) else f"#{parts[1] + 1}"
        return ".".join([str(parts[0]), label, *(str(part) for part in parts[2:3])])
    return ".".join(str(part) for part in parts[:2])


def _problem(
    detail: Any, *, path: str, models: Mapping[str, type[BaseModel]], top: Sequence[str], own: type[BaseModel]
) -> Problem | None:
    kind, value = detail["type"], detail["input"]
    limits = detail.get("ctx", {})
    table, _, key = path.rpartition(".")
    model = models.get(path.split(".")[0])
    field = (
        (model.model_fields.get(key) if model is not None else None) if table else own.model_fields.get(path)
    )
    if kind == "extra_forbidden":
        known = (
            [f"{table}.{name}" for name in model.model_fields] if model is not None and table else list(top)
        )
        return unknown_key(path, known)
    if kind == "missing":
        if field is not None and field.json_schema_extra:
            return None  # a default that could not be worked out: its cause is reported by itself
        meaning = (field.description or "") if field is not None else ""
        low, high = limits_of(field)
        span = f"{low:g} to {high:g} {unit_of(path)}".rstrip() if low is not None and high is not None else ""
        words = meaning.rstrip(".") or "a value"
        allowed = f"{span} ({words})" if span else words
        return Problem(
            path,
            "",
            "this key is missing",
            allowed,
            f"add {key or path} under [{table}]" if table else f"add {path}",
        )
    if kind in ("greater_than_equal", "less_than_equal"):
        low, high = limits_of(field)
        return outside(path, _as_float(value), low=low, high=high)
    if kind == "literal_error":
        allowed = str(limits.get("expected", "")).replace("'", '"')
        return Problem(path, shown(value), "there is no such choice", allowed, "write one of them")
    if kind in ("model_type", "model_attributes_type", "tuple_type") and (field is None):
        return Problem(
            path,
            shown(value),
            "this must be a table",
            f"[{path}] with its keys",
            f"write [{path}] on a line of its own",
        )
    return Problem(
        path, shown(value), _wrong(kind), _expected(kind, path, field), "write the value in that form"
    )


def limits_of(field: Any) -> tuple[float | None, float | None]:
    """Return the lowest and the highest value that a field allows."""
    low = (
        next((item.ge for item in field.metadata if hasattr(item, "ge")), None) if field is not None else None
    )
    high = (
        next((item.le for item in field.metadata if hasattr(item, "le")), None) if field is not None else None
    )
    return low, high


def _as_float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:  # a whole number of hundreds of digits
        return math.inf if value > 0 else -math.inf


def _wrong(kind: str) -> str:
    words = {
        "finite_number": "this is not a finite number",
        "string_too_short": "this is empty",
        "string_too_long": "this is too long",
        "string_pattern_mismatch": "this is no name that a key path can hold",
    }
    return words.get(kind, "this is of the wrong kind")


def _expected(kind: str, path: str, field: Any) -> str:
    words = {
        "float_type": "a number without quotes",
        "int_type": "a whole number without quotes",
        "finite_number": "a finite number",
        "string_type": "text in quotes",
        "tuple_type": "a list in brackets",
        "date_type": "a date as 2026-03-31, without quotes",
        "string_too_short": "1 to 80 characters",
        "string_too_long": "1 to 80 characters",
        "int_from_float": "a whole number",
        "string_pattern_mismatch": "1 to 40 letters, digits, - and _",
    }
    low, high = limits_of(field)
    unit = unit_of(path)
    span = f" from {low:g} to {high:g} {unit}".rstrip() if low is not None and high is not None else ""
    return words.get(kind, "what docs/case-file.md says of this key") + span
