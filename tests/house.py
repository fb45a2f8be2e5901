"""The project's files and their syntax trees, for the tests of its rules."""

import ast
import fnmatch
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "fem", "materials", "cases", "tests", "docs"}
DOT_FILES = {".ci", ".gitignore", ".git"}
STOREYS = ("materials", "fem", "cases")


def ignored(path: Path) -> bool:
    """Whether .gitignore leaves a path out (its patterns are plain names, one a line)."""
    parts = path.relative_to(ROOT).parts
    return any(fnmatch.fnmatch(part, pattern) for part in parts for pattern in _patterns())


@cache
def _patterns() -> tuple[str, ...]:
    lines = (ROOT / ".gitignore").read_text().splitlines()
    return tuple(line.strip().strip("/") for line in lines if line.strip())


def house_files() -> Iterator[Path]:
    """Every file that version control would keep."""
    for top in sorted(TOP_LEVEL | {".ci", ".gitignore"}):
        start = ROOT / top
        inside = sorted(start.rglob("*")) if start.is_dir() else [start]
        yield from (path for path in inside if path.is_file() and not ignored(path))


def shown(path: Path) -> str:
    """A path as messages show it, relative to the project."""
    return str(path.relative_to(ROOT))


def storey(path: Path) -> str:
    """Top-level folder of a file."""
    return path.relative_to(ROOT).parts[0]


FILES = list(house_files())
PYTHON = [path for path in FILES if path.suffix == ".py"]


@cache
def trees(*folders: str) -> dict[Path, ast.Module]:
    """Syntax trees of the Python files in some top-level folders, all by default; parsed on first use."""
    if folders:
        return {path: tree for path, tree in trees().items() if storey(path) in folders}
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in PYTHON}
