"""The API page: ``name : meaning`` in a docstring is a name with its meaning; its type is annotated."""

import re
from typing import Any

from griffe import Extension, Object

ENTRY = re.compile(r"^(\w+(?:, \w+)*) : (.+(?:\n +.+)*)$", re.MULTILINE)


def _on_two_lines(found: re.Match[str]) -> str:
    return f"{found[1]}\n    {' '.join(found[2].split())}"


class OneLineEntries(Extension):
    """Writes such entries on two lines, as the parser expects a meaning."""

    def on_object(self, *, obj: Object, **_: Any) -> None:
        """Change the docstring of an object that was read."""
        if obj.docstring is not None:
            obj.docstring.value = ENTRY.sub(_on_two_lines, obj.docstring.value)
