"""The stored run of the outside program belongs to the deck written today, and can be run again."""

import shutil

import pytest

from tests.outside.plane_stress_neck import FINENESS, deck, digest, run, stored


def test_stored_numbers_belong_to_todays_deck():
    """A change of outline, thickness law or mesh asks for a new run of the outside program."""
    assert stored()["deck_sha256"] == digest(deck(FINENESS)), "run python -m tests.outside.plane_stress_neck"


def test_stored_numbers_have_converged():
    """Twice as fine moves the outside program's own lifts by under a hundredth, the corner being singular."""
    kept = stored()
    for point, lift in kept["lifts"].items():
        assert kept["lifts_on_a_mesh_half_as_fine"][point] == pytest.approx(lift, rel=1e-2)


@pytest.mark.full
@pytest.mark.skipif(shutil.which("ccx") is None, reason="the program ccx is not installed")
def test_the_outside_program_still_says_so():
    lifts, _ = run(deck(FINENESS))
    for point, lift in stored()["lifts"].items():
        assert getattr(lifts, point) == pytest.approx(lift, rel=1e-5)
