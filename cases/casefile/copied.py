"""The record of a case file that was started from another: which of its values still stand as copied."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from cases.casefile.errors import Problem
from cases.casefile.key_values import flatten

HEADING = "copied"
FROM = "from"


@dataclass(frozen=True)
class Copied:
    """The case that values were copied from, and each value by its key, as it was copied."""

    source: str
    values: Mapping[str, object] = field(default_factory=dict)

    def still(self, given: Mapping[str, Any]) -> dict[str, object]:
        """Return the copied values that a case still gives, unchanged, by key."""
        now = dict(flatten(given))
        return {key: now[key] for key, value in self.values.items() if key in now and now[key] == value}

    def table(self, given: Mapping[str, Any]) -> dict[str, object]:
        """Return the record as a table of a file, without what has changed since."""
        return {FROM: self.source, **self.still(given)}


def copied_of(raw: dict[str, Any]) -> tuple[Copied | None, list[Problem]]:
    """Take the record out of a file's content, and say what is wrong with it."""
    table = raw.pop(HEADING, None)
    if table is None:
        return None, []
    problem = _fault(table)
    if problem is not None:
        return None, [problem]
    values = dict(_paths(table))
    return Copied(str(values.pop(FROM)), values), []


def _fault(table: object) -> Problem | None:
    remedy = "correct the record, or remove it: then every value of the file counts as your own"
    if not isinstance(table, Mapping):
        return Problem(HEADING, "", "this is a heading, not a key", f"[{HEADING}] with its keys", remedy)
    if not isinstance(table.get(FROM), str):
        wrong = "the record does not name the case that the values were copied from"
        return Problem(f"{HEADING}.{FROM}", "", wrong, "the name of a case, in quotes", remedy)
    return None


def _paths(table: Mapping[str, Any], start: str = "") -> Iterator[tuple[str, object]]:
    """Give each value by its key path, whether the path is one quoted key or several tables."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _paths(value, f"{start}{key}.")
        else:
            yield f"{start}{key}", value
