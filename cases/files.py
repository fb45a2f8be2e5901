"""Where case files are found, and how they are read and written."""

import tomllib
from pathlib import Path

from cases.case import Case, resolve

LIBRARY = Path(__file__).parent / "library"


def load(name_or_path: str | Path, *, workshop: object = None) -> Case:
    path = Path(name_or_path)
    if path.suffix != ".toml":
        path = LIBRARY / f"{path}.toml"
    text = path.read_text(encoding="utf-8")
    return resolve(tomllib.loads(text), where=str(path), name=path.stem, text=text)
