"""The line of a key in the text of a case file, and its number as written there."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

from cases.casefile.errors import Problem
from cases.casefile.key_values import LISTS

HEADING = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*\]\]?\s*(?:#.*)?$")
KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=\s*(.*)$")
NUMBER = re.compile(r"([-+]?[0-9][0-9_.eE+-]*)\s*(?:#.*)?$")
NAME = re.compile(r"[\"']([^\"']+)[\"']")


def placed(problems: Iterable[Problem], text: str) -> list[Problem]:
    """Return problems with the line of each key and its number as written.

    A key that is not found, or found more than once, has no line.
    """
    found = list(_places(text))
    often = Counter(path for path, _, _ in found)
    once = {path: (line, written) for path, line, written in found if often[path] == 1}
    return [
        replace(problem, line=once[problem.path][0], given=_as_written(problem.given, once[problem.path][1]))
        if problem.path in once
        else problem
        for problem in problems
    ]


def _as_written(given: str, written: str) -> str:
    number = NUMBER.match(written)
    try:
        float(given)
    except ValueError:
        return given
    return number[1] if number and len(number[1]) <= 40 else given


def _places(text: str) -> Iterator[tuple[str, int, str]]:
    """Give the path of each heading and key, its line, and the text after the equals sign."""
    if '"""' in text or "'''" in text:
        return  # lines inside such a text may look like keys
    table, counts = "", Counter[str]()
    entries: list[tuple[str, int, str]] = []
    for number, line in enumerate(text.split("\n"), start=1):
        heading, key = HEADING.match(line), KEY.match(line)
        if heading:
            yield from _paths(table, entries, counts[table])
            table, entries = heading[2], [("", number, "")]
            counts[table] += 1
            yield f"{heading[1]}{table}{']' * len(heading[1])}", number, ""
        elif key:
            entries.append((key[1], number, key[2]))
    yield from _paths(table, entries, counts[table])


def _paths(table: str, entries: list[tuple[str, int, str]], position: int) -> Iterator[tuple[str, int, str]]:
    if table in LISTS:
        named = next((NAME.match(written) for key, _, written in entries if key == "name"), None)
        table += f".{named[1] if named else f'#{position}'}"
    for key, number, written in entries:
        yield ".".join(part for part in (table, key) if part), number, written
