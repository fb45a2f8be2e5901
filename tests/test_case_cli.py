"""The command as a person meets it: what it prints, its exit code, and one sentence for every wrong input."""

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from cases import cli
from cases.casefile.files import library_names, load
from cases.commands.output import progress_lines, working
from fem.errors import ConvergenceError, ModelError
from materials.errors import NeckpreloadError
from tests.command import Command
from tests.house import ROOT

VERSION = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]


def test_cases_lists_the_library_and_what_is_wrong_or_twice(command: Command, tmp_path: Path) -> None:
    listed = command("cases")
    assert listed.code == 0
    assert all(name in listed.out for name in library_names())
    assert "error" not in listed.out
    (tmp_path / "guitars").mkdir()
    (tmp_path / "workshop.toml").write_text('cases_folder = "guitars"')
    (tmp_path / "guitars" / "broken.toml").write_text("[neck]\n")
    (tmp_path / "guitars" / "twelve-string.toml").write_text(load("twelve-string").to_toml())
    listed = command("cases")
    assert listed.code == 0
    assert "see: neckpreload check broken" in listed.out
    assert "rename your file" in listed.out


def test_new_then_check(command: Command, tmp_path: Path) -> None:
    assert command("new", "mine", "--like", "twelve-string").code == 0
    assert (tmp_path / "mine.toml").is_file()
    checked = command("check", "mine.toml", "--assumed", "--set", "heel.height_mm=3.8in")
    assert checked.code == 0
    assert "mine: file is valid" in checked.out
    assert "scatter.neck_e_cov = 0.22: Wood Handbook [fpl2010]" in checked.out
    assert command("new", "mine").code == 2


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("check nothing", "there is no such case"),
        ("check fourteen-mahogany --set x", "this is not key=value"),
        ("check fourteen-mahogany --set neck.wod=oak", "neck.wood"),
        ("check fourteen-mahogany --set neck.wood=sapele --set neck.wood=maple-sugar", "it is set twice"),
        ("offset fourteen-mahogany --strings medium --set strings.set=acoustic-heavy", "it is set twice"),
        ("offset fourteen-mahogany --strings medium --strings=heavy", "--strings: it is given twice"),
        (
            "neck-woods fourteen-mahogany --neck-wood sapele --neck-wood maple-sugar",
            "--neck-wood: it is given",
        ),
        ("logbook list --log a.sqlite --log b.sqlite", "--log: it is given twice"),
        ("check fourteen-mahogany --set targets.kink_deg=0.1 --set targets.tongue_gap_mm=0.1", "only one"),
        ("check fourteen-mahogany --set instrument.scale_mm=0.6477", "it looks like metres: write 647.7"),
        ("check fourteen-mahogany --workshop none.toml", "there is no such file"),
        ("new a/b", "this cannot be the name of a case"),
        ("woods oakk", "oak"),
        ("strings lihgt", "light"),
        ("strings light --scale-mm x", "--scale-mm"),
        ("strings light --scale-mm 25.5", "allowed: 250 to 1200 mm; it looks like inches: write 647.7."),
        ("strings light --scale-mm 0.648", "allowed: 250 to 1200 mm; it looks like metres: write 648."),
        ("strings light --scale-mm -5", "--scale-mm = -5: too small; allowed: 250 to 1200 mm"),
        ("strings light --scale-mm 9999", "--scale-mm = 9999: too large"),
        ("strings light --tuning E2A2", "'E2A2' is not a note name"),
        ("check \x1b[31mred\x07", "there is no such case"),
        ("offsett", "there is no such command; allowed: those of neckpreload --help; perhaps offset."),
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
        ("sheet x --out a.pdf --date 5.3.2026", '"5.3.2026": this is not a date; allowed: year-month'),
        ("logbook show 1 2 3", 'neckpreload logbook show: unexpected "2 3"; remove it'),
    ],
)
def test_wrong_input_is_one_sentence_and_exit_code_2(line: str, words: str, command: Command) -> None:
    refused = command(*line.split(" "))
    assert (refused.code, refused.out) == (2, "")
    assert refused.err.startswith("neckpreload: ")
    assert words in refused.err
    assert refused.err.count("\n") == 1
    assert "\x1b" not in refused.err


@pytest.mark.parametrize("words", [(), ("calibrate",)])
def test_nothing_typed_prints_the_help(words: tuple[str, ...], command: Command) -> None:
    printed = command(*words)
    assert printed.code == 2
    assert printed.err.startswith("Usage: ")
    assert "Commands:" in printed.err


def test_woods(command: Command) -> None:
    assert command("woods").out.count("\n") >= 45
    printed = command("woods", "spanish-cedar")
    assert printed.code == 0
    assert "e_l" in printed.out
    assert "1.10 x MOE" in printed.out
    assert "note: " in printed.out


def test_strings(command: Command) -> None:
    # 722.9 N for 12 16 24w 32w 42w 53w at 647.7 mm: densities, pi/4 and core ratios by hand.
    tuned = command("strings", "acoustic-light", "--scale-mm", "647.7", "--tuning", "E2 A2 D3 G3 B3 E4")
    assert (tuned.code, "722.9" in tuned.out, "162.51" in tuned.out) == (0, True, True)
    assert "722.9" in command("strings", "light", "--scale-mm", "25.5in").out
    assert "twelve-string-light" in command("strings").out


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (ConvergenceError("it did not settle; loosen the bolts"), 1, "neckpreload: it did not settle"),
        (ModelError("the heel has no cells; give it a length"), 2, "neckpreload: the heel has no cells"),
        (ValueError("boom"), 1, "unexpected ValueError: boom; this is a fault of the program"),
    ],
)
def test_other_errors(
    error: Exception, code: int, words: str, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_: object) -> None:
        raise error

    monkeypatch.setattr(cli, "app", fail)
    monkeypatch.delenv("NECKPRELOAD_DEBUG", raising=False)
    ended = command()
    assert (ended.code, words in ended.err) == (code, True)
    if not isinstance(error, NeckpreloadError):
        monkeypatch.setenv("NECKPRELOAD_DEBUG", "1")
        with pytest.raises(type(error), match=str(error)):
            cli.main()


def run_apart(*words: str, stdout: int = subprocess.PIPE, **variables: str) -> tuple[int, str, str]:
    """Run Python in a process of its own; return exit code and what it said on its two streams."""
    environment = {**os.environ, "PYTHONPATH": str(Path(cli.__file__).parent.parent), **variables}
    done = subprocess.run(
        [sys.executable, *words], stdout=stdout, stderr=subprocess.PIPE, text=True, env=environment
    )
    return done.returncode, (done.stdout or "").strip(), done.stderr


def test_start_is_light() -> None:
    """Asking for help must not pay for arrays, plots or solvers."""
    heavy = "{'numpy', 'scipy', 'skfem', 'matplotlib', 'pydantic'}"
    code = f"import sys, cases.cli; print(sorted({heavy} & set(sys.modules)))"
    assert run_apart("-c", code) == (0, "[]", "")


def test_garbage_is_searched_for_less_often_but_not_by_the_server() -> None:
    code = "import atexit, gc, sys; from cases import cli; from cases.commands import page; "
    code += "atexit.register(lambda: print(gc.get_threshold()[0], page.PYTHONS_OWN == usual)); "
    code += "sys.argv[1:] = ['--version']; cli.main()"
    ended = run_apart(
        "-c", code.replace("from cases import", "usual = gc.get_threshold(); from cases import", 1)
    )
    assert ended == (0, f"{VERSION}\n{cli.NEW_OBJECTS} True", "")


def test_the_command_in_a_process_of_its_own() -> None:
    assert run_apart("-m", "cases.cli", "--version") == (0, VERSION, "")
    code, _, said = run_apart("-m", "cases.cli", "check", "sch\u00f6n", PYTHONIOENCODING="ascii")
    assert (code, "Traceback" in said) == (2, False)


def test_whoever_reads_only_the_first_line_has_no_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        assert run_apart("-m", "cases.cli", "woods", stdout=writing) == (0, "", "")
    finally:
        os.close(writing)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_no_fault_of_the_program() -> None:
    with Path("/dev/full").open("w") as full:
        code, _, said = run_apart("-m", "cases.cli", "woods", stdout=full.fileno())
    assert code == 1
    assert said == "neckpreload: cannot write more: No space left on device; free some space and try again\n"


def test_a_command_that_draws_says_nothing_of_the_pictures_cache(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    draw = "from cases import cli; cli.app = lambda **_: 0 * len(__import__('matplotlib').get_cachedir()); "
    draw += "cli.main()"
    nowhere = {"HOME": str(tmp_path / "file" / "home"), "MPLCONFIGDIR": ""}
    assert run_apart("-c", draw, **nowhere) == (0, "", "")
    loud = draw.replace("cli.main()", "cli.app()")
    assert "cache directory" in run_apart("-c", loud, **nowhere)[2]


def test_a_closed_output_is_an_error_for_a_script() -> None:
    command = [sys.executable, "-m", "cases.cli", "woods"]
    shell = ["sh", "-c", 'exec "$@" >&-', "sh", *command]
    done = subprocess.run(shell, stderr=subprocess.PIPE, text=True, timeout=120, check=False)
    assert done.returncode == 1
    assert "standard output is closed" in done.stderr


def test_a_limit_of_file_size_is_no_fault_of_the_program(tmp_path: Path) -> None:
    resource = pytest.importorskip("resource")
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-m", "cases.cli", "offset", "fourteen-mahogany", "--out", str(out)],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1024, 1024)),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("neckpreload: cannot write more: ")
    assert "limit of file size" in done.stderr


@pytest.mark.parametrize("group", [(), ("logbook",), ("calibrate",)])
def test_summaries_are_whole(command: Command, group: tuple[str, ...]) -> None:
    listed = command(*group, "--help").out.partition("Commands:")[2]
    assert len(listed.split()) > 20
    assert "..." not in listed


def test_progress_in_a_log_is_one_line_a_second_at_most(capsys: pytest.CaptureFixture[str]):
    now = [0.0]

    def clock() -> float:
        return now[0]

    write = progress_lines("necks", clock=clock)
    for step in range(40):
        now[0] = 0.3 * step
        write(step, 40)
    printed = capsys.readouterr()
    lines = printed.err.splitlines()
    assert printed.out == ""
    assert 9 <= len(lines) <= 12
    assert lines[0] == "necks: 4 of 40"
    assert all(line.startswith("necks: ") for line in lines)


def test_a_terminal_shows_at_once_what_is_done_and_keeps_nothing_of_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    with working("solving a neck"):
        assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    with working("solving a neck"):
        shown = capsys.readouterr().err
    assert shown == "solving a neck ..."
    assert capsys.readouterr().err == f"\r{' ' * len(shown)}\r"


def test_a_captured_run_reports_its_progress_as_lines(monkeypatch: pytest.MonkeyPatch, command: Command):
    monkeypatch.setattr("cases.commands.output.BETWEEN_LINES", 0.0)
    run = command("compare", "fourteen-mahogany", "--vary", "targets.relief_mm=0.1,0.3")
    assert (run.code, run.err.splitlines()) == (0, ["instruments: 1 of 3", "instruments: 2 of 3"])
