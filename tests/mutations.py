"""Breaks one formula at a time in a copy of the project and prints which test notices.

Run as `python -m tests.mutations`. The table names the first test that fails for each breakage. Comparisons
with our own earlier results (goldens) are not run. Exit code 1 if a breakage goes unnoticed.
`tests/evidence_rows` breaks formulas too, for its own rows.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.breakages import BREAKAGES, BY_A_STRANGER, FROM_THEORY, Breakage

ROOT = Path(__file__).parents[1]
COPIED = ("fem", "materials", "cases", "tests", "docs")
COPIED += ("pyproject.toml", "README.md", "DEVELOPERS.md", ".gitignore")
FAILED = re.compile(r"^(?:FAILED|ERROR) (\S+)", re.M)


def copied(folder: Path) -> Path:
    """Copy the project into a folder and return the folder."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    return folder


def first_failure(root: Path, tests: Sequence[str]) -> str | None:
    """The first test that fails in the copy, None when all pass."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "--tb=no", "-rfE"]
    command += ["-k", "not golden", *tests]
    environment = {**os.environ, "PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}
    run = subprocess.run(command, cwd=root, env=environment, capture_output=True, text=True, check=False)
    if run.returncode == 0:
        return None
    found = FAILED.search(run.stdout)
    return found.group(1) if found else f"pytest ended with {run.returncode}"


def caught_by(breakage: Breakage, root: Path) -> str | None:
    """The test that notices a breakage in a copy, None if none does; the copy is restored."""
    path = root / breakage.file
    whole = path.read_text(encoding="utf-8")
    breakage.applied(root)
    try:
        return first_failure(root, breakage.tests)
    finally:
        path.write_text(whole, encoding="utf-8")


def survivors(breakages: Sequence[Breakage], root: Path) -> int:
    """Print a line each and count the unnoticed; the tests must pass in the unbroken copy."""
    survived = 0
    whole: dict[tuple[str, ...], str | None] = {}
    for breakage in breakages:
        if breakage.tests not in whole:
            whole[breakage.tests] = first_failure(root, breakage.tests)
        before = whole[breakage.tests]
        found = f"fails unbroken: {before}" if before else caught_by(breakage, root)
        survived += before is not None or found is None
        print(f"| {breakage.what} | {breakage.file} | {found or 'SURVIVED'} |", flush=True)
    return survived


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table; return 1 when a breakage survives."""
    parser = argparse.ArgumentParser(description="break one formula at a time and print which test notices")
    parser.add_argument("--only", default="", help="only breakages whose description contains this text")
    given = parser.parse_args(arguments)
    survived = 0
    with tempfile.TemporaryDirectory() as folder:
        root = copied(Path(folder))
        for title, breakages in (
            ("broken deliberately", BREAKAGES),
            ("chosen from the theory", FROM_THEORY),
            ("chosen by someone who had not read the tests", BY_A_STRANGER),
        ):
            print(f"\n| {title} | file | noticed by |\n| --- | --- | --- |", flush=True)
            survived += survivors([one for one in breakages if given.only in one.what], root)
    print(f"\n{survived} survived")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())
