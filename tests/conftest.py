"""Settings that make the run cheaper: one thread for linear algebra, one condensation of an instrument, no
search for garbage while tests are collected.
"""

import gc
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.command import Command

if TYPE_CHECKING:
    from cases.bench.logbook.store import Logbook

# set before numpy is first imported; the matrices are too small for threads
for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")

# what is imported and collected stays to the end; searching it for garbage would double the cost
gc.disable()


@pytest.fixture
def command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """The command in an empty folder, with no settings or logbook of the user's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("cases.casefile.workshop.user_workshop_path", lambda: tmp_path / "none.toml")
    monkeypatch.setenv("NECKPRELOAD_LOG", f"sqlite:///{tmp_path / 'log.sqlite'}")
    return Command(monkeypatch, capsys)


def pytest_sessionstart(session: pytest.Session) -> None:
    """In a process that runs tests, not in the one that only hands them out."""
    if session.config.getoption("dist", "no") == "no" and not session.config.getoption("benchmark_only"):
        from tests.condensed_once import condense_once

        condense_once()
        from tests.solved_once import solve_once

        solve_once()


def pytest_collection_finish() -> None:
    """Search for garbage again, but not among what was collected."""
    gc.freeze()
    gc.enable()


@pytest.fixture
def logbook(tmp_path: Path) -> "Iterator[Logbook]":
    """An empty log."""
    from cases.bench.logbook.store import open_logbook

    with open_logbook(tmp_path / "log.sqlite") as opened:
        yield opened
