"""What people ask: case files, the main question, the studies, the bench and what is shown."""

from importlib import import_module
from typing import Any

# Read when first asked for, so that one command does not pay for what another needs.
_FOUND_IN = {
    "Case": "cases.case",
    "library_names": "cases.files",
    "load": "cases.files",
    "loads": "cases.files",
    "save": "cases.files",
    "load_workshop": "cases.workshop",
    "preload": "cases.question",
    "Answer": "cases.answer",
}


def __getattr__(name: str) -> Any:
    if name not in _FOUND_IN:
        raise AttributeError(f"module 'cases' has no attribute {name!r}")
    return getattr(import_module(_FOUND_IN[name]), name)
