"""The fault of a TOML text that cannot be read, in plain words: its line, its content, the remedy."""

import re
import tomllib
from collections.abc import Sequence

from cases.casefile.errors import CaseError, Problem
from cases.casefile.key_values import LISTS
from cases.casefile.quantity import has_unit, parse_quantity
from cases.casefile.wrong_value import unit_of

WIDTH = 64
LINE = (
    "one `key = value` a line, text in quotes, comments after #, and headings as [neck] on lines of their own"
)
NUMBER = r"[-+]?[0-9][0-9_]*(?:\.[0-9_]+)?(?:[eE][-+]?[0-9]+)?"
TWICE = ("twice", "overwrite", "redefine", "mutate", "uplicate")
LONG = re.compile(r"\d{400}")
KEY = re.compile(r"[A-Za-z0-9_-]+(\s*\.\s*[A-Za-z0-9_-]+)*|([\"']).*\2")
HEADING = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*(\]\]?)\s*$")

Fault = tuple[str, str, str]
"""What is wrong, what is allowed, what to do."""
NOT_HERE: Fault = ("this is not possible here", LINE, "check that the line above is complete")


def fault_of(text: str, said: str) -> Problem:
    """Return the fault of a text that `tomllib` refuses, at `line 3, column 7`, or at `line 3`.

    Parameters
    ----------
    text : the whole text.
    said : message of `tomllib`, with line and column unless the text ends too early.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    last = max((number for number, line in enumerate(lines, start=1) if line.strip()), default=1)
    place = re.search(r"line (\d+), column (\d+)", said)
    number, column = (int(place[1]), int(place[2])) if place else (last, 0)
    start = _opening(lines[:number], said)
    if start is not None and start != number:
        number, column = start, 0
    line = lines[number - 1]
    wrong, allowed, remedy = _fault(line, said, lines=lines[: number - 1])
    if not place and "xceeds" not in said:
        wrong += ", and there the file ends" if number == last else ""
        remedy += "; if the file is cut short, use a complete copy"
    where = f"line {number}, column {column}" if column else f"line {number}"
    return Problem(where, "", f"`{excerpt(line, column)}`: {wrong}", allowed, remedy)


def not_utf8(data: bytes) -> Problem:
    """Return the fault of a file that is not UTF-8 text: the first such line, and the numbers of others."""
    lines = data.split(b"\n")
    wrong = [number for number, line in enumerate(lines, start=1) if not _is_utf8(line)]
    line = lines[wrong[0] - 1].decode("utf-8", errors="replace").rstrip()
    column = line.find("\ufffd") + 1
    more = ", ".join(map(str, wrong[1:4])) + (" and others" if len(wrong) > 4 else "")
    also = f" (and on line{'s' if len(wrong) > 2 else ''} {more})" if more else ""
    said = f"`{excerpt(line, column)}`: this is not UTF-8 text{also}"
    allowed = "a text file saved with the encoding UTF-8"
    remedy = "retype the line if it is damaged, or save the file as UTF-8 if only letters such as \u00e4 are"
    return Problem(f"line {wrong[0]}, column {column}", "", said, allowed, remedy)


def excerpt(line: str, column: int) -> str:
    r"""Return a line as a message shows it: printable, cut to a window around a column.

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


def _opening(lines: Sequence[str], said: str) -> int | None:
    """Return the number of the line with an unclosed bracket or quote, if that is the fault."""
    if "xceeds" in said:
        return next((number for number, line in enumerate(lines, start=1) if LONG.search(line)), None)
    if any(word in said for word in TWICE) or not (
        _reads(lines[-1]) or "nclosed" in said or "rminated" in said
    ):
        return None
    for number in range(len(lines), 0, -1):
        code, quoted = _without_comment(lines[number - 1])
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


def _without_comment(line: str) -> tuple[str, bool]:
    """Return a line up to its comment, and whether a quote is still open at its end."""
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
        return f"it has a character that cannot be seen (number {ord(hidden)})", LINE, "retype the line"
    code, _ = _without_comment(line)
    if any(word in said for word in TWICE):
        return _twice(code, lines)
    if code.lstrip().startswith("["):
        return _heading(code)
    key, equals, value = (part.strip() for part in code.partition("="))
    if not equals:
        if code.endswith("]"):
            return "the opening bracket of the heading is missing", "a heading as [neck]", "add it"
        return "there is no equals sign", LINE, "correct the line, or put # before it if it is a comment"
    if not KEY.fullmatch(key):
        wrong = f'"{key}" cannot be a key' if key else "there is no key"
        return wrong, "letters without accents, digits, - and _ in a key", "correct the text before ="
    return _quoted(key, value) if value[:1] in ("'", '"') else _value(key, value)


def _twice(code: str, lines: Sequence[str]) -> Fault:
    heading = HEADING.match(code)
    if not heading:
        return "this key is given twice under its heading", "each key once", "remove one of the two"
    found = [(number, HEADING.match(_without_comment(line)[0])) for number, line in enumerate(lines, start=1)]
    first = next(((number, match[1]) for number, match in found if match and match[2] == heading[2]), None)
    at = f" (first on line {first[0]})" if first else ""
    if first and first[1] != heading[1]:
        wrong, remedy = f"this heading has other brackets than before{at}", "write it the same each time"
    else:
        wrong, remedy = f"this heading is given twice{at}", "put the keys of both under one of them"
    lists = ", ".join(f"[[{name}]]" for name in LISTS)
    return wrong, f"each heading once, but {lists} once for each item", remedy


def _heading(code: str) -> Fault:
    allowed = "a heading as [neck], or [[bolts]] for an item of a list"
    surplus = code.count("[") - code.count("]")
    if surplus > 0:
        return "the closing bracket is missing", allowed, "complete the heading or remove the line"
    if surplus < 0:
        return "there is one bracket too many", allowed, "remove it"
    if not code.endswith("]"):
        return "there is more text after the heading", allowed, "put it on a line of its own"
    return "this cannot be a heading", allowed, "correct it: letters without accents, digits, - and _"


def _value(key: str, value: str) -> Fault:
    if not value:
        return "there is no value after the equals sign", LINE, "write the value, or remove the line"
    number = re.match(rf"({NUMBER})(.*)$", value)
    comma = re.fullmatch(r"([-+]?\d+),(\d+)", value)
    if comma:
        remedy = f"write the decimal point as a point: {key} = {comma[1]}.{comma[2]}"
        return "there is a comma in the number", "a point in numbers", remedy
    if LONG.search(value):
        return "the number has too many digits", "a number of a few digits", "retype it"
    if re.fullmatch(r"[-+]?(0\d+|\d+\.|\.\d+)", value):
        remedy = f"write {key} = {float(value):.12g}" + (".0" if value.endswith(".") else "")
        return f"{value} is not a valid form", "digits before and after the point, no leading zero", remedy
    if re.match(r"\d{4}-", value):
        return f"{value} is not a date", "a date as 2026-03-31", "write it in that form"
    if value[0] in "[{":
        wrong = "a bracket is not closed, or a comma is missing between two values"
        return wrong, 'a list as ["top", "bottom"] or [-0.1, 0.1]', "add the closing bracket or the comma"
    if value[-1] in "\"'" and number is None and value.count(value[-1]) == 1:
        return "the text has no first quote", "text in quotes", f'write {key} = "{value[:-1]}"'
    if number and number[2].strip():
        return _with_more(key, value, number[1], more=number[2].strip())
    if _reads(f"x = {value}"):
        return NOT_HERE
    word = value if len(value) <= 40 else value[:37] + "..."
    remedy = "correct it"
    if unit_of(key):
        remedy = "write one number"
    elif re.fullmatch(r"[\w .-]{1,40}", value):
        remedy = f'write {key} = "{value}" if it is text'
    return f"{word} is neither a number nor text in quotes", "a number, or text in quotes", remedy


def _with_more(key: str, value: str, number: str, *, more: str) -> Fault:
    """More text behind a number: perhaps its unit, which stands with it in quotes."""
    allowed = 'the number alone, in the unit of the key\'s name, or in quotes with its unit, as "5/64in"'
    if not unit_of(key) or not has_unit(value):
        return f"{more} follows the number", allowed, f"write {key} = {number}"
    text = value.replace('"', "in")
    try:
        parse_quantity(text, name=key, unit=unit_of(key))
    except CaseError as error:
        return f"{more} follows the number", allowed, error.faults[0].wrong + "; " + error.faults[0].remedy
    return "a number with its unit is not in quotes", allowed, f'write {key} = "{text}"'


def _quoted(key: str, value: str) -> Fault:
    if value[:3] == 3 * value[0]:
        return "the three quotes are not closed", "text in quotes", f'write {key} = "the text" on one line'
    closing = value.find(value[0], 1)
    if closing < 0:
        return "the text has no second quote", "text in quotes", "add the second quote at the end of the text"
    rest = value[closing + 1 :].strip()
    if "\\" in value[:closing]:
        remedy = f"write / instead, or put the text in single quotes: {key} = '...'"
        return "there is a backslash in the text", "text without a backslash", remedy
    if rest:
        allowed = "one text in one pair of quotes, then only a comment"
        return f"{rest} follows the closing quote", allowed, "use one pair of quotes for all"
    return NOT_HERE
