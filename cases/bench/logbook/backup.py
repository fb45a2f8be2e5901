"""Backing up, restoring and checking a logbook.

A backup is itself a logbook: a SQLite file with every row under its id, whatever database the log is in.
"""

import json
import shutil
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import Connection, func, insert, select
from sqlalchemy.exc import DBAPIError

from cases.bench.logbook.checksum import row_checksum
from cases.bench.logbook.current_rows import read_fits
from cases.bench.logbook.new_file import new_file
from cases.bench.logbook.schema import REVISION, TABLES, amendment, instrument
from cases.bench.logbook.store import Logbook, LogbookError, integrity_problems, open_logbook, revision_of
from cases.bench.logbook.validation import clean_serial
from materials.counted import counted

SQLITE = b"SQLite format 3\0"
"""First bytes of a SQLite file."""
_AT_ONCE = 500


@dataclass(frozen=True)
class CheckResult:
    """Result of checking a logbook: rows by table, and one sentence per problem."""

    rows: dict[str, int]
    problems: tuple[str, ...]


def backup(logbook: Logbook, path: Path) -> CheckResult:
    """Copy one state of the whole log into a new SQLite file; return the check of the copy.

    Others may go on writing. The file appears under its name only once it is complete and checked. Raises
    `LogbookError` if the file exists already or cannot be written, or the copy is damaged.
    """
    with new_file(path, make_folder=True) as part:
        found = _copied(logbook, part)
        if found.problems:
            raise LogbookError(
                f"The copy is damaged ({found.problems[0]}) and was not kept; "
                "run `neckpreload logbook check` on the log itself."
            )
    return found


def _copied(logbook: Logbook, part: Path) -> CheckResult:
    with open_logbook(part) as copy:
        with logbook.reading() as source, copy.writing() as target:
            _copy_rows(source, target)
        found = check(copy)
        with copy.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            # one file, without a write-ahead log beside it
            connection.connection.execute("PRAGMA journal_mode = DELETE")
    return found


@contextmanager
def open_backup(path: Path) -> Iterator[Logbook]:
    """Open a checked copy of a backup; the backup itself is not changed.

    Raises `LogbookError` if it is missing, no backup, or damaged.
    """
    if not _is_database(path):
        raise LogbookError(
            f"There is no backup at {path}; give a file that `neckpreload logbook backup` wrote. Nothing was "
            "restored."
        )
    with TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        shutil.copyfile(path, copy)
        unfinished = path.with_name(f"{path.name}-wal")
        if unfinished.exists():
            shutil.copyfile(unfinished, copy.with_name(unfinished.name))
        try:
            source = open_logbook(copy, create=False)
        except LogbookError as error:
            raise LogbookError(str(error).replace(str(copy), str(path))) from error.__cause__
        with source:
            try:
                problems = check(source).problems
            except LogbookError as error:
                cause = error.__cause__
                problems = (str(cause.orig if isinstance(cause, DBAPIError) else error),)
            if problems:
                raise LogbookError(f"The backup {path} is damaged ({problems[0]}); use an older one.")
            yield source


def _is_database(path: Path) -> bool:
    try:
        with path.open("rb") as stream:
            return stream.read(len(SQLITE)) == SQLITE
    except OSError:
        return False


def restore(source: Logbook, logbook: Logbook) -> CheckResult:
    """Copy a backup into an empty logbook; return the check of the result.

    Raises `LogbookError` if the logbook has rows already.
    """
    with source.reading() as rows, logbook.writing() as target:
        filled = target.execute(select(func.count()).select_from(instrument)).scalar_one()
        if filled:
            raise LogbookError(
                f"The logbook {logbook.where} holds {counted(filled, 'guitar')} already and is never "
                "overwritten; move that file away first, or name a new one with --log."
            )
        _copy_rows(rows, target)
    return check(logbook)


def _copy_rows(source: Connection, target: Connection) -> None:
    for table in TABLES:
        rows = source.execute(select(table).order_by(table.c.id)).yield_per(_AT_ONCE)
        for block in rows.partitions():
            target.execute(insert(table), [dict(row._mapping) for row in block])


def check(logbook: Logbook) -> CheckResult:
    """Check a whole log.

    Checked are the file, the checksum of every row, the links between rows, serials, attempts, amendments.
    """
    with logbook.reading() as connection:
        problems = list(integrity_problems(connection))
        if revision_of(connection) != REVISION:
            problems.append(f"the revision is {revision_of(connection)!r}, expected {REVISION!r}")
        rows = {
            table.name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
            for table in TABLES
        }
        problems += _checksum_problems(connection)
        if not problems:
            problems += [*_serial_problems(connection), *_amendment_problems(connection)]
        fits = read_fits(connection) if not problems else ()
    attempts = Counter((fit.serial, fit.attempt) for fit in fits)
    problems += [
        f"guitar {serial!r}: attempt {attempt} appears {count} times"
        for (serial, attempt), count in attempts.items()
        if count > 1
    ]
    return CheckResult(rows=rows, problems=tuple(problems))


def _checksum_problems(connection: Connection) -> Iterator[str]:
    for table in TABLES:
        try:
            for row in connection.execute(select(table).order_by(table.c.id)).yield_per(_AT_ONCE):
                if row.checksum != row_checksum(row._asdict()):
                    yield f"{table.name} row {row.id}: its checksum does not match, so a value was altered"
        except (ValueError, TypeError, LookupError) as error:
            yield f"{table.name}: a value cannot be read ({error})"


def _serial_problems(connection: Connection) -> Iterator[str]:
    for row in connection.execute(select(instrument.c.id, instrument.c.serial)):
        try:
            kept = clean_serial(row.serial)
        except ValueError as error:
            yield f"instrument row {row.id}: {error}"
            continue
        if kept != row.serial:
            yield f"instrument row {row.id}: the serial {row.serial!r} should read {kept!r}"


def _amendment_problems(connection: Connection) -> Iterator[str]:
    ids = {table.name: set(connection.execute(select(table.c.id)).scalars()) for table in TABLES}
    columns = {table.name: {*table.c.keys(), "struck_out"} for table in TABLES}
    for row in connection.execute(select(amendment)):
        where = f"amendment row {row.id}"
        if row.row_id not in ids.get(row.table_name, ()):
            yield f"{where}: there is no row {row.row_id} in {row.table_name!r}"
        elif row.column_name not in columns[row.table_name]:
            yield f"{where}: {row.table_name!r} has no column {row.column_name!r}"
        try:
            json.loads(row.old_value), json.loads(row.new_value)
        except ValueError:
            yield f"{where}: its values are not JSON"
