"""Write docs/evidence.md from what the tests compute.

    python -m tests.evidence --date 2030-01-31 --commit 0123abc

Date and commit are arguments, so that the page depends only on the code and on them.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.bibliography import CITATION, entries, reference
from tests.breakages import BREAKAGES, BY_A_STRANGER, FROM_THEORY
from tests.evidence_rows.row import HERE, MARKS, PARTS, PLAUSIBLE, Outcome, Row, all_rows
from tests.full_run import RECORD, lines

PAGE = Path(__file__).resolve().parent.parent / "docs" / "evidence.md"


def with_unit(value: float, row: Row, digits: int = 6) -> str:
    """A number to some significant digits and its unit, none for a pure number."""
    return f"{value:.{digits}g}" if row.unit == "-" else f"{value:.{digits}g} {row.unit}"


def amount(value: float, row: Row) -> str:
    """A difference: in the row's unit where the tolerance is, else in per cent."""
    if row.absolute:
        return with_unit(value, row, 2)
    return f"{100 * value:.2g} %" if abs(value) >= 1e-9 else "< 1e-7 %"


def name(outcome: Outcome) -> str:
    """The row's key, marked if it failed."""
    return outcome.row.key if outcome.passed else f"{outcome.row.key}: FAILED"


def summary(outcomes: Sequence[Outcome]) -> list[str]:
    """One line a row, each with a link to its block."""
    return [
        "| row | difference | tolerance | mark |",
        "| --- | --- | --- | --- |",
        *(
            f"| [{name(outcome)}](#{name(outcome).lower().replace(': ', '-')}) "
            f"| {amount(outcome.difference, outcome.row)} | {outcome.row.tolerance} | {outcome.row.mark} |"
            for outcome in outcomes
        ),
    ]


def block(outcome: Outcome) -> list[str]:
    """Everything about one row, under its own heading."""
    row = outcome.row
    return [
        "",
        f"### {name(outcome)}",
        "",
        f"{row.what}.",
        "",
        f"- ours {with_unit(outcome.ours, row)}, outside {with_unit(outcome.outside, row)}, "
        f"difference {amount(outcome.difference, row)}",
        f"- tolerance {row.tolerance}: {row.reason}",
        f"- source ({row.mark}): {row.source}",
        f"- broken by: {'; '.join(mutation.what for mutation in row.mutations)}",
    ]


def page(outcomes: Sequence[Outcome], *, date: str, commit: str) -> str:
    """The whole page as Markdown."""
    counted = [outcome for outcome in outcomes if outcome.row.part != PLAUSIBLE]
    passed = sum(outcome.passed for outcome in counted)
    counts = {mark: sum(outcome.row.mark == mark for outcome in counted) for mark in MARKS}
    breakages = len({mutation for outcome in outcomes for mutation in outcome.row.mutations})
    parts = [part for part in PARTS if any(outcome.row.part == part for outcome in outcomes)]
    text = [
        "# Evidence",
        "",
        "Written by `python -m tests.evidence`; edit the rows in `tests/evidence_rows/`, not this page.",
        "",
        f"Computed on {date} at commit {commit}: {passed} of {len(counted)} rows within tolerance, "
        f"{breakages} breakages tried.",
        f"{len(outcomes) - len(counted)} more rows check plausibility only and are not counted.",
        "",
        "Each row compares one formula with one source. The tolerance and its reason were written before the",
        "two values were first compared; where a first tolerance was replaced, the reason says so.",
        "*Broken by* lists deliberate breakages of our formulas. The tests apply them one by one and check",
        "that the row then fails. Results of our own earlier runs are not evidence and are not listed.",
        "Whole necks are compared with solid models of another program in [solid.md](solid.md).",
        f"`python -m tests.mutations` breaks {len(BREAKAGES) + len(FROM_THEORY)} more formulas deliberately, "
        f"and {len(BY_A_STRANGER)} chosen by someone who",
        "had not read the tests. Three of those went unnoticed at first; the tests now catch all.",
        "",
        "How each outside value was obtained:",
        "",
        *(f"- **{mark}** ({counts[mark]} rows): {text}." for mark, text in MARKS.items() if counts[mark]),
    ]
    text += ["", "## Summary", "", *summary(outcomes)]
    for part in parts:
        text += ["", f"## {part.capitalize()}"]
        if part == PLAUSIBLE:
            text += ["", "Bands as wide as these tell a gross error only. They are not counted as evidence."]
        text += [line for outcome in outcomes if outcome.row.part == part for line in block(outcome)]
    text += ["", (HERE / "derivations.md").read_text(encoding="utf-8").rstrip()]
    text += ["", "## Sources", "", "The entries of [sources.bib](sources.bib) that the rows cite.", ""]
    known, cited = entries(), {key for outcome in outcomes for key in CITATION.findall(outcome.row.source)}
    text += [f"- **{key}**: {reference(known[key])}." for key in sorted(cited)]
    if RECORD.is_file():
        text += ["", *lines(json.loads(RECORD.read_text(encoding="utf-8")))]
    return "\n".join(text) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the page; return 1 when a row is outside its tolerance."""
    parser = argparse.ArgumentParser(description="write docs/evidence.md")
    parser.add_argument("--date", required=True, help="date to print")
    parser.add_argument("--commit", required=True, help="commit to print")
    given = parser.parse_args(arguments)
    outcomes = [row.outcome() for row in all_rows()]
    PAGE.write_text(page(outcomes, date=given.date, commit=given.commit), encoding="utf-8")
    failed = [outcome.row.key for outcome in outcomes if not outcome.passed]
    print(f"{len(outcomes) - len(failed)} of {len(outcomes)} rows within tolerance; wrote {PAGE.name}")
    if failed:
        print("outside tolerance: " + ", ".join(failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
