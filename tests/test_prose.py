"""Each figure in prose that a command shows is the command's, and the others are on a list with a reason."""

from pathlib import Path

import pytest

from tests.prose import EXCEPTIONS, MARK, QUOTED, misquoted, outdated, pages, renewed, unmarked, value

MARKED = [page for page in pages() if MARK.search(page.read_text(encoding="utf-8"))]


SLOW = ("theory-joint.md", "tutorial-heavier-strings.md", "tutorial-mahogany-maple.md")
"""Pages whose figures come from many commands; the tutorials' own blocks run in every test run."""


@pytest.mark.parametrize(
    "page",
    [pytest.param(page, id=page.name, marks=[pytest.mark.full] * (page.name in SLOW)) for page in MARKED],
)
def test_a_marked_figure_is_that_of_its_command(page: Path) -> None:
    found = outdated(page.read_text(encoding="utf-8"))
    assert not found, f"run python -m tests.fill_docs {page.name}: {found}"


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.name)
def test_a_page_quotes_another_as_it_is(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert not misquoted(text), "the page quoted says otherwise"
    assert text.count("<!-- in ") == len(QUOTED.findall(text)), "write `A of B<!-- in docs/PAGE.md -->`"


def test_there_are_marked_figures() -> None:
    assert {page.name for page in MARKED} >= {"limits.md", "tutorial-heavier-strings.md"}


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.name)
def test_an_angle_in_prose_is_marked_or_excepted(page: Path) -> None:
    found = list(unmarked(page))
    assert not found, f"give these a mark, or their heading a place in EXCEPTIONS: {found}"


def test_a_wrong_quotation_is_found() -> None:
    assert misquoted("off by 88 to 99 %<!-- in docs/solid.md -->, no more") == ["88 to 99 %, docs/solid.md"]


def test_no_exception_outlives_its_page() -> None:
    names = [page.name for page in pages()]
    gone = [name for name, _ in EXCEPTIONS if not any(page.startswith(name) for page in names)]
    assert not gone


def test_a_wrong_figure_is_found_and_renewed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.prose.printed", lambda command: {"band": [-0.25, 1.0], "text": "x"})
    text = "from -0.31<!-- offset a: band.0 --> to +0.9<!-- offset a: band.1 --> deg"
    assert len(outdated(text)) == 1
    assert renewed(text) == "from -0.25<!-- offset a: band.0 --> to +1.0<!-- offset a: band.1 --> deg"
    for key in ("band.2", "none", "text", "band.x"):
        with pytest.raises(LookupError, match=r"correct the mark|no number"):
            value("offset a", key)
