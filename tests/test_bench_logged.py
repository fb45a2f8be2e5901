"""A guitar in the log: only on its own case, with its own pair and its own reading."""

from functools import cache
from pathlib import Path

import pytest

from cases import load
from cases.bench.logbook.current_rows import Fit
from cases.bench.logbook.logbook import add_fit, case_text, latest_fit
from cases.bench.logbook.store import Logbook
from cases.bench.logbook.validation import NewFit
from cases.bench.shims.case_of_guitar import check_case, pair_of, reading_of
from cases.bench.shims.geometry import geometry_of
from cases.casefile.case import Case
from cases.casefile.files import loads
from materials.errors import InputError
from tests.benches import entry
from tests.command import refused, said

READINGS = [{"kind": "reading", "state": "bare", "value": one, "unit": "mm"} for one in (1.8, 1.9)]


@cache
def mine() -> Case:
    return loads(load("fourteen-mahogany").with_values({"name": "mine", "revision": "A"}).to_toml())


def told(**values: object) -> NewFit:
    """A guitar fitted on `mine`."""
    given = {"upper_deg": 0.12, "lower_deg": 0.04, "measurements": READINGS}
    return entry("7", **(given | {"case_sha256": mine().sha256, "case_text": mine().text} | values))


@pytest.fixture
def fit(logbook: Logbook) -> Fit:
    return add_fit(logbook, told())


def test_a_case_renamed_or_revised_is_the_same_one_and_said(fit: Fit) -> None:
    text = mine().text
    assert check_case(fit, text, mine()) is None
    with pytest.raises(InputError, match=r"on the case mine, not on fourteen-maple; give mine, or leave"):
        check_case(fit, text, load("fourteen-maple"))
    renamed = check_case(fit, text, mine().with_values({"name": "other", "note": "new name"}))
    assert renamed == "7 was fitted on this case under the name mine."
    revised = check_case(fit, text, mine().with_values({"revision": "B", "neck.e_l_gpa": 9.0}))
    assert revised is not None
    assert "on mine revision A with other values" in revised
    assert "the present mine revision B" in revised
    assert check_case(fit, text, mine().with_values({"note": "seen again"})) is None
    assert check_case(fit, text, mine().with_values({"revision": "B"})) == (
        "7 was fitted on mine revision A; this result uses the present mine revision B."
    )
    with pytest.raises(InputError, match="not on other"):
        check_case(fit, text, mine().with_values({"name": "other", "neck.e_l_gpa": 9.0}))


def test_a_log_that_names_no_case_is_taken_and_said(fit: Fit) -> None:
    nameless = fit.model_copy(update={"case_sha256": None})
    assert "does not say on which case" in (check_case(nameless, None, mine()) or "")
    assert check_case(fit, None, mine()) is None
    assert "with other values" in (check_case(fit, None, load("fourteen-maple")) or "")


def test_a_pair_or_a_reading_that_is_not_the_logs_is_refused_with_both(fit: Fit) -> None:
    assert pair_of(fit, None, None) == pair_of(fit, 0.12, None) == (0.12, 0.04)
    with pytest.raises(InputError, match=r"upper \+0\.20, lower \+0\.00 .* upper \+0\.12, lower \+0\.04"):
        pair_of(fit, 0.2, 0.0)
    geometry = geometry_of(mine())
    assert reading_of(fit, geometry, None, error_mm=0.05) == pytest.approx(1.85)
    assert reading_of(fit, geometry, 1.8, error_mm=0.05) == pytest.approx(1.85)
    with pytest.raises(InputError, match=r"2\.50 mm is given, but the log has 1\.85 mm"):
        reading_of(fit, geometry, 2.5, error_mm=0.05)
    unread = fit.model_copy(update={"measurements": ()})
    assert reading_of(unread, geometry, 2.5, error_mm=0.05) == 2.5


def test_the_command_refuses_before_it_solves(logbook: Logbook, fit: Fit, tmp_path: Path) -> None:
    actions = ["--serial", "7", "--action-bass", "3.1mm", "--action-treble", "2.4mm"]
    log = ["--log", logbook.where]
    assert "fitted on the case mine" in refused("swap", "fourteen-maple", *actions, *log)
    # a swap logged since without its case is still that guitar
    add_fit(logbook, told(case_sha256=None, case_text=None, reason="swap", measurements=()))
    assert "fitted on the case mine" in refused("swap", "fourteen-maple", *actions, *log)
    (tmp_path / "mine.toml").write_text(mine().to_toml())
    wrong = refused("swap", tmp_path / "mine.toml", *actions, "--upper", "0.2", *log)
    assert "is given, the log has" in wrong


def test_a_pair_logged_with_set_keeps_its_case(logbook: Logbook) -> None:
    logged = ["--serial", "7", "--set", "neck.e_l_gpa=9.5", "--log", logbook.where]
    said("pair", "fourteen-mahogany", "--reading", "1.8mm", *logged)
    fit = latest_fit(logbook, "7")
    text = case_text(logbook, fit)
    with pytest.raises(InputError, match="on the case fourteen-mahogany, not on fourteen-maple"):
        check_case(fit, text, load("fourteen-maple"))
