"""One slip in a case file is one thing to put right, called what it is, with what was most likely meant."""

import re

import pytest

from cases.casefile.files import loads
from tests.test_case_errors import BASE, problems, refused
from tests.test_case_schema import TWELVE

BARE = (
    TWELVE.lstrip()
    .replace("height_mm = 90.0", "height_mm = 95.0")
    .replace("list_deg = [-0.1, 0.0, 0.1]", "from_deg = -0.4\nto_deg = 0.4\nstep_deg = 0.04")
)
"""A case of the keys that must be given, all else by default."""


def sentences_of(old: str, new: str) -> tuple[str, ...]:
    """What is said of the bare case with one place changed."""
    assert BARE.count(old) == 1
    return refused(lambda: loads(BARE.replace(old, new)))


@pytest.mark.parametrize(
    ("old", "new", "start"),
    [
        ("height_mm = 95.0\n", "", "heel.height_mm: this key is missing"),
        ("647.7", '"647.7"', "instrument.scale_mm"),
        ("fret = 14", "fret = 14.5", "instrument.body_joint_fret"),
        ("95.0", "1e12", "heel.height_mm"),
        ("last_fret = 20", "last_fret = 13", "instrument.last_fret"),
        ("height_mm = 95.0", "height_mm = 20", "heel.height_mm = 20 (line 14): too small: the tongue takes"),
        ("step_deg = 0.04", 'step_deg = "seven"', "stock.step_deg"),
        (
            "[stock]",
            '[[bolts]]\nname = "a"\nface = "heel"\nposition_mm = 33\ntorque_n_m = "1.2Nm"\n[stock]',
            "bolts.a.torque_n_m",
        ),
    ],
)
def test_what_follows_from_a_wrong_key_gets_no_sentence_of_its_own(old: str, new: str, start: str) -> None:
    (only,) = sentences_of(old, new)
    assert only.startswith(start)


def test_a_default_that_does_not_fit_is_called_one() -> None:
    found = sentences_of("height_mm = 95.0", "height_mm = 27")
    assert {sentence.split(" =")[0] for sentence in found} == {
        "bolts.heel-top.position_mm",
        "bolts.heel-low.position_mm",
    }
    assert all("this is the default" in sentence for sentence in found)


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("wood", "neck.wood, fretboard.wood, block.wood"),
        ("shims", "write one of its keys"),
        ("bolts.heel-tpo.torque_n_m", "write bolts.heel-top.torque_n_m"),
        ("neck.width_mm", "allowed: neck.width_nut_mm, neck.width_joint_mm"),
        ("strings.relief_mm", "write targets.relief_mm"),
        ("neck.xyzzy", "remove the key"),
    ],
)
def test_a_key_that_is_not_there_leads_to_one_that_is(path: str, words: str) -> None:
    (sentence,) = problems({path: 1})
    assert words in sentence


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
        {"strings.set": "medium", "strings.gauges_in": ["0.012"]},
        {"stock.list_deg": [0.1], "stock.step_deg": 0.05},
    ],
)
def test_two_keys_that_exclude_one_another_are_refused_in_either_order(pair: dict[str, object]) -> None:
    first, second = pair
    (sentence,) = problems(pair)
    assert sentence.startswith(f"{second}: {first} is given as well")
    (sentence,) = problems(dict(reversed(pair.items())))
    assert sentence.startswith(f"{first}: {second} is given as well")


def test_one_key_replaces_the_one_it_excludes() -> None:
    changed = BASE.with_values({"bolts.heel-top.tension_n": 900.0, "bolts.heel-top.torque_n_m": None})
    assert (changed.bolts[0].tension_n, changed.bolts[0].torque_n_m) == (900.0, None)
    back = changed.with_values({"bolts.heel-top.torque_n_m": 1.0})
    assert (back.bolts[0].tension_n, back.bolts[0].torque_n_m) == (None, 1.0)


@pytest.mark.parametrize("name", ["Model 12/A", "../zz", ".hidden", "C:x", "a.", " a", "a\nb"])
def test_a_name_that_cannot_be_a_files_is_refused(name: str) -> None:
    (sentence,) = problems({"name": name})
    assert "no file can have this name" in sentence


def test_a_name_of_a_workshop_is_taken() -> None:
    for name in ("Model 12-A", "Großer Hals (2)", "7", "no. 3, rev_b+"):
        assert BASE.with_values({"name": name}).name == name


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (
            "43",
            "the quotes make this text; allowed: one number from 30 to 80 mm, without quotes; remove",
        ),
        ("seven", "write the number alone"),
        (
            [43.0],
            "the brackets make this a list; allowed: one number from 30 to 80 mm; remove the brackets",
        ),
        ({"a": 1}, "this is a heading or has keys under it"),
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
        ("width_nut_mm", "width_nutt_mm", "neck.width_nut_mm is missing"),
        (
            "[heel]\nheight_mm = 95.0",
            "[heel.height_mm]\na = 1",
            "write height_mm = and the value under [heel]",
        ),
        ("[neck]", "[[neck]]", "write [neck] on a line of its own"),
        ("[stock]", "[shims]\n[stock]", "write [[shims]] on a line of its own, once for each item"),
    ],
)
def test_a_mistyped_heading_or_key_is_one_thing_to_put_right(old: str, new: str, words: str) -> None:
    (sentence,) = sentences_of(old, new)
    assert words in sentence


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("rod.end_mm", 460.0),
        ("tongue.length_mm", 95.0),
        ("block.length_mm", 80.0),
        ("shims.lower.thickness_mm", 0.4),
        ("rod.depth_middle_mm", 16.0),
    ],
)
def test_the_limit_that_a_sentence_names_is_allowed(path: str, value: float) -> None:
    sentence = next(found for found in problems({path: value}) if found.startswith(f"{path} = "))
    named = re.search(r"allowed: at (?:most|least) (-?[\d.]+) mm;", sentence)
    assert named, sentence
    assert BASE.with_values({path: float(named[1])}).value(path) == float(named[1])
