"""The tables of the logbook at the newest revision.

Every table is append-only: the database refuses UPDATE and DELETE (see the migrations). A correction is a row
in `amendment` with table, row, column, old and new value; `cases.bench.logbook.current_rows` applies it.
"""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from cases.bench.logbook.checksum import CHECKSUM_LENGTH

REVISION = "0003"
"""The newest revision; an older logbook is migrated when it is opened."""

REASONS = ("new", "swap", "return")
STATES = ("bare", "bolted", "slack", "strung")
SERIAL_LENGTH = 64
TEXT_LENGTH = 200


class UtcTime(sa.TypeDecorator[datetime]):
    """A moment in UTC, with its time zone on every database."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Convert a datetime with a time zone to UTC before it is stored."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: sa.Dialect) -> datetime | None:
        """Restore the time zone of a stored moment (SQLite keeps none)."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _one_of(column: str, allowed: tuple[str, ...]) -> sa.CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in allowed)
    return sa.CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def _checksum() -> sa.Column[str]:
    return sa.Column("checksum", sa.String(CHECKSUM_LENGTH), nullable=False, server_default="")


metadata = sa.MetaData()

instrument = sa.Table(
    "instrument",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("serial", sa.String(SERIAL_LENGTH), nullable=False, unique=True),
    sa.Column("model", sa.String(TEXT_LENGTH)),
    sa.Column("wood_batch", sa.String(TEXT_LENGTH)),
    sa.Column("built_on", sa.Date),
    _checksum(),
)

fit = sa.Table(
    "fit",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("instrument_id", sa.ForeignKey("instrument.id"), nullable=False, index=True),
    sa.Column("attempt", sa.Integer, sa.CheckConstraint("attempt >= 1", "attempt_positive"), nullable=False),
    sa.Column("reason", sa.String(10), _one_of("reason", REASONS), nullable=False),
    sa.Column("case_sha256", sa.String(64)),
    sa.Column("case_text", sa.Text),
    sa.Column("strings", sa.String(TEXT_LENGTH)),
    sa.Column("upper_deg", sa.Float, nullable=False),
    sa.Column("lower_deg", sa.Float, nullable=False),
    sa.Column("predicted", sa.JSON, nullable=False),
    sa.Column("model_version", sa.String(TEXT_LENGTH)),
    sa.Column("calibration_id", sa.String(TEXT_LENGTH)),
    sa.Column("bench", sa.String(TEXT_LENGTH)),
    sa.Column("who", sa.String(TEXT_LENGTH)),
    sa.Column("started_utc", UtcTime, nullable=False),
    _checksum(),
)

measurement = sa.Table(
    "measurement",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("fit_id", sa.ForeignKey("fit.id"), nullable=False, index=True),
    sa.Column("kind", sa.String(40), nullable=False),
    sa.Column("state", sa.String(10), _one_of("state", STATES), nullable=False),
    sa.Column("minutes_since_pitch", sa.Float),
    sa.Column("value", sa.Float, nullable=False),
    sa.Column("unit", sa.String(10), nullable=False),
    sa.Column("uncertainty", sa.Float),
    sa.Column("rh_percent", sa.Float),
    sa.Column("temp_c", sa.Float),
    _checksum(),
)

amendment = sa.Table(
    "amendment",
    metadata,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("table_name", sa.String(20), nullable=False),
    sa.Column("row_id", sa.Integer, nullable=False),
    sa.Column("column_name", sa.String(40), nullable=False),
    # Both values are sa.JSON text, so that one column holds text, numbers, dates and null.
    sa.Column("old_value", sa.Text, nullable=False),
    sa.Column("new_value", sa.Text, nullable=False),
    sa.Column("reason", sa.String(TEXT_LENGTH), nullable=False),
    sa.Column("who", sa.String(TEXT_LENGTH)),
    sa.Column("amended_utc", UtcTime, nullable=False),
    _checksum(),
    sa.Index("amendment_of_row", "table_name", "row_id"),
)

TABLES = (instrument, fit, measurement, amendment)
"""In the order in which rows are copied: parents before children."""


def value_columns(table: sa.Table, *, without: str = "") -> tuple[sa.Column[Any], ...]:
    """Return the columns that hold values: all but the checksum, and but ``without``."""
    return tuple(column for column in table.c if column.name not in ("checksum", without))
