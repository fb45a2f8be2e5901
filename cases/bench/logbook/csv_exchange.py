"""Export of the logbook to CSV, and import from CSV after a dry run.

Each line is one measurement, with the columns of its fit repeated; a fit without measurements has one line.
`predicted` is filled on the first line of a fit only, `case_text` on the first line of all fits to one case.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from cases.bench.logbook.csv_table import Line, read_lines, write_lines
from cases.bench.logbook.current_rows import INSTRUMENT_FIELDS, Fit, Measurement, find_fit, read_fits
from cases.bench.logbook.inserts import insert_fit, insert_measurements
from cases.bench.logbook.logbook import case_text
from cases.bench.logbook.store import Logbook, LogbookError
from cases.bench.logbook.validation import FitColumns, NewFit, NewMeasurement, error_sentences
from materials.counted import counted

SHORT_COLUMNS = tuple(name for name in FitColumns.model_fields if name != "predicted")
LONG_COLUMNS = ("predicted", "case_text")
MEASUREMENT_COLUMNS = tuple(NewMeasurement.model_fields)
COLUMNS = (*SHORT_COLUMNS, *MEASUREMENT_COLUMNS, *LONG_COLUMNS)
REQUIRED = ("serial", "started_utc", "upper_deg", "lower_deg")


@dataclass(frozen=True)
class BadLine:
    """A line that cannot be imported, by its row in a spreadsheet (the header is 1)."""

    line: int
    reason: str


@dataclass(frozen=True)
class ImportPlan:
    """What a file would add to the log: the result of the dry run."""

    new_fits: tuple[NewFit, ...]
    more_measured: tuple[tuple[Fit, tuple[NewMeasurement, ...]], ...]
    """Fits in the log, with measurements that it lacks."""
    fits_in_log: int
    """Number of fits that are in the log already."""
    bad: tuple[BadLine, ...]
    held_back: tuple[int, ...]
    """Good lines of a fit with a bad line: a fit is imported whole or not at all."""


def export_csv(logbook: Logbook, path: Path, fits: Iterable[Fit]) -> int:
    """Write current fits to a new CSV file; return the number of lines below the header.

    Raises as `new_file`.
    """
    lines: list[Mapping[str, str]] = []
    written: dict[str | None, str | None] = {None: None}
    for fit in fits:
        text = case_text(logbook, fit)
        lines += _lines_of(fit, None if text == written.get(fit.case_sha256) else text)
        written.setdefault(fit.case_sha256, text)
    write_lines(path, COLUMNS, lines)
    return len(lines)


def _lines_of(fit: Fit, text: str | None) -> Iterator[Mapping[str, str]]:
    short = {name: _cell(getattr(fit, name)) for name in SHORT_COLUMNS}
    predicted = json.dumps(fit.predicted, ensure_ascii=False) if fit.predicted else ""
    long = {"predicted": predicted, "case_text": _cell(text)}
    for measured in fit.measurements or (None,):
        yield short | {name: _cell(getattr(measured, name, None)) for name in MEASUREMENT_COLUMNS} | long
        long = {}


def _cell(value: object) -> str:
    if value is None:
        return ""
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


@dataclass
class _Group:
    """The lines of one fit while they are read."""

    columns: dict[str, Any] = field(default_factory=dict)
    lines: list[int] = field(default_factory=list)
    measured: list[NewMeasurement] = field(default_factory=list)
    fit: NewFit | None = None


def csv_lines(path: Path) -> list[Line]:
    """Lines of a CSV of fits; raises `LogbookError` if it cannot be read, or its columns are wrong."""
    return read_lines(path, allowed=COLUMNS, required=REQUIRED)


def plan_import(logbook: Logbook, path: Path) -> ImportPlan:
    """Read a CSV file and return what it would add; nothing is written.

    Raises `LogbookError` if the file cannot be read, or its columns are wrong.
    """
    groups, bad = _grouped(csv_lines(path))
    logged: dict[str, list[Fit]] = {}
    with logbook.reading() as connection:
        for one in read_fits(connection):
            logged.setdefault(one.serial, []).append(one)
    guitars = {serial: _guitar(of_one[0]) for serial, of_one in logged.items()}
    texts = _case_texts(groups)
    new, more, fits_in_log, held_back = [], [], 0, []
    bad_lines = {one.line for one in bad}
    for group in groups:
        fit = group.fit
        if fit is None or bad_lines & set(group.lines):
            held_back += [line for line in group.lines if line not in bad_lines]
            continue
        same = _logged_fit(fit, logged.get(fit.serial, ()))
        missing = () if same is None else _missing(group.measured, same.measurements)
        reason = _guitar_conflict(fit, guitars) or (None if same is None else _conflict(fit, same, missing))
        if reason is not None:
            bad.append(BadLine(group.lines[0], reason))
            held_back += group.lines[1:]
        elif same is None:
            text = fit.case_text or texts.get(fit.case_sha256)
            new.append(fit.model_copy(update={"measurements": tuple(group.measured), "case_text": text}))
        else:
            fits_in_log += 1
            more += [(same, missing)] if missing else []
    return ImportPlan(
        new_fits=tuple(new),
        more_measured=tuple(more),
        fits_in_log=fits_in_log,
        bad=tuple(sorted(bad, key=lambda one: one.line)),
        held_back=tuple(sorted(held_back)),
    )


def apply_import(logbook: Logbook, plan: ImportPlan, *, keep_good: bool = False) -> int:
    """Add the rows of a plan in one transaction; return the number of fits added.

    Raises `LogbookError` and adds nothing if the plan has bad lines and `keep_good` is not set, or the log
    has changed.
    """
    if plan.bad and not keep_good:
        raise LogbookError(
            f"{counted(len(plan.bad), 'row')} cannot be imported, so nothing was added; correct "
            f"{'it' if len(plan.bad) == 1 else 'them'}, or import only the good ones with --keep-good."
        )
    with logbook.writing() as connection:
        for new in plan.new_fits:
            insert_fit(connection, new)
        for fit, measured in plan.more_measured:
            insert_measurements(connection, find_fit(connection, fit.serial, fit.attempt).id, measured)
    return len(plan.new_fits)


def _grouped(lines: Sequence[Line]) -> tuple[list[_Group], list[BadLine]]:
    """Group the lines by fit; return the groups and the lines that cannot be read."""
    groups: dict[tuple[str, str], _Group] = {}
    bad: list[BadLine] = []
    last: tuple[str, str] | None = None
    for number, cells, error in lines:
        if error is not None:
            bad.append(BadLine(number, error))
            continue
        serial = cells.get("serial", "").strip()
        key = (serial, cells.get("attempt") or cells.get("started_utc") or "")
        if not key[1] and last is not None and last[0] == serial:
            key = last
        last = key
        group = groups.setdefault(key, _Group())
        group.lines.append(number)
        reason = _add_line(group, cells)
        if reason is not None:
            bad.append(BadLine(number, reason))
    return list(groups.values()), bad


def _case_texts(groups: Sequence[_Group]) -> dict[str | None, str]:
    """Return the first text of each case in a file, by its sha256: other fits to the case have none."""
    given = [(group.columns.get("case_sha256"), group.columns.get("case_text")) for group in reversed(groups)]
    return {sha256: text for sha256, text in given if sha256 and text}


def _add_line(group: _Group, cells: Mapping[str, str]) -> str | None:
    """Add one line to its fit; return why it is bad, None if it is not."""
    given: dict[str, Any] = {name: cells[name] for name in (*SHORT_COLUMNS, *LONG_COLUMNS) if cells.get(name)}
    measured = {name: cells[name] for name in MEASUREMENT_COLUMNS if cells.get(name)}
    if "predicted" in given:
        try:
            given["predicted"] = json.loads(given["predicted"])
        except ValueError:
            return 'predicted: it is not JSON; write for example {"action_bass_mm": 2.4} or leave it blank'
    for name, value in given.items():
        earlier = group.columns.get(name, value)
        if earlier != value:
            return (
                f"{name} is {value!r}, but {earlier!r} in row {group.lines[0]} of the same fit: "
                "give both the same value"
            )
    columns = group.columns | given
    try:
        fit = NewFit.model_validate(columns)
        if measured:
            group.measured.append(NewMeasurement.model_validate(measured))
    except ValidationError as error:
        return "; ".join(error_sentences(error))
    group.columns, group.fit = columns, fit
    return None


def _guitar(of: Fit | NewFit) -> dict[str, Any]:
    return {name: getattr(of, name) for name in INSTRUMENT_FIELDS}


def _guitar_conflict(fit: NewFit, guitars: dict[str, dict[str, Any]]) -> str | None:
    """Return how a fit contradicts its guitar; otherwise add what it gives of the guitar to `guitars`."""
    guitar = guitars.setdefault(fit.serial, dict.fromkeys(INSTRUMENT_FIELDS))
    given = {name: value for name, value in _guitar(fit).items() if value is not None}
    for name, value in given.items():
        if guitar[name] not in (None, value):
            return (
                f"{name} is {value!s}, but {guitar[name]!s} elsewhere for the guitar {fit.serial!r}: "
                "give both the same value, or amend the log first"
            )
    guitar.update(given)
    return None


def _logged_fit(fit: NewFit, logged: Sequence[Fit]) -> Fit | None:
    """Return the same fit in the log: by its attempt, without one by its start."""
    same = attrgetter("started_utc" if fit.attempt is None else "attempt")
    return next((one for one in logged if same(one) == same(fit)), None)


def _conflict(fit: NewFit, logged: Fit, missing: Sequence[NewMeasurement]) -> str | None:
    """Return how a fit contradicts the same fit in the log."""
    values = {name: (getattr(fit, name), getattr(logged, name)) for name in SHORT_COLUMNS}
    values["predicted"] = (fit.predicted or None, logged.predicted)
    for name, (given, held) in values.items():
        if given is not None and given != held:
            return (
                f"the log has attempt {logged.attempt} of this guitar with another {name} ({held!s}): "
                "correct the line, give it another attempt, or amend the log"
            )
    if missing and logged.struck_out:
        return (
            f"attempt {logged.attempt} of this guitar is struck out in the log: take the row out, or "
            "restore the fit with `neckpreload logbook amend` first"
        )
    return None


def _missing(given: Sequence[NewMeasurement], held: Sequence[Measurement]) -> tuple[NewMeasurement, ...]:
    """Return the measurements that are not in the log; equal ones are counted."""
    values = attrgetter(*MEASUREMENT_COLUMNS)
    left, missing = [values(one) for one in held], []
    for one in given:
        if values(one) in left:
            left.remove(values(one))
        else:
            missing.append(one)
    return tuple(missing)
