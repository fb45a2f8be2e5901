"""A log of a newer version, an altered one, a backup that is none: each is refused as what it is."""

from pathlib import Path

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from cases.bench import store
from cases.bench.logbook import LogbookError, fits, open_logbook
from cases.cli import app


def test_a_file_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    url = str(tmp_path / "new.sqlite")
    with open_logbook(url) as logbook, logbook.writing() as connection:
        connection.execute(text(f"UPDATE {store.REVISION_TABLE} SET version_num = '9999'"))
    with pytest.raises(LogbookError, match=r"this version knows 0001 to 0002: .* newer neckpreload"):
        open_logbook(url)


@pytest.mark.parametrize(
    "damage",
    [
        f"UPDATE {store.REVISION_TABLE} SET version_num = '0000'",
        "ALTER TABLE fit DROP COLUMN bench",
        "DROP TABLE amendment",
    ],
)
def test_a_file_that_was_altered_is_refused_as_that(tmp_path: Path, damage: str) -> None:
    url = str(tmp_path / "altered.sqlite")
    with open_logbook(url) as logbook, logbook.writing() as connection:
        connection.execute(text(damage))
    altered = "the file was altered, or it is damaged; restore a backup"
    with pytest.raises(LogbookError, match=altered) as caught, open_logbook(url) as logbook:
        fits(logbook)
    assert "server" not in str(caught.value)
    assert "newer" not in str(caught.value)


def test_an_altered_backup_is_not_restored(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "copy.sqlite") as logbook, logbook.writing() as connection:
        connection.execute(text("ALTER TABLE fit DROP COLUMN bench"))
    fresh = ["--log", str(tmp_path / "fresh.sqlite")]
    done = CliRunner().invoke(app, ["logbook", "restore", str(tmp_path / "copy.sqlite"), *fresh])
    assert isinstance(done.exception, LogbookError)
    assert "copy.sqlite is not sound (no such column: fit.bench); take an older one" in str(done.exception)
    assert not (tmp_path / "fresh.sqlite").exists()


def test_what_is_no_backup_leaves_no_new_log_behind(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("not a database, but long enough to look at " * 40)
    (tmp_path / "empty").touch()
    fresh = ["--log", str(tmp_path / "fresh.sqlite")]
    for name in ("notes.txt", "empty", "none"):
        done = CliRunner().invoke(app, ["logbook", "restore", str(tmp_path / name), *fresh])
        assert isinstance(done.exception, LogbookError)
        assert f"There is no backup at {tmp_path / name}; give a file that" in str(done.exception)
    assert {path.name for path in tmp_path.iterdir()} == {"notes.txt", "empty"}
