"""What is wrong with a text that cannot be read, in plain words: the line, what stands there, what to do."""

import re
import tomllib
from collections.abc import Sequence

from cases.casefile.errors import Problem
from cases.casefile.key_values import LISTS
from cases.casefile.wrong_value import unit_of

WIDTH = 64
LINE = (
    "one `key = value` a line, text in quotes, remarks after #, and headings as [neck] on lines of their own"
)
NUMBER = r"[-+]?[0-9][0-9_]*(?:\.[0-9_]+)?(?:[eE][-+]?[0-9]+)?"
TWICE = ("twice", "overwrite", "redefine", "mutate", "uplicate")
LONG = re.compile(r"\d{400}")
KEY = re.compile(r"\s*[A-Za-z0-9_-]+(?:\s*\.\s*[A-Za-z0-9_-]+)*\s*$")
HEADING = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*(\]\]?)\s*$")

Fault = tuple[str, str, str]
"""What is wrong, what is allowed, what to do."""


def fault_of(text: str, said: str) -> Problem:
    """Say what is wrong with a text that the reader of TOML refuses.

    Parameters
    ----------
    text : str
        The whole text.
    said : str
        The reader's own words, with line and column unless the text ends too early.

    Returns
    -------
    Problem
        Its place is `line 3, column 7`, or `line 3` where the column tells nothing.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    place = re.search(r"line (\d+), column (\d+)", said)
    number = int(place[1]) if place else _last(lines)
    column = int(place[2]) if place else 0
    start = _opening(lines[:number], said)
    if start is not None and start != number:
        number, column = start, 0
    line = lines[number - 1]
    wrong, allowed, remedy = _fault(line, said, lines=lines[: number - 1])
    if not place and "xceeds" not in said:
        wrong += ", and there the file ends" if number == _last(lines) else ""
        remedy += "; if the file is cut short, take a whole copy"
    where = f"line {number}, column {column}" if column else f"line {number}"
    return Problem(where, "", f"`{excerpt(line, column)}`: {wrong}", allowed, remedy)


def not_utf8(data: bytes) -> Problem:
    """Say on which lines a file is not text in UTF-8, with the first of them."""
    lines = data.split(b"\n")
    wrong = [number for number, line in enumerate(lines, start=1) if not _is_utf8(line)]
    line = lines[wrong[0] - 1].decode("utf-8", errors="replace").rstrip()
    column = line.find("\ufffd") + 1
    more = ", ".join(map(str, wrong[1:4])) + (" and others" if len(wrong) > 4 else "")
    also = f" (and on line{'s' if len(wrong) > 2 else ''} {more})" if more else ""
    return Problem(
        f"line {wrong[0]}, column {column}",
        "",
        f"`{excerpt(line, column)}`: this is not UTF-8 text{also}",
        "a text file saved with the encoding UTF-8",
        "retype the line if it is damaged, or save the file as UTF-8 in your editor if only letters such as "
        "\u00e4 are",
    )


def excerpt(line: str, column: int) -> str:
    r"""Return a line as a message shows it: printable, cut to a sensible length round a column.

    Examples
    --------
    >>> excerpt("wood = \x07", 0)
    'wood = ?'
    """
    shown = "".join(
        char if char.isprintable() and char != "\ufffd" else "?" for char in line.replace("\t", " ")
    )
    first = max(0, column - WIDTH + 12)
    piece = shown[first : first + WIDTH]
    before, after = "..." if first else "", "..." if len(shown) > first + WIDTH else ""
    return before + piece.strip() + after


def _is_utf8(line: bytes) -> bool:
    try:
        line.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _last(lines: Sequence[str]) -> int:
    """Number of the last line with something on it."""
    return max((number for number, line in enumerate(lines, start=1) if line.strip()), default=1)


def _opening(lines: Sequence[str], said: str) -> int | None:
    """Return the number of the line whose bracket or quotes open and do not close, if that is the fault."""
    if "xceeds" in said:
        return next((number for number, line in enumerate(lines, start=1) if LONG.search(line)), None)
    if any(word in said for word in TWICE) or not (
        _reads(lines[-1]) or "nclosed" in said or "rminated" in said
    ):
        return None
    for number in range(len(lines), 0, -1):
        code, quoted = _without_remark(lines[number - 1])
        opened = code.count("[") + code.count("{") - code.count("]") - code.count("}")
        if "=" in code and (opened > 0 or quoted):
            return number
    return None


def _reads(line: str) -> bool:
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _without_remark(line: str) -> tuple[str, bool]:
    """Return a line up to its remark, and whether a quote is still open at its end."""
    quote = ""
    for position, char in enumerate(line):
        if quote:
            quote = "" if char == quote else quote
        elif char in "\"'":
            quote = char
        elif char == "#":
            return line[:position].rstrip(), False
    return line.rstrip(), bool(quote)


def _fault(line: str, said: str, *, lines: Sequence[str]) -> Fault:
    hidden = next((char for char in line if (ord(char) < 32 and char != "\t") or ord(char) == 127), None)
    if hidden is not None:
        return (
            f"a character that cannot be seen (number {ord(hidden)}) stands in it",
            LINE,
            "retype the line",
        )
    code, _ = _without_remark(line)
    if any(word in said for word in TWICE):
        return _twice(code, lines)
    if code.lstrip().startswith("["):
        return _heading(code)
    key, equals, value = (part.strip() for part in code.partition("="))
    if not equals:
        if code.endswith("]"):
            return "the opening bracket of the heading is missing", "a heading as [neck]", "put it there"
        return "there is no equals sign", LINE, "correct the line, or put # before it if it is a remark"
    if not KEY.match(key) and not re.fullmatch(r"([\"']).*\1", key):
        allowed = "letters without accents, digits, - and _ in a key"
        return f'"{key}" is no key' if key else "there is no key", allowed, "correct what stands before ="
    return _value(key, value)


def _twice(code: str, lines: Sequence[str]) -> Fault:
    heading = HEADING.match(code)
    if not heading:
        return "this key stands there twice under its heading", "each key once", "take one of the two away"
    found = [(number, HEADING.match(_without_remark(line)[0])) for number, line in enumerate(lines, start=1)]
    first = next(((number, match[1]) for number, match in found if match and match[2] == heading[2]), None)
    at = f" (first on line {first[0]})" if first else ""
    if first and first[1] != heading[1]:
        wrong, remedy = f"this heading has other brackets than before{at}", "write it alike each time"
    else:
        wrong, remedy = f"this heading stands there twice{at}", "put the keys of both under one of them"
    lists = ", ".join(f"[[{name}]]" for name in LISTS)
    return wrong, f"each heading once, but {lists} once for each item", remedy


def _heading(code: str) -> Fault:
    allowed = "a heading as [neck], or [[bolts]] for an item of a list"
    if code.count("[") > code.count("]"):
        return "the closing bracket is missing", allowed, "complete the heading or take the line away"
    if code.count("[") < code.count("]"):
        return "there is one bracket too many", allowed, "take it away"
    if not code.endswith("]"):
        return "something stands after the heading", allowed, "put it on a line of its own"
    return "this is no heading", allowed, "correct it: letters without accents, digits, - and _"


def _value(key: str, value: str) -> Fault:
    if not value:
        return "there is no value after the equals sign", LINE, "write the value, or take the line away"
    number = re.match(rf"({NUMBER})(.*)$", value)
    comma = re.fullmatch(r"([-+]?\d+),(\d+)", value)
    if comma:
        right = f"{comma[1]}.{comma[2]}"
        return (
            "a comma stands in the number",
            "a point in numbers",
            f"write the decimal point as a point: {key} = {right}",
        )
    if LONG.search(value):
        return "the number has too many digits", "a number of a few digits", "retype it"
    if re.fullmatch(r"[-+]?(0\d+|\d+\.|\.\d+)", value):
        return (
            f"{value} is not written as a number is here",
            "digits before and after the point, no zero put in front",
            f"write {key} = {float(value):.12g}" + (".0" if value.endswith(".") else ""),
        )
    if re.match(r"\d{4}-", value):
        return f"{value} is no date", "a date as 2026-03-31", "write it so"
    if value[0] in "[{":
        return (
            "a bracket is not closed, or a comma is missing between two values",
            'a list as ["top", "bottom"] or [-0.1, 0.1]',
            "put the closing bracket or the comma there",
        )
    if value[0] in "\"'":
        return _quoted(key, value)
    if value[-1] in "\"'" and number is None and value.count(value[-1]) == 1:
        return "the text has no first quote", "text in quotes", f'write {key} = "{value[:-1]}"'
    if number and number[2].strip():
        rest = number[2].strip()
        return (
            f"{rest} stands after the number",
            "the number alone; its unit is in the key's name",
            f"write {key} = {number[1]}",
        )
    if _reads(f"x = {value}"):
        return "this cannot stand here", LINE, "look whether the line above it is whole"
    word = value if len(value) <= 40 else value[:37] + "..."
    example = (
        "write one number"
        if unit_of(key)
        else f'write {key} = "{value}" if it is text'
        if re.fullmatch(r"[\w .-]{1,40}", value)
        else "correct it"
    )
    return f"{word} is neither a number nor text in quotes", "a number, or text in quotes", example


def _quoted(key: str, value: str) -> Fault:
    if value[:3] == 3 * value[0]:
        return "the three quotes are not closed", "text in quotes", f'write {key} = "the text" on one line'
    closing = value.find(value[0], 1)
    if closing < 0:
        return "the text has no second quote", "text in quotes", "put the second quote where the text ends"
    rest = value[closing + 1 :].strip()
    if "\\" in value[:closing]:
        return (
            "a backslash stands in the text",
            "text without a backslash",
            f"write / in its place, or put the text in single quotes: {key} = '...'",
        )
    if rest:
        return (
            f"{rest} stands after the closing quote",
            "one text in one pair of quotes, then nothing but a remark after #",
            "write the whole text within one pair of quotes",
        )
    return "this cannot stand here", LINE, "look whether the line above it is whole"
