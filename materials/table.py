"""Reads the tables of this folder; an unknown name gets an error that lists the nearest ones."""

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


def nearest_names(
    wanted: str, names: Iterable[str], *, count: int = 5, least: float = 0.65
) -> tuple[str, ...]:
    """Return the names most like a word, compared whole and by the parts between hyphens.

    The parts matter for a trade word such as "mahogany", which is a part of several longer names. A name less
    like than `least` is left out; equal words have 1.

    Examples
    --------
    >>> nearest_names("mahagony", ("maple-sugar", "mahogany-african", "mahogany-honduran"))
    ('mahogany-african', 'mahogany-honduran')
    """
    word = wanted.strip().lower()
    whole = {name: _likeness(word, name.lower()) for name in names}
    score = {name: max(like, _likeness_of_parts(word, name.lower())) for name, like in whole.items()}
    needed = max(least, max(score.values(), default=0.0) - 0.15)
    close = [name for name in score if score[name] >= needed]
    return tuple(sorted(close, key=lambda name: (-score[name], -whole[name]))[:count])


def _likeness(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()


def _likeness_of_parts(word: str, name: str) -> float:
    """Return how well the parts of a word match those of a name, mean of the best matches."""
    parts, others = (
        [part for part in re.split(r"[^a-z0-9]+", text) if len(part) > 2] for text in (word, name)
    )
    best = [max((_likeness(part, other) for other in others), default=0.0) for part in parts]
    return sum(best) / len(best) if best else 0.0


def unknown_name(name: str, known: Iterable[str], *, what: str, remedy: str) -> MaterialError:
    """Return the error for an unknown name: the name, the nearest known ones, how to list all."""
    near = nearest_names(str(name), known)
    hint = f"nearest: {', '.join(near)}; " if near else ""
    return MaterialError(f"unknown {what} '{name}'; {hint}{remedy}")


def named_row(file_name: str, name: str, *, what: str, remedy: str = "") -> Row:
    """Return the row of a table that has a name; case and outer blanks do not matter.

    Raises `MaterialError`: unknown name; the nearest are given, then the remedy or all known names.
    """
    table = read_table(file_name)
    key = name.strip().lower()
    if key not in table:
        raise unknown_name(name, table, what=what, remedy=remedy or f"known: {', '.join(table)}")
    return table[key]


def number(row: Row, column: str) -> float:
    """Return a cell as a number; raises `MaterialError` if the cell holds none."""
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
