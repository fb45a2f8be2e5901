"""docs/json.md from the answer's classes: `python -m cases.offset.json_reference_page > docs/json.md`."""

from typing import Any

from cases.offset.json_schema import answer_schema

INTRODUCTION = """# The answer as JSON

`neckpreload offset CASE --json` prints one JSON object; `--out DIR` writes the same into `DIR/NAME.json`.
In Python, `preload("fourteen-mahogany").to_dict()` returns the same object. This page and
[answer.schema.json](answer.schema.json), a JSON Schema (2020-12), are made from the program's classes; tests
compare both, and validate the answer of every library instrument against the schema.

Guaranteed:

- `schema` is 1. Under this number a key keeps its name, unit and meaning. Keys may be added but are never
  removed, so ignore keys that you do not know.
- Every key is always present. A key that does not apply is `null`.
- Numbers are unrounded. The key ends in its unit: `_mm`, `_deg`, `_n`, `_n_m`, `_mpa`. A number without one
  is a ratio or a count.
- Angles are positive when they lift the nut end; a kink is positive when the tongue (under the fretboard
  extension) rises ([glossary](glossary.md)).

```python
import json, pathlib

text = pathlib.Path("out/fourteen-mahogany.json").read_text(encoding="utf-8")
answer = json.loads(text)
assert answer["schema"] == 1
print(answer["preload_offset_deg"], [(pair["upper_deg"], pair["lower_deg"]) for pair in answer["pairs"]])
```
"""


def json_page() -> str:
    """Return the page, Markdown."""
    schema = answer_schema()
    parts = [INTRODUCTION, "## The object\n", _table(schema)]
    for name, part in schema["$defs"].items():
        parts += [f"## {name}\n", f"{part['description']}\n", _table(part)]
    return "\n".join(parts)


def _table(part: dict[str, Any]) -> str:
    lines = ["| key | kind | unit | meaning |", "|---|---|---|---|"]
    for key, content in part["properties"].items():
        meaning = content["description"].replace("|", "\\|")
        lines.append(f"| `{key}` | {_kind(content)} | {content.get('unit', '')} | {meaning} |")
    return "\n".join(lines) + "\n"


def _kind(content: dict[str, Any]) -> str:
    """Kind of a value in words; a part as a link to its table."""
    if "const" in content:
        return f"{content['const']}"
    if "$ref" in content:
        name = content["$ref"].rpartition("/")[2]
        return f"[{name}](#{name.lower()})"
    if "anyOf" in content:
        return " or ".join(_kind(one) for one in content["anyOf"])
    if content.get("type") == "array":
        if "prefixItems" in content:
            return f"list of {len(content['prefixItems'])} {_kind(content['prefixItems'][0])}s"
        return f"list of {_kind(content['items'])}"
    if content.get("type") == "object":
        return f"object of {_kind(content['additionalProperties'])}"
    return {"number": "number", "integer": "number", "string": "text", "null": "null"}.get(
        content.get("type", ""), "anything"
    )


if __name__ == "__main__":
    print(json_page(), end="")
