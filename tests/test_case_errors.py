"""A wrong case file: each slip is one sentence: where, what is given, what is allowed, what to do."""

import ast
import re
from collections.abc import Callable

import pytest

from cases.casefile.case import Case
from cases.casefile.errors import CaseError
from cases.casefile.files import load, loads
from tests.test_case_schema import TWELVE

SENTENCE = re.compile(r"^(?P<path>.+?)(?: = (?P<given>.+?))?: .+?; allowed: .+; .+\.$", re.S)
BASE = load("fourteen-mahogany")
GAUGES = ("0.012", "0.016", "0.024w", "0.032w", "0.042w", "0.053w")
BARE = (
    TWELVE.lstrip()
    .replace("height_mm = 90.0", "height_mm = 95.0")
    .replace("list_deg = [-0.1, 0.0, 0.1]", "from_deg = -0.4\nto_deg = 0.4\nstep_deg = 0.04")
)
"""A case of the keys that must be given, all else by default."""


def refused(make: Callable[[], Case]) -> tuple[str, ...]:
    """The sentences with which a case is refused."""
    with pytest.raises(CaseError) as caught:
        make()
    for sentence in caught.value.problems:
        assert SENTENCE.match(sentence), sentence
    return caught.value.problems


def problems(values: dict[str, object], *, base: Case = BASE) -> tuple[str, ...]:
    return refused(lambda: base.with_values(values))


def told(values: dict[str, object]) -> tuple[str, ...]:
    """The sentences about changed values, none if they are allowed."""
    try:
        BASE.with_values(values)
    except CaseError as error:
        return error.problems
    return ()


def damaged(*changes: tuple[str, str], text: str = str(BASE.text)) -> tuple[str, ...]:
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return refused(lambda: loads(text))


@pytest.mark.parametrize(
    ("values", "path", "words"),
    [
        ({"instrument.last_fret": 14}, "instrument.last_fret", "at least 16"),
        ({"neck.depth_fret1_mm": 14, "fretboard.thickness_mm": 10}, "neck.depth_fret1_mm", "at least 15"),
        ({"neck.depth_fret10_mm": 14, "fretboard.thickness_mm": 10}, "neck.depth_fret10_mm", "at least 15"),
        ({"neck.width_joint_mm": 42}, "neck.width_joint_mm", "at least 43"),
        ({"fretboard.slot_depth_mm": 6}, "fretboard.slot_depth_mm", "at most 5.16"),
        ({"heel.start_mm": 62, "heel.cap_length_mm": 62}, "heel.cap_length_mm", "at most 61"),
        ({"heel.width_cap_mm": 50}, "heel.width_cap_mm", "at most 45"),
        ({"heel.width_top_mm": 57}, "heel.width_top_mm", "at most 56"),
        ({"heel.height_mm": 22}, "heel.height_mm", "at least 27"),
        ({"tongue.width_mm": 57}, "tongue.width_mm", "at most 56"),
        ({"tongue.length_mm": 95}, "tongue.length_mm", "at most 89.5"),
        ({"block.length_mm": 80}, "block.length_mm", "at least 89.5"),
        ({"block.height_mm": 80}, "block.height_mm", "at least 92"),
        ({"block.width_mm": 40}, "block.width_mm", "at least 42"),
        ({"joint.friction_low": 0.4}, "joint.friction_low", "at most 0.3"),
        ({"joint.friction_high": 0.2}, "joint.friction_high", "at least 0.3"),
        ({"shims.upper.to_mm": 95}, "shims.upper.to_mm", "at most 89.5"),
        ({"shims.lower.to_mm": 84}, "shims.lower.to_mm", "at most 83"),
        ({"shims.lower.from_mm": 78}, "shims.lower.to_mm", "at least 83"),
        ({"shims.lower.thickness_mm": 0.4}, "shims.lower.thickness_mm", "at least 0.469"),
        ({"stock.list_deg": [-2.0, 0.0]}, "shims.upper.thickness_mm", "at least 1.65"),
        ({"shims.lower.bearing_width_mm": 46}, "shims.lower.bearing_width_mm", "at most 45"),
        ({"bolts.heel-low.position_mm": 79}, "bolts.heel-low.position_mm", "at most 78.5"),
        ({"bolts.heel-top.position_mm": 4}, "bolts.heel-top.position_mm", "at least 4.5"),
        ({"bolts.tongue.position_mm": 88}, "bolts.tongue.position_mm", "at most 86"),
        ({"bolts.tongue.insert_length_mm": 13}, "bolts.tongue.insert_length_mm", "at most 12"),
        ({"bolts.heel-top.insert_length_mm": 29}, "bolts.heel-top.insert_length_mm", "at most 28"),
        ({"bolts.heel-top.insert_diameter_mm": 5}, "bolts.heel-top.insert_diameter_mm", "at least 6"),
        ({"bolts.heel-top.washer_diameter_mm": 8}, "bolts.heel-top.washer_diameter_mm", "at least 9"),
        ({"bolts.heel-top.torque_n_m": None}, "bolts.heel-top", "either torque_n_m or tension_n"),
        ({"bolts.heel-top.face": "tongue", "bolts.heel-low.face": "tongue"}, "bolts", "at least one bolt"),
        ({"bolts.heel-low.position_mm": 77}, "bolts.heel-low.position_mm", "block's stem"),
        ({"bolts.tongue.position_mm": 45}, "bolts.tongue.position_mm", "block's shelf"),
        ({"rod.end_mm": 50}, "rod.end_mm", "at least 62"),
        ({"rod.end_mm": 460}, "rod.end_mm", "at most 448.687 mm"),
        ({"rod.slot_depth_mm": 4}, "rod.slot_depth_mm", "at least 4.83"),
        ({"fretboard.thickness_mm": 3.5}, "fretboard.slot_depth_mm", "thick at the edge"),
        ({"fretboard.thickness_mm": 2.8, "fretboard.radius_mm": 150}, "fretboard.radius_mm", "at least 2"),
        ({"rod.slot_width_mm": 4}, "rod.diameter_mm", "at most 4"),
        ({"rod.depth_ends_mm": 2}, "rod.depth_ends_mm", "at least 2.7"),
        ({"rod.depth_ends_mm": 13}, "rod.depth_ends_mm", "at most 10"),
        ({"setup.mode": "saddle-fixed"}, "setup.saddle_height_mm", "2 to 40"),
        ({"setup.saddle_height_mm": 14}, "setup.saddle_height_mm", "saddle-fixed"),
        ({"bridge.saddle_highest_mm": 1.0}, "bridge.saddle_highest_mm", "at least 1.6"),
        ({"bridge.saddle_projection_mm": 6}, "bridge.saddle_projection_mm", "at most 5"),
        ({"stock.to_deg": -0.5}, "stock.to_deg", "at least -0.4"),
        ({"stock.step_deg": None}, "stock", "step_deg"),
        ({"stock.list_deg": []}, "stock.list_deg", "1 to 1000"),
        ({"stock.list_deg": [0.1, 9.0]}, "stock.list_deg", "-5 to 5"),
        (
            {"heel.start_mm": 150, "instrument.body_joint_fret": 10, "instrument.scale_mm": 480},
            "heel.start_mm",
            "fret 3",
        ),
        ({"strings.gauges_in": [12, 16, 24, 32, 42, 53]}, "strings.gauges_in", "write 32w"),
        ({"strings.gauges_in": [12, 16, "24w", "32w", "42w", "530w"]}, "strings.gauges_in", "0.006 to 0.160"),
        ({"strings.gauges_in": ["0.30", "0.41", "0.61w", "0.81w"]}, "strings.gauges_in", "0.3mm"),
        ({"strings.tuning": "E2 A2 D3"}, "strings.tuning", "one note for each string"),
        ({"strings.gauges_in": ["10", "13", "17", "26w"]}, "strings.gauges_in", "4 gauges for the 6 strings"),
        ({"strings.unit_weights_kg_m": [0.001]}, "strings.unit_weights_kg_m", "gauges_in"),
        ({"neck.ring_orientation": "quartered"}, "neck.ring_orientation", "quarter"),
        ({"instrument.body_joint_fret": 14.5}, "instrument.body_joint_fret", "whole number"),
    ],
)  # fmt: skip
def test_each_limit_names_its_key_and_what_is_allowed(
    values: dict[str, object], path: str, words: str
) -> None:
    found = problems(values)
    own = [sentence for sentence in found if re.match(rf"{re.escape(path)}( =|:)", sentence)]
    assert any(words in sentence for sentence in own), found
    named = re.search(r"(too .*); allowed: at (?:most|least) (-?\d+(?:\.\d+)?)", own[0])
    if named:  # the limit itself is allowed
        again = told({**values, path: ast.literal_eval(named[2])})
        assert not any(sentence.startswith(f"{path} =") and named[1] in sentence for sentence in again)


def test_rod_channel_through_the_back_by_hand() -> None:
    # Middle of the run from 12 to 297.18 mm: x = 154.59. Total depth there 21.5 + 2.5 (154.59 - 36.35)/
    # (284.19 - 36.35) = 22.693, less the 6.35 mm board 16.343; half ellipse of half width
    # 0.5 (43 + 13 x 154.59/359.18) = 24.30, at the channel's edge 3.175 mm off centre times
    # sqrt(1 - (3.175/24.30)^2): 16.203; less 1.5 and half of 5.4: 12.00.
    assert BASE.with_values({"rod.depth_middle_mm": 11.99}).rod.depth_middle_mm == 11.99
    (sentence,) = problems({"rod.depth_middle_mm": 12.01})
    assert "at most 12" in sentence


def test_a_weight_that_no_string_has_is_no_fault_of_the_tuning() -> None:
    own = BASE.with_values({"strings.gauges_in": GAUGES})
    (sentence,) = problems({"strings.unit_weights_kg_m": [0.0] * 6}, base=own)
    assert sentence.startswith("strings.unit_weights_kg_m = [0.0, 0.0")
    assert "allowed: the mass of a metre of each string, 1st to last; give kilograms per metre" in sentence
    assert "note" not in sentence


def test_bars_inside_the_wood() -> None:
    base = load("long-baritone")
    assert "at least 3.2" in problems({"bars.bass.depth_mm": 3.0}, base=base)[0]
    assert "through the back" in problems({"bars.bass.depth_mm": 14.0}, base=base)[0]
    assert "rod's channel" in problems({"bars.bass.y_mm": -2.0}, base=base)[0]
    assert "run of 10" in problems({"bars.bass.end_mm": 20.5}, base=base)[0]
    assert "carbon-bar" in problems({"bars.bass.material": "carbon-bars"}, base=base)[0]


@pytest.mark.parametrize(
    ("old", "new", "path", "words"),
    [
        ('name = "lower"', 'name = "upper"', "shims.upper", "each name once"),
        ('name = "lower"', 'name = "middle"', "shims", "one upper and one lower"),
        ('name = "heel-low"', 'name = "heel low"', "bolts.heel low.name", "letters"),
        ('name = "heel-low"\n', "", "bolts.#2.name", "finds it"),
        ('held = ["top", "bottom"]', 'held = ["top", "side"]', "block.held", "top"),
        ('held = ["top", "bottom"]', 'held = "top"', "block.held", "list"),
        ('name = "fourteen-mahogany"', "name = 7", "name", "text"),
    ],
)
def test_wrong_key_or_item(old: str, new: str, path: str, words: str) -> None:
    own = [sentence for sentence in damaged((old, new)) if sentence.startswith(path)]
    assert own
    assert any(words in sentence for sentence in own), own


def test_all_errors_of_a_file_come_at_once() -> None:
    found = damaged(
        ("scale_mm = 647.7", "scale_mm = 25.5"),
        ("width_nut_mm", "width_nutt_mm"),
        ('"rosewood-indian"', '"rosewood-indan"'),
        ("cap_length_mm = 28.0", "cap_length_mm = 70.0"),
        ('set = "acoustic-light"', 'set = "acoustic-lite"'),
    )
    assert {re.split(" = | \\(line", sentence)[0] for sentence in found} == {
        *("instrument.scale_mm", "neck.width_nutt_mm", "fretboard.wood", "strings.set"),
        "heel.cap_length_mm",
    }
    assert len(found) == 5, found


@pytest.mark.parametrize(
    ("old", "new", "start"),
    [
        ("height_mm = 95.0\n", "", "heel.height_mm: this key is missing"),
        ("647.7", '"647.7"', "instrument.scale_mm"),
        ("fret = 14", "fret = 14.5", "instrument.body_joint_fret"),
        ("scale_mm = 647.7", "scale_mm = 25.5", "instrument.scale_mm"),
        ("last_fret = 20", f"last_fret = {10**400}", "instrument.last_fret"),
        ("last_fret = 20", "last_fret = inf", "instrument.last_fret"),
        ("last_fret = 20", "last_fret = 13", "instrument.last_fret"),
        ("height_mm = 95.0", "height_mm = 20", "heel.height_mm = 20 (line 14): too small: the tongue takes"),
        ("step_deg = 0.04", 'step_deg = "seven"', "stock.step_deg"),
        (
            "[stock]",
            '[[bolts]]\nname = "a"\nface = "heel"\nposition_mm = 33\ntorque_n_m = "1.2kg"\n[stock]',
            "bolts.a.torque_n_m",
        ),
    ],
)
def test_what_follows_from_a_wrong_key_gets_no_sentence_of_its_own(old: str, new: str, start: str) -> None:
    (only,) = damaged((old, new), text=BARE)
    assert only.startswith(start)


def test_a_default_that_does_not_fit_is_called_one() -> None:
    found = damaged(("height_mm = 95.0", "height_mm = 27"), text=BARE)
    assert {sentence.split(" =")[0] for sentence in found} == {
        "bolts.heel-top.position_mm",
        "bolts.heel-low.position_mm",
    }
    assert all("this is the default" in sentence for sentence in found)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("wood", "neck.wood, fretboard.wood, block.wood"),
        ("scale", "allowed: instrument.scale_mm; write instrument.scale_mm"),
        ("action", "write setup.action_bass_mm or another"),
        ("neck.depth", "allowed: neck.depth_fret1_mm, neck.depth_fret10_mm;"),
        ("shims", "write one of its keys"),
        ("bolts.heel-tpo.torque_n_m", "write bolts.heel-top.torque_n_m"),
        ("neck.width_mm", "allowed: neck.width_nut_mm, neck.width_joint_mm"),
        ("strings.relief_mm", "write targets.relief_mm"),
        ("neck.xyzzy", "remove the key"),
        ("bars.a.y_mm", "the case has no bar of the name a; allowed: none, for it has no bars; add it"),
        ("shims.middle.thickness_mm", "no shim of the name middle; allowed: upper, lower;"),
        ("shims.lowr.thickness_mm", "write shims.lower.thickness_mm"),
    ],
)
def test_a_key_that_is_not_there_leads_to_one_that_is(path: str, words: str) -> None:
    (sentence,) = problems({path: 1})
    assert words in sentence
    with pytest.raises(CaseError, match=re.escape(sentence)):
        BASE.value(path)


@pytest.mark.parametrize(
    ("path", "name", "words"),
    [
        ("neck.wood", "maple", "nearest are maple-"),
        ("neck.wood", "mahagony", "nearest are mahogany-"),
        ("strings.set", "lite", "nearest are acoustic-light"),
        ("shims.lower.material", "xyz", "allowed: maple, cherry, mahogany, walnut, paper"),
        ("strings.alloy", "xyz", "allowed: phosphor-bronze"),
    ],
)
def test_a_name_that_is_not_there_leads_to_those_that_are(path: str, name: str, words: str) -> None:
    (sentence,) = problems({path: name})
    assert words in sentence
    assert "sapele" not in sentence


@pytest.mark.parametrize(
    "pair",
    [
        {"targets.kink_deg": 0.1, "targets.tongue_gap_mm": 0.1},
        {"bolts.heel-top.tension_n": 900.0, "bolts.heel-top.torque_n_m": 1.0},
        {"body.stiffness_n_m_per_rad": 1e5, "body.straightedge_drop_mm": 0.2},
        {"strings.set": "medium", "strings.gauges_in": GAUGES},
    ],
)
def test_of_two_keys_that_exclude_one_another_one_replaces_the_other(pair: dict[str, object]) -> None:
    case = BASE
    for path, other in (list(pair), list(pair)[::-1]):
        (sentence,) = problems({other: pair[other], path: pair[path]})
        assert sentence.startswith(f"{path}: {other} is given as well")
        case = case.with_values({path: pair[path]})
        assert (case.value(path), case.value(other)) == (pair[path], None)


@pytest.mark.parametrize("name", ["Model 12/A", "../zz", ".hidden", "C:x", "a.", " a", "a\nb"])
def test_a_name_that_cannot_be_a_files_is_refused(name: str) -> None:
    (sentence,) = problems({"name": name})
    assert "no file can have this name" in sentence


def test_a_usual_name_is_taken() -> None:
    for name in ("Model 12-A", "Großer Hals (2)", "7", "no. 3, rev_b+"):
        assert BASE.with_values({"name": name}).name == name


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("4,3", "it has a comma for the decimal point; allowed: one number from 30 to 80 mm, without"),
        ("4,3", "quotes; write 4.3"),
        ("43", "the quotes make this text; allowed: one number from 30 to 80 mm, without quotes; remove"),
        ("seven", "write the number alone"),
        ([43.0], "the brackets make this a list; allowed: one number from 30 to 80 mm; remove the brackets"),
        ({"a": 1}, "this is a heading or has keys under it"),
        (True, "this is not a number"),
        (float("nan"), "this is not a finite number; allowed: a finite number from 30 to 80 mm"),
        (1e12, "= 1000000000000: too large"),
    ],
)
def test_a_value_of_the_wrong_kind_is_called_what_it_is(value: object, words: str) -> None:
    (sentence,) = problems({"neck.width_nut_mm": value})
    assert words in sentence


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[neck]", "[Neck]", "write [neck]"),
        ("[stock]", "[stok]", "write [stock]"),
        ("[instrument]", "[guitar]", "write [instrument]"),
        ("[strings]", "[string]", "write [strings]"),
        ("width_nut_mm", "width_nutt_mm", "write width_nut_mm in its place"),
        ("height_mm = 95.0", "[heel.height_mm]\na = 1", "write height_mm = and the value under [heel]"),
        ("[neck]", "[[neck]]", "write [neck] on a line of its own"),
        ("[stock]", "[shims]\n[stock]", "write [[shims]] on a line of its own, once for each item"),
    ],
)
def test_a_mistyped_heading_or_key_is_one_thing_to_put_right(old: str, new: str, words: str) -> None:
    (sentence,) = damaged((old, new), text=BARE)
    assert words in sentence


def test_what_an_item_of_a_list_misses_goes_under_its_own_heading() -> None:
    bolts = '[[bolts]]\nname = "x"\nposition_mm = 33\n[[bolts]]\nname = "y"\nface = "heel"\n[stock]'
    told = "\n".join(damaged(("[stock]", bolts), text=BARE))
    assert 'add face under the [[bolts]] that has name = "x"' in told
    assert 'add position_mm under the [[bolts]] that has name = "y"' in told
    nameless = '[[bolts]]\nface = "heel"\nposition_mm = 33\ntorque_n_m = 1.2\n[stock]'
    (only,) = damaged(("[stock]", nameless), text=BARE)
    assert "add name to the bolt number 1, under [[bolts]]" in only
