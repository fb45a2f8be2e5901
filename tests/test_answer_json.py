"""The answer as JSON keeps its promises: every key described and there, none taken away, real numbers."""

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from cases import load, preload
from cases.casefile.files import library_names
from cases.offset.json_reference_page import json_page
from cases.offset.json_schema import answer_schema, schema_text
from cases.result import unit_of
from tests.pictures import answer_of

ROOT = Path(__file__).resolve().parent.parent
FIRST_KEYS = (Path(__file__).parent / "answer_keys_1.txt").read_text().split()
RATIOS = ["shim_transfer", *(f"{of}_per_{by}" for of in ("shaft", "kink") for by in ("upper", "lower"))]
RATIOS += ["pitch_per_shim", "kink_per_shim"]


@pytest.fixture(scope="module")
def dumped() -> dict[str, Any]:
    return preload(load("fourteen-mahogany")).to_dict()


@pytest.mark.parametrize("name", library_names())
def test_the_answer_of_every_library_instrument_meets_the_schema(name: str):
    made = answer_of(name).to_dict()
    # through text, as a reader gets it; JSON has no NaN
    read = json.loads(json.dumps(made, allow_nan=False))
    assert list(jsonschema.Draft202012Validator(answer_schema()).iter_errors(read)) == []


def test_the_schema_is_one_and_refuses_what_is_wrong(dumped: dict[str, Any]):
    schema = answer_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    assert len(dumped["assumed"]) > 20
    validator.validate(json.loads(json.dumps(dumped)))
    for damage in (
        lambda one: one.pop("preload_offset_deg"),
        lambda one: one["states"]["strung"].pop("kink_deg"),
        lambda one: one.update(schema=2),
        lambda one: one.update(taper_mm="0.1"),
        lambda one: one.update(preload_offset_band_deg=[0.1]),
        lambda one: one["pairs"][0].update(upper_deg=None),
    ):
        wrong = copy.deepcopy(dumped)
        damage(wrong)
        assert not validator.is_valid(wrong)
    more = copy.deepcopy(dumped)
    more["a key of a later version"] = 1
    assert validator.is_valid(more)


def test_keys_are_only_ever_added():
    """The keys that schema 1 began with; a line of that list is never taken away."""
    assert len(FIRST_KEYS) > 100
    parts = {"Answer": answer_schema(), **answer_schema()["$defs"]}
    described = {f"{name}.{key}" for name, part in parts.items() for key in part["properties"]}
    assert sorted(set(FIRST_KEYS) - described) == []


def test_every_key_has_a_meaning_and_the_unit_of_its_name():
    schema = answer_schema()
    keys = [item for part in (schema, *schema["$defs"].values()) for item in part["properties"].items()]
    assert [key for key, content in keys if len(content["description"]) < 5] == []
    assert {key: content["unit"] for key, content in keys if "unit" in content and not unit_of(key)} == {
        **dict.fromkeys(RATIOS, "deg/deg"),
        "gauges": "in",
        "deg": "deg",
    }
    assert all(content["unit"] == unit_of(key) for key, content in keys if unit_of(key))


@pytest.mark.parametrize(
    ("file", "made", "command"),
    [
        ("answer.schema.json", schema_text, "python -m cases.offset.json_schema > docs/answer.schema.json"),
        ("json.md", json_page, "python -m cases.offset.json_reference_page > docs/json.md"),
    ],
)
def test_the_files_in_docs_are_what_the_classes_say(file: str, made: Any, command: str):
    assert (ROOT / "docs" / file).read_text(encoding="utf-8") == made(), f"run: {command}"


def test_the_code_on_the_page_runs(dumped: dict[str, Any], tmp_path: Path, monkeypatch, capsys):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "fourteen-mahogany.json").write_text(json.dumps(dumped), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    code = json_page().split("```python\n")[1].split("```")[0]
    exec(compile(code, "docs/json.md", "exec"), {})
    assert str(dumped["preload_offset_deg"]) in capsys.readouterr().out
