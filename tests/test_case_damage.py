"""Damaged case files: exit code 2, one sentence for each thing wrong, no traceback.

`test_case_errors.py` makes slips that a person makes; here tables, values and bytes are damaged at random.
"""

import copy
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cases import load
from cases.casefile.case import resolve
from cases.casefile.errors import CaseError
from cases.casefile.files import library_names
from tests.command import Command
from tests.test_case_errors import BASE, SENTENCE, problems

JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=20),
    st.lists(st.one_of(st.integers(), st.text(max_size=5), st.none()), max_size=3),
    st.dictionaries(st.text(max_size=8), st.integers(), max_size=2),
)


@st.composite
def damaged_cases(draw: st.DrawFn) -> dict[str, Any]:
    """The first case as nested tables, with one to four keys, items or tables broken."""
    raw: dict[str, Any] = copy.deepcopy(BASE._raw)
    for _ in range(draw(st.integers(1, 4))):
        table = draw(st.sampled_from(sorted(raw)))
        holder: Any = raw[table]
        if isinstance(holder, list) and holder and draw(st.booleans()):
            holder = draw(st.sampled_from(holder))
        keys = sorted(holder) if isinstance(holder, dict) else []
        action = draw(st.sampled_from(["replace", "remove", "add", "whole"]))
        if action == "whole" or not keys:
            raw[table] = draw(JUNK)
        elif action == "add":
            holder[draw(st.text(max_size=12))] = draw(JUNK)
        elif action == "remove":
            del holder[draw(st.sampled_from(keys))]
        else:
            holder[draw(st.sampled_from(keys))] = draw(JUNK)
    return raw


def check_sentences(found: tuple[str, ...]) -> None:
    """Each says where, what is allowed, and in two words or more what to do."""
    assert found
    for sentence in found:
        assert SENTENCE.match(sentence), sentence
        assert len(sentence) < 1000, sentence
        assert len(sentence.partition("; allowed: ")[2].rpartition("; ")[2].split()) >= 2, sentence


UNHURRIED = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.parametrize("count", [60, pytest.param(1000, marks=pytest.mark.full)])
def test_damaged_tables_end_in_sentences(count: int) -> None:
    @settings(UNHURRIED, max_examples=count)
    @given(damaged_cases())
    def each_ends_in_sentences(raw: dict[str, Any]) -> None:
        try:
            resolve(raw, where="damaged")
        except CaseError as error:
            check_sentences(error.problems)

    each_ends_in_sentences()


@pytest.mark.parametrize("wrong", [[[]], {"a": 1}, True, *map(float, ("nan", "inf", "-inf"))], ids=str)
def test_every_key_with_a_value_of_the_wrong_kind_is_named(wrong: object) -> None:
    paths = [path for path in BASE.given if not path.endswith(".name")]
    assert len(paths) > 70
    for path in paths:
        found = problems({path: wrong})
        check_sentences(found)
        assert any(sentence.startswith(path) for sentence in found), (path, found)


def damaged_bytes(rng: np.random.Generator) -> bytes:
    """The text of a case with one to five pieces cut out, doubled, exchanged or overwritten by any bytes."""
    text = bytearray(str(load(str(rng.choice(library_names()))).text).encode())
    for _ in range(int(rng.integers(1, 6))):
        if not text:
            break
        first, length = int(rng.integers(len(text))), int(rng.integers(1, 12))
        piece = text[first : first + length]
        change = int(rng.integers(5))
        if change == 0:
            del text[first : first + length]
        elif change == 1:
            text[first:first] = piece
        elif change == 2:
            text[first : first + length] = piece[::-1]
        elif change == 3:
            text[first : first + length] = rng.integers(0, 256, length, dtype=np.uint8).tobytes()
        else:
            del text[first:]
            text += b"x"
    return bytes(text)


def check_refused(file: Path, errors: str) -> None:
    """Each sentence of an error message, without the file it is about and its number."""
    assert errors.startswith("neckpreload: "), errors
    lines = errors.removeprefix("neckpreload: ").rstrip("\n").split("\n")
    if len(lines) > 1:
        assert lines[0] == f"{file}: {len(lines) - 1} errors:", errors
    check_sentences(tuple(re.sub(r"^  \d+\. ", "", line) for line in lines[len(lines) > 1 :]))
    assert "Traceback" not in errors
    assert "unexpected" not in errors, errors


@pytest.mark.parametrize(("count", "seed"), [(40, 1), pytest.param(1000, 3, marks=pytest.mark.full)])
def test_damaged_text_ends_in_sentences(command: Command, tmp_path: Path, count: int, seed: int) -> None:
    file = tmp_path / "damaged.toml"
    rng = np.random.default_rng(seed)
    refused = 0
    for _ in range(count):
        file.write_bytes(damaged_bytes(rng))
        checked = command("check", file)
        if checked.code == 0:
            # a cut comment or another valid digit
            assert "file is valid" in checked.out, checked.out
            assert checked.err == ""
            continue
        assert checked.code == 2, checked.err
        check_refused(file, checked.err)
        refused += 1
    assert refused > count // 2


@pytest.mark.parametrize(
    "name",
    ["a" * 300 + ".toml", "", ".", "/", "\ud800.toml", "\0.toml", "loop.toml", "folder.toml", "empty.toml"],
)
def test_odd_name_of_a_file(name: str, command: Command, tmp_path: Path) -> None:
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "empty.toml").touch()
    checked = command("check", name)
    assert (checked.code, checked.out) == (2, "")
    check_refused(Path(name), checked.err)


@pytest.mark.parametrize("first", ["", "\ufeff"], ids=["CRLF", "CRLF and BOM"])
def test_text_of_another_machine_is_read(first: str, command: Command, tmp_path: Path) -> None:
    file = tmp_path / "other.toml"
    file.write_bytes((first + str(load("short-scale").text).replace("\n", "\r\n")).encode())
    checked = command("check", file)
    assert (checked.code, checked.err) == (0, "")
    assert load(file).sha256 == load("short-scale").sha256
