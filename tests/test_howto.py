"""docs/howto.md: every `$ neckpreload` line runs, in the order of the page, in one folder."""

from pathlib import Path

import pytest

from tests.command import Command
from tests.pages import PAGES, Block, blocks, run_block

PAGE = PAGES / "howto.md"
BLOCKS = blocks(PAGE)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The reader's folder, with the points and the load cases of the page saved as it says."""
    made = tmp_path_factory.mktemp("howto")
    (points,) = (block.text for block in BLOCKS if block.language == "csv")
    (made / "heel.csv").write_text(points)
    (loads,) = (block.text for block in BLOCKS if block.language == "toml" and block.heading == "Load cases")
    (made / "loads.toml").write_text(loads)
    return made


@pytest.mark.parametrize(
    "block", [pytest.param(one, id=one.id) for one in BLOCKS if one.language == "console"]
)
def test_a_recipe_runs(block: Block, folder: Path, command: Command, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(folder)
    assert run_block(block, command)


def test_the_usual_recipes_are_there():
    headings = {block.heading for block in BLOCKS}
    assert {"My own neck", "My own wood", "A stiffer heel", "Import an outline"} <= headings
    assert {"## Read the checks", "## Use the JSON"} <= set(PAGE.read_text(encoding="utf-8").splitlines())
