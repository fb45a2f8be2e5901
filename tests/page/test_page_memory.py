"""What visitors leave behind in the server: nothing, counted in objects."""

import asyncio
import json
import signal
import time
from pathlib import Path

import pytest

from tests.benchmarks.test_page_load import Dragger
from tests.page.running import RunningPage, running_page

OF_ONE_VISIT = 5000
"""Objects of one page that the search for garbage sees, roughly; counted on 2026-11-30."""


LONGEST_S = 12.0
"""After a visit the page waits for the tab's answer for at most 10 s."""


def held(page: RunningPage) -> dict[str, int]:
    """What the server holds once nobody is there; who asks and never comes is forgotten after 70 s."""
    end = time.monotonic() + 120
    while (found := _held_now(page))["visitors"] or found["tabs"]:
        assert time.monotonic() < end, found
        time.sleep(1)
    time.sleep(LONGEST_S)
    return _held_now(page)


def _held_now(page: RunningPage) -> dict[str, int]:
    written = page.output.parent / "held.json"
    written.unlink(missing_ok=True)
    page.process.send_signal(signal.SIGUSR1)
    for _ in range(300):
        time.sleep(0.1)
        if written.exists() and (text := written.read_text()):
            return dict(json.loads(text))
    raise AssertionError("the server did not say what it holds")


def visits(page: RunningPage, number: int) -> None:
    """Open the page, see the answer, leave, one after the other."""

    async def all_of_them() -> None:
        for seed in range(number):
            await Dragger(page, seed=seed).drag(0.0)

    asyncio.run(all_of_them())


@pytest.mark.full
def test_a_visit_leaves_nothing_behind(tmp_path: Path):
    with running_page(tmp_path, "--class", module="tests.page.counted") as page:
        visits(page, 3)
        before = held(page)
        visits(page, 20)
        after = held(page)
    assert after["objects"] - before["objects"] < 0.02 * 20 * OF_ONE_VISIT
