"""docs/answer.schema.json, made from the answer's classes by `python -m cases.offset.json_schema`."""

import json
from typing import Any, get_type_hints

from pydantic import TypeAdapter

from cases.offset import answer
from cases.result import unit_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def answer_schema() -> dict[str, Any]:
    """Return the schema: every key is required and described; more keys are allowed, for later versions."""
    made = TypeAdapter(answer.Answer).json_schema(mode="serialization")
    parts = {name: _completed(name, part) for name, part in sorted(made.pop("$defs").items())}
    whole = _completed("Answer", made)
    version = {
        "const": answer.SCHEMA,
        "description": "Version of this form; a higher one means another meaning.",
    }
    return {
        "$schema": DIALECT,
        **whole,
        "title": "Answer of neckpreload offset --json",
        "properties": {"schema": version, **whole["properties"]},
        "required": ["schema", *whole["required"]],
        "$defs": parts,
    }


def _completed(name: str, part: dict[str, Any]) -> dict[str, Any]:
    """A class's schema with unit and meaning of each key, without titles and defaults, all keys required."""
    declared = get_type_hints(getattr(answer, name), include_extras=True)
    properties = {}
    for key, content in part["properties"].items():
        (meaning,) = declared[key].__metadata__
        form = {word: value for word, value in content.items() if word not in ("title", "default")}
        unit = meaning.unit or unit_of(key)
        properties[key] = form | ({"unit": unit} if unit else {}) | {"description": meaning.text}
    words = " ".join(part["description"].split())
    return {"type": "object", "description": words, "properties": properties, "required": list(properties)}


def schema_text() -> str:
    """Return the text of docs/answer.schema.json."""
    return json.dumps(answer_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
