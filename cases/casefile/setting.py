"""What the command line sets: `key=value`, each key once."""

import re
import tomllib
from collections.abc import Iterable

from cases.casefile.errors import Problem
from cases.casefile.quantity import NUMBER, parse_angle, parse_length
from cases.casefile.wrong_value import shown, unit_of
from materials.errors import InputError

COMMA = re.compile(r"^[+-]?\d+,\d+\s*[a-zA-Z\"°%]*$")


def parse_setting(text: str) -> tuple[str, object]:
    """Split `key=value` and read the value as a case file would.

    Lengths and angles may carry their unit: `heel.height_mm=3.75in` is the same as `heel.height_mm=95.25`.

    Parameters
    ----------
    text : str
        Such as `neck.e_l_gpa=11.0`, `neck.wood=maple-sugar` or `block.held=["top"]`.

    Returns
    -------
    tuple of str and object
        Key path and value, for `Case.with_values`.

    Raises
    ------
    InputError
        If it has no key or no value.

    Examples
    --------
    >>> parse_setting("neck.e_l_gpa=11.0"), parse_setting("heel.height_mm=3in")
    (('neck.e_l_gpa', 11.0), ('heel.height_mm', 76.2))
    """
    key, equals, value = (part.strip() for part in text.partition("="))
    if not (key and equals and value):
        raise InputError(
            str(
                Problem(
                    "--set",
                    f'"{text}"',
                    "this is not key=value",
                    "a key of docs/case-file.md, an equals sign, a value",
                    "write for example --set neck.e_l_gpa=11.0",
                )
            )
        )
    return key, parse_value(key, value)


def parse_settings(texts: Iterable[str]) -> dict[str, object]:
    """Read several `key=value`, for `Case.with_values`.

    Raises
    ------
    InputError
        If one cannot be read, or a key comes twice with different values.
    """
    found: dict[str, object] = {}
    for text in texts:
        key, value = parse_setting(text)
        if key in found and found[key] != value:
            raise InputError(
                str(
                    Problem(
                        key,
                        f"{shown(found[key])} and {shown(value)}",
                        "it is set twice",
                        "each key once",
                        "keep one: --strings sets strings.set, --neck-wood sets neck.wood",
                    )
                )
            )
        found[key] = value
    return found


def plain_unit(unit: str) -> str:
    """A unit without what is typed in many ways.

    Examples
    --------
    >>> plain_unit("N·m") == plain_unit("n m")
    True
    """
    return unit.lower().replace(" ", "").replace("·", "")


def parse_value(key: str, text: str) -> object:
    """Read the value of a key: with its unit where the key has one, else as TOML, else as bare text.

    Raises
    ------
    InputError
        If a quantity cannot be read.
    """
    unit = unit_of(key)
    if unit and COMMA.match(text):
        wrong = Problem(key, text, "a comma stands in the number", "a decimal point", "write it as a point")
        raise InputError(str(wrong))
    found = NUMBER.match(text)
    if found is not None and found["unit"]:
        if key.endswith("_mm"):
            return parse_length(text, name=key)
        if key.endswith("_deg"):
            return parse_angle(text, name=key)
        if unit:
            if plain_unit(found["unit"]) != plain_unit(unit):
                wrong = Problem(
                    key, text, "the unit is another", f"a number in {unit}", "write the number alone"
                )
                raise InputError(str(wrong))
            text = text[: found.start("unit")].strip()
    if found is not None and found["top"] is not None and key.endswith("_mm"):
        return parse_length(text, name=key)
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text
