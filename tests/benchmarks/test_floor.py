"""Processor time of answer and commands as multiples of the *floor*:
`python -m pytest -n 0 tests/benchmarks/test_floor.py --benchmark-enable --benchmark-only -s`.

The floor is one assembly, one factorisation and one set of right-hand sides of the default mesh: nothing that
solves the neck once takes less. A ratio to it, both measured in one run on one thread, hardly depends on the
machine or on what else runs there.
"""

import itertools
import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.sparse as sp
from threadpoolctl import threadpool_limits

from cases import load, preload
from cases.casefile.case import Case
from cases.casefile.new_case import new_case
from cases.offset.build import structure_of
from cases.offset.solve import FINE
from fem.solve import assembly
from fem.solve.condensation import _factored, condense, grounding

NAME, ROUNDS = "fourteen-mahogany", 5
BARE = "import numpy, scipy.sparse.linalg, skfem"
COMMANDS = {
    "offset": ["offset", NAME],
    "compare, three": ["compare", NAME, "--strings", "medium", "--strings", "heavy"],
    "drift": ["drift", NAME],
    "history": ["history", NAME],
    "export": ["export", NAME, "--out", "fields"],
    "sheet": ["sheet", NAME, "--out", "sheet.pdf"],
    "flex": ["flex", NAME, "--out", "pictures"],
    "sensitivity": ["sensitivity", NAME],
}
_FIFTH_DIGIT = itertools.count(1)


def seconds(function: Callable[[], object]) -> float:
    """Median processor time of a call [s]."""
    taken = []
    for _ in range(ROUNDS):
        start = time.process_time()
        function()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def floor() -> float:
    """Processor time of the floor [s]."""
    structure = structure_of(load(NAME))
    body = assembly.bodies(structure, FINE)
    rows, link = assembly.reading_rows(structure, body), assembly.link(structure, body)
    matrix = sp.csr_matrix(rows.matrix @ link)
    springs = np.zeros(matrix.shape[0])
    for kind in ("opening", "slip"):
        springs[rows.at[kind]] = grounding(structure, rows.points)

    def whole() -> sp.csr_matrix:
        pieces = assembly.stiffness_pieces(structure, body, moduli=False)
        return assembly.whole_stiffness(body, pieces)

    grounded = sp.csc_matrix(link.T @ whole() @ link + matrix.T @ sp.diags(springs) @ matrix)
    solve, right = _factored(grounded), matrix.T.toarray()
    return seconds(whole) + seconds(lambda: _factored(grounded)) + seconds(lambda: solve(right))


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


def test_ratios_to_the_floor(benchmark, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    case = load(NAME)
    fresh = tmp_path / "fresh.toml"
    fresh.write_text(new_case("fresh", like=case), encoding="utf-8")
    new = load(fresh)
    monkeypatch.chdir(tmp_path)
    with threadpool_limits(1):
        least = benchmark.pedantic(floor, rounds=1)
        found = {
            "one fine condensation": seconds(lambda: condense(structure_of(slightly_different(case)), FINE)),
            "answer without effects": seconds(lambda: preload(slightly_different(case), effects=False)),
            "answer with effects": seconds(lambda: preload(slightly_different(case))),
            "a new file, with effects": seconds(lambda: preload(slightly_different(new))),
        }
    found["a bare interpreter with its imports"] = cold(["-c", BARE])
    for name, words in COMMANDS.items():
        found[f"cold: {name}"] = cold(["-m", "cases.cli", *words])
    print(f"\nfloor {least:.3f} s; by processor time:")
    for name, taken in found.items():
        print(f"  {name:36} {taken:6.2f} s {taken / least:6.1f} x")
    assert least > 0.0
