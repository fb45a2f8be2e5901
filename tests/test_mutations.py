"""The breakages fit the formulas as they stand, and in a full run the tests notice each of them."""

import pytest

from tests.breakages import BREAKAGES, BY_A_STRANGER, FROM_THEORY, Breakage
from tests.mutations import ROOT, main


def test_enough_is_broken() -> None:
    assert len({one.what for one in BREAKAGES}) >= 15
    assert len({one.what for one in FROM_THEORY}) == 5
    assert len({one.what for one in BY_A_STRANGER}) == 8


@pytest.mark.parametrize("one", [*BREAKAGES, *FROM_THEORY, *BY_A_STRANGER], ids=lambda one: one.what)
def test_the_formula_stands_once(one: Breakage) -> None:
    assert (ROOT / one.file).read_text(encoding="utf-8").count(one.old) == 1
    assert one.old != one.new
    for name in one.tests:
        assert (ROOT / name.partition("::")[0]).is_file()


@pytest.mark.full
def test_every_breakage_is_noticed() -> None:
    assert main([]) == 0
