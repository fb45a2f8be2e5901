"""A text that cannot be read: which line, what stands there, what to do, in plain words."""

import re
from pathlib import Path

import pytest

from cases.casefile.errors import CaseError
from cases.casefile.files import load, loads
from cases.casefile.new_case import new_case
from tests.test_case_errors import SENTENCE

PROGRAMMERS = ("TOML", "key/value", "declaration", "statement", "declare", "illegal", "namespace", "document")


def said_of(text: str) -> str:
    with pytest.raises(CaseError) as caught:
        loads(text)
    (sentence,) = caught.value.problems
    assert SENTENCE.match(sentence), sentence
    assert not any(word in sentence for word in PROGRAMMERS), sentence
    return sentence


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("[neck\nwood = 1", "line 1, column 6: `[neck`", "the closing bracket is missing"),
        ("neck]\nwood = 1", "line 1, column 5: `neck]`", "the opening bracket of the heading is missing"),
        ("[neck]]\n", "line 1", "there is one bracket too many"),
        ("[neck] wood = 1\n", "line 1, column 8", "there is more text after the heading"),
        ("[jo int]\n", "line 1, column 5", "this cannot be a heading"),
        ("[a]\nb = 1\n[c]\n[a]\n", "line 4, column 3: `[a]`", "twice (first on line 1)"),
        ("[bolts]\nb = 1\n[[bolts]]\n", "line 3", "other brackets than before (first on line 1)"),
        ("a = 1\na = 2\n", "line 2, column 6: `a = 2`", "this key is given twice"),
        ("a = 1\nb = = 2", "line 2, column 5: `b = = 2`", "neither a number nor text in quotes"),
        ('namet-bass"\n', "line 1, column 11", "there is no equals sign"),
        ('a = "x\nb = 2\n', 'line 1, column 7: `a = "x`', "the text has no second quote"),
        ('a = """x\nb = 2\n', "line 1", "the three quotes are not closed"),
        ('a = x"\n', "line 1", 'no first quote; allowed: text in quotes; write a = "x"'),
        ('a = "maple- "ragus # b\n', "line 1, column 14", "ragus follows the closing quote"),
        ("a = maple\n", "line 1, column 5", 'write a = "maple" if it is text'),
        ("a_mm = 647,7 # wide\n", "line 1", "write the decimal point as a point: a_mm = 647.7."),
        ("a_mm = 95 mm\n", "line 1", 'write a_mm = "95 mm"'),
        ("a_mm = 0.008in\n", "line 1", 'write a_mm = "0.008in"'),
        ('a_mm = 5/64"\n', "line 1", 'write a_mm = "5/64in"'),
        ("a_mm = 95 kg\n", "line 1", "the unit kg is not known here; change the unit"),
        ("a = 95 mm\n", "line 1", "mm follows the number; allowed: the number alone"),
        ("a_mm = .5\n", "line 1", "write a_mm = 0.5."),
        ("a_mm = 5.\n", "line 1", "write a_mm = 5.0."),
        ("a = 2026-13-45\n", "line 1", "2026-13-45 is not a date"),
        ("a =\n", "line 1", "there is no value after the equals sign"),
        ("gr\u00f6\u00dfe = 1\n", "line 1, column 3: `gr\u00f6\u00dfe = 1`", "cannot be a key"),
        ('a = ["x", "y"\nb = 3\n', 'line 1: `a = ["x", "y"`', "a bracket is not closed"),
        ('a = "C:\\q"\n', "line 1", "there is a backslash in the text"),
        ('a = "x\x07y"\n', "line 1, column 7: `a = \"x?y\"`", "cannot be seen (number 7)"),
        ("a = 1\nthick", "line 2: `thick`", "there the file ends"),
        ("a = " + "9" * 5000 + "\nb = 1\n", "line 1: `a = 999", "too many digits"),
    ],
)  # fmt: skip
def test_a_line_that_cannot_be_read_is_shown_with_what_is_likely(text: str, place: str, words: str) -> None:
    sentence = said_of(text)
    assert sentence.startswith(place), sentence
    assert words in sentence
    assert len(sentence) < 400


def test_brackets_within_brackets_without_end() -> None:
    assert "line 1" in said_of("x = " + "[" * 200) or "nested too deep" in said_of("x = " + "[" * 5000)


def test_a_long_line_is_shown_round_its_fault() -> None:
    sentence = said_of(f'note = "{"n" * 300}" x\n')
    shown = re.findall(r"`([^`]*)`", sentence)[0]
    assert shown.startswith("...")
    assert shown.endswith('" x')
    assert len(shown) < 80


def test_every_line_that_is_not_utf8_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"# has one i\xf6\xdb\nx = 1\n# \xf6\n")
    with pytest.raises(CaseError) as caught:
        load(path)
    (sentence,) = caught.value.problems
    assert sentence.startswith("line 1, column 12: `# has one i??`: this is not UTF-8 text (and on line 3)")
    assert "save the file as UTF-8" in sentence


def test_a_wrong_key_is_named_with_its_line_and_its_number_as_written() -> None:
    text = new_case("mine", like=load("fourteen-mahogany"), every=True)
    for old, new in (
        ("\nheight_mm = 95.0", "\nheight_mm = 95_000.0"),
        ('\nring_orientation = "quarter"', '\nring_orientation = "quart"'),
        ("\nposition_mm = 60.0", "\nposition_mm = 6e9  # far"),
        ("\nstep_deg", "\nstepdeg"),
        ("[strings]", "[strungs]"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(CaseError) as caught:
        loads(text)
    lines = text.split("\n")
    told = {}
    for sentence in caught.value.problems:
        where = re.match(r"(.+?) \(line (\d+)\): ", sentence)
        assert where, sentence
        told[where[1]] = lines[int(where[2]) - 1]
    assert told == {
        "heel.height_mm = 95_000.0": "height_mm = 95_000.0",
        'neck.ring_orientation = "quart"': 'ring_orientation = "quart"',
        "bolts.heel-low.position_mm = 6e9": "position_mm = 6e9  # far",
        "stock.stepdeg": "stepdeg = 0.04",
        "[strungs]": "[strungs]",
    }


def test_a_line_that_is_not_sure_is_left_out() -> None:
    text = '[neck]\nnote = """\nwood = "x"\n"""\nwood = 5\n'
    with pytest.raises(CaseError) as caught:
        loads(text)
    assert not any("(line" in sentence for sentence in caught.value.problems)
    with pytest.raises(CaseError) as caught:
        load("fourteen-mahogany").with_values({"heel.height_mm": 1.0})
    assert not any("(line" in sentence for sentence in caught.value.problems)
