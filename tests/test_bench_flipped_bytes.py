"""A log copied with a flipped byte: the check notices it, or no row differs."""

import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from cases.bench.logbook.backup import backup, check
from cases.bench.logbook.checksum import row_checksum
from cases.bench.logbook.logbook import add_fit, amend
from cases.bench.logbook.schema import TABLES
from cases.bench.logbook.store import Logbook, LogbookError, open_logbook
from tests.benches import START, entry
from tests.command import refused
from tests.test_bench_nothing_lost import old_file, restored

FLIPS = 200
ACTION = {"kind": "action_bass", "state": "strung", "value": 2.5, "unit": "mm", "rh_percent": 45.0}


@pytest.fixture(scope="module")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a log with every kind of row, without its write-ahead log."""
    folder = tmp_path_factory.mktemp("flips")
    with open_logbook(folder / "log.sqlite") as logbook:
        for number in range(40):
            predicted = {"action_bass_mm": 2.4 + number / 100, "chance": 0.93}
            kink = {"kind": "kink", "state": "bolted", "value": -0.02, "unit": "deg"}
            values = {"predicted": predicted, "measurements": [ACTION, kink], "built_on": "2025-04-30"}
            case = {"case_text": "x = 1\n" * 40, "case_sha256": "ab" * 32}
            add_fit(logbook, entry(f"{number:04d}", who="Ada", wood_batch="M-7", **values, **case))
            amend(logbook, f"{number:04d}", "bench", "2", reason="was blank", at=START)
        backup(logbook, folder / "copy.sqlite")
    return folder / "copy.sqlite"


def rows(path: Path) -> list[list[tuple[object, ...]]]:
    """Every row as the file holds it, all columns, by table."""
    with closing(sqlite3.connect(path)) as raw:
        raw.text_factory = bytes
        return [raw.execute(f"SELECT * FROM {table} ORDER BY id").fetchall() for table in TABLES]


def noticed(path: Path) -> bool:
    """Whether `logbook check` finds fault with a file."""
    try:
        with open_logbook(path, create=False) as logbook:
            return bool(check(logbook).problems)
    except LogbookError:
        return True


def flipped(copied: Path, folder: Path, count: int) -> Iterator[Path]:
    """Copies of the file, each with one byte changed at random."""
    content = copied.read_bytes()
    chosen = random.Random(20250504)
    for number in range(count):
        place = chosen.randrange(len(content))
        damaged = bytearray(content)
        damaged[place] ^= chosen.randrange(1, 256)
        path = folder / f"{number}.sqlite"
        path.write_bytes(damaged)
        yield path


def test_a_flipped_byte_is_noticed_or_changes_no_row(copied: Path, tmp_path: Path) -> None:
    assert not noticed(copied)
    before = rows(copied)
    unnoticed = [path for path in flipped(copied, tmp_path, FLIPS) if not noticed(path)]
    assert all(rows(path) == before for path in unnoticed)
    assert len(unnoticed) < 0.75 * FLIPS
    print(f"{FLIPS} flips: {FLIPS - len(unnoticed)} noticed, {len(unnoticed)} changed no row")


@contextmanager
def altered_behind_our_back(logbook: Logbook) -> Iterator[sqlite3.Connection]:
    """The file of a log opened by another program that first removes the refusal of changes."""
    with closing(sqlite3.connect(logbook.where)) as raw:
        raw.execute("DROP TRIGGER fit_no_update")
        yield raw
        raw.commit()


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("upper_deg", 0.2, "fit row 1: its checksum does not match, so a value was altered"),
        ("upper_deg", None, "fit row 1: its checksum"),
        ("predicted", "{not json", "fit: a value cannot be read"),
        ("started_utc", "yesterday", "fit: a value cannot be read"),
    ],
)
def test_check_names_the_row_that_was_altered(
    logbook: Logbook, column: str, value: object, said: str
) -> None:
    add_fit(logbook, entry(bench="1"))
    assert check(logbook).problems == ()
    column, value = ("bench", None) if value is None else (column, value)
    with altered_behind_our_back(logbook) as raw:
        raw.execute(f"UPDATE fit SET {column} = ?", (value,))
    assert any(said in problem for problem in check(logbook).problems)
    assert ": 1 thing is wrong; restore a backup" in refused("logbook", "check", "--log", logbook.where)


def test_backup_and_restore_keep_the_checksums(logbook: Logbook, tmp_path: Path) -> None:
    add_fit(logbook, entry(measurements=[ACTION]))
    with altered_behind_our_back(logbook) as raw:
        raw.execute("UPDATE fit SET upper_deg = 0.2")
    with pytest.raises(LogbookError, match="copy is damaged"):
        backup(logbook, tmp_path / "copy.sqlite")
    with open_logbook(tmp_path / "good.sqlite") as good:
        add_fit(good, entry(measurements=[ACTION]))
        backup(good, tmp_path / "copy.sqlite")
    with open_logbook(tmp_path / "again.sqlite") as again:
        restored(tmp_path / "copy.sqlite", again)
    assert rows(tmp_path / "again.sqlite") == rows(tmp_path / "good.sqlite")


def test_rows_of_an_older_log_get_their_checksum(tmp_path: Path) -> None:
    url = str(tmp_path / "old.sqlite")
    old_file(
        url,
        "INSERT INTO instrument (serial, built_on) VALUES ('007', '2023-12-24')",
        "INSERT INTO fit (instrument_id, attempt, reason, upper_deg, lower_deg, predicted, started_utc) "
        "VALUES (1, 1, 'new', 0.1, 0, '{\"a\" : 1}', '2024-01-02 03:04:05.000000')",
    )
    with open_logbook(url) as logbook:
        assert check(logbook).problems == ()
        with pytest.raises(LogbookError, match="append-only"), logbook.writing() as connection:
            connection.exec_driver_sql("UPDATE fit SET checksum = ''")
    guitar = {"id": 1, "serial": "007", "built_on": "2023-12-24"}
    assert rows(tmp_path / "old.sqlite")[0][0][-1] == row_checksum(guitar).encode()
