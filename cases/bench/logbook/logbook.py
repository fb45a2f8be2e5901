"""The logbook: what went into which guitar, what was predicted, what was measured; rows are only ever added.

What a reader gets is each row with its amendments laid over it; a row that was struck out stays in the file,
and is read only when asked for.
"""

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from shlex import quote

from pydantic import BaseModel
from sqlalchemy import Connection, or_, select

from cases.bench.logbook import schema
from cases.bench.logbook.current_rows import (
    FIT_FIELDS,
    INSTRUMENT_FIELDS,
    MEASUREMENT_FIELDS,
    NEVER_AMENDED,
    Amendment,
    Fit,
    Measurement,
    find_fit,
    known_serial,
    read_fits,
    read_instrument,
    without_struck_out,
)
from cases.bench.logbook.inserts import insert_fit, insert_measurements, move_fit, write_amendment
from cases.bench.logbook.store import Logbook, LogbookError, default_path, open_logbook
from cases.bench.logbook.validation import FitEntry, Line, MeasurementEntry, Moment, RequiredLine, checked
from cases.casefile.quantity import parse_angle, parse_length

__all__ = [
    "Amendment",
    "Fit",
    "FitEntry",
    "Logbook",
    "LogbookError",
    "Measurement",
    "MeasurementEntry",
    "add_fit",
    "add_measurements",
    "amend",
    "amendments",
    "case_text",
    "default_path",
    "fits",
    "latest_fit",
    "new_again",
    "open_logbook",
]


def fits(
    logbook: Logbook,
    *,
    serial: str | None = None,
    since: datetime | None = None,
    case_sha256: str | None = None,
    struck_out: bool = False,
) -> tuple[Fit, ...]:
    """Return the fits of the log as they now stand, oldest first.

    Parameters
    ----------
    serial
        Only those of one guitar.
    since
        Only those started at or after this moment (with its time zone).
    case_sha256
        Only those fitted to one case, given by the first digits of its sha256.
    struck_out
        Whether struck-out fits and measurements are among them.
    """
    with logbook.reading() as connection:
        found = read_fits(connection, serial=None if serial is None else known_serial(serial))
    if not struck_out:
        found = tuple(without_struck_out(fit) for fit in found if not fit.struck_out)
    return tuple(
        fit
        for fit in found
        if (since is None or fit.started_utc >= since)
        and (case_sha256 is None or (fit.case_sha256 or "").startswith(case_sha256))
    )


def latest_fit(logbook: Logbook, serial: str, *, attempt: int | None = None, struck_out: bool = False) -> Fit:
    """Return the last fit of a guitar, or the attempt asked for.

    Raises
    ------
    LogbookError
        The guitar, or that attempt of it, is not in the log, or it is struck out and `struck_out` is not set.
    """
    with logbook.reading() as connection:
        return find_fit(connection, known_serial(serial), attempt, struck_out=struck_out)


def case_text(logbook: Logbook, fit: Fit) -> str | None:
    """Return the text of the case file that a fit was predicted from."""
    with logbook.reading() as connection:
        return connection.execute(
            select(schema.fit.c.case_text).where(schema.fit.c.id == fit.id)
        ).scalar_one()


def amendments(logbook: Logbook, fit: Fit) -> tuple[Amendment, ...]:
    """Return the corrections of a fit, of its guitar and of its measurements, oldest first."""
    table = schema.amendment
    with logbook.reading() as connection:
        instrument_id = connection.execute(
            select(schema.instrument.c.id).where(schema.instrument.c.serial == fit.serial)
        ).scalar_one()
        measured = [one.id for one in fit.measurements]
        rows = connection.execute(
            select(table)
            .where(
                or_(
                    (table.c.table_name == "instrument") & (table.c.row_id == instrument_id),
                    (table.c.table_name == "fit") & (table.c.row_id == fit.id),
                    (table.c.table_name == "measurement") & table.c.row_id.in_(measured),
                )
            )
            .order_by(table.c.id)
        )
        return tuple(_told(connection, Amendment(**row._asdict())) for row in rows)


def _told(connection: Connection, amended: Amendment) -> Amendment:
    """A correction as a person reads it: a fit given to another guitar by the serials, not by row numbers."""
    if amended.column_name != "instrument_id":
        return amended
    table = schema.instrument
    serials = {row.id: row.serial for row in connection.execute(select(table.c.id, table.c.serial))}
    old, new = (
        json.dumps(serials.get(int(row_id)), ensure_ascii=False)
        for row_id in (amended.old_value, amended.new_value)
    )
    return replace(amended, column_name="serial", old_value=old, new_value=new)


def add_fit(logbook: Logbook, entry: FitEntry) -> Fit:
    """Add a fit with its measurements; when this returns it is on the disk.

    Raises
    ------
    LogbookError
        The attempt exists already, or the guitar is in the log with another model, batch or date.
    """
    with logbook.writing() as connection:
        insert_fit(connection, entry)
        return find_fit(connection, entry.serial, entry.attempt)


def new_again(logbook: Logbook, fit: Fit) -> str | None:
    """What to say of a fit logged as new on a guitar that was fitted before; None of any other."""
    earlier = [one for one in fits(logbook, serial=fit.serial) if one.attempt < fit.attempt]
    if fit.reason != "new" or not earlier:
        return None
    return (
        f"{fit.serial} was fitted on {earlier[-1].started_utc:%Y-%m-%d} already: this is its attempt "
        f"{fit.attempt}, logged as new. If the pair was swapped, correct that with `neckpreload logbook "
        f"amend {quote(fit.serial)} reason swap --reason ...`; if the earlier fit was a slip, strike that "
        f"out (struck_out yes --attempt {earlier[-1].attempt})."
    )


def add_measurements(
    logbook: Logbook, serial: str, measured: Iterable[MeasurementEntry], *, attempt: int | None = None
) -> Fit:
    """Add measurements to the last fit of a guitar, or to the attempt named.

    Raises
    ------
    LogbookError
        The guitar, or that attempt of it, is not in the log, or it is struck out.
    """
    with logbook.writing() as connection:
        fit = find_fit(connection, known_serial(serial), attempt)
        insert_measurements(connection, fit.id, measured)
        return find_fit(connection, fit.serial, fit.attempt)


def amend(
    logbook: Logbook,
    serial: str,
    field: str,
    value: object,
    *,
    reason: str,
    at: datetime,
    attempt: int | None = None,
    measurement_id: int | None = None,
    who: str | None = None,
) -> Amendment:
    """Correct one value of a guitar, a fit or a measurement by adding a row that says so.

    Parameters
    ----------
    field
        One of `INSTRUMENT_FIELDS` or `FIT_FIELDS`; with `measurement_id`, of `MEASUREMENT_FIELDS`. `serial`
        gives the fit to another guitar; `struck_out` takes the row out of every list without removing it.
    attempt
        The fit meant; None means the last one.
    measurement_id
        The measurement of that fit meant, by its number in `Fit.measurements`.

    Raises
    ------
    LogbookError
        The row or field does not exist, the value is not allowed, or the field is history (`NEVER_AMENDED`).
    """
    allowed = MEASUREMENT_FIELDS if measurement_id is not None else (*INSTRUMENT_FIELDS, *FIT_FIELDS)
    if field in NEVER_AMENDED:
        raise LogbookError(
            f"{field} is what the program said at the time and stays; "
            "add a new fit with `neckpreload logbook add`."
        )
    if field not in allowed:
        raise LogbookError(f"{field!r} cannot be amended here; choose one of {', '.join(allowed)}.")
    why = checked(_Why, {"reason": reason, "who": who, "at": at})
    with logbook.writing() as connection:
        fit = find_fit(connection, known_serial(serial), attempt, struck_out=True)
        table, row_id, old = _standing(connection, fit, field, measurement_id)
        new = _new_value(fit, field, value, measurement_id)
        if new == old:
            raise LogbookError(f"{field} is {old!s} already; give another value.")
        if field == "serial":
            amended = move_fit(connection, fit, str(new), at=why.at, reason=why.reason, who=why.who)
        else:
            amended = write_amendment(
                connection, (table, row_id, field), (old, new), at=why.at, reason=why.reason, who=why.who
            )
        row = connection.execute(select(schema.amendment).where(schema.amendment.c.id == amended)).one()
        return _told(connection, Amendment(**row._asdict()))


class _Why(BaseModel):
    reason: RequiredLine
    who: Line
    at: Moment


def _standing(
    connection: Connection, fit: Fit, field: str, measurement_id: int | None
) -> tuple[str, int, object]:
    """Return (table, row id, value that stands) of the field to be amended."""
    if measurement_id is not None:
        return "measurement", measurement_id, getattr(_measured(fit, measurement_id), field)
    if field in INSTRUMENT_FIELDS:
        held = read_instrument(connection, fit.serial) or {}
        return "instrument", int(held["id"]), held[field]
    return "fit", fit.id, getattr(fit, field)


def _measured(fit: Fit, measurement_id: int) -> Measurement:
    for measured in fit.measurements:
        if measured.id == measurement_id:
            return measured
    known = ", ".join(str(one.id) for one in fit.measurements) or "none"
    raise LogbookError(
        f"Attempt {fit.attempt} of the guitar {fit.serial!r} has no measurement {measurement_id}; "
        f"it has {known}: choose one of them, `neckpreload logbook show` lists them."
    )


def _new_value(fit: Fit, field: str, value: object, measurement_id: int | None) -> object:
    """Check a new value by building the whole entry anew with it."""
    if field == "struck_out":
        return checked(_Switch, {"struck_out": value}).struck_out
    entry = MeasurementEntry if measurement_id is not None else FitEntry
    row = fit if measurement_id is None else _measured(fit, measurement_id)
    if isinstance(value, str):
        value = _quantity(field, value, unit=row.unit if isinstance(row, Measurement) else "deg")
    columns = entry.model_fields.keys() - {"measurements", "case_text"}
    values = {name: getattr(row, name) for name in columns}
    if "predicted" in values:
        values["predicted"] = dict(fit.predicted)
    return getattr(checked(entry, values | {field: value}), field)


def _quantity(field: str, text: str, *, unit: str) -> object:
    """Read a length or an angle that carries its unit; a bare number is in the unit that stands."""
    if field not in ("value", "uncertainty", "upper_deg", "lower_deg"):
        return text
    parse = parse_angle if unit == "deg" else parse_length
    return parse(text, name=field, bare_unit=unit)


class _Switch(BaseModel):
    struck_out: bool
