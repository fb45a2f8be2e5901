"""What people ask: case files, the main question, the studies, the bench and what is shown."""

from importlib import import_module
from typing import Any

# Read when first asked for, so that one command does not pay for what another needs.
_FOUND_IN = {
    "Case": "cases.casefile.case",
    "library_names": "cases.casefile.files",
    "load": "cases.casefile.files",
    "loads": "cases.casefile.files",
    "save": "cases.casefile.files",
    "load_workshop": "cases.casefile.workshop",
    "preload": "cases.offset.preload",
    "Answer": "cases.offset.answer",
}


def __getattr__(name: str) -> Any:
    if name not in _FOUND_IN:
        raise AttributeError(f"module 'cases' has no attribute {name!r}")
    return getattr(import_module(_FOUND_IN[name]), name)
