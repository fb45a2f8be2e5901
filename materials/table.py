"""Reads the tables beside the code, and names the nearest entry when an unknown one is asked for."""

import csv
import difflib
import re
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources

from materials.errors import MaterialError

Row = Mapping[str, str]


def text_of(file_name: str) -> str:
    """Return the text of a data file of this package."""
    return resources.files("materials").joinpath(file_name).read_text(encoding="utf-8")


@cache
def read_table(file_name: str) -> Mapping[str, Row]:
    """Read a CSV table of this package, keyed by its first column."""
    rows = list(csv.DictReader(text_of(file_name).splitlines()))
    return {next(iter(row.values())): row for row in rows}


@cache
def references() -> Mapping[int, str]:
    """Return the numbered reference list of `sources.md`, number to full text."""
    entries = re.findall(r"^(\d+)\. (.+)$", text_of("sources.md"), flags=re.MULTILINE)
    return {int(number): text for number, text in entries}


def cited(source: str) -> tuple[int, ...]:
    """Return the reference numbers that a source cell such as `[2] Table 4-4; [3]` names."""
    return tuple(int(number) for number in re.findall(r"\[(\d+)\]", source))


def unknown_name(name: str, known: Iterable[str], *, what: str, remedy: str) -> MaterialError:
    """Build the error for an unknown name: what was asked, the nearest names, how to see them all."""
    names = tuple(known)
    wanted = str(name).strip().lower()
    near = difflib.get_close_matches(wanted, names, n=3, cutoff=0.5)
    # A trade word such as "mahogany" or "rosewood" is part of several names and close to none of them in
    # length.
    parts = {part for part in re.split(r"[^a-z0-9]+", wanted) if len(part) > 2}
    near += [other for other in names if other not in near and parts & set(other.split("-"))]
    hint = f"nearest: {', '.join(near[:4])}; " if near else ""
    return MaterialError(f"unknown {what} '{name}'; {hint}{remedy}")


def number(row: Row, column: str) -> float:
    """Return a cell as a number; a cell that should hold one and does not is a damaged table."""
    try:
        return float(row[column])
    except (KeyError, ValueError):
        raise MaterialError(
            f"the table row '{next(iter(row.values()))}' has no number in column '{column}'; "
            "fill the cell with a number, a source and a mark"
        ) from None


def optional_number(row: Row, column: str) -> float | None:
    """Return a cell as a number, or None where the source publishes none."""
    return number(row, column) if row[column] else None
