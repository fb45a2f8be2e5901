"""Figures in prose that come from a run: each has its command behind it, in a comment that no reader sees.

`0.087<!-- offset fourteen-mahogany: heel_stretch_deg -->` is the value under this key of the command's JSON,
with as many decimals as stand there. `python -m tests.fill_docs` renews them, `tests/test_prose.py` checks
them. `3 of 4<!-- in docs/solid.md -->`, also `1 to 2 deg`, quotes another page: it stands there too.
`EXCEPTIONS` lists the places where angles stand that no command shows, each with the reason.
"""

import json
import re
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from typer.testing import CliRunner

from cases import cli
from tests.pages import FENCE, PAGES

ROOT = PAGES.parent
MARK = re.compile(r"([+-]?\d+(?:\.\d+)?)<!-- ([^:>]+): (\S+) -->")
QUOTED = re.compile(r"(\S+ (?:to|of) \S+(?: deg| %)?)<!-- in (\S+) -->")
ANGLE = re.compile(r"\d\.\d+(?= (?:deg|degrees)\b)")
PRACTICE = "what the trade uses, or plain geometry"
MECHANICS = "effect of one part of the model, computed by its tests; no command shows it"
EXCEPTIONS = {
    ("README.md", "How far to trust it"): PRACTICE + "; the error against the solid is that of solid.md",
    ("bench", ""): PRACTICE + "; simulated workshops, written by python -m tests.workshops",
    ("workshops.md", ""): "written by python -m tests.workshops",
    ("changelog.md", "Numbers changed"): "values before and after a change",
    ("evidence.md", ""): "written by python -m tests.evidence",
    ("growth.md", ""): "written by python -m tests.growth; no command shows it",
    ("history.md", ""): "histories of many steps, computed by tests/test_history.py",
    ("howto.md", "Read the checks"): "a limit of the program",
    ("limits.md", "Limits"): PRACTICE,
    ("limits.md", "Left out of the mechanics"): MECHANICS,
    ("limits.md", "Assumptions that matter"): MECHANICS,
    ("page.md", "Page layout"): "a limit of the program",
    ("spread.md", "Computing time"): "errors of held-out necks, printed by each run of `spread`",
    ("how-it-works.md", ""): "computed by tests/test_how_it_works.py",
    ("questions.md", ""): PRACTICE,
    ("solid.md", ""): "written by python -m tests.reference.solid_rows",
    ("spread.md", "The reduced model"): "error of the reduced model, computed by tests/test_reduced_model.py",
    ("theory", ""): MECHANICS,
}
"""Page, or how the names of several begin, and heading (empty: all of the page), to the reason."""


@cache
def printed(command: str) -> object:
    """The JSON object of a command."""
    done = CliRunner().invoke(cli.app, [*shlex.split(command), "--json"])
    if done.exit_code != 0:
        raise LookupError(f"neckpreload {command} --json: {done.exception}; correct the mark in the page")
    answer: object = json.loads(done.stdout)
    return answer


def value(command: str, key: str) -> float:
    """The number under a dotted key of the command's JSON; list places count from 0."""
    found: object = printed(command)
    for part in key.split("."):
        part = part.replace("_", " ") if isinstance(found, dict) and part not in found else part
        try:
            found = found[int(part)] if isinstance(found, list) else dict(found)[part]  # type: ignore[call-overload]
        except (KeyError, IndexError, TypeError, ValueError) as error:
            raise LookupError(f"neckpreload {command} --json has no {key}; correct the mark") from error
    if not isinstance(found, int | float):
        raise LookupError(f"neckpreload {command} --json: {key} is no number; name one below it")
    return float(found)


def renewed(text: str) -> str:
    """The text with each marked figure as its command gives it now."""

    def now(match: re.Match[str]) -> str:
        decimals = len(match[1].partition(".")[2])
        sign = "+" if match[1].startswith("+") else ""
        return f"{value(match[2], match[3]):{sign}.{decimals}f}<!-- {match[2]}: {match[3]} -->"

    return MARK.sub(now, text)


def outdated(text: str) -> list[str]:
    """Marked figures that differ from their command by more than one unit of their last decimal."""
    return [
        f"{match[1]} is now {value(match[2], match[3]):.6g}: {match[2]}: {match[3]}"
        for match in MARK.finditer(text)
        if abs(float(match[1]) - value(match[2], match[3])) > 1.01 * 10.0 ** -len(match[1].partition(".")[2])
    ]


def misquoted(text: str) -> list[str]:
    """Quotations that the page named no longer has."""
    return [
        f"{match[1]}, {match[2]}"
        for match in QUOTED.finditer(text)
        if match[1] not in " ".join((ROOT / match[2]).read_text(encoding="utf-8").split())
    ]


def pages() -> list[Path]:
    """README and the pages of docs/."""
    return [ROOT / "README.md", *sorted(PAGES.glob("*.md"))]


def unmarked(page: Path) -> Iterator[tuple[str, str]]:
    """Heading and line of each angle in a page's prose that has no mark and no exception."""
    text, heading = FENCE.sub("", page.read_text(encoding="utf-8")), ""
    for line in text.splitlines():
        if line.startswith("#"):
            heading = line.lstrip("# ")
        if ANGLE.search(MARK.sub("", line)) and not excepted(page.name, heading):
            yield heading, line


def excepted(page: str, heading: str) -> bool:
    """Whether the list of exceptions has this place."""
    return any(page.startswith(name) and where in ("", heading) for name, where in EXCEPTIONS)
