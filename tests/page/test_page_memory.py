"""What visitors leave behind in the server: nothing, counted in objects."""

import asyncio
import json
import signal
import time
from pathlib import Path

import pytest

from cases.page.memory import ALLOCATOR, _trim
from tests.benchmarks.test_page_load import Dragger
from tests.page.running import RunningPage, running_page

OF_ONE_VISIT = 5000
"""Objects of one page that the search for garbage sees, roughly; counted on 2026-11-30."""


def held(page: RunningPage) -> dict[str, int]:
    """What the server holds once nobody is there; who asks and never comes is forgotten after 70 s."""
    written = page.output.parent / "held.json"
    end = time.monotonic() + 120
    while True:
        written.unlink(missing_ok=True)
        page.process.send_signal(signal.SIGUSR1)
        for _ in range(100):
            time.sleep(0.1)
            if written.exists() and (text := written.read_text()):
                break
        else:
            raise AssertionError("the server did not say what it holds")
        found = json.loads(text)
        if found["visitors"] == found["tabs"] == 0:
            return found
        assert time.monotonic() < end, found


def visits(page: RunningPage, number: int) -> None:
    """Open the page, see the answer, leave, one after the other."""

    async def all_of_them() -> None:
        for seed in range(number):
            await Dragger(page, new_places=False, seed=seed).drag(0.0)

    asyncio.run(all_of_them())


@pytest.mark.full
def test_a_visit_leaves_nothing_behind(tmp_path: Path):
    with running_page(tmp_path, "--class", module="tests.page.counted") as page:
        visits(page, 3)
        before = held(page)
        visits(page, 20)
        after = held(page)
    assert after["objects"] - before["objects"] < 0.02 * 20 * OF_ONE_VISIT


@pytest.mark.skipif(_trim is None, reason="the C library cannot give memory back")
def test_the_server_runs_on_the_allocator_that_gives_memory_back(tmp_path: Path):
    with running_page(tmp_path, "--class") as page:
        variables = Path(f"/proc/{page.process.pid}/environ").read_bytes().split(b"\0")
    assert f"{ALLOCATOR}=malloc".encode() in variables
