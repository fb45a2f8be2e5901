"""The logbook as a table: out to CSV for a spreadsheet, in from CSV after a dry run.

One line is one measurement, with the columns of its fit repeated; a fit with nothing measured has one
line. The long columns (`predicted`, `case_text`) stand on the first line of a fit only.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from cases.bench.logbook.csv_table import Line, read_lines, write_lines
from cases.bench.logbook.current_rows import INSTRUMENT_FIELDS, Fit, Measurement, find_fit, read_fits
from cases.bench.logbook.inserts import insert_fit, insert_measurements
from cases.bench.logbook.logbook import case_text
from cases.bench.logbook.store import Logbook, LogbookError
from cases.bench.logbook.validation import FitEntry, MeasurementEntry, problems_of

SHORT_COLUMNS = (
    "serial",
    "attempt",
    "started_utc",
    "reason",
    "upper_deg",
    "lower_deg",
    "model",
    "wood_batch",
    "built_on",
    "strings",
    "bench",
    "who",
    "model_version",
    "calibration_id",
    "case_sha256",
)
LONG_COLUMNS = ("predicted", "case_text")
MEASUREMENT_COLUMNS = tuple(MeasurementEntry.model_fields)
COLUMNS = (*SHORT_COLUMNS, *MEASUREMENT_COLUMNS, *LONG_COLUMNS)
REQUIRED = ("serial", "started_utc", "upper_deg", "lower_deg")


@dataclass(frozen=True)
class BadLine:
    """A line that cannot be taken in, by its row in a spreadsheet (the header is 1)."""

    line: int
    reason: str


@dataclass(frozen=True)
class ImportPlan:
    """What a file would add to the log: the result of the dry run."""

    new_fits: tuple[FitEntry, ...]
    """Fits that the log does not have."""
    more_measured: tuple[tuple[Fit, tuple[MeasurementEntry, ...]], ...]
    """Fits that the log has, with the measurements it does not have."""
    known_fits: int
    """How many fits of the file the log has already."""
    bad: tuple[BadLine, ...]
    waiting: tuple[int, ...]
    """Good lines of a fit that has a bad one: a fit is taken in whole or not at all."""


def export_csv(logbook: Logbook, path: Path, fits: Iterable[Fit]) -> int:
    """Write fits as they now stand to a CSV file; return the number of lines under the header.

    Raises
    ------
    LogbookError
        The file exists already, or its folder cannot be written.
    """
    lines = [line for fit in fits for line in _lines_of(fit, case_text(logbook, fit))]
    write_lines(path, COLUMNS, lines)
    return len(lines)


def _lines_of(fit: Fit, text: str | None) -> Iterator[Mapping[str, str]]:
    short = {name: _cell(getattr(fit, name)) for name in SHORT_COLUMNS}
    predicted = json.dumps(dict(fit.predicted), ensure_ascii=False) if fit.predicted else ""
    long = {"predicted": predicted, "case_text": _cell(text)}
    for measured in fit.measurements or (None,):
        values = {
            name: "" if measured is None else _cell(getattr(measured, name)) for name in MEASUREMENT_COLUMNS
        }
        yield short | values | long
        long = {}


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


@dataclass
class _Group:
    """The lines of one fit while they are read."""

    first: int
    raw: dict[str, Any]
    lines: list[int] = field(default_factory=list)
    measured: list[MeasurementEntry] = field(default_factory=list)
    entry: FitEntry | None = None


def plan_import(logbook: Logbook, path: Path) -> ImportPlan:
    """Read a CSV file and say what it would add; nothing is written.

    Raises
    ------
    LogbookError
        The file cannot be read as such a table at all: not there, not UTF-8 text, wrong or missing columns.
    """
    groups, bad = _grouped(read_lines(path, allowed=COLUMNS, required=REQUIRED))
    with logbook.reading() as connection:
        known: dict[str, list[Fit]] = {}
        for fit in read_fits(connection):
            known.setdefault(fit.serial, []).append(fit)
    guitars = {serial: _guitar(of_one[0]) for serial, of_one in known.items()}
    new, more, same = [], [], 0
    waiting: list[int] = []
    troubled = {one.line for one in bad}
    for group in groups:
        entry = group.entry
        reason = None
        if entry is not None and not troubled & set(group.lines):
            reason = _guitar_conflict(entry, guitars)
            twin = _twin(entry, known.get(entry.serial, ()))
            if reason is None and twin is None:
                new.append(entry.model_copy(update={"measurements": tuple(group.measured)}))
                continue
            if reason is None and twin is not None:
                reason = _difference(entry, twin)
            if reason is None and twin is not None:
                missing = _missing(group.measured, twin.measurements)
                if not (missing and twin.struck_out):
                    same += 1
                    more += [(twin, missing)] if missing else []
                    continue
                reason = (
                    f"attempt {twin.attempt} of this guitar is struck out in the log: take the row out, or "
                    "let the fit stand again with `neckpreload logbook amend` first"
                )
        if reason is not None:
            bad.append(BadLine(group.first, reason))
        waiting += [line for line in group.lines if line not in troubled and line != group.first]
        if reason is None and group.first not in troubled:
            waiting.append(group.first)
    return ImportPlan(
        new_fits=tuple(new),
        more_measured=tuple(more),
        known_fits=same,
        bad=tuple(sorted(bad, key=lambda one: one.line)),
        waiting=tuple(sorted(waiting)),
    )


def apply_import(logbook: Logbook, plan: ImportPlan, *, keep_good: bool = False) -> int:
    """Add what a plan holds, in one transaction; return the number of fits added.

    Raises
    ------
    LogbookError
        The plan has bad lines and `keep_good` is not set, or the log changed meanwhile: nothing is added.
    """
    if plan.bad and not keep_good:
        raise LogbookError(
            f"{len(plan.bad)} rows cannot be taken in, so nothing was added; correct them, "
            "or ask for the good ones alone with --keep-good."
        )
    with logbook.writing() as connection:
        for entry in plan.new_fits:
            insert_fit(connection, entry)
        for fit, measured in plan.more_measured:
            insert_measurements(connection, find_fit(connection, fit.serial, fit.attempt).id, measured)
    return len(plan.new_fits)


def _grouped(lines: Sequence[Line]) -> tuple[list[_Group], list[BadLine]]:
    """Gather the lines of each fit; lines that cannot be read go to the second list."""
    groups: dict[tuple[str, str], _Group] = {}
    bad: list[BadLine] = []
    last: tuple[str, str] | None = None
    for number, cells, trouble in lines:
        if trouble is not None:
            bad.append(BadLine(number, trouble))
            continue
        serial = cells.get("serial", "").strip()
        key = (serial, cells.get("attempt") or cells.get("started_utc") or "")
        if not key[1] and last is not None and last[0] == serial:
            key = last
        last = key
        group = groups.get(key)
        if group is None:
            group = groups[key] = _Group(first=number, raw={})
        group.lines.append(number)
        reason = _take(group, cells)
        if reason is not None:
            bad.append(BadLine(number, reason))
    return list(groups.values()), bad


def _take(group: _Group, cells: Mapping[str, str]) -> str | None:
    """Put one line into its fit; return why it cannot be, None when it can."""
    given: dict[str, Any] = {name: cells[name] for name in (*SHORT_COLUMNS, *LONG_COLUMNS) if cells.get(name)}
    measured = {name: cells[name] for name in MEASUREMENT_COLUMNS if cells.get(name)}
    if "predicted" in given:
        try:
            given["predicted"] = json.loads(given["predicted"])
        except ValueError:
            return 'predicted: it is not JSON; write for example {"action_bass_mm": 2.4} or leave it blank'
    changed = [name for name, value in given.items() if group.raw.get(name, value) != value]
    if changed:
        name = changed[0]
        there = f"{group.raw[name]!r} in row {group.first}"
        return f"{name} is {given[name]!r}, but {there} of the same fit: make them one"
    raw = group.raw | given
    try:
        entry = FitEntry.model_validate(raw)
        if measured:
            group.measured.append(MeasurementEntry.model_validate(measured))
    except ValidationError as error:
        return "; ".join(problems_of(error))
    group.raw, group.entry = raw, entry
    return None


def _guitar(of: Fit | FitEntry) -> dict[str, Any]:
    return {name: getattr(of, name) for name in INSTRUMENT_FIELDS}


def _guitar_conflict(entry: FitEntry, guitars: dict[str, dict[str, Any]]) -> str | None:
    held = guitars.setdefault(entry.serial, dict.fromkeys(INSTRUMENT_FIELDS))
    for name in INSTRUMENT_FIELDS:
        value = getattr(entry, name)
        if value is not None and held[name] not in (None, value):
            return (
                f"{name} is {value!s}, but {held[name]!s} elsewhere for the guitar {entry.serial!r}: "
                "make them one, or amend the log first"
            )
    held.update({name: value for name, value in _guitar(entry).items() if value is not None})
    return None


def _twin(entry: FitEntry, known: Sequence[Fit]) -> Fit | None:
    """Return the fit of the log that a line means: the same attempt, or without one the same start."""
    for fit in known:
        if entry.attempt == fit.attempt or (entry.attempt is None and entry.started_utc == fit.started_utc):
            return fit
    return None


def _difference(entry: FitEntry, twin: Fit) -> str | None:
    for name in (*SHORT_COLUMNS, "predicted"):
        given, held = getattr(entry, name), getattr(twin, name)
        if name == "predicted":
            given, held = given or None, dict(held)
        if given is not None and given != held:
            return (
                f"the log has attempt {twin.attempt} of this guitar with another {name} ({held!s}): "
                "correct the line, give it another attempt, or amend the log"
            )
    return None


def _missing(given: Sequence[MeasurementEntry], held: Sequence[Measurement]) -> tuple[MeasurementEntry, ...]:
    """Return the measurements that the log does not have; two alike count as two."""
    left = [tuple(getattr(one, name) for name in MEASUREMENT_COLUMNS) for one in held]
    missing = []
    for one in given:
        values = tuple(getattr(one, name) for name in MEASUREMENT_COLUMNS)
        if values in left:
            left.remove(values)
        else:
            missing.append(one)
    return tuple(missing)
