"""Nothing lost: a process killed, two writing at once, an older file opened, a server in place of a file."""

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Table, text

from cases.bench.logbook import schema, store
from cases.bench.logbook.backup import CheckResult, backup, check, open_backup, restore
from cases.bench.logbook.inserts import insert_row
from cases.bench.logbook.logbook import add_fit, amend, amendments, fits, latest_fit
from cases.bench.logbook.schema import REVISION, metadata
from cases.bench.logbook.store import LogbookError, open_logbook
from tests.benches import START, entry
from tests.test_bench_stopped import check_stops
from tests.test_bench_together import check_three_people

FIT = "INSERT INTO fit (instrument_id, attempt, reason, upper_deg, lower_deg, predicted, started_utc) "

# Adds fits one by one and prints each serial once its fit is committed.
WRITER = """
import sys
from cases.bench.logbook.logbook import add_fit
from cases.bench.logbook.store import open_logbook
from cases.bench.logbook.validation import NewFit
url, first, count, serial = sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
with open_logbook(url) as logbook:
    for number in range(first, first + count):
        fit = NewFit(
            serial=serial.format(number), upper_deg=0.1, lower_deg=-0.05, started_utc="2025-05-04T08:30:00Z",
            predicted={"action_bass_mm": 2.4},
            measurements=[dict(kind="action_bass", state="strung", value=2.5, unit="mm")],
        )
        print(fit.serial, add_fit(logbook, fit).attempt, flush=True)
"""


def writer(url: str, first: int, count: int, serial: str = "{:05d}") -> "subprocess.Popen[str]":
    command = [sys.executable, "-c", WRITER, url, str(first), str(count), serial]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def restored(path: Path, logbook: store.Logbook) -> CheckResult:
    with open_backup(path) as source:
        return restore(source, logbook)


def check_after_kill_9(url: str, after: int) -> None:
    """Kill a writer of 1000 fits once some are acknowledged; none of these is lost, and the log is whole."""
    process = writer(url, 0, 1000)
    assert process.stdout is not None
    acknowledged = [process.stdout.readline().split()[0] for _ in range(after)]
    os.kill(process.pid, signal.SIGKILL)
    acknowledged += [line.split()[0] for line in process.stdout.read().splitlines()]
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    assert after <= len(acknowledged) < 1000
    with open_logbook(url) as logbook:
        kept = fits(logbook)
        assert set(acknowledged) <= {fit.serial for fit in kept}
        assert len(kept) <= len(acknowledged) + 1
        assert all(len(fit.measurements) == 1 for fit in kept)
        assert check(logbook).problems == ()
        assert add_fit(logbook, entry("after the crash")).attempt == 1


@pytest.mark.parametrize("after", [1, 200])
def test_kill_9_in_the_middle_of_1000_inserts_loses_no_acknowledged_row(tmp_path: Path, after: int) -> None:
    check_after_kill_9(str(tmp_path / "log.sqlite"), after)


def check_two_writers(url: str) -> None:
    """Start a log from two processes at once; they never give a guitar an attempt twice."""
    both = [writer(url, 0, 40, serial="0042"), writer(url, 0, 40, serial="0042")]
    attempts = []
    for process in both:
        said, error = process.communicate(timeout=120)
        assert process.returncode == 0, error
        attempts += [int(line.split()[1]) for line in said.splitlines()]
    assert sorted(attempts) == list(range(1, 81))
    with open_logbook(url) as logbook:
        assert sorted(fit.attempt for fit in fits(logbook)) == list(range(1, 81))
        assert check(logbook).problems == ()


def test_two_processes_start_a_log_at_once(tmp_path: Path) -> None:
    check_two_writers(str(tmp_path / "log.sqlite"))


def test_a_writer_that_waits_too_long_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "BUSY_TIMEOUT_S", 0.05)
    url = str(tmp_path / "log.sqlite")
    with open_logbook(url) as one, open_logbook(url) as other, one.writing():
        assert fits(other) == ()
        with pytest.raises(LogbookError, match="another bench has held it"):
            add_fit(other, entry())


def old_file(url: str, *statements: str) -> None:
    """Make a log at the first revision, in a file or on a server."""
    where = store._parse(url)
    postgres = where.get_backend_name() == "postgresql"
    engine = store._postgres_engine(where) if postgres else store._sqlite_engine(where, create=True)[0]
    with store.Logbook(engine=engine, where=url) as old, old.writing() as connection:
        store.upgrade(connection, to="0001")
        for statement in statements:
            connection.execute(text(statement))


def check_an_older_log(url: str) -> None:
    """A log of the first revision keeps its row, gets a checksum for it, and takes a correction."""
    values = "VALUES (1, 1, 'new', 0.1, -0.05, '{\"kink_deg\": 0.01}', '2024-01-02 03:04:05.000000')"
    old_file(url, "INSERT INTO instrument (serial) VALUES ('007')", FIT + values)
    with open_logbook(url) as logbook:
        with logbook.reading() as connection:
            assert store.revision_of(connection) == REVISION
        fit = latest_fit(logbook, "007")
        assert fit.predicted == {"kink_deg": 0.01}
        assert fit.started_utc == datetime(2024, 1, 2, 3, 4, 5, tzinfo=UTC)
        amend(logbook, "007", "bench", "2", reason="was blank", at=START)
        assert check(logbook).problems == ()


def test_an_older_file_is_brought_up_with_its_rows(tmp_path: Path) -> None:
    check_an_older_log(str(tmp_path / "old.sqlite"))


def test_a_migration_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    url = str(tmp_path / "old.sqlite")
    # an index in the way makes the second revision fail after it has begun
    old_file(url, "CREATE INDEX amendment_of_row ON fit (reason)")
    with pytest.raises(LogbookError):
        open_logbook(url)
    with sqlite3.connect(url) as raw:
        assert raw.execute(f"SELECT version_num FROM {store.REVISION_TABLE}").fetchone() == ("0001",)
        assert not raw.execute("SELECT name FROM sqlite_master WHERE name = 'amendment'").fetchall()


def test_the_migrations_end_at_the_tables_that_the_code_reads(tmp_path: Path) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.config import Config
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory

    folder = Path(store.__file__).parent / "migrations"
    config = Config()
    config.set_main_option("script_location", str(folder))
    assert ScriptDirectory.from_config(config).get_heads() == [REVISION]
    with open_logbook(tmp_path / "log.sqlite") as logbook, logbook.reading() as connection:
        context = MigrationContext.configure(
            connection, opts={"version_table": store.REVISION_TABLE, "compare_type": True}
        )
        assert compare_metadata(context, metadata) == []


def test_backup_and_restore_keep_every_row_and_its_history(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "log.sqlite") as logbook:
        for number in range(3):
            add_fit(logbook, entry(f"{number:03d}", case_text="x = 1\n", case_sha256="ab" * 32))
        amend(logbook, "001", "bench", "2", reason="was blank", at=START)
        before = fits(logbook)
        found = backup(logbook, tmp_path / "copy.sqlite")
        assert found.rows == {"instrument": 3, "fit": 3, "measurement": 0, "amendment": 1}
        assert {path.name for path in tmp_path.glob("copy*")} == {"copy.sqlite"}
        with pytest.raises(LogbookError, match="exists already"):
            backup(logbook, tmp_path / "copy.sqlite")
        with pytest.raises(LogbookError, match="never overwritten"):
            restored(tmp_path / "copy.sqlite", logbook)
    with open_logbook(tmp_path / "again.sqlite") as again:
        assert restored(tmp_path / "copy.sqlite", again).problems == ()
        assert fits(again) == before
        assert [one.reason for one in amendments(again, latest_fit(again, "001"))] == ["was blank"]
        assert add_fit(again, entry("001")).attempt == 2


def test_a_damaged_backup_is_not_restored(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "log.sqlite") as logbook:
        for number in range(8):
            add_fit(logbook, entry(f"{number:03d}", case_text="x" * 40_000))
        backup(logbook, tmp_path / "copy.sqlite")
    content = bytearray((tmp_path / "copy.sqlite").read_bytes())
    content[4096 * 12 : 4096 * 14] = b"\xa5" * 8192
    (tmp_path / "copy.sqlite").write_bytes(content)
    with open_logbook(tmp_path / "new.sqlite") as new:
        with pytest.raises(LogbookError):
            restored(tmp_path / "copy.sqlite", new)
        assert fits(new) == ()


MOMENT = {"started_utc": START, "reason": "new", "upper_deg": 0.0, "lower_deg": 0.0, "predicted": {}}
CHANGE = {"old_value": "null", "new_value": '"2"', "reason": "x", "amended_utc": START}


@pytest.mark.parametrize(
    ("table", "values", "said"),
    [
        (schema.instrument, {"serial": " 7"}, "should read '7'"),
        (schema.instrument, {"serial": "a\nb"}, "cannot be printed"),
        (
            schema.amendment,
            {"table_name": "fit", "row_id": 99, "column_name": "bench"} | CHANGE,
            "there is no row 99",
        ),
        (
            schema.amendment,
            {"table_name": "fit", "row_id": 1, "column_name": "colour"} | CHANGE,
            "no column 'colour'",
        ),
        (schema.fit, {"instrument_id": 1, "attempt": 1} | MOMENT, "attempt 1 appears 2 times"),
    ],
)
def test_check_finds_what_is_wrong(
    logbook: store.Logbook, table: Table, values: dict[str, object], said: str
) -> None:
    add_fit(logbook, entry())
    assert check(logbook).problems == ()
    with logbook.writing() as connection:
        insert_row(connection, table, values)
    problems = check(logbook).problems
    assert any(said in problem for problem in problems), problems


# --- PostgreSQL


@pytest.fixture(scope="module")
def postgres_url() -> Iterator[str]:
    """Start a PostgreSQL of our own on a free loopback port, as an ordinary user, and take it down again."""
    # where Debian keeps the server, newest first; else whatever the search path has
    found = [*sorted(map(str, Path("/usr/lib/postgresql").glob("*/bin/pg_ctl")), reverse=True)]
    control = next(iter(found), None) or shutil.which("pg_ctl")
    if control is None:
        pytest.skip("PostgreSQL's server is not installed (Debian package `postgresql`)")
    pytest.importorskip("psycopg", reason="the extra `postgres` is not installed")
    # the server does not run as root, and its user must reach its folder
    person = "postgres" if os.geteuid() == 0 else None
    folder = Path(tempfile.mkdtemp(prefix="neckpreload-postgres-"))
    if person:
        shutil.chown(folder, person)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    def run(*arguments: str) -> None:
        command = [control, "-s", "-D", str(folder / "data"), *arguments]
        subprocess.run(command, check=True, cwd=folder, user=person, stdout=subprocess.DEVNULL)

    try:
        run("init", "-o", "-U bench -A trust -E UTF8 --no-sync")
        run("start", "-l", str(folder / "said"), "-o", f"-h 127.0.0.1 -p {port} -k {folder}")
        yield f"postgresql://bench@127.0.0.1:{port}/postgres"
        run("stop", "-m", "fast")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def new_database(postgres_url: str, name: str) -> str:
    """Make an empty database on the server and return its URL."""
    with open_logbook(postgres_url) as logbook, logbook.engine.connect() as connection:
        connection.execution_options(isolation_level="AUTOCOMMIT").execute(text(f"CREATE DATABASE {name}"))
    return postgres_url.removesuffix("/postgres") + f"/{name}"


@pytest.mark.full
def test_postgresql_keeps_the_same_log(postgres_url: str, tmp_path: Path) -> None:
    check_two_writers(postgres_url)
    with open_logbook(postgres_url) as logbook:
        for serial in ("琴 0001 🎸", "'; DROP TABLE fit; --", "007"):
            add_fit(logbook, entry(serial, predicted={"action_bass_mm": 2.4}, wood_batch="ö" * 200))
            assert latest_fit(logbook, serial).started_utc == START
        amend(logbook, "007", "upper_deg", "0.2", reason="slip", at=START)
        assert latest_fit(logbook, "007").upper_deg == 0.2
        for table in ("instrument", "fit", "measurement", "amendment"):
            for change in ("UPDATE {} SET id = id", "DELETE FROM {}", "TRUNCATE {} CASCADE"):
                with pytest.raises(LogbookError, match="append-only"), logbook.writing() as connection:
                    connection.execute(text(change.format(table)))
        assert check(logbook).problems == ()
        before = fits(logbook)
        backup(logbook, tmp_path / "copy.sqlite")
        with open_logbook(tmp_path / "file.sqlite") as file:
            assert restored(tmp_path / "copy.sqlite", file).problems == ()
            assert fits(file) == before


@pytest.mark.full
def test_a_backup_is_restored_into_postgresql(postgres_url: str, tmp_path: Path) -> None:
    second = new_database(postgres_url, "second")
    with open_logbook(tmp_path / "log.sqlite") as file, open_logbook(second) as server:
        for number in range(5):
            add_fit(file, entry(f"{number:03d}"))
        amend(file, "003", "bench", "2", reason="was blank", at=START)
        backup(file, tmp_path / "copy.sqlite")
        assert restored(tmp_path / "copy.sqlite", server).problems == ()
        assert fits(server) == fits(file)
        assert add_fit(server, entry("005")).id == 6


@pytest.mark.full
def test_kill_9_on_postgresql_loses_no_acknowledged_row(postgres_url: str) -> None:
    check_after_kill_9(new_database(postgres_url, "third"), 200)


@pytest.mark.full
def test_an_older_log_on_postgresql_is_brought_up_with_its_rows(postgres_url: str) -> None:
    url = new_database(postgres_url, "fourth") + "?options=-c%20timezone%3DUTC"
    check_an_older_log(url)
    with open_logbook(url) as log, pytest.raises(LogbookError, match="append-only"), log.writing() as raw:
        raw.execute(text("UPDATE fit SET checksum = ''"))


@pytest.mark.full
def test_a_writer_on_postgresql_stopped_at_20_places_loses_nothing(postgres_url: str) -> None:
    check_stops(new_database(postgres_url, "fifth"))


@pytest.mark.full
def test_three_people_log_a_thousand_fits_on_postgresql(postgres_url: str) -> None:
    check_three_people(new_database(postgres_url, "sixth"))
