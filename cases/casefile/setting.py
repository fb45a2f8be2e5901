"""Settings of the command line: `key=value`, each key once."""

import re
import tomllib
from collections.abc import Iterable

from cases.casefile.errors import Problem
from cases.casefile.quantity import has_unit, parse_quantity
from cases.casefile.wrong_value import shown, unit_of

COMMA = re.compile(r"^[+-]?\d+,\d+\s*[a-zA-Z\"°%]*$")


def parse_setting(text: str) -> tuple[str, object]:
    """Split `key=value` and read the value as a case file would, for `Case.with_values`.

    A number may carry its unit: `heel.height_mm=3.75in` is the same as `heel.height_mm=95.25`.

    `InputError` if it has no key or no value.

    Examples
    --------
    >>> parse_setting("neck.e_l_gpa=11.0"), parse_setting("heel.height_mm=3in")
    (('neck.e_l_gpa', 11.0), ('heel.height_mm', 76.2))
    """
    key, equals, value = (part.strip() for part in text.partition("="))
    if not (key and equals and value):
        allowed = "a key of docs/case-file.md, an equals sign, a value"
        remedy = "write for example --set neck.e_l_gpa=11.0"
        raise Problem("--set", f'"{text}"', "this is not key=value", allowed, remedy).error()
    return key, parse_value(key, value)


def parse_settings(texts: Iterable[str]) -> dict[str, object]:
    """Read several `key=value`; `InputError` if one cannot be read, or a key has two different values."""
    found: dict[str, object] = {}
    for text in texts:
        key, value = parse_setting(text)
        if found.setdefault(key, value) != value:
            raise same_twice(key, found[key], value).error()
    return found


def same_twice(key: str, one: object, other: object) -> Problem:
    """Say that a key is set to two values."""
    remedy = "keep one: --strings and --tuning set keys of strings, --neck-wood sets neck.wood"
    return Problem(key, f"{shown(one)} and {shown(other)}", "it is set twice", "each key once", remedy)


def parse_value(key: str, text: str) -> object:
    """Read the value of a key: a quantity (`InputError` if it cannot be read), else TOML, else plain text."""
    unit = unit_of(key)
    if unit and COMMA.match(text):
        wrong, remedy = "there is a comma in the number", "write it as a point"
        raise Problem(key, text, wrong, "a decimal point", remedy).error()
    if unit and has_unit(text):
        return parse_quantity(text, name=key, unit=unit)
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text
