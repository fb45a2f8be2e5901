"""A new case: the short file, its record of what was copied, the questions, and the three kinds of input."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from cases import load, preload
from cases.casefile.case import Case
from cases.casefile.errors import CaseError
from cases.casefile.files import library_names, loads
from cases.casefile.measurements import MEASUREMENTS, measurement_of, to_measure
from cases.casefile.measurements_page import page
from cases.casefile.new_case import new_case
from cases.commands.ask import DRAWING
from cases.show.pictures.what_to_measure import FILE, what_to_measure_figure
from cases.show.text.answer import report
from cases.show.text.depth import Depth
from tests.command import Command
from tests.house import ROOT
from tests.pictures import misplaced_texts, shown_texts
from tests.test_case_schema import TWELVE

FIRST = "fourteen-mahogany"
Type = Callable[..., None]


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Type:
    """Types answers to the questions, one a question by its key, else Enter; `None` ends them."""

    def types(answers: dict[str, list[str | None]]) -> None:
        left = {key: list(lines) for key, lines in answers.items()}

        def line(prompt: str) -> str:
            key = prompt.split()[0].rstrip(",")
            found = left.get(key) or [""]
            answer = found.pop(0)
            if answer is None:
                raise EOFError
            return answer

        monkeypatch.setattr("builtins.input", line)

    return types


@pytest.mark.parametrize("name", library_names())
def test_a_short_case_means_the_same_and_is_all_copied(name: str) -> None:
    like = load(name)
    made = loads(new_case("mine", like=like))
    expected = {**dict(like.items()), "name": "mine", "note": None}
    assert dict(made.items()) == expected
    assert {key for key, _ in to_measure(like)} <= made.given
    assert made.copied_from == name
    own = {key for key in made.given - set(made.copied) if not key.endswith("name")}
    assert own == set()
    assert dict(made.items()) == dict(loads(made.to_toml()).items())
    assert loads(made.to_toml()).copied == made.copied


def test_the_short_file_of_the_first_instrument_is_short() -> None:
    text = new_case("mine", like=load(FIRST))
    body, _, record = text.partition("# What was copied")
    assert len(body.splitlines()) < 110
    assert record
    # an unusual value is there, a usual one is not
    assert "washer_diameter_mm = 25.0" in body
    assert "moisture_percent" not in text
    for one in MEASUREMENTS:
        if one.letter:
            assert f"# {one.letter}. {one.what}." in body, one.key
    assert loads(new_case("bare", like=loads(TWELVE))).sha256 != loads(text).sha256


def test_a_changed_value_counts_as_measured_and_so_does_one_off_the_record() -> None:
    text = new_case("mine", like=load(FIRST))
    made = loads(text.replace("\nwidth_nut_mm = 43.0", "\nwidth_nut_mm = 42.8", 1))
    assert made.origin("neck.width_nut_mm") == "measured"
    assert made.origin("neck.width_joint_mm") == "copied"
    assert made.origin("neck.moisture_percent") == "assumed"
    same = loads(text.replace('"neck.width_nut_mm" = 43.0\n', "", 1))
    assert same.origin("neck.width_nut_mm") == "measured"
    assert same.sha256 == loads(text).sha256
    changed = same.with_values({"neck.width_joint_mm": 55.0, "heel.height_mm": 95.0})
    assert [changed.origin(f"{key}_mm") for key in ("neck.width_nut", "neck.width_joint", "heel.height")] == [
        "measured",
        "measured",
        "copied",
    ]
    # what was measured on one guitar is copied on the next
    third = loads(new_case("third", like=changed))
    assert (third.copied_from, third.origin("neck.width_nut_mm")) == ("mine", "copied")


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ("copied = 3", "copied (line 10): this is a heading, not a key; allowed: [copied] with its keys"),
        ('[copied]\n"neck.width_nut_mm" = 3', "copied.from: the record does not name the case"),
    ],
)
def test_a_damaged_record_is_one_sentence(record: str, said: str) -> None:
    top, _, rest = (load(FIRST).text or "").partition("[instrument]")
    text = f"{top}{record}\n[instrument]{rest}"
    with pytest.raises(CaseError) as caught:
        loads(text)
    assert len(caught.value.problems) == 1
    assert caught.value.problems[0].startswith(said)


def test_a_workshops_stock_is_its_own(tmp_path: Path, command: Command) -> None:
    (tmp_path / "workshop.toml").write_text("[stock]\nlist_deg = [-0.2, 0.0, 0.2]\n")
    bare = (load(FIRST).text or "").partition("[stock]")[0].replace(f'"{FIRST}"', '"bare"', 1)
    (tmp_path / "bare.toml").write_text(bare)
    assert command("new", "mine", "--like", "bare.toml").code == 0
    made = load(tmp_path / "mine.toml")
    assert made.origin("stock.list_deg") == "measured"
    assert made.origin("heel.height_mm") == "copied"


def test_check_counts_three_kinds(command: Command, tmp_path: Path) -> None:
    command("new", "mine")
    changed = (tmp_path / "mine.toml").read_text().replace("\nheight_mm = 95.0", '\nheight_mm = "3.7in"')
    (tmp_path / "mine.toml").write_text(changed)
    said = command("check", "mine.toml", "--assumed").out
    assert f"(inputs: 1 measured or chosen here, 34 copied from {FIRST}, 106 assumed)" in said
    assert 'read with its unit: heel.height_mm = "3.7in": 93.98 mm' in said
    assert f"neck.width_nut_mm = 43.0: copied from {FIRST}" in said
    assert "copied" not in command("check", FIRST).out


def asked(command: Command, tmp_path: Path, *options: str) -> tuple[str, Case]:
    done = command("new", "asked", "--ask", *options)
    assert done.code == 0, done.err
    return done.out, load(tmp_path / "asked.toml")


def test_questions_check_each_answer_at_once(typed: Type, command: Command, tmp_path: Path) -> None:
    typed(
        {
            "instrument.scale_mm": ["25.5in"],
            "neck.width_nut_mm": ["43 kg", "4.3", "42.8"],
            "neck.wood": ["birchh", "sapele"],
            "heel.height_mm": ["12", ""],
            "targets.relief_mm": ["0.008", "0.008in"],
            "setup.action_bass_mm": ["6", ""],
        }
    )
    said, made = asked(command, tmp_path)
    assert (made.instrument.scale_mm, made.neck.width_nut_mm, made.neck.wood) == (647.7, 42.8, "sapele")
    assert made.targets.relief_mm == pytest.approx(0.2032)
    assert made.setup.action_bass_mm == 6.0
    assert made.heel.height_mm == 95.0
    origins = [made.origin(key) for key in ("instrument.scale_mm", "neck.wood", "heel.height_mm")]
    assert origins == ["measured", "measured", "copied"]
    assert "the unit kg is not known here" in said
    assert "4.3: too small; allowed: 30 to 80 mm; it looks like centimetres: write 43" in said
    assert "this wood is not in the table" in said
    assert "heel.height_mm = 12: too small" in said
    assert 'if it is in inches, write "0.008in"' in said
    assert "= 0.2032 mm" in said
    assert "6 values measured or chosen" not in said
    assert "5 values measured or chosen" in said
    assert "slacken all strings" in said


def test_a_copied_value_that_does_not_fit_gives_way(typed: Type, command: Command, tmp_path: Path) -> None:
    typed({"neck.width_joint_mm": ["44"], "fretboard.wood": [None]})
    said, made = asked(command, tmp_path)
    assert made.neck.width_joint_mm == 44.0
    assert made.heel.width_top_mm == pytest.approx(0.8 * 44.0)
    assert made.origin("heel.width_top_mm") == "assumed"
    assert "heel.width_top_mm: the copied value does not fit your answers; it is now 35.2" in said
    assert "keep their copied values" in said


def test_answers_that_do_not_fit_one_another_are_not_lost(
    typed: Type, command: Command, tmp_path: Path
) -> None:
    typed({"neck.width_nut_mm": ["60"], "neck.width_joint_mm": ["", "44"]})
    done = command("new", "asked", "--ask")
    # the joint stays at 56, narrower than the nut: the copied value gives way, but the key is required
    assert done.code == 2
    assert "your answers: neck.width_nut_mm = 60" in done.out
    assert "neck.width_joint_mm" in done.err
    assert not (tmp_path / "asked.toml").exists()


def test_questions_are_not_asked_for_a_file_that_exists(
    monkeypatch: pytest.MonkeyPatch, command: Command, tmp_path: Path
) -> None:
    (tmp_path / "asked.toml").write_text("mine")
    monkeypatch.setattr("builtins.input", lambda _: pytest.fail("asked"))
    assert "exists already" in command("new", "asked", "--ask").err
    assert (tmp_path / "asked.toml").read_text() == "mine"


def test_ctrl_c_leaves_no_file_and_no_traceback(
    monkeypatch: pytest.MonkeyPatch, command: Command, tmp_path: Path
) -> None:
    def stop(_: str) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", stop)
    done = command("new", "asked", "--ask")
    assert (done.code, done.err) == (130, "")
    assert not (tmp_path / "asked.toml").exists()


def test_every_measurement_has_a_key_and_each_letter_one_meaning() -> None:
    keys = {key for name in (FIRST, "solid-25") for key, _ in to_measure(load(name))}
    used = {measurement_of(key) for key in keys}
    assert {one for one in MEASUREMENTS if one not in used} <= {measurement_of("stock.list_deg")}
    letters = [one.letter for one in MEASUREMENTS if one.letter]
    assert "".join(dict.fromkeys(letters)) == "ABCDEFGHJKL"


def test_the_page_of_measurements_is_up_to_date() -> None:
    written = (ROOT / "docs" / "what-to-measure.md").read_text(encoding="utf-8")
    assert written == page(), "run: python -m cases.casefile.measurements_page > docs/what-to-measure.md"
    assert all(f"`{one.key}`" in written for one in MEASUREMENTS)


def test_the_drawing_has_every_letter_and_no_text_on_another() -> None:
    figure = what_to_measure_figure(load(FIRST))
    letters = [text for text, _ in shown_texts(figure) if len(text) == 1 and text.isalpha()]
    assert set(letters) == {one.letter for one in MEASUREMENTS if one.letter}
    assert misplaced_texts(figure) == ([], [])
    assert (ROOT / FILE).is_file()


def test_the_drawing_in_the_terminal_has_every_letter() -> None:
    assert {one.letter for one in MEASUREMENTS if one.letter} <= set(re.findall(r"\b[A-L]\b", DRAWING))
    assert max(map(len, DRAWING.splitlines())) <= 88


def test_the_answer_tells_copied_from_assumed() -> None:
    like, made = load(FIRST), loads(new_case("mine", like=load(FIRST)))
    answer = preload(made.with_values({"heel.height_mm": 96.0}))
    assert answer.copied_from == FIRST
    copied = {one.key: one for one in answer.copied}
    assert set(copied) == set(made.copied) - {"heel.height_mm"}
    assert copied["strings.set"].effect_deg is None
    assert copied["fretboard.fallaway_mm"].effect_deg == max(one.effect_deg or 0.0 for one in answer.copied)
    assert not {one.key for one in answer.assumed} & set(copied)
    # a target of zero has the largest effect, the bare board comes next
    assert [one.key for one in answer.not_measured[:2]] == ["targets.kink_deg", "fretboard.fallaway_mm"]
    assert f"{len(answer.copied)} copied from {FIRST}" in report(answer, depth=Depth.FULL)
    assert json.loads(json.dumps(answer.to_dict()))["copied"][0]["key"] == "fretboard.fallaway_mm"
    assert preload(like, effects=False).copied_from is None
