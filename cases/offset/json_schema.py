"""docs/answer.schema.json, made from the answer's classes by `python -m cases.offset.json_schema`."""

import json
from typing import Any

from pydantic import TypeAdapter

from cases.offset.answer import SCHEMA, Answer
from cases.offset.answer_meaning import MEANING

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def answer_schema() -> dict[str, Any]:
    """The schema: every key required and described; further keys are allowed, since later versions add some.

    Raises
    ------
    KeyError
        If a key of the answer has no meaning in `cases.offset.answer_meaning`.
    """
    made = TypeAdapter(Answer).json_schema(mode="serialization")
    parts = {name: _described(name, part) for name, part in sorted(made.pop("$defs").items())}
    whole = _described("Answer", made)
    version = {"const": SCHEMA, "description": "Version of this form; a higher one means another meaning."}
    return {
        "$schema": DIALECT,
        **whole,
        "title": "Answer of neckpreload offset --json",
        "properties": {"schema": version, **whole["properties"]},
        "required": ["schema", *whole["required"]],
        "$defs": parts,
    }


def _described(name: str, part: dict[str, Any]) -> dict[str, Any]:
    """A class's schema with the meaning of each key in place of its title and default, all keys required."""
    kept = {
        key: {
            **{word: value for word, value in content.items() if word not in ("title", "default")},
            "description": MEANING[name][key],
        }
        for key, content in part["properties"].items()
    }
    words = " ".join(str(part.get("description", "")).split())
    return {"type": "object", "description": words, "properties": kept, "required": list(kept)}


def schema_text() -> str:
    """The schema as it stands in docs/answer.schema.json."""
    return json.dumps(answer_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
