"""docs/month.md: every `$ neckpreload` line runs, in the order of the page, in one folder."""

from pathlib import Path

import pytest

from tests.command import Command
from tests.pages import PAGES, blocks, run_block

PAGE = PAGES / "month.md"
BLOCKS = [block for block in blocks(PAGE) if any(block.calls())]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workshop's folder, the same for the whole month."""
    return tmp_path_factory.mktemp("month")


@pytest.fixture(scope="module")
def ran() -> set[int]:
    """Numbers of the sections that have run in that folder."""
    return set()


@pytest.mark.parametrize(
    "number",
    [
        pytest.param(number, id=block.id, marks=[pytest.mark.full] * block.full)
        for number, block in enumerate(BLOCKS)
    ],
)
def test_a_section_runs(
    number: int, folder: Path, ran: set[int], command: Command, monkeypatch: pytest.MonkeyPatch
):
    """A section needs the files of those before it, so any that were not selected run first."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("NECKPRELOAD_LOG", f"sqlite:///{folder / 'log.sqlite'}")
    for earlier in range(number):
        if earlier not in ran and not BLOCKS[earlier].full:
            run_block(BLOCKS[earlier], command)
            ran.add(earlier)
    assert run_block(BLOCKS[number], command)
    ran.add(number)


def test_the_month_has_its_first_sections():
    commands = {call.arguments[0] for block in BLOCKS for call in block.calls()}
    assert {"new", "check", "offset", "compare", "sensitivity"} <= commands
