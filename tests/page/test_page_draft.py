"""Drafts: what is typed becomes a case or a sentence, and is never lost, evaluated or used as a path."""

import json
from pathlib import Path

import pytest

from cases import load, loads
from cases.casefile.errors import CaseError
from cases.casefile.workshop import load_workshop
from cases.page.draft import MOST_FILE, Draft, dropped, from_tab, made
from cases.page.fields import form_of
from cases.page.room import RefusedError, Room, is_released
from cases.page.settings import PageSettings
from materials.errors import InputError
from tests.page.running import workshop_of

ROOM = Room(PageSettings())


@pytest.mark.parametrize(
    ("edits", "values"),
    [
        ({}, {}),
        ({"heel.height_mm": "3.5in", "strings.set": "acoustic-medium"},
         {"heel.height_mm": 88.9, "strings.set": "acoustic-medium"}),
        ({"heel.curve_exponent": ""}, {"heel.curve_exponent": None}),
    ],
    ids=["none", "the command's --set", "an emptied field is its default"],
)  # fmt: skip
def test_a_draft_is_the_case_with_its_edits(edits: dict, values: dict):
    by_hand = load("fourteen-mahogany").with_values(values)
    assert made(Draft(edits=edits), ROOM).case.sha256 == by_hand.sha256


def test_what_is_wrong_is_said_at_its_field_never_evaluated_and_stays_typed():
    typed = {"heel.height_mm": "tall", "neck.e_l_gpa": "99", "frets.crown_height_mm": "1.0"}
    draft = Draft(edits=typed)
    found = made(draft, ROOM)
    assert found.case is None
    evaluated = made(Draft().edited("neck.wood", "__import__('os').getcwd()"), ROOM)
    assert "this wood is not in the table" in evaluated.problem_of("neck.wood").lower()
    assert "10 to 150 mm" in found.problem_of("heel.height_mm")
    assert "3 to 30 GPa" in found.problem_of("neck.e_l_gpa")
    assert found.problem_of("frets.crown_height_mm") is None
    assert from_tab(Draft, draft.model_dump_json()) == draft


@pytest.mark.parametrize("key", ["outline_csv", "mesh"])
def test_a_file_of_the_servers_is_never_opened_for_a_browser(tmp_path: Path, key: str):
    secret = tmp_path / "secret.csv"
    secret.write_text("x_mm,depth_mm\n0,10\n62,95\n")
    whole = load("fourteen-mahogany").to_toml()
    sent = whole.replace("[heel]", f'[heel]\n{key} = "{secret}"')
    assert sent != whole
    with pytest.raises(RefusedError, match=f"heel.{key}"):
        ROOM.read_case(sent, where="sent.toml")
    typed = made(Draft().edited(f"heel.{key}", str(secret)), ROOM)
    assert typed.case is None
    assert "opens no files" in typed.problems[0]


@pytest.mark.parametrize(
    "name", ["../library/fourteen-mahogany", "/etc/passwd", "x.toml", "", "\0", "fourteen mahogany"]
)
def test_a_name_is_never_a_path(name: str):
    with pytest.raises(RefusedError, match="no case of this name"):
        ROOM.open_case(name)


def test_a_wrong_file_says_the_commands_own_sentences_at_the_keys_though_they_name_lines():
    text = load("fourteen-mahogany").text.replace("height_mm = 95.0", "height_mm = 950.0", 1)
    found = made(Draft(text=text, text_name="mine.toml"), ROOM)
    with pytest.raises(CaseError) as said:
        loads(text, where="mine.toml")
    assert found.problems == said.value.problems
    assert "(line " in found.problems[0]
    assert found.problem_of("heel.height_mm").startswith("Too large; allowed: 10 to 150 mm")
    assert found.problem_of("heel.start_mm") is None


@pytest.mark.parametrize(
    "kept",
    [None, 7, "", "[", "[]", "null", '{"edits": 3}', '{"edits": {"a": 1}}', '{"start": 9, "text": []}',
     "[" * 9000, json.dumps({"edits": {"neck.wood": "x" * 401}}), json.dumps({"start": "x" * 300_000})],
)  # fmt: skip
def test_whatever_a_tab_gives_back_makes_a_draft(kept: object):
    assert from_tab(Draft, kept) == Draft()


def test_a_value_longer_than_any_is_refused_and_not_kept():
    with pytest.raises(InputError, match="at most 400 characters"):
        Draft().edited("neck.wood", "x" * 401)


@pytest.mark.parametrize(
    "given",
    [None, [], {}, {"name": "x.toml"}, {"name": 3, "text": 4}, {"text": "x" * (MOST_FILE + 1)},
     {"text": "ü" * (MOST_FILE // 2 + 1)}, {"text": "\N{REPLACEMENT CHARACTER}"}, {"text": "a\0"}],
)  # fmt: skip
def test_what_a_browser_sends_as_a_file_is_text_of_a_limited_size(given: object):
    with pytest.raises(InputError):
        dropped(Draft(), given)


def test_a_dropped_file_takes_the_cases_place():
    whole = load("twelve-cedar-parlour").to_toml()
    draft = dropped(Draft().edited("heel.height_mm", "91"), {"name": "../x.toml", "text": whole})
    assert (draft.text_name, dict(draft.edits)) == ("x.toml", {})
    assert made(draft, ROOM).case.sha256 == load("twelve-cedar-parlour").sha256


def test_the_form_has_every_key_but_those_that_name_files():
    case = load("twelve-cedar-parlour")
    keys = {field.key for table in form_of(case) for field in table.fields}
    own = {path for path, _ in case.items() if "." in path and not path.endswith(".name")}
    assert own - keys == {"heel.outline_csv", "heel.mesh"}
    for table in form_of(case):
        for field in table.fields:
            if field.text and not field.key.startswith("strings.") and field.options:
                assert field.text in field.options, field.key


def test_every_field_typed_back_as_it_stands_changes_nothing():
    for name in ("fourteen-mahogany", "solid-25"):
        case, draft = load(name), Draft(start=name)
        for table in form_of(case):
            for field in table.fields:
                if field.given:
                    draft = draft.edited(field.key, field.text)
        assert made(draft, ROOM).case.sha256 == case.sha256, name


def test_the_bench_takes_released_cases_only(tmp_path: Path):
    bench = Room(PageSettings(mode="bench", workshop=load_workshop(workshop_of(tmp_path))))
    assert bench.case_names() == ("ours",)
    assert is_released(bench.open_case("ours"))
    for name in ("trial", "fourteen-mahogany"):
        with pytest.raises(RefusedError, match="not released"):
            bench.open_case(name)
    with pytest.raises(RefusedError, match="released cases only"):
        bench.read_case(load("fourteen-mahogany").to_toml(), where="sent.toml")
