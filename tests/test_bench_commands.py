"""The bench's commands, as a person types them."""

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cases.bench.logbook.logbook import fits
from cases.bench.logbook.store import open_logbook
from cases.cli import app
from materials.errors import InputError
from tests.command import refused, said

FIT = ("logbook", "add", "1", "--upper", "0", "--lower", "0")
PAIR = ("pair", "fourteen-mahogany", "--reading", "1.8mm")


@pytest.fixture(autouse=True)
def own_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands are given in an empty folder, on a log of its own."""
    monkeypatch.setenv("NECKPRELOAD_LOG", str(tmp_path / "log.sqlite"))
    monkeypatch.chdir(tmp_path)


def add(serial: str, *more: str) -> str:
    return said(
        "logbook", "add", serial, "--upper", "0.10", "--lower=-0.05", "--started", "2025-05-04", *more
    )


def stopped(*arguments: str) -> tuple[str, str]:
    """What a command prints, and why it then stops."""
    done = CliRunner().invoke(app, list(arguments))
    assert isinstance(done.exception, InputError)
    return done.output, str(done.exception)


def test_a_guitar_is_added_measured_shown_and_amended(tmp_path: Path) -> None:
    measured = ("--measured", "action_bass=2.5mm", "--minutes-since-pitch", "720")
    first = add("00042", *measured, "--strings", "light")
    assert str(tmp_path / "log.sqlite") in first
    assert "strings acoustic-light" in first
    said("logbook", "add", "00042", "--measured", "action-treble=5/64in", "--measured", "kink=0.02deg")
    amended = said("logbook", "amend", "00042", "value", "2.6", "--measurement", "1", "--reason", "misread")
    assert "2.5 -> 2.6" in amended
    shown = said("logbook", "show", "00042")
    assert "measurement 1: action_bass 2.6 mm (strung, 720 min since pitch)" in shown
    assert "measurement 2: action_treble 1.98438 mm (strung)" in shown
    assert "amended" in shown
    assert said("label", "00042").splitlines()[-3:] == [
        "upper 0.10°, thick at nut",
        "lower -0.05°, thick at fretboard",
        "2025-05-04  attempt 1",
    ]
    assert "written to" in said("label", "00042", "--out", "label.svg")
    assert (tmp_path / "label.svg").exists()
    assert "1 fit in" in said("logbook", "list")
    assert "0 fits in" in said("logbook", "list", "--since", "2025-05-05")


def test_the_log_goes_out_and_in_and_is_backed_up(tmp_path: Path) -> None:
    add("00042")
    add("00043")
    said("logbook", "export", "out.csv")
    other = ("--log", "other.sqlite")
    dry = said("logbook", "import", "out.csv", *other)
    assert "2 new fits" in dry
    assert "dry run: nothing was added" in dry
    with open_logbook(tmp_path / "other.sqlite") as logbook:
        assert fits(logbook) == ()
    assert "2 fits and 0 measurements added" in said("logbook", "import", "out.csv", "--write", *other)
    assert "copied" in said("logbook", "backup", "copy.sqlite")
    assert "2 instrument rows" in said("logbook", "restore", "copy.sqlite", "--log", "third.sqlite")
    assert "log is valid" in said("logbook", "check", "--log", "third.sqlite")


def test_bad_lines_are_named_and_good_ones_kept_when_asked(tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text(
        "serial,started_utc,upper_deg,lower_deg,predicted\n"
        '001,2025-05-04T08:30:00Z,0.1,-0.05,"{""action_bass_mm"": 2.375186485878348}"\n'
        "002,2025-05-04T08:30:00Z,x,-0.05,\n"
    )
    assert "cannot be read" in stopped("logbook", "import", "none.csv", "--log", "none.sqlite")[1]
    assert not Path("none.sqlite").exists()
    told, wrong = stopped("logbook", "import", "in.csv")
    assert "in.csv row 3: upper_deg 'x'" in told
    assert wrong == (
        "in.csv: this row cannot be added: 3; correct it, or add only the good ones with --write --keep-good."
    )
    said("logbook", "import", "in.csv", "--keep-good")
    assert "nothing was added" in stopped("logbook", "import", "in.csv", "--write")[1]
    added = said("logbook", "import", "in.csv", "--write", "--keep-good")
    assert "1 fit and 0 measurements added" in added
    # shown to a thousandth, kept in full
    assert "predicted action_bass_mm 2.375\n" in said("logbook", "show", "001")
    with open_logbook(tmp_path / "log.sqlite") as logbook:
        assert fits(logbook)[0].predicted == {"action_bass_mm": 2.375186485878348}


def test_the_trend_charts_and_draws(tmp_path: Path) -> None:
    lines = "".join(
        f'{number:03d},2025-05-04T08:{number:02d}:00Z,0.1,-0.05,"{{""action_bass_mm"": 2.4}}",'
        f"action_bass,strung,{2.4 + 0.1 * (-1) ** number + 0.01 * (number % 7):.2f},mm\n"
        for number in range(40)
    )
    header = "serial,started_utc,upper_deg,lower_deg,predicted,kind,state,value,unit\n"
    (tmp_path / "in.csv").write_text(header + lines)
    said("logbook", "import", "in.csv", "--write")
    found = said("trend", "--out", "pictures", "--next", "10")
    assert "action_bass, measured minus predicted: 40 fits" in found
    assert "1.7 a month at 40 a day" in found
    assert "not charted: kink" in found
    assert "upper   0.10 deg:   40 used,   10 to stock" in found
    assert (tmp_path / "pictures" / "trend-action_bass.png").stat().st_size > 10_000
    (tmp_path / "taken").write_text("")
    few = ("--log", "few.sqlite")
    add("00042", *few)
    for log in ((), few):
        _, wrong = stopped("trend", "--out", "taken", *log)
        assert "--out taken: the folder cannot be written: a file has this" in wrong
    new = said("trend", "--out", "new", *few)
    assert "no picture in new: nothing was measured at pitch and predicted" in new
    assert re.search(r"--next = 0: .* allowed: 1 to 10000", refused("trend", "--next", "0"))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("logbook", "list"), "log a pair first"),
        (("logbook", "add", "1", "--upper", "0.1"), "give both --upper and --lower"),
        (("logbook", "add", "1"), "Nothing to add"),
        (("logbook", "add", "1", "--upper", "0.1", "--lower", "steep"), "--lower"),
        (("logbook", "add", "1", "--measured", "kink"), "write for example action_bass=2.4mm"),
        (("logbook", "add", "1", "--measured", "action=2mm"), "kind 'action' is not known"),
        (("logbook", "add", "1", "--measured", "kink=2mm"), "kink"),
        ((*FIT, "--started", "soon"), "this is not a day or a time"),
        ((*FIT, "--strings", "nope"), "lists all sets"),
        ((*FIT, "--started", "9999-12-31T23:59:59-12:00"), "a moment from 1900 until now is allowed"),
        ((*FIT, "--started", "0001-01-01T00:00:00+12:00"), "a moment from 1900 until now is allowed"),
        (("logbook", "add", "1", "--measured", "reading=1.8mm"), "give the state bare"),
        (
            ("logbook", "add", "1", "--measured", "relief=0.2mm", "--who", "Ann"),
            "--who applies only to a fit",
        ),
        ((*FIT, "--rh-percent", "50"), "--rh-percent describes a measurement"),
        ((*PAIR, "--serial", "1", "--reason", "repair"), "'new', 'swap' or 'return'"),
        ((*PAIR, "--serial", " "), "the serial is empty"),
        ((*PAIR, "--wood-batch", "m7"), "--wood-batch is for the logbook"),
        ((*PAIR, "--table"), "takes no other input, here --reading"),
        ((*PAIR, "--rh-percent", "0.45"), "looks like a fraction"),
        (("logbook", "list", "--log", "mysql://x"), "sqlite or postgresql"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(arguments: tuple[str, ...], words: str) -> None:
    assert words in refused(*arguments)


def test_a_guitar_whose_every_fit_is_struck_out_takes_nothing_and_gives_nothing() -> None:
    add("0005", "--measured", "relief=0.2mm")
    said("logbook", "export", "out.csv")
    said("logbook", "amend", "0005", "struck_out", "true", "--reason", "wrong guitar")
    for command in (
        ("logbook", "add", "0005", "--measured", "relief=0.1mm"),
        ("label", "0005"),
        ("label", "0005", "--attempt", "1"),
        ("swap", "fourteen-mahogany", "--serial", "0005", "--action-bass=2mm", "--action-treble=2mm"),
    ):
        assert re.search(r"Attempt 1 of .*'0005' is struck out.*0005 struck_out no", refused(*command))
    assert "nothing was added" in said("logbook", "import", "out.csv")
    more = Path("out.csv").read_text(encoding="utf-8").replace("relief,strung,0.2", "relief,strung,0.3")
    Path("more.csv").write_text(more, encoding="utf-8")
    assert "this row cannot be added: 2" in stopped("logbook", "import", "more.csv")[1]
    assert "STRUCK OUT" in said("logbook", "show", "0005")
    said("logbook", "amend", "0005", "struck_out", "no", "--attempt", "1", "--reason", "it was right")
    said("logbook", "add", "0005", "--measured", "relief=0.1mm")


def test_a_correction_takes_a_length_with_its_unit() -> None:
    add("0004", "--measured", "relief=0.2mm", "--measured", "kink=0.02deg")
    amended = ("logbook", "amend", "0004", "value", "--reason", "misread")
    assert "0.2 -> 0.254 in" in said(*amended, "0.01in", "--measurement", "1")
    assert "0.254 -> 0.3 in" in said(*amended, "0.3", "--measurement", "1")
    assert "0.02 -> 0.03 in" in said(*amended, "0.03deg", "--measurement", "2")
    assert "the unit mm is not known here" in refused(*amended, "1mm", "--measurement", "2")
    assert "0.1 -> 0.2" in said("logbook", "amend", "0004", "upper_deg", "0.2deg", "--reason", "slip")


def test_a_fit_given_to_another_guitar_is_told_by_the_serials() -> None:
    add("0001")
    add("0002")
    moved = said("logbook", "amend", "0002", "serial", "0003", "--reason", "wrong serial")
    assert moved.startswith('serial: "0002" -> "0003" in')
    assert 'serial "0002" -> "0003" (wrong serial)' in said("logbook", "show", "0003")


def test_a_guitar_that_is_new_twice_is_told() -> None:
    assert "WARNING" not in add("0001")
    again = add("0001")
    assert "WARNING: 0001 was fitted on 2025-05-04 already: this is its attempt 2, logged as new" in again
    assert "WARNING" not in add("0001", "--reason", "swap")
    paired = said(*PAIR, "--serial", "0001")
    assert "this is its attempt 4" in paired


@pytest.mark.parametrize("serial", ["=1+2", "'=1+2", "-5", "+1-1"])
def test_no_serial_is_a_formula_to_a_spreadsheet_and_all_come_back(serial: str) -> None:
    said("logbook", "add", "--upper", "0.10", "--lower=-0.05", "--", serial)
    said("logbook", "export", "out.csv")
    text = Path("out.csv").read_text(encoding="utf-8-sig")
    assert not text.splitlines()[1].startswith(("=", "@", "+1-"))
    assert ",-0.05," in text
    said("logbook", "import", "out.csv", "--write", "--log", "other.sqlite")
    assert f"{serial} attempt 1" in said("logbook", "show", "--log", "other.sqlite", "--", serial)
