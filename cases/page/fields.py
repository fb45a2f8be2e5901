"""The keys of a case as form fields with meaning, allowed values and current value."""

from collections.abc import Callable
from dataclasses import dataclass
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.describe import allowed, toml_value
from cases.casefile.key_values import LISTS
from cases.show.key_names import name_and_unit
from materials.metal import metal_names
from materials.shim import shim_names
from materials.string_density import alloy_names
from materials.strings import set_names
from materials.wood import wood_names

TABLES = {
    "instrument": "Measures",
    "neck": "Neck",
    "fretboard": "Fretboard",
    "frets": "Frets",
    "strings": "Strings",
    "setup": "Set-up",
    "bridge": "Bridge and saddle",
    "targets": "Targets",
    "heel": "Heel",
    "tongue": "Tongue (under the fretboard extension)",
    "block": "Neck block",
    "joint": "Joint",
    "shims": "Shims",
    "bolts": "Bolts",
    "rod": "Truss rod",
    "bars": "Bars",
    "hollows": "Hollows",
    "woods": "Own woods",
    "body": "Body",
    "stock": "Shim stock",
    "tolerance": "Tolerances",
    "scatter": "Scatter from guitar to guitar",
}
"""Tables in the order of the form; others follow under their own names."""
NAMES_OF: dict[str, Callable[[], tuple[str, ...]]] = {
    "neck.wood": wood_names,
    "fretboard.wood": wood_names,
    "block.wood": wood_names,
    "strings.set": set_names,
    "strings.alloy": alloy_names,
    "shims.material": shim_names,
    "bars.material": metal_names,
}
HIDDEN = frozenset({"heel.outline_csv", "heel.mesh"})
"""Keys that name files; the page opens none."""


@dataclass(frozen=True)
class FormField:
    """One field: key path, name in words, unit (may be empty), meaning and allowed values from the schema.

    ``options`` is empty for a text field; ``text`` is the current value, empty if the key is not given;
    ``given`` is False for a default.
    """

    key: str
    label: str
    unit: str
    meaning: str
    allowed: str
    options: tuple[str, ...]
    text: str
    given: bool


@dataclass(frozen=True)
class FormTable:
    """One table of the form, or one item of a list."""

    name: str
    title: str
    fields: tuple[FormField, ...]


def form_of(case: Case) -> tuple[FormTable, ...]:
    """Every key of a case as a field, table by table; each item of a list is one table."""
    models = table_models(Case)
    ordered = [name for name in TABLES if name in models] + [name for name in models if name not in TABLES]
    given = case.given
    tables = []
    for name in ordered:
        title = TABLES.get(name, name)
        items = getattr(case, name)
        for item in items if name in LISTS else (items,):
            prefix = f"{name}.{item.name}" if name in LISTS else name
            made = _fields(prefix, name, item, models[name], given)
            tables.append(FormTable(prefix, f"{title}: {item.name}" if name in LISTS else title, made))
    return tuple(tables)


def _fields(
    prefix: str, table: str, item: Any, model: type[Any], given: frozenset[str]
) -> tuple[FormField, ...]:
    made = []
    for name, field in model.model_fields.items():
        key = f"{prefix}.{name}"
        if f"{table}.{name}" in HIDDEN or (table in LISTS and name == "name"):
            continue
        label, unit = name_and_unit(name)
        names, text = NAMES_OF.get(f"{table}.{name}"), shown(getattr(item, name))
        made.append(
            FormField(
                key=key,
                label=label.replace("_", " "),
                unit=unit,
                meaning=str(field.description),
                allowed=allowed(field),
                options=tuple(dict.fromkeys((*names(), *([text] if text else []))))
                if names
                else _choices(field.annotation),
                text=text,
                given=key in given,
            )
        )
    return tuple(made)


def _choices(annotation: Any) -> tuple[str, ...]:
    if get_origin(annotation) in (Union, UnionType):
        kinds = [one for one in get_args(annotation) if one is not NoneType]
        return _choices(kinds[0]) if len(kinds) == 1 else ()
    return tuple(get_args(annotation)) if get_origin(annotation) is Literal else ()


def shown(value: object) -> str:
    """A value as typed text.

    >>> shown(24.0), shown(None), shown("maple"), shown(("top", "bottom"))
    ('24', '', 'maple', '["top", "bottom"]')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:.12g}"
    return value if isinstance(value, str) else toml_value(value)
