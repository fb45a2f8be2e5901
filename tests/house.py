"""The files of the house, for the tests of its rules."""

import ast
import fnmatch
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "fem", "materials", "cases", "tests", "docs"}


DOT_FILES = {".ci", ".gitignore", ".git"}


STOREYS = ("materials", "fem", "cases")


def ignored(path: Path) -> bool:
    """True for what .gitignore leaves out (its patterns are plain names, one a line)."""
    patterns = [
        line.strip().strip("/") for line in (ROOT / ".gitignore").read_text().splitlines() if line.strip()
    ]
    parts = path.relative_to(ROOT).parts
    return any(fnmatch.fnmatch(part, pattern) for part in parts for pattern in patterns)


def house_files() -> Iterator[Path]:
    """Every file of the house that version control would keep."""
    for top in sorted(TOP_LEVEL | {".ci", ".gitignore"}):
        start = ROOT / top
        inside = sorted(start.rglob("*")) if start.is_dir() else [start]
        yield from (path for path in inside if path.is_file() and not ignored(path))


def shown(path: Path) -> str:
    return str(path.relative_to(ROOT))


FILES = list(house_files())


PYTHON = [path for path in FILES if path.suffix == ".py"]


TREES = {path: ast.parse(path.read_text(encoding="utf-8")) for path in PYTHON}


def storey(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]
