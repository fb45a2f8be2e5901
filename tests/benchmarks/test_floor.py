"""Processor time of answer and commands as multiples of the *floor* (tests/floor.py), also as a row of the
table by commit in DEVELOPERS.md; `-k short` leaves out the commands:
`python -m pytest -n 0 tests/benchmarks/test_floor.py --benchmark-enable --benchmark-only -s`.
"""

import itertools
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from threadpoolctl import threadpool_limits

from cases import load, preload
from cases.casefile.case import Case
from cases.casefile.new_case import new_case
from cases.offset.build import structure_of
from cases.offset.solve import FINE
from fem.solve.condensation import condense
from tests.floor import NAME, floor, seconds
from tests.growth import GROWING, HALVINGS, cost, exponents

BARE = "import numpy, scipy.sparse.linalg, skfem"
COMMANDS = {
    "offset": ["offset", NAME],
    "compare": ["compare", NAME, "--strings", "medium,heavy"],
    "drift": ["drift", NAME],
    "history": ["history", NAME],
    "export": ["export", NAME, "--out", "fields"],
    "sheet": ["sheet", NAME, "--out", "sheet.pdf"],
    "flex": ["flex", NAME, "--out", "pictures"],
    "sensitivity": ["sensitivity", NAME],
}
_FIFTH_DIGIT = itertools.count(1)


def slightly_different(case: Case) -> Case:
    """The case with an input changed in its fifth digit: nothing cached can serve."""
    depth = case.neck.depth_fret1_mm + 1e-4 * next(_FIFTH_DIGIT)
    return case.with_values({"neck.depth_fret1_mm": depth})


def cold(words: list[str]) -> float:
    """Least processor time of a fresh process [s]."""
    taken = []
    alone = os.environ | {"OMP_NUM_THREADS": "1", "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    # a user's modules are compiled once and kept
    alone.pop("PYTHONDONTWRITEBYTECODE", None)
    for _ in range(4):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], capture_output=True, check=True, env=alone)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(taken)


def in_process(case: Case, *, rounds: int) -> dict[str, float]:
    """Processor time of steps of an answer [s]."""
    once = {
        "condensation": lambda: condense(structure_of(slightly_different(case)), FINE),
        "answer": lambda: preload(slightly_different(case), effects=False),
        "with effects": lambda: preload(slightly_different(case)),
    }
    return {name: seconds(step, rounds=rounds) for name, step in once.items()}


def show(least: float, found: dict[str, float]) -> None:
    """Print each time, then all as a row of the table by commit."""
    print(f"\nfloor {least:.3f} s; by processor time:")
    for name, taken in found.items():
        print(f"  {name:16} {taken:6.2f} s {taken / least:6.1f} floors")
    asked = ["git", "log", "-1", "--date=short", "--format=%cd %h"]
    commit = subprocess.run(asked, capture_output=True, text=True, check=False).stdout.strip()
    row = [commit, f"{least:.2f}", *(f"{taken / least:.1f}" for taken in found.values())]
    print("| " + " | ".join(row) + " |")


def test_short(benchmark) -> None:  # type: ignore[no-untyped-def]
    with threadpool_limits(1):
        least = benchmark.pedantic(floor, rounds=1)
        found = in_process(load(NAME), rounds=2)
        costs = [cost(FINE.refined(times), rounds=2) for times in HALVINGS[:4]]
    show(least, found)
    print("grows as unknowns to the power of:")
    for step, power in exponents(costs).items():
        print(f"  {GROWING[step]:24} {power:.2f}")
    assert least > 0.0


def test_ratios_to_the_floor(benchmark, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    case = load(NAME)
    fresh = tmp_path / "fresh.toml"
    fresh.write_text(new_case("fresh", like=case), encoding="utf-8")
    new = load(fresh)
    with threadpool_limits(1):
        least = benchmark.pedantic(floor, rounds=1)
        found = in_process(case, rounds=5)
        found["a new file"] = seconds(lambda: preload(slightly_different(new)))
    with monkeypatch.context() as elsewhere:
        elsewhere.chdir(tmp_path)
        found["bare imports"] = cold(["-c", BARE])
        found |= {name: cold(["-m", "cases.cli", *words]) for name, words in COMMANDS.items()}
    show(least, found)
    assert least > 0.0
