"""The schema as rows to print: each key with its meaning, limits, default and source."""

from collections.abc import Iterator
from dataclasses import dataclass
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

import tomli_w
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from cases.casefile.case import Case
from cases.casefile.defaults import table_models
from cases.casefile.wrong_value import limits_of, span


@dataclass(frozen=True)
class KeyRow:
    """One key of a case file; `meaning` ends with the unit in brackets, `source` is that of the default.

    `default` is a value, the rule of it or `required`, and empty if the key may be left out.
    """

    key: str
    meaning: str
    allowed: str
    default: str
    source: str


def top_rows() -> Iterator[KeyRow]:
    """Give the keys at the top of a case file."""
    models = table_models(Case)
    for key, field in Case.model_fields.items():
        if key not in models:
            default = "the name of the file" if key == "name" else ""
            yield KeyRow(key, str(field.description), allowed(field), default, "")


def table_rows(model: type[BaseModel]) -> Iterator[KeyRow]:
    """Give the keys of a table, without tables inside it."""
    tables = table_models(model)
    for key, field in model.model_fields.items():
        if key in tables:
            continue
        extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
        if extra.get("rule"):
            default = str(extra["rule"])
        elif field.is_required():
            default = "required"
        else:
            default = "" if field.default is None else toml_value(field.default)
        yield KeyRow(key, str(field.description), allowed(field), default, str(extra.get("source", "")))


def toml_value(value: Any) -> str:
    """Return a value as TOML writes it on one line.

    Examples
    --------
    >>> toml_value(("top", "bottom")), toml_value(6.0), toml_value("maple")
    ('["top", "bottom"]', '6.0', '"maple"')
    """
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return tomli_w.dumps({"v": value}).removeprefix("v = ").rstrip("\n")


def allowed(field: FieldInfo) -> str:
    """Return the limits or the kind of a key in words."""
    return span("", limits_of(field)) or _kind(field.annotation)


def _kind(annotation: Any) -> str:
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return ", ".join(str(part) for part in parts)
    if origin in (Union, UnionType):
        return " or ".join(_kind(part) for part in parts if part is not NoneType)
    if origin is tuple:
        return f"list of {_kind(parts[0])}"
    words = {"str": "text", "float": "number", "int": "whole number", "date": "date"}
    return words.get(getattr(annotation, "__name__", ""), "value")
