"""Damaged case files through the command: exit code 2, one sentence for each thing wrong, no traceback.

`test_case_errors.py` damages the content of a case; here the file itself is damaged, in its values or in its
bytes, and the command reads it.
"""

import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomli_w

from cases import load
from cases.casefile.files import library_names
from tests.command import Command

SENTENCE = re.compile(
    r"^(?P<path>[^;]+?)(?: = (?P<given>.+?))?: .+?; allowed: (?P<allowed>.+); (?P<remedy>.+)\.$", re.S
)
NUMBERED = re.compile(r"^  \d+\. ")


@cache
def content(name: str) -> dict[str, Any]:
    """A library case as nested tables."""
    return dict(load(name)._raw)


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    return Command(monkeypatch, capsys)


def leaves(raw: dict[str, Any]) -> list[tuple[dict[str, Any], str, str]]:
    """Every key of a case: the table that holds it, the key, and its path as messages write it."""
    found = []
    for table, value in raw.items():
        if isinstance(value, dict):
            found += [(value, key, f"{table}.{key}") for key in value]
        elif isinstance(value, list):
            for item in value:
                found += [(item, key, f"{table}.{item['name']}.{key}") for key in item if key != "name"]
    return found


def wrong_kind(rng: np.random.Generator, value: object) -> object:
    """A value of a kind that the key cannot take, or a number beyond what any key can."""
    if isinstance(value, bool):
        return "yes"
    if isinstance(value, int | float):
        choice: list[object] = ["", "seven", True, [1.0], {"a": 1}, float("nan"), float("inf"), -1e9, 1e12]
    else:
        choice = [7, -0.5, True, [[]], {"a": 1}, float("nan"), "\u0007no such thing", "ф" * 300]
    return choice[int(rng.integers(len(choice)))]


def damaged_value(rng: np.random.Generator) -> tuple[bytes, str]:
    """The text of a case with one key given a value of the wrong kind, and that key's path."""
    import copy

    raw = copy.deepcopy(content(str(rng.choice(library_names()))))
    every = leaves(raw)
    holder, key, path = every[int(rng.integers(len(every)))]
    holder[key] = wrong_kind(rng, holder[key])
    return tomli_w.dumps(raw).encode(), path


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


def sentences(errors: str, file: Path) -> list[str]:
    """The sentences of an error message, without the file they are about."""
    assert errors.startswith("neckpreload: "), errors
    lines = errors.removeprefix("neckpreload: ").rstrip("\n").split("\n")
    if len(lines) > 1:
        assert lines[0] == f"{file}: {len(lines) - 1} errors:", errors
        return [NUMBERED.sub("", line) for line in lines[1:]]
    return [lines[0].removeprefix(f"{file}: ")]


def check_refused(file: Path, errors: str) -> list[re.Match[str]]:
    """Each sentence by its parts: where, what stands there, what is allowed, what to do."""
    found = []
    for sentence in sentences(errors, file):
        parts = SENTENCE.match(sentence)
        assert parts, sentence
        assert len(sentence) < 1000, sentence
        assert len(parts["remedy"].split()) >= 2, sentence
        found.append(parts)
    assert "Traceback" not in errors
    assert "unexpected" not in errors, errors
    return found


COUNTS = [(40, 1), pytest.param(1000, 3, marks=pytest.mark.full)]
"""How many files are damaged, and the seed of the damage."""


@pytest.mark.parametrize(("count", "seed"), COUNTS)
def test_values_of_the_wrong_kind_are_named_by_their_key(
    run: Command, tmp_path: Path, count: int, seed: int
) -> None:
    file = tmp_path / "damaged.toml"
    rng = np.random.default_rng(seed)
    for _ in range(count):
        text, path = damaged_value(rng)
        file.write_bytes(text)
        checked = run("check", file)
        assert checked.code == 2, (path, checked)
        refused = check_refused(file, checked.err)
        own = [parts for parts in refused if parts["path"].partition(" (line ")[0] == path]
        assert own, (path, checked.err)
        assert own[0]["given"] or "keys under it" in checked.err, checked.err


@pytest.mark.parametrize(("count", "seed"), COUNTS)
def test_damaged_text_ends_in_sentences(run: Command, tmp_path: Path, count: int, seed: int) -> None:
    file = tmp_path / "damaged.toml"
    rng = np.random.default_rng(seed)
    refused = 0
    for _ in range(count):
        file.write_bytes(damaged_bytes(rng))
        checked = run("check", file)
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
def test_odd_name_of_a_file(name: str, run: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "empty.toml").touch()
    checked = run("check", name)
    assert (checked.code, checked.out) == (2, "")
    assert check_refused(Path(name), checked.err)


@pytest.mark.parametrize("first", ["", "\ufeff"], ids=["CRLF", "CRLF and BOM"])
def test_text_of_another_machine_is_read(first: str, run: Command, tmp_path: Path) -> None:
    file = tmp_path / "other.toml"
    file.write_bytes((first + str(load("short-scale").text).replace("\n", "\r\n")).encode())
    checked = run("check", file)
    assert (checked.code, checked.err) == (0, "")
    assert load(file).sha256 == load("short-scale").sha256
