"""Current rows of the logbook: each row with its amendments applied, the latest last."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from shlex import quote
from typing import Any

from sqlalchemy import Connection, or_, select

from cases.bench.logbook import schema
from cases.bench.logbook.store import LogbookError
from cases.bench.logbook.validation import FitColumns, NewMeasurement, clean_serial, named_alike

NEVER_AMENDED = ("predicted", "model_version", "calibration_id", "case_sha256", "case_text", "attempt")
"""Fields that record the program's output at the time of the fit; they never change."""
INSTRUMENT_FIELDS = ("model", "wood_batch", "built_on")


class Measurement(NewMeasurement):
    """One measured value, amended; `value` and `uncertainty` in `unit`."""

    id: int
    struck_out: bool = False


class Fit(FitColumns):
    """One fitting of a neck, amended."""

    id: int
    attempt: int
    measurements: tuple[Measurement, ...] = ()
    struck_out: bool = False


FIT_FIELDS = tuple(
    name
    for name in Fit.model_fields
    if name not in (*INSTRUMENT_FIELDS, *NEVER_AMENDED, "id", "measurements")
)
MEASUREMENT_FIELDS = tuple(name for name in Measurement.model_fields if name != "id")


@dataclass(frozen=True)
class Amendment:
    """One correction: row, column, old and new value (JSON text), reason, person, time."""

    id: int
    table_name: str
    row_id: int
    column_name: str
    old_value: str
    new_value: str
    reason: str
    who: str | None
    amended_utc: datetime


_FROM_JSON = {"built_on": date.fromisoformat, "started_utc": datetime.fromisoformat}


def amended_values(connection: Connection) -> Mapping[tuple[str, int], dict[str, Any]]:
    """Return the current value of every amended column: {(table, row id): {column: value}}."""
    amended: dict[tuple[str, int], dict[str, Any]] = defaultdict(dict)
    for row in connection.execute(select(schema.amendment).order_by(schema.amendment.c.id)):
        value = json.loads(row.new_value)
        if value is not None and row.column_name in _FROM_JSON:
            value = _FROM_JSON[row.column_name](value)
        amended[row.table_name, row.row_id][row.column_name] = value
    return amended


def instrument_id(connection: Connection, serial: str) -> int | None:
    """Return the row id of a guitar, None when its serial is not in the log."""
    table = schema.instrument
    return connection.execute(select(table.c.id).where(table.c.serial == serial)).scalar_one_or_none()


def read_instrument(connection: Connection, serial: str) -> dict[str, Any] | None:
    """Return the current columns of a guitar, None when its serial is not in the log."""
    table = schema.instrument
    row = connection.execute(select(table).where(table.c.serial == serial)).one_or_none()
    if row is None:
        return None
    return {**row._asdict(), **amended_values(connection).get(("instrument", row.id), {})}


def read_fits(connection: Connection, *, serial: str | None = None) -> tuple[Fit, ...]:
    """Return all current fits, struck-out ones too, oldest first; attempts on a guitar in their order."""
    amended = amended_values(connection)
    table = schema.fit
    # Without the case texts, which are long and rarely needed: `logbook.case_text` fetches one.
    chosen = select(*schema.value_columns(table, without="case_text")).order_by(table.c.id)
    measured = select(*schema.value_columns(schema.measurement)).order_by(schema.measurement.c.id)
    guitars = select(schema.instrument)
    if serial is not None:
        guitars = guitars.where(schema.instrument.c.serial == serial)
    instruments = {
        row.id: {**row._asdict(), **amended.get(("instrument", row.id), {})}
        for row in connection.execute(guitars)
    }
    if serial is not None:
        # An amendment may have moved a fit from or to this guitar.
        moved = [
            row_id for (name, row_id), new in amended.items() if name == "fit" and "instrument_id" in new
        ]
        chosen = chosen.where(or_(table.c.instrument_id.in_(list(instruments)), table.c.id.in_(moved)))
        ids = chosen.with_only_columns(table.c.id).order_by(None)
        measured = measured.where(schema.measurement.c.fit_id.in_(ids))
    of_fit: dict[int, list[Measurement]] = defaultdict(list)
    for row in connection.execute(measured):
        values = {**row._asdict(), **amended.get(("measurement", row.id), {})}
        of_fit[values.pop("fit_id")].append(Measurement.model_construct(**values))
    found = []
    for row in connection.execute(chosen):
        values = {**row._asdict(), **amended.get(("fit", row.id), {})}
        instrument = instruments.get(values.pop("instrument_id"))
        if instrument is None:
            continue
        values |= {name: instrument[name] for name in ("serial", *INSTRUMENT_FIELDS)}
        values["predicted"] = named_alike(values["predicted"])
        found.append(Fit.model_construct(**values, measurements=tuple(of_fit[row.id])))
    return _in_order(found)


def _in_order(found: Iterable[Fit]) -> tuple[Fit, ...]:
    """Fits in the order of their start, the attempts on a guitar in the order of their numbers.

    A clock that was set back, or that runs behind another bench's, gives a later attempt an earlier start.
    Such an attempt follows the one before it.
    """
    latest: dict[str, datetime] = {}
    placed = []
    for fit in sorted(found, key=lambda fit: (fit.attempt, fit.id)):
        latest[fit.serial] = max(fit.started_utc, latest.get(fit.serial, fit.started_utc))
        placed.append((latest[fit.serial], fit.attempt, fit.id, fit))
    return tuple(fit for *_, fit in sorted(placed, key=lambda one: one[:3]))


def without_struck_out(fit: Fit) -> Fit:
    """Return a fit without its struck-out measurements."""
    kept = tuple(one for one in fit.measurements if not one.struck_out)
    return fit.model_copy(update={"measurements": kept})


def valid_serial(given: str) -> str:
    """Return a serial as the log stores it; raises `LogbookError` for an invalid one."""
    try:
        return clean_serial(given)
    except ValueError as error:
        raise LogbookError(f"{error}.") from None


def find_fit(connection: Connection, serial: str, attempt: int | None, *, struck_out: bool = False) -> Fit:
    """Return the given attempt of a guitar, or its last fit that is not struck out.

    Raises `LogbookError` if guitar or attempt are not in the log, or struck out.

    ``struck_out`` : whether a struck-out fit may be returned: the given attempt, or the last one if all are
    struck out.
    """
    found = read_fits(connection, serial=serial)
    if not found:
        raise LogbookError(
            f"The log has no guitar with the serial {serial!r}; check it (leading zeros count), "
            "`neckpreload logbook list` shows them all."
        )
    if attempt is None:
        chosen = max(found, key=lambda fit: (not fit.struck_out, fit.attempt))
    else:
        chosen = next((fit for fit in found if fit.attempt == attempt), found[0])
        if chosen.attempt != attempt:
            attempts = ", ".join(str(fit.attempt) for fit in found)
            raise LogbookError(
                f"The guitar {serial!r} has no attempt {attempt}; it has {attempts}: choose one of them."
            )
    if chosen.struck_out and not struck_out:
        raise LogbookError(
            f"Attempt {chosen.attempt} of the guitar {serial!r} is struck out"
            f"{', as is every other' if attempt is None else ''}: log its present pair with "
            "`neckpreload logbook add`, or restore the fit with `neckpreload logbook amend "
            f"{quote(serial)} struck_out no --attempt {chosen.attempt} --reason ...`."
        )
    return chosen
