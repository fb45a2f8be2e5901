"""The command as a person meets it: what it prints, its exit code, and one sentence for every wrong input."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from cases import cli
from cases.casefile.files import library_names, load
from fem.errors import ConvergenceError, ModelError


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Run in an empty folder, with no settings of the user's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("cases.casefile.workshop.user_workshop_path", lambda: tmp_path / "none.toml")
    return tmp_path


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["neckpreload", *arguments])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    return caught.value.code if isinstance(caught.value.code, int) else 0


def test_cases_lists_the_library(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(monkeypatch, "cases") == 0
    printed = capsys.readouterr().out
    assert all(name in printed for name in library_names())
    assert "error" not in printed


def test_cases_says_which_are_wrong_or_twice(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (elsewhere / "guitars").mkdir()
    (elsewhere / "workshop.toml").write_text('cases_folder = "guitars"')
    (elsewhere / "guitars" / "broken.toml").write_text("[neck]\n")
    (elsewhere / "guitars" / "twelve-string.toml").write_text(load("twelve-string").to_toml())
    assert run(monkeypatch, "cases") == 0
    printed = capsys.readouterr().out
    assert "see: neckpreload check broken" in printed
    assert "rename your file" in printed


def test_new_then_check(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "new", "mine", "--like", "twelve-string") == 0
    assert (elsewhere / "mine.toml").is_file()
    assert run(monkeypatch, "check", "mine.toml", "--assumed") == 0
    printed = capsys.readouterr().out
    assert "mine: file is valid" in printed
    assert "scatter.neck_e_cov = 0.22: USDA FPL Wood Handbook" in printed
    assert run(monkeypatch, "new", "mine") == 2


def test_check_with_settings(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(monkeypatch, "check", "fourteen-mahogany", "--set", "heel.height_mm=3.8in") == 0
    assert run(monkeypatch, "check", "fourteen-mahogany", "--set", "instrument.scale_mm=0.6477") == 2
    printed = capsys.readouterr().err
    assert printed.count("\n") == 1
    assert "it looks like metres: write 647.7" in printed


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "nothing"),
        ("check", "nothing.toml"),
        ("check", "fourteen-mahogany", "--set", "x"),
        ("check", "fourteen-mahogany", "--set", "neck.wood=sapele", "--set", "neck.wood=maple-sugar"),
        ("offset", "fourteen-mahogany", "--strings", "medium", "--set", "strings.set=acoustic-heavy"),
        ("check", "fourteen-mahogany", "--set", "targets.kink_deg=0.1", "--set", "targets.tongue_gap_mm=0.1"),
        ("check", "fourteen-mahogany", "--set", "name=../zz"),
        ("check", "fourteen-mahogany", "--set", "neck.wod=oak"),
        ("check", "fourteen-mahogany", "--workshop", "none.toml"),
        ("new", "a/b"),
        ("woods", "oakk"),
        ("strings", "lihgt"),
        ("strings", "light", "--scale-mm", "25.5"),
        ("strings", "light", "--scale-mm", "x"),
        ("strings", "light", "--tuning", "E2 A2"),
        ("strings", "light", "--tuning", "E2 A2 D3 G3 B3 X4"),
        ("check", "\x1b[31mred\x07"),
    ],
)
def test_wrong_input_is_one_sentence_and_exit_code_2(
    arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, *arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith("neckpreload: ")
    assert "Traceback" not in printed.err
    assert "\x1b" not in printed.err


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (
            "offsett",
            "offsett: there is no such command; allowed: those of neckpreload --help; perhaps offset.",
        ),
        ("calibrate x", "x: there is no such command; allowed: those of neckpreload calibrate --help"),
        ("check --nothing", "--nothing: there is no such option; allowed: those of neckpreload check --help"),
        ("offset x --strngs light", "perhaps --strings"),
        ("offset", "CASE is missing (a case by its name, or the path of a .toml file); add it"),
        ("sheet x", "--out is missing"),
        ("offset x y", 'neckpreload offset: unexpected "y"; remove it'),
        ("offset x --json=3", "--json: it takes no value"),
        ("drift x --years", "--years: a value is missing"),
        ("drift x --years zwanzig", '--years = "zwanzig": this is not a number; allowed: a number in digits'),
        ("spread x --necks 1e4", '--necks = "1e4": this is not a whole number'),
        ("trend --next 20.5", '--next = "20.5": this is not a whole number'),
        (
            "sheet x --out a.pdf --date 5.3.2026",
            '--date = "5.3.2026": this is not a date; allowed: year-month',
        ),
    ],
)
def test_a_line_that_the_parser_refuses_is_one_plain_sentence(
    line: str, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, *line.split()) == 2
    printed = capsys.readouterr()
    assert words in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == ""


def test_nothing_typed_prints_the_help(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch) == 2
    assert "Commands:" in capsys.readouterr().err


def test_woods(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(monkeypatch, "woods") == 0
    assert capsys.readouterr().out.count("\n") >= 45
    assert run(monkeypatch, "woods", "spanish-cedar") == 0
    printed = capsys.readouterr().out
    assert "e_l" in printed
    assert "1.10 x MOE" in printed
    assert "stand in" in printed or "borrow" in printed


def test_strings(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    tuning = "E2 A2 D3 G3 B3 E4"
    assert run(monkeypatch, "strings", "acoustic-light", "--scale-mm", "647.7", "--tuning", tuning) == 0
    printed = capsys.readouterr().out
    # 727 N (163.4 lbf) for 12 16 24w 32w 42w 53w at 647.7 mm: derived from unit weights, from memory.
    assert "726.8" in printed
    assert "163.40" in printed
    assert run(monkeypatch, "strings", "light", "--scale-mm", "25.5in") == 0
    assert "726.8" in capsys.readouterr().out
    assert run(monkeypatch, "strings") == 0
    assert "twelve-string-light" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        ("25.5", "--scale-mm = 25.5: too small; allowed: 250 to 1200 mm; it looks like inches: write 647.7."),
        ("0.648", "--scale-mm = 0.648: too small; allowed: 250 to 1200 mm; it looks like metres: write 648."),
        ("-5", "--scale-mm = -5: too small; allowed: 250 to 1200 mm"),
        ("9999", "--scale-mm = 9999: too large"),
    ],
)
def test_a_scale_out_of_reach_is_said_in_the_options_own_unit(
    scale: str, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(monkeypatch, "strings", "heavy", "--scale-mm", scale) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (ConvergenceError("it did not settle; loosen the bolts"), 1, "neckpreload: it did not settle"),
        (ModelError("the heel has no cells; give it a length"), 2, "neckpreload: the heel has no cells"),
        (ValueError("boom"), 1, "unexpected ValueError: boom; this is a fault of the program"),
    ],
)
def test_other_errors(
    error: Exception,
    code: int,
    words: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def fail(**_: object) -> None:
        raise error

    monkeypatch.setattr(cli, "app", fail)
    monkeypatch.delenv("NECKPRELOAD_DEBUG", raising=False)
    assert run(monkeypatch) == code
    assert words in capsys.readouterr().err


def test_debug_shows_where(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(**_: object) -> None:
        raise ValueError("boom")

    monkeypatch.setattr(cli, "app", fail)
    monkeypatch.setenv("NECKPRELOAD_DEBUG", "1")
    with pytest.raises(ValueError, match="boom"):
        cli.main()


def test_start_is_light() -> None:
    """Asking for help must not pay for arrays, plots or solvers."""
    heavy = "{'numpy', 'scipy', 'skfem', 'matplotlib', 'pydantic'}"
    code = f"import sys, cases.cli; print(sorted({heavy} & set(sys.modules)))"
    environment = {**os.environ, "PYTHONPATH": str(Path(cli.__file__).parent.parent)}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stdout.strip() == "[]"


def test_version_in_a_process_of_its_own() -> None:
    environment = {
        **os.environ,
        "PYTHONPATH": str(Path(cli.__file__).parent.parent),
        "PYTHONIOENCODING": "ascii",
    }
    command = [sys.executable, "-m", "cases.cli"]
    done = subprocess.run([*command, "--version"], capture_output=True, text=True, env=environment)
    assert (done.returncode, done.stdout.strip()) == (0, "0.1.0")
    done = subprocess.run([*command, "check", "sch\u00f6n"], capture_output=True, text=True, env=environment)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def run_apart(*words: str, stdout: int, **variables: str) -> tuple[int, str]:
    """Run the command in a process of its own; return exit code and what it said on the error stream."""
    environment = {**os.environ, "PYTHONPATH": str(Path(cli.__file__).parent.parent), **variables}
    command = [sys.executable, "-m", "cases.cli", *words]
    done = subprocess.run(command, stdout=stdout, stderr=subprocess.PIPE, text=True, env=environment)
    return done.returncode, done.stderr


def test_whoever_reads_only_the_first_line_has_no_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        assert run_apart("woods", stdout=writing) == (0, "")
    finally:
        os.close(writing)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_no_fault_of_the_program() -> None:
    with Path("/dev/full").open("w") as full:
        code, said = run_apart("woods", stdout=full.fileno())
    assert code == 1
    assert said == (
        "neckpreload: cannot write more: No space left on device; free some space and try again\n"
    )


def test_the_sheet_says_nothing_of_where_pictures_keep_their_cache(elsewhere: Path) -> None:
    (elsewhere / "file").touch()
    nowhere = str(elsewhere / "file" / "home")
    words = ("sheet", "fourteen-mahogany", "--out", "sheet.pdf")
    assert run_apart(*words, stdout=subprocess.DEVNULL, HOME=nowhere, MPLCONFIGDIR="") == (0, "")
