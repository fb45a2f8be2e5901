"""A process stopped by `kill -9` inside a write, after any statement: nothing lost, no half row."""

import os
import signal
from pathlib import Path

from sqlalchemy import Connection, event

from cases.bench.logbook.backup import check
from cases.bench.logbook.logbook import add_fit, fits
from cases.bench.logbook.store import Logbook, open_logbook
from tests.benches import entry

PLACES = 20
MEASURED = [{"kind": "action_bass", "state": "strung", "value": 2.4 + n / 10, "unit": "mm"} for n in range(5)]


def stop_at(logbook: Logbook, place: int) -> None:
    """Stop this process after the statement of that number; the last place is just before the commit."""
    done = 0

    def count(connection: Connection, *_: object) -> None:
        nonlocal done
        done += 1
        if done == place:
            os.kill(os.getpid(), signal.SIGKILL)

    event.listen(logbook.engine, "after_cursor_execute", count)
    event.listen(logbook.engine, "commit", count)


def stopped_writer(url: str, serial: str, place: int) -> bytes:
    """Return what a process acknowledged that adds a fit, and is stopped inside the second one."""
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            with open_logbook(url) as logbook:
                add_fit(logbook, entry(f"{serial} first", measurements=MEASURED))
                os.write(into, b"1")
                stop_at(logbook, place)
                add_fit(logbook, entry(f"{serial} second", measurements=MEASURED))
                os.write(into, b"2")
        finally:
            os._exit(1)
    os.close(into)
    with os.fdopen(out, "rb") as stream:
        said = stream.read()
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1]) == (said == b"1")
    return said


def check_stops(url: str) -> None:
    """Stop a writer after its first statement, its second one ... up to the commit."""
    with open_logbook(url):
        pass
    place = 1
    while stopped_writer(url, f"{place:02d}", place) == b"1":
        with open_logbook(url) as logbook:
            kept = fits(logbook)
            assert [fit.serial for fit in kept] == [f"{one:02d} first" for one in range(1, place + 1)]
            assert all(len(fit.measurements) == len(MEASURED) for fit in kept)
            found = check(logbook)
            assert found.problems == ()
            assert list(found.rows.values()) == [place, place, place * len(MEASURED), 0]
        place += 1
    assert place - 1 >= PLACES


def test_a_writer_stopped_at_20_places_loses_nothing_and_leaves_no_half_row(tmp_path: Path) -> None:
    check_stops(str(tmp_path / "log.sqlite"))
