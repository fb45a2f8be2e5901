"""Reading and writing CSV files as numbered lines of cells, whatever the cells mean."""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

from cases.bench.logbook.new_file import new_file
from cases.bench.logbook.store import LogbookError

FORMULA = re.compile(r"'*[=+\-@\t\r]")
NUMBER = re.compile(r"[+-]?\d+(\.\d*)?([eE][+-]?\d+)?")


class Line(NamedTuple):
    """One line: its row in a spreadsheet (the header is 1), its cells by column, or why it cannot be read."""

    number: int
    cells: Mapping[str, str]
    error: str | None


def write_lines(path: Path, columns: Sequence[str], lines: Iterable[Mapping[str, str]]) -> None:
    """Write a new CSV file; raises as `new_file`."""
    # utf-8-sig: the mark at the start tells a spreadsheet the encoding
    with new_file(path) as part, part.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.DictWriter(stream, columns, restval="")
        writer.writeheader()
        writer.writerows({name: _guarded(text) for name, text in line.items()} for line in lines)


def _guarded(text: str) -> str:
    """A cell, with an apostrophe in front where a spreadsheet would read it as a formula."""
    return f"'{text}" if FORMULA.match(text) and not NUMBER.fullmatch(text) else text


def read_lines(path: Path, *, allowed: Sequence[str], required: Sequence[str]) -> list[Line]:
    """Read a CSV file separated by comma, semicolon or tab.

    Raises `LogbookError` for a missing file, text that is not UTF-8, or a column that is unknown, missing or
    repeated.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise LogbookError(f"{path} cannot be read ({error.strerror}); check its name.") from None
    except UnicodeDecodeError as error:
        raise LogbookError(
            f"{path} is not UTF-8 text (byte {error.start + 1}); save it as 'CSV UTF-8' in the spreadsheet."
        ) from None
    header = text.split("\n", 1)[0]
    mark = max(",;\t", key=header.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        columns = [name.strip() for name in next(reader, [])]
        _check_header(path, columns, allowed=allowed, required=required)
        return [
            _line(row, columns, cells)
            for row, cells in enumerate(reader, start=2)
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as error:
        raise LogbookError(
            f"{path} line {reader.line_num}: a quotation mark is missing ({error}); save the table again."
        ) from None


def _line(number: int, columns: Sequence[str], cells: Sequence[str]) -> Line:
    if len(cells) > len(columns):
        error = f"it has {len(cells)} cells for {len(columns)} columns: put text with a comma in quotes"
        return Line(number, {}, error)
    plain = (text[1:] if text.startswith("'") and FORMULA.match(text) else text for text in cells)
    return Line(number, dict(zip(columns, plain, strict=False)), None)


def _check_header(
    path: Path, columns: Sequence[str], *, allowed: Sequence[str], required: Sequence[str]
) -> None:
    for name in columns:
        if name not in allowed:
            near = get_close_matches(name, allowed, n=1)
            hint = f"did you mean {near[0]!r}? " if near else ""
            raise LogbookError(
                f"{path} line 1: the column {name!r} is not known; {hint}allowed are {', '.join(allowed)}."
            )
        if columns.count(name) > 1:
            raise LogbookError(f"{path} line 1: the column {name!r} appears twice; take one out.")
    missing = [name for name in required if name not in columns]
    if missing:
        raise LogbookError(
            f"{path} line 1: the columns {', '.join(missing)} are missing; "
            "add them: the first line names the columns."
        )
