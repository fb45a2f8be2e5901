"""How long the answer takes: `python -m pytest tests/benchmarks --benchmark-enable --benchmark-only`.

An input changes in its fifth digit each round, so nothing cached can serve; ratios say what takes time.
"""

import itertools
import subprocess
import sys

import pytest

from cases import load, preload
from cases.offset.build import structure_of
from cases.offset.solve import COARSE, FINE
from fem.solve.condensation import condense

_FIFTH_DIGIT = itertools.count(1)


def _slightly_different():
    return load("fourteen-mahogany").with_values({"neck.depth_fret1_mm": 21.5 + 1e-4 * next(_FIFTH_DIGIT)})


@pytest.mark.parametrize("effects", [False, True], ids=["without the worth of assumed keys", "with it"])
def test_the_answer_in_process(benchmark, effects: bool) -> None:
    answer = benchmark.pedantic(
        lambda case: preload(case, effects=effects), setup=lambda: ((_slightly_different(),), {}), rounds=5
    )
    assert answer.checks.mesh_error_deg > 0.0


def test_the_command_cold(benchmark) -> None:
    def run():
        change = f"neck.depth_fret1_mm={21.5 + 1e-4 * next(_FIFTH_DIGIT)}"
        words = [sys.executable, "-m", "cases.cli", "offset", "fourteen-mahogany", "--set", change]
        return subprocess.run(words, capture_output=True, text=True, check=True)

    assert "PRELOAD OFFSET" in benchmark.pedantic(run, rounds=5).stdout


@pytest.mark.parametrize("size", [FINE, COARSE], ids=["fine", "coarse"])
def test_condensation(benchmark, size) -> None:
    structure = structure_of(load("fourteen-mahogany"))
    flexibility, _ = benchmark.pedantic(lambda: condense(structure, size), rounds=5, warmup_rounds=1)
    assert flexibility.size > 50


def test_memory(benchmark) -> None:
    code = (
        "from cases import load, preload; preload(load('fourteen-mahogany'));"
        "import resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    done = benchmark.pedantic(
        lambda: subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True),
        rounds=1,
    )
    benchmark.extra_info["peak_mb"] = int(done.stdout) / 1024
    assert int(done.stdout) > 0
