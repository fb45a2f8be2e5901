"""The logbook: pairs fitted, predictions, measurements. Rows are only added, never changed.

Rows are read with their amendments applied. Struck-out rows stay in the file and are read on request only.
"""

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from shlex import quote

from pydantic import BaseModel
from sqlalchemy import Connection, select, tuple_

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
    instrument_id,
    read_fits,
    valid_serial,
    without_struck_out,
)
from cases.bench.logbook.inserts import insert_amendment, insert_fit, insert_measurements, move_fit
from cases.bench.logbook.store import Logbook, LogbookError
from cases.bench.logbook.validation import AmendmentNote, NewFit, NewMeasurement, validated
from cases.casefile.quantity import parse_angle, parse_length


def fits(
    logbook: Logbook,
    *,
    serial: str | None = None,
    since: datetime | None = None,
    case_sha256: str | None = None,
    struck_out: bool = False,
) -> tuple[Fit, ...]:
    """Return the current fits of the log, oldest first; the attempts on a guitar in their order.

    Parameters
    ----------
    serial : only fits of this guitar.
    since : only fits started at or after this moment (with time zone).
    case_sha256 : only fits to one case, given by the first digits of its sha256.
    struck_out : whether to include struck-out fits and measurements.
    """
    with logbook.reading() as connection:
        found = read_fits(connection, serial=None if serial is None else valid_serial(serial))
    if not struck_out:
        found = tuple(without_struck_out(fit) for fit in found if not fit.struck_out)
    return tuple(
        fit
        for fit in found
        if (since is None or fit.started_utc >= since)
        and (case_sha256 is None or (fit.case_sha256 or "").startswith(case_sha256))
    )


def latest_fit(logbook: Logbook, serial: str, *, attempt: int | None = None, struck_out: bool = False) -> Fit:
    """Return the given attempt of a guitar, or its last fit; raises as `find_fit`."""
    with logbook.reading() as connection:
        return find_fit(connection, valid_serial(serial), attempt, struck_out=struck_out)


def case_text(logbook: Logbook, fit: Fit) -> str | None:
    """Return the text of the case file of a fit, None when the log has none."""
    with logbook.reading() as connection:
        return connection.execute(
            select(schema.fit.c.case_text).where(schema.fit.c.id == fit.id)
        ).scalar_one()


def amendments(logbook: Logbook, fit: Fit) -> tuple[Amendment, ...]:
    """Return the corrections of a fit, its guitar and its measurements, oldest first."""
    table = schema.amendment
    with logbook.reading() as connection:
        ids = [("instrument", instrument_id(connection, fit.serial)), ("fit", fit.id)]
        ids += [("measurement", one.id) for one in fit.measurements]
        here = tuple_(table.c.table_name, table.c.row_id).in_(ids)
        rows = connection.execute(select(*schema.value_columns(table)).where(here).order_by(table.c.id))
        return tuple(_readable(connection, Amendment(**row._asdict())) for row in rows)


def _readable(connection: Connection, amended: Amendment) -> Amendment:
    """A correction with serials in place of the row numbers of guitars."""
    if amended.column_name != "instrument_id":
        return amended
    table = schema.instrument
    serials = {row.id: row.serial for row in connection.execute(select(table.c.id, table.c.serial))}
    old, new = (
        json.dumps(serials.get(int(row_id)), ensure_ascii=False)
        for row_id in (amended.old_value, amended.new_value)
    )
    return replace(amended, column_name="serial", old_value=old, new_value=new)


def add_fit(logbook: Logbook, fit: NewFit) -> Fit:
    """Add a fit with its measurements; on return it is on the disk. Raises as `insert_fit`."""
    with logbook.writing() as connection:
        insert_fit(connection, fit)
        return find_fit(connection, fit.serial, fit.attempt)


def already_fitted_warning(logbook: Logbook, fit: Fit) -> str | None:
    """Return a warning for a fit logged as new on a guitar with earlier fits, None otherwise."""
    earlier = [one for one in fits(logbook, serial=fit.serial) if one.attempt < fit.attempt]
    if fit.reason != "new" or not earlier:
        return None
    return (
        f"{fit.serial} was fitted on {earlier[-1].started_utc:%Y-%m-%d} already: this is its attempt "
        f"{fit.attempt}, logged as new. If the pair was swapped, correct that with `neckpreload logbook "
        f"amend {quote(fit.serial)} reason swap --reason ...`; if the earlier fit was an error, strike it "
        f"out (struck_out yes --attempt {earlier[-1].attempt})."
    )


def add_measurements(
    logbook: Logbook, serial: str, measured: Iterable[NewMeasurement], *, attempt: int | None = None
) -> Fit:
    """Add measurements to the given attempt of a guitar, or to its last fit; raises as `find_fit`."""
    with logbook.writing() as connection:
        fit = find_fit(connection, valid_serial(serial), attempt)
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
    """Correct one value of a guitar, a fit or a measurement by adding an amendment.

    Raises `LogbookError` if row or field do not exist, the value is not allowed, or the field is in
    `NEVER_AMENDED`.

    Parameters
    ----------
    field : one of `INSTRUMENT_FIELDS` or `FIT_FIELDS`; with `measurement_id`, of `MEASUREMENT_FIELDS`.
        `serial` moves the fit to another guitar; `struck_out` hides the row from every list.
    attempt : the fit to correct; None means the last one.
    measurement_id : the measurement of that fit to correct, by its id.
    """
    allowed = MEASUREMENT_FIELDS if measurement_id is not None else (*INSTRUMENT_FIELDS, *FIT_FIELDS)
    if field in NEVER_AMENDED:
        raise LogbookError(
            f"{field} records what the program calculated at the time and cannot be amended; "
            "add a new fit with `neckpreload logbook add`."
        )
    if field not in allowed:
        raise LogbookError(f"{field!r} cannot be amended here; choose one of {', '.join(allowed)}.")
    note = validated(AmendmentNote, {"reason": reason, "who": who, "at": at})
    with logbook.writing() as connection:
        fit = find_fit(connection, valid_serial(serial), attempt, struck_out=True)
        row = fit if measurement_id is None else _measured(fit, measurement_id)
        old, new = getattr(row, field), _new_value(row, field, value)
        if new == old:
            raise LogbookError(f"{field} is {old!s} already; give another value.")
        if field == "serial":
            amended = move_fit(connection, fit, str(new), note)
        else:
            table, row_id = "fit" if row is fit else "measurement", row.id
            if field in INSTRUMENT_FIELDS:
                table, row_id = "instrument", instrument_id(connection, fit.serial) or 0
            amended = insert_amendment(connection, (table, row_id, field), (old, new), note)
        columns = schema.value_columns(schema.amendment)
        added = connection.execute(select(*columns).where(schema.amendment.c.id == amended)).one()
        return _readable(connection, Amendment(**added._asdict()))


def _measured(fit: Fit, measurement_id: int) -> Measurement:
    for measured in fit.measurements:
        if measured.id == measurement_id:
            return measured
    ids = ", ".join(str(one.id) for one in fit.measurements) or "none"
    raise LogbookError(
        f"Attempt {fit.attempt} of the guitar {fit.serial!r} has no measurement {measurement_id}; "
        f"it has {ids}: choose one of them, `neckpreload logbook show` lists them."
    )


def _new_value(row: Fit | Measurement, field: str, value: object) -> object:
    """Return a new value, validated together with the other fields of its row."""
    if field == "struck_out":
        return validated(_Switch, {"struck_out": value}).struck_out
    model = NewMeasurement if isinstance(row, Measurement) else NewFit
    if isinstance(value, str) and field in ("value", "uncertainty", "upper_deg", "lower_deg"):
        # a length or an angle with its unit; a bare number is in the unit of the row
        unit = row.unit if isinstance(row, Measurement) else "deg"
        parse = parse_angle if unit == "deg" else parse_length
        value = parse(value, name=field, bare_unit=unit)
    values = row.model_dump(exclude={"id", "struck_out", "measurements"})
    return getattr(validated(model, values | {field: value}), field)


class _Switch(BaseModel):
    struck_out: bool
