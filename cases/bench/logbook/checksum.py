"""The checksum of a row of the log: what a changed byte in a copied file shows up by."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from hashlib import sha256

CHECKSUM_LENGTH = 16


def row_checksum(values: Mapping[str, object]) -> str:
    """Return the checksum of a row: 16 hexadecimal digits of SHA-256 over names and values of its columns.

    It is the same on every database. Empty columns and the checksum itself do not count, so that a later
    revision may add a column.

    Examples
    --------
    >>> row_checksum({"id": 1, "serial": "7", "model": None}) == row_checksum({"id": 1.0, "serial": "7"})
    True
    """
    filled = {
        name: _plain(value) for name, value in values.items() if value is not None and name != "checksum"
    }
    return sha256(json.dumps(filled, sort_keys=True).encode()).hexdigest()[:CHECKSUM_LENGTH]


def _plain(value: object) -> object:
    """A value as every database returns it: SQLite keeps no time zone, no minus zero, and 45.0 as 45."""
    if isinstance(value, datetime):
        return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return float(value) + 0.0
    return value.hex() if isinstance(value, bytes) else value
