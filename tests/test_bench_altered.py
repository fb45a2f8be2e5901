"""A log of a newer version, an altered one, a backup that is none: each is refused as what it is. One
that may only be read is read.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import text

from cases.bench.logbook import store
from cases.bench.logbook.backup import backup
from cases.bench.logbook.csv_exchange import export_csv
from cases.bench.logbook.logbook import fits
from cases.bench.logbook.store import LogbookError, open_logbook
from tests.command import refused, said

PAIR = ["pair", "fourteen-mahogany", "--reading", "1.8mm", "--serial", "0004"]

ALTERED = "the file was altered, or it is damaged; restore a backup"


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (f"UPDATE {store.REVISION_TABLE} SET version_num = '9999'", "knows 0001 to 0003: .* newer neckprel"),
        (f"UPDATE {store.REVISION_TABLE} SET version_num = '0000'", ALTERED),
        ("ALTER TABLE fit DROP COLUMN bench", ALTERED),
        ("DROP TABLE amendment", ALTERED),
    ],
)
def test_a_file_that_was_altered_is_refused_as_that(tmp_path: Path, damage: str, words: str) -> None:
    url = str(tmp_path / "altered.sqlite")
    with open_logbook(url) as logbook, logbook.writing() as connection:
        connection.execute(text(damage))
    with pytest.raises(LogbookError, match=words), open_logbook(url) as logbook:
        fits(logbook)


def test_an_altered_backup_is_not_restored(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "copy.sqlite") as logbook, logbook.writing() as connection:
        connection.execute(text("ALTER TABLE fit DROP COLUMN bench"))
    wrong = refused("logbook", "restore", tmp_path / "copy.sqlite", "--log", tmp_path / "fresh.sqlite")
    assert "copy.sqlite is damaged (no such column: fit.bench); use an older one" in wrong
    assert not (tmp_path / "fresh.sqlite").exists()


def test_what_is_no_backup_leaves_no_new_log_behind(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("not a database, but long enough to look at " * 40)
    (tmp_path / "empty").touch()
    for name in ("notes.txt", "empty", "none"):
        wrong = refused("logbook", "restore", tmp_path / name, "--log", tmp_path / "fresh.sqlite")
        assert f"There is no backup at {tmp_path / name}; give a file that" in wrong
    assert {path.name for path in tmp_path.iterdir()} == {"notes.txt", "empty"}


@contextmanager
def write_protected(folder: Path) -> Iterator[None]:
    """Take the right to write from a folder and the files in it, and from whoever runs the tests."""
    root = os.geteuid() == 0
    for path in (*folder.iterdir(), folder):
        path.chmod(path.stat().st_mode & 0o555 | 0o444)
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)


@pytest.fixture
def shelf() -> Iterator[Path]:
    """A folder that everybody may look into, with a log and a backup of it."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    log = str(folder / "log.sqlite")
    said("logbook", "add", "0004", "--upper=0", "--lower=0", "--log", log)
    said("logbook", "backup", folder / "copy.sqlite", "--log", log)
    yield folder
    shutil.rmtree(folder)


def read_all(shelf: Path, out: Path) -> None:
    """Run every command that only reads, on the log and on its backup."""
    out.mkdir(mode=0o777)
    out.chmod(0o777)
    for name in ("log.sqlite", "copy.sqlite"):
        for command in (
            ["logbook", "list"],
            ["logbook", "show", "0004"],
            ["logbook", "check"],
            ["logbook", "export", str(out / f"{name}.csv")],
            ["logbook", "backup", str(out / name)],
            ["label", "0004"],
        ):
            said(*command, "--log", shelf / name)
    said("logbook", "restore", shelf / "copy.sqlite", "--log", out / "fresh.sqlite")


def test_a_log_that_may_not_be_written_is_read(shelf: Path, tmp_path: Path) -> None:
    # once with all rights: what is imported late may lie where only this user can read
    shutil.copytree(shelf, tmp_path / "shelf")
    read_all(tmp_path / "shelf", tmp_path / "out")
    place = Path(tempfile.mkdtemp())
    place.chmod(0o777)
    with write_protected(shelf):
        read_all(shelf, place / "out")
        wrong = refused("logbook", "add", "5", "--upper=0", "--lower=0", "--log", shelf / "log.sqlite")
    shutil.rmtree(place)
    assert "it cannot be read or written; check the folder's rights" in wrong


def test_a_restore_leaves_an_older_backup_as_it_was(tmp_path: Path) -> None:
    older = tmp_path / "older.sqlite"
    with store.create_engine(f"sqlite:///{older}").begin() as connection:
        store.upgrade(connection, to="0001")
    was = older.read_bytes()
    fresh = str(tmp_path / "fresh.sqlite")
    said("logbook", "restore", older, "--log", fresh)
    assert older.read_bytes() == was
    with open_logbook(fresh) as logbook, logbook.reading() as connection:
        assert store.revision_of(connection) == store.REVISION


def test_a_damaged_log_is_to_be_restored_into_a_new_file_and_is_told_before_the_answer(
    tmp_path: Path,
) -> None:
    damaged = tmp_path / "damaged.sqlite"
    damaged.write_bytes(b"SQLite format 3\0" + b"\xa5" * 9000)
    for command in (["logbook", "list"], PAIR):
        assert "restore a backup into a new file" in refused(*command, "--log", damaged)


def test_a_backup_takes_nobody_elses_file(tmp_path: Path) -> None:
    (tmp_path / "keep.sqlite.part").write_text("a note")
    with open_logbook(tmp_path / "log.sqlite") as logbook:
        backup(logbook, tmp_path / "keep.sqlite")
        export_csv(logbook, tmp_path / "out.csv", ())
    (tmp_path / "plain").touch()
    assert (tmp_path / "keep.sqlite.part").read_text() == "a note"
    modes = {(tmp_path / name).stat().st_mode for name in ("plain", "out.csv", "keep.sqlite")}
    assert len(modes) == 1
    assert not list(tmp_path.glob(".neckpreload-*"))


def test_a_place_where_no_log_can_be_made_is_told_before_the_answer(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "log.sqlite cannot be made" in refused(*PAIR, "--log", tmp_path / "file" / "log.sqlite")
    assert "64 are allowed" in refused(*PAIR[:-1], "5" * 65, "--log", tmp_path / "log.sqlite")
    assert not (tmp_path / "log.sqlite").exists()
