"""The tutorials: their commands run, print what the page shows, and their Python does what it says."""

import doctest
from pathlib import Path

import pytest

from tests.command import Command
from tests.fill_docs import filled
from tests.pages import PAGES, Block, alike, blocks, missing, run_block

TUTORIALS = sorted(PAGES.glob("tutorial-*.md"))
HOME = PAGES / "index.md"
OPTIONS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def run_python(block: Block, *, page: Path, names: dict[str, object]) -> doctest.TestResults:
    """Run a block of `>>>` lines; names made in one block are there in the next."""
    test = doctest.DocTestParser().get_doctest(block.text, names, page.name, str(page), 0)
    runner = doctest.DocTestRunner(optionflags=OPTIONS, verbose=False)
    runner.run(test, clear_globs=False)
    names.update(test.globs)
    return runner.summarize(verbose=False)


@pytest.mark.parametrize("page", TUTORIALS, ids=lambda page: page.stem)
def test_a_tutorial_runs(page: Path, command: Command, capsys: pytest.CaptureFixture[str]):
    names: dict[str, object] = {}
    ran = 0
    for block in blocks(page):
        if block.language == "console" and not block.full:
            ran += run_block(block, command)
        if block.language == "python":
            results = run_python(block, page=page, names=names)
            assert results.failed == 0, capsys.readouterr().out
            ran += results.attempted
    assert ran >= 3, "a tutorial shows at least three steps"


def test_the_home_page_s_screen_is_the_command_s(command: Command):
    (block,) = (block for block in blocks(HOME) if block.language == "console")
    assert run_block(block, command) == 1


def test_there_are_tutorials():
    assert {"tutorial-heavier-strings", "tutorial-mahogany-maple", "tutorial-where-does-it-flex"} <= {
        page.stem for page in TUTORIALS
    }


@pytest.mark.parametrize(
    ("shown", "printed", "same"),
    [
        ("offset -0.102 deg", "  offset   -0.100 deg", True),
        ("offset -0.102 deg", "offset -0.130 deg", False),
        ("keep the pair", "change the pair", False),
        ("727 N", "757 N", True),
        ("727 N", "800 N", False),
    ],
)
def test_lines_are_compared_by_words_and_numbers(shown: str, printed: str, same: bool):
    assert alike(shown, printed) is same


def test_shown_lines_must_come_in_order():
    assert missing(("b 1", "a 2"), "a 2\nb 1\n") == ["a 2"]
    assert missing(("a 2", "b 1"), "x\na 2\ny\nb 1\n") == []


PRINTED = ["one 1.5 mm", "row 3 30", "row 4 40", "other words", "end 9"]


@pytest.mark.parametrize(
    ("shown", "renewed", "lost"),
    [
        (["one 1.0 mm"], PRINTED, []),
        (["# full: slow", "one 1.0 mm", ""], ["# full: slow", *PRINTED, ""], []),
        (["...", "row 4 41", "..."], ["...", "row 4 40", "..."], []),
        (["...", "row 4 41", "old words", "end 8"], ["...", "row 4 40", "other words", "end 9"], []),
        (["...", "old words", "end 8"], ["...", "old words", "end 8"], ["old words"]),
        ([], [], []),
    ],
    ids=("whole", "comment", "nearest row", "text inside a passage", "lost", "nothing shown"),
)
def test_quoted_output_is_renewed(shown: list[str], renewed: list[str], lost: list[str]):
    assert filled(shown, PRINTED) == (renewed, lost)
