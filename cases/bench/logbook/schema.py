"""The tables of the logbook at the newest revision.

Every table is append-only: the database refuses UPDATE and DELETE (see the migrations). A correction is a row
in `amendment` with table, row, column, old and new value; `cases.bench.logbook.current_rows` applies it.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)

REVISION = "0002"
"""The newest revision; an older logbook is migrated when it is opened."""

REASONS = ("new", "swap", "return")
STATES = ("bare", "bolted", "slack", "strung")
SERIAL_LENGTH = 64
TEXT_LENGTH = 200


class UtcTime(TypeDecorator[datetime]):
    """A moment in UTC, with its time zone on every database."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Convert a datetime with a time zone to UTC before it is stored."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Restore the time zone of a stored moment (SQLite keeps none)."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _one_of(column: str, allowed: tuple[str, ...]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in allowed)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


metadata = MetaData()

instrument = Table(
    "instrument",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("serial", String(SERIAL_LENGTH), nullable=False, unique=True),
    Column("model", String(TEXT_LENGTH)),
    Column("wood_batch", String(TEXT_LENGTH)),
    Column("built_on", Date),
)

fit = Table(
    "fit",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("instrument_id", ForeignKey("instrument.id"), nullable=False, index=True),
    Column("attempt", Integer, CheckConstraint("attempt >= 1", name="attempt_positive"), nullable=False),
    Column("reason", String(10), _one_of("reason", REASONS), nullable=False),
    Column("case_sha256", String(64)),
    Column("case_text", Text),
    Column("strings", String(TEXT_LENGTH)),
    Column("upper_deg", Float, nullable=False),
    Column("lower_deg", Float, nullable=False),
    Column("predicted", JSON, nullable=False),
    Column("model_version", String(TEXT_LENGTH)),
    Column("calibration_id", String(TEXT_LENGTH)),
    Column("bench", String(TEXT_LENGTH)),
    Column("who", String(TEXT_LENGTH)),
    Column("started_utc", UtcTime, nullable=False),
)

measurement = Table(
    "measurement",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fit_id", ForeignKey("fit.id"), nullable=False, index=True),
    Column("kind", String(40), nullable=False),
    Column("state", String(10), _one_of("state", STATES), nullable=False),
    Column("minutes_since_pitch", Float),
    Column("value", Float, nullable=False),
    Column("unit", String(10), nullable=False),
    Column("uncertainty", Float),
    Column("rh_percent", Float),
    Column("temp_c", Float),
)

amendment = Table(
    "amendment",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("table_name", String(20), nullable=False),
    Column("row_id", Integer, nullable=False),
    Column("column_name", String(40), nullable=False),
    # Both values are JSON text, so that one column holds text, numbers, dates and null.
    Column("old_value", Text, nullable=False),
    Column("new_value", Text, nullable=False),
    Column("reason", String(TEXT_LENGTH), nullable=False),
    Column("who", String(TEXT_LENGTH)),
    Column("amended_utc", UtcTime, nullable=False),
    Index("amendment_of_row", "table_name", "row_id"),
)

TABLES = (instrument, fit, measurement, amendment)
"""In the order in which rows are copied: parents before children."""
