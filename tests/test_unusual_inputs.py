"""Inputs far from common practice are said before the answer, and those that break wood are refused."""

import pytest

from cases import load, preload
from cases.casefile.errors import CaseError
from cases.casefile.files import library_names
from cases.offset.answer import Answer
from cases.offset.build import structure_of
from cases.offset.practice import unusual
from cases.offset.washers import lasting_tension
from cases.show.text.answer import report
from materials.wood import wood
from tests.command import Command
from tests.pictures import answer_of

FIRST = "fourteen-mahogany"


def said(values: dict[str, object]) -> tuple[str, ...]:
    case = load(FIRST).with_values(values)
    return unusual(case, structure_of(case).bolts)


def answered(values: dict[str, object]) -> Answer:
    return preload(load(FIRST).with_values(values), effects=False)


@pytest.mark.parametrize("name", library_names())
def test_nothing_of_the_library_is_unusual(name: str) -> None:
    case = load(name)
    assert unusual(case, structure_of(case).bolts) == ()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"targets.relief_mm": 0.008}, 'common): check it; if it is in inches, write "0.008in"'),
        ({"targets.relief_mm": 0.0}, "relief_mm = 0 mm is unusual (0.05 to 0.5 mm is common): check it."),
        ({"targets.relief_mm": 0.9}, "0.9 mm is unusual"),
        ({"setup.action_bass_mm": 6.0}, "setup.action_bass_mm = 6 mm is unusual"),
        ({"setup.action_treble_mm": 0.6}, "setup.action_treble_mm = 0.6 mm is unusual"),
        ({"setup.nut_height_bass_mm": 2.0}, "setup.nut_height_bass_mm = 2 mm is unusual"),
        ({"bridge.saddle_projection_mm": 0.6, "bridge.saddle_lowest_mm": 0.5}, "bridge.saddle_projection_mm"),
        ({"setup.mode": "saddle-fixed", "setup.saddle_height_mm": 30.0}, "setup.saddle_height_mm = 30 mm"),
        ({"neck.depth_fret1_mm": 24.0, "neck.depth_fret10_mm": 21.5}, "are the two swapped?"),
        ({"setup.action_treble_mm": 2.6}, "setup.action_treble_mm = 2.6 is larger than setup.action_bass_mm"),
        ({"bolts.heel-top.torque_n_m": 2.0}, "Bolt heel-top: 2 N m is more than the 1.25 N m"),
    ],
)  # fmt: skip
def test_what_is_far_from_practice_is_said(values: dict[str, object], words: str) -> None:
    (sentence,) = said(values)
    assert words in sentence


def test_a_bolt_that_crushes_the_wood_is_refused_everywhere(command: Command) -> None:
    case = load(FIRST)
    bolt = structure_of(case).bolts[0]
    # half the proportional limit on a 25 mm washer with a 6 mm hole
    area_m2 = 3.14159265 / 4.0 * (0.025**2 - 0.006**2)
    limit = lasting_tension(case, bolt)
    assert limit / area_m2 == pytest.approx(0.5 * wood("mahogany-honduran").compression_across, rel=1e-6)
    most = 4.0 * limit
    assert structure_of(case.with_values({"bolts.heel-top.tension_n": 0.999 * most}))
    for key, value in (("tension_n", 1.001 * most), ("torque_n_m", 1.001 * most * 0.2 * 0.006)):
        with pytest.raises(CaseError, match="too large: it crushes the mahogany-honduran") as caught:
            structure_of(case.with_values({f"bolts.heel-top.{key}": value}))
        assert f"bolts.heel-top.{key} = " in str(caught.value)
        assert "for years" in str(caught.value)
    for line in ("check", "offset", "sheet"):
        options = ("--out", "x.pdf") if line == "sheet" else ()
        done = command(line, FIRST, "--set", "bolts.heel-top.torque_n_m=12", *options)
        assert done.code == 2
        assert "allowed: at most 5 N m, and for years 1.25 N m" in done.err


def test_check_and_the_answer_say_it_above_all_else(command: Command) -> None:
    sentence = "UNUSUAL INPUT: targets.relief_mm = 0.008 mm is unusual"
    lines = command("check", FIRST, "--set", "targets.relief_mm=0.008").out.splitlines()
    assert sentence in lines[1]
    lines = command("offset", FIRST, "--set", "targets.relief_mm=0.008").out.splitlines()
    (place,) = [number for number, line in enumerate(lines) if "0.008 mm is unusual" in line]
    assert place < next(number for number, line in enumerate(lines) if "offset" in line.lower())


def test_an_unusual_input_is_the_first_warning() -> None:
    answer = answered({"setup.nut_height_bass_mm": 2.0})
    assert answer.unusual == answer.warnings[:1]
    assert report(answer).count("nut_height_bass_mm = 2 mm") == 1
    assert answer_of(FIRST).unusual == ()


def test_next_to_no_tension_says_what_the_offset_then_is() -> None:
    light = {"strings.set": None, "strings.gauges_in": (0.008,) * 6, "strings.tuning": "E1 E1 E1 E1 E1 E1"}
    answer = answered(light)
    assert answer.strings.total_tension_n < 100.0
    assert "the offset then only corrects the kink that bolting up leaves" in answer.warnings[0]
    assert not any("next to nothing" in text for text in answer_of(FIRST).warnings)
