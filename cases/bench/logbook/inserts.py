"""Write new rows inside an open transaction: guitars, fits, measurements, amendments."""

import json
from collections.abc import Iterable, Mapping
from datetime import date, datetime

from sqlalchemy import Connection, Table, insert, select

from cases.bench.logbook import schema
from cases.bench.logbook.current_rows import INSTRUMENT_FIELDS, Fit, read_fits, read_instrument
from cases.bench.logbook.store import LogbookError
from cases.bench.logbook.validation import FitEntry, MeasurementEntry


def _insert(connection: Connection, table: Table, values: Mapping[str, object]) -> int:
    return int(connection.execute(insert(table).values(values).returning(table.c.id)).scalar_one())


def insert_fit(connection: Connection, entry: FitEntry) -> int:
    """Add a fit inside an open transaction; return its row id."""
    taken = _attempts(connection, entry.serial)
    if entry.attempt in taken:
        raise LogbookError(
            f"The log has attempt {entry.attempt} of the guitar {entry.serial!r} already; "
            "leave the attempt out for a new one, or correct the old one with `neckpreload logbook amend`."
        )
    row_id = _insert(
        connection,
        schema.fit,
        {
            **entry.model_dump(exclude={"serial", "measurements", *INSTRUMENT_FIELDS}),
            "instrument_id": _instrument(connection, entry),
            "attempt": entry.attempt or 1 + max(taken, default=0),
        },
    )
    insert_measurements(connection, row_id, entry.measurements)
    return row_id


def insert_measurements(connection: Connection, fit_id: int, measured: Iterable[MeasurementEntry]) -> None:
    """Add measurements of a fit inside an open transaction."""
    rows = [{"fit_id": fit_id, **one.model_dump()} for one in measured]
    if rows:
        connection.execute(insert(schema.measurement), rows)


def write_amendment(
    connection: Connection,
    where: tuple[str, int, str],
    change: tuple[object, object],
    *,
    at: datetime,
    reason: str,
    who: str | None,
) -> int:
    """Add a correction: `where` = (table, row id, column), `change` = (what stood, what holds now)."""
    table_name, row_id, column_name = where
    old, new = (value.isoformat() if isinstance(value, date) else value for value in change)
    return _insert(
        connection,
        schema.amendment,
        {
            "table_name": table_name,
            "row_id": row_id,
            "column_name": column_name,
            "old_value": json.dumps(old),
            "new_value": json.dumps(new),
            "reason": reason,
            "who": who,
            "amended_utc": at,
        },
    )


def move_fit(
    connection: Connection, fit: Fit, serial: str, *, at: datetime, reason: str, who: str | None
) -> int:
    """Give a fit to the guitar it was really made on; return the id of the amendment that says so."""
    old = connection.execute(
        select(schema.instrument.c.id).where(schema.instrument.c.serial == fit.serial)
    ).scalar_one()
    new = connection.execute(
        select(schema.instrument.c.id).where(schema.instrument.c.serial == serial)
    ).scalar_one_or_none()
    if new is None:
        given = {name: getattr(fit, name) for name in INSTRUMENT_FIELDS}
        new = _insert(connection, schema.instrument, {"serial": serial, **given})
    attempt = 1 + max(_attempts(connection, serial), default=0)
    if attempt != fit.attempt:
        change = (fit.attempt, attempt)
        write_amendment(connection, ("fit", fit.id, "attempt"), change, at=at, reason=reason, who=who)
    where = ("fit", fit.id, "instrument_id")
    return write_amendment(connection, where, (old, new), at=at, reason=reason, who=who)


def _attempts(connection: Connection, serial: str) -> set[int]:
    return {fit.attempt for fit in read_fits(connection, serial=serial)}


def _instrument(connection: Connection, entry: FitEntry) -> int:
    """Return the row id of the guitar, adding it when it is new."""
    given = {name: getattr(entry, name) for name in INSTRUMENT_FIELDS}
    held = read_instrument(connection, entry.serial)
    if held is None:
        return _insert(connection, schema.instrument, {"serial": entry.serial, **given})
    for name, value in given.items():
        if value is None or value == held[name]:
            continue
        if held[name] is not None:
            raise LogbookError(
                f"The guitar {entry.serial!r} is in the log with {name} {held[name]!s}, not {value!s}; "
                "leave it out, or correct the log with `neckpreload logbook amend` first."
            )
        # What was left blank at the first fit is filled in; the row itself stays as it was written.
        where, reason = ("instrument", held["id"], name), "given with a later fit"
        write_amendment(connection, where, (None, value), at=entry.started_utc, reason=reason, who=entry.who)
    return int(held["id"])
