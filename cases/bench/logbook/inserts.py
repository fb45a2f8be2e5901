"""Writing new rows inside an open transaction: guitars, fits, measurements, amendments."""

import json
from collections.abc import Iterable, Mapping
from datetime import date

from sqlalchemy import Connection, Table, func, insert, select

from cases.bench.logbook import schema
from cases.bench.logbook.checksum import row_checksum
from cases.bench.logbook.current_rows import INSTRUMENT_FIELDS, Fit, instrument_id, read_fits, read_instrument
from cases.bench.logbook.store import LogbookError
from cases.bench.logbook.validation import AmendmentNote, NewFit, NewMeasurement


def insert_row(connection: Connection, table: Table, values: Mapping[str, object]) -> int:
    """Add a row with its checksum; return its id, the next one: a transaction that writes is the only one."""
    row_id = 1 + (connection.execute(select(func.max(table.c.id))).scalar_one() or 0)
    row = {"id": row_id, **values}
    connection.execute(insert(table).values(row | {"checksum": row_checksum(row)}))
    return row_id


def insert_fit(connection: Connection, fit: NewFit) -> int:
    """Add a fit and its measurements; return the row id.

    Raises `LogbookError` if the attempt exists, or the guitar is in the log with another model, batch or
    date.
    """
    attempts = _attempts(connection, fit.serial)
    if fit.attempt in attempts:
        raise LogbookError(
            f"The log has attempt {fit.attempt} of the guitar {fit.serial!r} already; "
            "leave the attempt out for a new one, or correct the old one with `neckpreload logbook amend`."
        )
    row_id = insert_row(
        connection,
        schema.fit,
        {
            **fit.model_dump(exclude={"serial", "measurements", *INSTRUMENT_FIELDS}),
            "instrument_id": _instrument(connection, fit),
            "attempt": fit.attempt or 1 + max(attempts, default=0),
        },
    )
    insert_measurements(connection, row_id, fit.measurements)
    return row_id


def insert_measurements(connection: Connection, fit_id: int, measured: Iterable[NewMeasurement]) -> None:
    """Add measurements to a fit."""
    for one in measured:
        insert_row(connection, schema.measurement, {"fit_id": fit_id, **one.model_dump()})


def insert_amendment(
    connection: Connection, where: tuple[str, int, str], change: tuple[object, object], note: AmendmentNote
) -> int:
    """Add a correction; `where` = (table, row id, column), `change` = (old value, new value)."""
    table_name, row_id, column_name = where
    old, new = (value.isoformat() if isinstance(value, date) else value for value in change)
    return insert_row(
        connection,
        schema.amendment,
        {
            "table_name": table_name,
            "row_id": row_id,
            "column_name": column_name,
            "old_value": json.dumps(old),
            "new_value": json.dumps(new),
            "reason": note.reason,
            "who": note.who,
            "amended_utc": note.at,
        },
    )


def move_fit(connection: Connection, fit: Fit, serial: str, note: AmendmentNote) -> int:
    """Move a fit to another guitar, added if it is new; return the id of the amendment."""
    old, new = (instrument_id(connection, one) for one in (fit.serial, serial))
    if new is None:
        columns = {name: getattr(fit, name) for name in INSTRUMENT_FIELDS}
        new = insert_row(connection, schema.instrument, {"serial": serial, **columns})
    attempt = 1 + max(_attempts(connection, serial), default=0)
    if attempt != fit.attempt:
        insert_amendment(connection, ("fit", fit.id, "attempt"), (fit.attempt, attempt), note)
    return insert_amendment(connection, ("fit", fit.id, "instrument_id"), (old, new), note)


def _attempts(connection: Connection, serial: str) -> set[int]:
    return {fit.attempt for fit in read_fits(connection, serial=serial)}


def _instrument(connection: Connection, fit: NewFit) -> int:
    """Return the row id of the guitar, added if it is new."""
    given = {name: getattr(fit, name) for name in INSTRUMENT_FIELDS}
    logged = read_instrument(connection, fit.serial)
    if logged is None:
        return insert_row(connection, schema.instrument, {"serial": fit.serial, **given})
    note = AmendmentNote(reason="given with a later fit", who=fit.who, at=fit.started_utc)
    for name, value in given.items():
        if value is None or value == logged[name]:
            continue
        if logged[name] is not None:
            raise LogbookError(
                f"The guitar {fit.serial!r} is in the log with {name} {logged[name]!s}, not {value!s}; "
                "leave it out, or correct the log with `neckpreload logbook amend` first."
            )
        # A column left blank at the first fit is filled by an amendment; the row itself never changes.
        insert_amendment(connection, ("instrument", logged["id"], name), (None, value), note)
    return int(logged["id"])
