"""Two people at one page and one at the command line log 1,000 fits at once, on the same guitars."""

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from cases.bench.logbook.backup import check
from cases.bench.logbook.logbook import fits
from cases.bench.logbook.store import open_logbook

AT_THE_PAGE, AT_THE_COMMAND, GUITARS = 333, 334, 50

# The page's own desk, without a browser: two visitors take turns in one process.
PAGE = """
import asyncio, sys
from cases import load
from cases.bench.shims.fit_entry import fit_entry
from cases.page.bench_typed import Typed
from cases.page.benchdesk import BenchDesk
from cases.page.room import Room
from cases.page.settings import PageSettings
from cases.page.work import Workroom
url, count, guitars = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
room = Room(PageSettings(log=url))
workers = Workroom(workers=1, workshop=room.settings.workshop)
case = load("fourteen-mahogany")
async def visitor(who):
    desk = BenchDesk(room, workers)
    for number in range(count):
        desk.scan(f"{number % guitars:05d}")
        around = dict(serial=desk.serial, reason="new", who=who)
        desk._log(fit_entry(case, (0.08, -0.04), {"action_bass_mm": 2.4}, calibration_id=None, around=around))
        desk.log_at_pitch(Typed(texts={"action_bass": "2,5", "action_treble": "2.0"}))
        print(desk.serial, flush=True)
        await asyncio.sleep(0)
async def both():
    await asyncio.gather(visitor("Ada"), visitor("Ben"))
asyncio.run(both())
workers.close()
"""
COMMAND = """
import sys
from cases.cli import main
url, count, guitars = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
for number in range(count):
    serial = f"{number % guitars:05d}"
    sys.argv = ["neckpreload", "logbook", "add", serial, "--upper=0.08", "--lower=-0.04", "--who=Cem",
                "--case=fourteen-mahogany", "--measured=action_bass=2.5mm", "--measured=action_treble=2mm",
                "--log", url]
    try:
        code = main()
    except SystemExit as end:
        code = end.code
    assert not code, code
"""


def check_three_people(url: str) -> None:
    """Nobody's fit is lost or counted twice, and every attempt on a guitar has a number of its own."""
    with open_logbook(url):
        pass
    people = [
        subprocess.Popen(
            [sys.executable, "-c", script, url, str(count), str(GUITARS)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for script, count in ((PAGE, AT_THE_PAGE), (COMMAND, AT_THE_COMMAND))
    ]  # fmt: skip
    try:
        for process in people:
            _, error = process.communicate(timeout=900)
            assert process.returncode == 0, error
    finally:
        for process in people:
            process.kill()
    with open_logbook(url) as logbook:
        kept = fits(logbook)
        assert Counter(fit.who for fit in kept) == {
            "Ada": AT_THE_PAGE, "Ben": AT_THE_PAGE, "Cem": AT_THE_COMMAND,
        }  # fmt: skip
        attempts: dict[str, list[int]] = {}
        for fit in kept:
            attempts.setdefault(fit.serial, []).append(fit.attempt)
        assert len(attempts) == GUITARS
        assert all(numbers == list(range(1, len(numbers) + 1)) for numbers in attempts.values())
        assert sum(len(fit.measurements) for fit in kept) == 2 * len(kept) == 2000
        assert check(logbook).problems == ()


@pytest.mark.full
def test_three_people_log_a_thousand_fits_in_one_file(tmp_path: Path) -> None:
    check_three_people(str(tmp_path / "log.sqlite"))
