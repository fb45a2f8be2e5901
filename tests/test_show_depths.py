"""Three depths of a text: short enough for one screen, explained, and full; colour on a terminal only."""

import re
from dataclasses import replace
from functools import cache
from io import StringIO
from math import hypot

import pytest

from cases.casefile.files import library_names
from cases.commands.output import in_colour, say
from cases.offset.answer import Answer, Assumed, Share
from cases.offset.preload import preload
from cases.offset.warnings import OFFSET_WITHOUT_BODY
from cases.show.text.answer import report
from cases.show.text.comparison import comparison_text
from cases.show.text.depth import MOST, WIDTH, Depth, Line, screen
from cases.studies.compare import compare
from cases.studies.uncertainty import would_narrow
from tests.command import Command, refused, said

MAIN = "fourteen-mahogany"
SHORT_ORDER = (
    *("strings", "PRELOAD OFFSET", "90 % of necks", "friction band", "from stock", "neckpreload pair"),
    *("relief", "rod", "heel stretch", "measure first", "WARNING", "not calibrated", "CAUTION"),
)


@cache
def answer_of(name: str) -> Answer:
    """The answer as the command computes it, with the effects of assumed inputs."""
    return preload(name)


@pytest.mark.parametrize("name", library_names())
def test_the_short_answer_of_every_instrument_fits_on_one_screen(name: str):
    rows = report(answer_of(name)).splitlines()
    assert len(rows) <= MOST
    assert max(map(len, rows)) <= WIDTH
    assert rows[0].startswith(f"{name}: ")
    assert rows[-1].startswith("  CAUTION: ")


def test_the_short_answer_says_first_what_is_wanted_first():
    places = [report(answer_of(MAIN)).index(words) for words in SHORT_ORDER]
    assert places == sorted(places)


def test_explained_is_the_short_answer_with_sentences_between_its_rows():
    explained = report(answer_of(MAIN), depth=Depth.EXPLAINED)
    sentences = re.findall(r"^      \((.*?)\)$", explained, re.MULTILINE | re.DOTALL)
    assert len(sentences) > 8
    assert all(sentence.endswith(".") for sentence in sentences)
    short = re.sub(r"^      \(.*?\)\n", "", explained, flags=re.MULTILINE | re.DOTALL)
    assert short == report(answer_of(MAIN))


def test_the_full_answer_has_all_that_the_short_one_leaves_out():
    full = report(answer_of(MAIN), depth=Depth.FULL)
    for words in ("mesh error", "shim transfer", "bolt heel-top", "in contact", "nut rises", "checks:"):
        assert words in full
    for words in ("inputs assumed", "borrowed data", OFFSET_WITHOUT_BODY):
        assert words in full
        assert words not in report(answer_of(MAIN))


def test_warnings_that_do_not_fit_are_counted_never_lost_in_silence():
    answer = replace(answer_of(MAIN), warnings=tuple(f"Number {k}. " + "word " * 30 for k in range(9)))
    rows = report(answer).splitlines()
    assert len(rows) <= MOST
    assert "  WARNING: Number 0." in "\n".join(rows)
    shown = sum(row.startswith("  WARNING: Number") for row in rows)
    assert f"  WARNING: {9 - shown} more; --full shows them" in rows
    assert report(answer, depth=Depth.FULL).count("WARNING: Number") == 9


def test_a_command_to_type_stays_on_one_row():
    text = screen([Line(f"    neckpreload pair {'x ' * 80}")], depth=Depth.SHORT)
    assert "\n" not in text


def test_the_pair_command_repeats_what_was_typed():
    out = said("offset", MAIN, "--strings", "medium", "--set", "joint.friction=0.3")
    assert f"neckpreload pair {MAIN} --set joint.friction=0.3 --strings medium --reading" in out


def test_what_to_measure_first_weighs_each_input_by_its_doubt():
    """By hand: a quarter of the friction band; scatter as it is; 0.05 mm of a length that is zero."""
    answer = replace(
        answer_of(MAIN),
        preload_offset_friction_band_deg=(-0.2, -0.12),
        scatter=(Share("shim layers", 0.03, 0.03), Share("neck wood", 0.004, 0.004)),
        assumed=(
            Assumed("fretboard.fallaway_mm", 0.0, "", 0.12, 0.1),
            Assumed("rod.end_mm", 300.0, "", -0.01, 30.0),
            Assumed("targets.relief_mm", 0.2, "", 0.5, 0.02),
        ),
    )
    found = [(one.name, pytest.approx(one.worth_deg)) for one in would_narrow(answer)]
    assert found == [
        ("bare board", 0.06),
        ("heel stretch", hypot(0.03, 0.02)),
        ("rod.end_mm", 0.01),
        ("neck stiffness", 0.004),
    ]
    assert would_narrow(replace(answer, assumed=())) == ()


def test_a_long_comparison_stays_short():
    found = compare(MAIN)
    first = found.rows[0]
    others = [replace(first, name=f"row {k}", keep_pair=False, verdict=f"change {k}") for k in range(30)]
    rows = comparison_text(replace(found, rows=(first, *others))).splitlines()
    assert len(rows) <= MOST
    assert "24 more sentences: --full" in " ".join(rows)
    shown = sum(row.startswith("row ") for row in rows)
    assert f"{30 - shown} more rows: --full or --csv" in rows


BENCH = {
    "pair": ("--reading", "1.8mm"),
    "swap": (
        *("--upper", "0.12", "--lower", "0.04", "--relief", "0.3mm", "--action-bass", "3.1mm"),
        *("--action-treble", "2.0mm"),
    ),
}


@pytest.mark.parametrize("command", BENCH)
def test_the_bench_has_the_same_depths(command: str):
    short, explained, full = (
        said(command, MAIN, *BENCH[command], *how).splitlines() for how in ((), ("--explain",), ("--full",))
    )
    assert len(short) <= MOST
    assert max(map(len, short)) <= WIDTH
    assert set(short) < set(explained)
    assert short[1:4] == full[1:4]
    assert max(map(len, full)) > WIDTH


def test_both_depths_at_once_are_refused():
    for command in ("offset", "compare", "spread"):
        assert "leave out one" in refused(command, MAIN, "--full", "--explain")


class Terminal(StringIO):
    """A standard output that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("variables", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)]
)
def test_colour_only_on_a_terminal_that_wants_it(
    variables: dict[str, str], coloured: bool, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.delenv("NO_COLOR", raising=False)
    for name, value in {"TERM": "xterm", **variables}.items():
        monkeypatch.setenv(name, value)
    terminal = Terminal()
    monkeypatch.setattr("sys.stdout", terminal)
    say("  WARNING: hot\n")
    assert ("\x1b[" in terminal.getvalue()) is coloured


def test_piped_output_is_plain_and_colour_keeps_every_word(command: Command):
    out = command("offset", MAIN).out
    assert "\x1b" not in out
    painted = in_colour(out)
    assert painted.count("\x1b[0m") >= 5
    assert re.sub(r"\x1b\[[\d;]*m", "", painted) == out
