"""Instruments side by side: relations between rows, verdict on the current pair, pictures, wrong input."""

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from itertools import pairwise
from pathlib import Path

import pytest

from cases import load
from cases.casefile.case import Case
from cases.offset.difference import Solution, solution
from cases.show.pictures.comparison import draw_comparison
from cases.show.text.comparison import comparison_text
from cases.show.text.depth import Depth
from cases.studies.compare import ComparedInstrument, Comparison, CurrentPair, Numbers, compare, judge
from cases.studies.variants import Axis, parse_axis
from materials.errors import InputError
from tests.command import Command, Run
from tests.pictures import answer_of

CASE = "fourteen-mahogany"
SETS = ["light", "medium", "heavy"]
PNG = b"\x89PNG\r\n\x1a\n"


SOLVED: dict[str, Solution] = {}


def solved_once(case: Case) -> Solution:
    """`solution`, each case solved once for all tests."""
    if case.sha256 not in SOLVED:
        SOLVED[case.sha256] = solution(case)
    return SOLVED[case.sha256]


@pytest.fixture(autouse=True)
def _shared_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cases.studies.compare.solution", solved_once)


@pytest.fixture
def command(command: Command) -> Callable[..., Run]:
    """`neckpreload compare` in an empty folder."""
    return partial(command, "compare")


@cache
def by_strings() -> Comparison:
    return compare(CASE, strings=SETS)


def numbers(row: ComparedInstrument) -> Numbers:
    assert row.numbers is not None, row.verdict
    return row.numbers


def test_a_heavier_set_asks_more_of_everything():
    rows = [numbers(row) for row in by_strings().rows[1:]]
    for light, heavy in pairwise(rows):
        for name in ("total_tension_n", "heel_stretch_deg", "relief_slack_mm", "rod_torque_n_m"):
            assert getattr(heavy, name) > getattr(light, name) > 0.0
        assert heavy.preload_offset_deg < light.preload_offset_deg < 0.0
        assert heavy.relief_mm == pytest.approx(light.relief_mm, abs=1e-9)


def test_a_variant_equal_to_the_case_has_its_numbers():
    """`light` is another name of the case's own set; it is solved again, because the word differs."""
    first, same = by_strings().rows[:2]
    assert same.changed == {"strings.set": "light"}
    sure = {"change_low_deg": 0.0, "change_high_deg": 0.0, "steps": 0, "steps_least": 0, "steps_most": 0}
    assert numbers(same) == replace(numbers(first), **sure)
    assert numbers(first).change_deg == 0.0


def test_the_first_rows_numbers_are_the_answers():
    answer = answer_of(CASE)
    first, pair = numbers(by_strings().rows[0]), by_strings().current_pair
    assert first.preload_offset_deg == answer.preload_offset_deg
    assert pair is not None
    assert pair.offset_deg == pytest.approx(answer.preload_offset_on_stock_deg)
    # the kink on the current pair, first order against the full solution of that pair
    assert first.kink_if_kept_deg == pytest.approx(answer.residual_kink_deg, rel=0.05)


def test_the_action_is_the_one_asked_for():
    answer, setup = answer_of(CASE), load(CASE).setup
    pull = answer.strings.tension_n
    rise = (setup.action_bass_mm - setup.action_treble_mm) / (len(pull) - 1)
    wanted = [setup.action_treble_mm + rise * number for number in range(len(pull))]
    mean = sum(p * w for p, w in zip(pull, wanted, strict=True)) / sum(pull)
    assert answer.action_mm == pytest.approx(mean, abs=1e-6)


def test_a_fixed_saddle_lets_the_action_follow():
    """Crowns 0.1 mm higher raise nut and fret 12 by as much. The saddle stays, so the action falls by
    x12 / x_saddle = 0.498 of it.
    """
    higher = {"frets.crown_height_mm": [load(CASE).frets.crown_height_mm + 0.1]}
    first, lower = (numbers(row) for row in compare(CASE, vary=higher, saddle_fixed=True).rows)
    assert lower.action_mm - first.action_mm == pytest.approx(-0.0498, abs=0.002)


def test_an_impossible_variant_has_its_reason_and_the_rest_goes_on():
    told: list[tuple[int, int]] = []
    found = compare(CASE, vary={"heel.height_mm": [60.0, 95.0]}, progress=lambda *counts: told.append(counts))
    first, low, same = found.rows
    assert low.numbers is None
    assert low.keep_pair is None
    assert "bolts.heel-low.position_mm" in low.verdict
    assert "\n" not in low.verdict
    assert numbers(same) == numbers(first)
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert "not possible" in str(found)
    assert low.verdict in comparison_text(found, depth=Depth.FULL)
    assert found.to_rows()[1]["preload_offset_deg"] is None


def test_every_combination_of_cases_and_changes_has_a_row(monkeypatch: pytest.MonkeyPatch):
    answer = answer_of(CASE)
    monkeypatch.setattr("cases.studies.compare.solution", lambda case: Solution(case, answer))
    woods = {"neck_wood": ["maple-sugar", "sapele"], "board_wood": ["ebony-african"]}
    found = compare(CASE, "fourteen-maple", **woods, scale_mm=[640, 650])
    assert len(found.rows) == 2 * (1 + 2 * 2)
    assert found.rows[-1].name == "fourteen-maple: neck sapele, board ebony-african, scale 650 mm"
    rows = found.to_rows()
    assert all(row.keys() == rows[0].keys() for row in rows)
    assert rows[-1]["instrument.scale_mm"] == 650


def test_requested_rows_without_a_result_are_named(monkeypatch: pytest.MonkeyPatch):
    """One number, a name or a case must have a result; of several numbers one is enough."""
    answer = answer_of(CASE)
    monkeypatch.setattr("cases.studies.compare.solution", lambda case: Solution(case, answer))
    assert compare(CASE, vary={"heel.height_mm": [9.0, 95.0]}).without_result() == {}
    assert list(compare(CASE, vary={"heel.height_mm": [9.0]}).without_result()) == ["heel.height_mm 9"]
    assert list(compare(CASE, vary={"heel.height_mm": [8.0, 9.0]}).without_result()) == ["heel.height_mm 8"]
    assert list(compare(CASE, scale_mm=[25.5]).without_result()) == ["scale 25.5 mm"]
    lost = compare(CASE, strings=["light", "medium"], vary={"heel.height_mm": [9.0]}).without_result()
    assert list(lost) == ["strings light, heel.height_mm 9", "strings medium, heel.height_mm 9"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--scale-mm", "25.5"), "no numbers for scale 25.5 mm: instrument.scale_mm = 25.5: too small"),
        (("solid-25",), "no numbers for solid-25: solid-25: a flat-pocket joint"),
        (("bass-34", "solid-25"), "no numbers for bass-34 (tuned E1 A1 D2 G2), solid-25: the result gives"),
    ],
)
def test_the_command_prints_all_rows_and_ends_with_2_if_one_has_no_result(arguments, words: str, command):
    done = command(CASE, *arguments, "--csv", "t.csv")
    assert done.code == 2
    assert "not possible, see below" in done.out
    assert words in done.err
    assert [row["preload_offset_deg"] == "" for row in written()][:2] == [False, True]


def written() -> list[dict[str, str]]:
    with Path("t.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


PAIR = CurrentPair(upper_deg=0.04, lower_deg=-0.08, step_deg=0.04)


def at(offset: float, *, change: float, stock: float | None) -> Numbers:
    own = {"preload_offset_deg": offset, "change_deg": change, "preload_offset_on_stock_deg": stock}
    return replace(numbers(by_strings().rows[0]), **own)


@pytest.mark.parametrize(
    ("offset", "change", "stock", "keep", "words"),
    [
        (-0.13, -0.03, -0.12, True, "change -0.03 deg, less than one step: keep the pair"),
        (-0.155, -0.055, -0.16, True, "but the current pair is within one step of it: keep the pair"),
        (
            -0.17,
            -0.03,
            -0.16,
            False,
            "change -0.03 deg, less than one step, but the current pair is then 0.05 deg off, one step or "
            "more: take lower -0.12 to upper +0.04 deg",
        ),
        (-0.20, -0.08, -0.20, False, "change -0.08 deg: take lower -0.16 to upper +0.04 deg"),
        (-0.60, -0.50, None, False, "stock has no pair for -0.60 deg: add angles"),
        (-0.10, -0.0004, -0.12, True, "change 0.00 deg, less than one step"),
        (-0.145, -0.0449, -0.16, True, "change -0.045 deg, but the current pair is within one step of it"),
    ],
)
def test_the_verdict_on_the_current_pair(offset, change, stock, keep: bool, words: str):
    judged, sentence = judge(PAIR, at(offset, change=change, stock=stock))
    assert judged is keep
    assert words in sentence


def test_without_a_pair_in_stock_there_is_no_verdict():
    judged, sentence = judge(None, at(-0.1, change=0.0, stock=None))
    assert judged is None
    assert "no pair in stock" in sentence
    full = partial(comparison_text, depth=Depth.FULL)
    assert full(compare(CASE)).splitlines()[1].split()[-2:] == ["-0.12", "current"]
    one_angle = compare(load(CASE).with_values({"stock.list_deg": (-0.12,)}))
    assert full(one_angle).splitlines()[1].split()[-2:] == ["none", "-"]


def made(axes: tuple[Axis, ...]) -> Comparison:
    """A comparison with invented numbers over the axes; the first combination is impossible."""
    rows = [by_strings().rows[0]]
    for count, values in enumerate(
        (x, y) for x in axes[0].values for y in (axes[1].values if axes[1:] else (0,))
    ):
        changed = {axis.key: value for axis, value in zip(axes, values, strict=False)}
        some = at(-0.05 - 0.01 * count, change=0.0, stock=-0.12) if count else None
        rows.append(ComparedInstrument(f"row {count}", CASE, changed, some, some is not None, "said"))
    return Comparison(tuple(rows), axes, PAIR, False)


STRINGS = Axis("strings.set", ("light", "medium"))
HEIGHT, DEPTH = Axis("heel.height_mm", (80.0, 90.0, 100.0)), Axis("neck.depth_fret10_mm", (22.0, 24.0, 26.0))


@pytest.mark.parametrize(
    ("axes", "first_label", "panels"),
    [
        ((HEIGHT, DEPTH), "heel.height [mm]", 2),
        ((HEIGHT,), "heel.height [mm]", 3),
        ((STRINGS, HEIGHT), "heel.height [mm]", 3),
        ((STRINGS,), "preload offset [deg]", 3),
    ],
)
def test_the_picture_follows_what_was_varied(
    axes: tuple[Axis, ...], first_label: str, panels: int, tmp_path: Path
):
    drawn = draw_comparison(made(axes))
    assert (len(drawn.axes), drawn.axes[0].get_xlabel()) == (panels, first_label)
    drawn.savefig(tmp_path / "picture.png")
    assert (tmp_path / "picture.png").read_bytes().startswith(PNG)


@pytest.mark.parametrize(
    ("text", "values"),
    [("0.1:0.35:0.1", (0.1, 0.2, 0.3)), ("3:1:-1", (3, 2, 1)), ("1in,2.5", (25.4, 2.5)), ("7", (7,))],
)
def test_a_varied_key_is_read(text: str, values: tuple[float, ...]):
    assert parse_axis(f"a.b_mm={text}") == Axis("a.b_mm", values)


UNREADABLE = "a a= =1 a=x a=1:2 a=1:2:3:4 a=1:2:0 a=1:2:-1 a=1:9:1e-9 a=1,,2 a=1:x:2 a=true a=nan a=nan:1:2"


@pytest.mark.parametrize("text", [*UNREADABLE.split(), "a=1:inf:2", "a=1:1e308:1e-308", "a=" + "9" * 400])
def test_a_varied_key_that_cannot_be_read_is_one_sentence(text: str):
    with pytest.raises(InputError, match=r"--vary heel\.height_mm=80:100:5"):
        parse_axis(text)


def test_the_command_prints_and_writes_the_same_numbers(command: Callable[..., Run]):
    done = command(CASE, "--strings", "medium", "--csv", "t.csv", "--png", "t.png", "--json")
    assert done.code == 0
    table, rows = written(), json.loads(done.out)["rows"]
    for name in ("preload_offset_deg", "change_deg"):
        assert [float(row[name]) for row in table] == [row[name] for row in rows]
    assert table[1]["strings.set"] == "medium"
    assert Path("t.png").read_bytes().startswith(PNG)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "CASE [CASE2 ...] is missing"),
        (("nothing",), "there is no such case"),
        ((CASE, "--strings", "light,,medium"), "a name is missing"),
        ((CASE, "--strings", "lihgt"), "light"),
        ((CASE, "--scale-mm", "25.5x"), "the unit x is not known"),
        ((CASE, "--vary", "heel.hight_mm=80:90:5"), "heel.height_mm"),
        ((CASE, "--vary", "neck.wood=3"), "only numbers can be varied"),
        ((CASE, "--vary", "heel.height_mm=90", "--vary", "heel.height_mm=95"), "given twice"),
        ((CASE, "--scale-mm", "640", "--vary", "instrument.scale_mm=650"), "varied twice"),
        ((CASE, "--vary", "a=90", "--vary", "b=60", "--vary", "c=43"), "one or two keys"),
        ((CASE, *["--vary", "heel.height_mm=80:120:0.1", "--vary", "heel.start_mm=50:70:0.1"]), "larger"),
    ],
)
def test_wrong_input_is_said_and_ends_with_2(arguments: tuple[str, ...], words: str, command):
    done = command(*arguments)
    assert (done.code, words in done.err, "Traceback" in done.err) == (2, True, False), done.err
    assert not list(Path().iterdir())


@pytest.mark.parametrize(("option", "name"), [("--csv", "no/t.csv"), ("--csv", "c.toml"), ("--png", "t.jpg")])
def test_a_place_that_cannot_be_written_is_said(option: str, name: str, command, monkeypatch):
    monkeypatch.setattr("cases.studies.compare.compare", None)
    done = command(CASE, option, name)
    assert done.code == 2
    assert "give a" in done.err


def test_a_table_that_is_there_is_left_until_there_is_a_new_one(command: Callable[..., Run]):
    Path("t.csv").write_text("old")
    done = command(CASE, "--neck-wood", "mahogny", "--csv", "t.csv")
    assert (done.code, "mahogany" in done.err, Path("t.csv").read_text()) == (2, True, "old")
