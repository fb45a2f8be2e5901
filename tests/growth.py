"""What one condensation costs, and how far the offset is from its limit, against the number of unknowns.

Run as `python -m tests.growth`; renews the table in docs/growth.md and draws docs/figures/growth.png.
"""

import math
import resource
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import SuperLU, splu
from threadpoolctl import threadpool_limits

from cases import load
from cases.offset.build import question_of, structure_of
from cases.offset.solve import COARSE, FINE, aimed_upper
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.solve import condensation, factorisation
from fem.solve.offset import find_offset
from tests.floor import NAME, seconds, system

DOCS = Path(__file__).parents[1] / "docs"
BEGIN, END = "<!-- table of tests.growth -->", "<!-- end of the table -->"
HALVINGS = (-0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.2)
"""Meshes, each with the cells of the default mesh cut in 2**times: 5,000 to 500,000 unknowns."""
MOST_COLUMNS = 96
"""Right-hand sides that are timed; all of them take as many times longer as there are more."""
WITH_OFFSET = HALVINGS[:7]
"""Meshes on which the offset is found too: on the finest, all displacements at once take 15 GB."""
ERRORS = ("fourteen-mahogany", "twelve-cedar-parlour", "solid-25")
"""Guitars whose mesh error is drawn: 14 and 12 frets to the joint, a flat pocket."""
GROWING = {
    "assembly": "assembly",
    "factorisation": "factorisation",
    "right": "all right-hand sides",
    "factors_mb": "memory of the factors",
    "response_mb": "memory of the responses",
}
"""What grows: fields of `Cost`, in words."""
ENTRY = 12
"""Bytes of a factor's entry: a number and its row."""


@dataclass(frozen=True)
class Cost:
    """Cost of the three steps on one mesh: processor time [s], memory [MB].

    ``right`` is the time of all ``columns`` right-hand sides; ``entries`` are those of both factors.
    """

    unknowns: int
    columns: int
    assembly: float
    factorisation: float
    right: float
    entries: int

    @property
    def seconds(self) -> float:
        """All three steps."""
        return self.assembly + self.factorisation + self.right

    @property
    def factors_mb(self) -> float:
        """Memory of the factors."""
        return ENTRY * self.entries / 1e6

    @property
    def response_mb(self) -> float:
        """Memory of the displacements under every right-hand side."""
        return 8 * self.unknowns * self.columns / 1e6


@dataclass(frozen=True)
class Found:
    """The offset (or taper) on one mesh [deg], and the process's peak memory so far [MB]."""

    unknowns: int
    offset: float
    peak_mb: float


def factored(grounded: sp.csc_matrix) -> tuple[Callable[[Array], Array], SuperLU]:
    """The condensation's solution for right-hand sides, and its factors."""
    made: list[SuperLU] = []

    def kept(*given: object, **how: object) -> SuperLU:
        made.append(splu(*given, **how))
        return made[-1]

    with patch.object(factorisation, "splu", kept):
        return factorisation.factored(grounded), made[0]


def cost(size: MeshSize, *, rounds: int) -> Cost:
    """Measure one mesh; the best of some rounds counts."""
    one = system(size)
    whole = seconds(one.whole, rounds=rounds, pick=min)
    factors = seconds(lambda: factorisation.factored(one.grounded), rounds=rounds, pick=min)
    solve, made = factored(one.grounded)
    columns, some = one.right.shape[0], one.right[:MOST_COLUMNS].T.toarray()
    right = seconds(lambda: solve(some), rounds=rounds, pick=min) * columns / some.shape[1]
    return Cost(one.body.size, columns, whole, factors, right, made.nnz)


def offsets(name: str) -> tuple[Found, ...]:
    """The offset of a guitar on the answer's second mesh, then on the meshes of `WITH_OFFSET`."""
    case = load(name)
    structure, bodies, found = structure_of(case), None, []
    for size in (COARSE, *(FINE.refined(times) for times in WITH_OFFSET)):
        flexibility, fields = condensation.condense(structure, size, reuse=bodies)
        bodies = fields.bodies
        offset = find_offset(question_of(case, flexibility, structure), upper=aimed_upper(case)).offset
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        found.append(Found(bodies.size, math.degrees(offset), peak))
    return tuple(found)


def exponent(unknowns: Sequence[float], values: Sequence[float]) -> float:
    """Slope of the line through logarithms, by least squares: p where values grow as unknowns**p."""
    return float(np.polyfit(np.log(unknowns), np.log(values), 1)[0])


def exponents(costs: Sequence[Cost]) -> dict[str, float]:
    """Exponent of each step and of both memories."""
    unknowns = [one.unknowns for one in costs]
    return {step: exponent(unknowns, [getattr(one, step) for one in costs]) for step in GROWING}


def floor_of(costs: Sequence[Cost]) -> float:
    """Time of all three steps on the default mesh [s]."""
    return costs[HALVINGS.index(0.0)].seconds


def table(costs: Sequence[Cost], found: Sequence[Found]) -> list[str]:
    """Rows in Markdown, times as multiples of the floor; the exponents last."""
    least = floor_of(costs)
    rows = [["unknowns", "right-hand sides", "assembly", "factorisation", "all right-hand sides"]]
    rows[0] += ["factors [MB]", "responses [MB]", "process [MB]", "offset [deg]"]
    rows.append(["---:"] * len(rows[0]))
    answers = {one.unknowns: (f"{one.peak_mb:.0f}", f"{one.offset:.5f}") for one in found}
    for one in costs:
        times = (one.assembly / least, one.factorisation / least, one.right / least)
        memory = (f"{one.factors_mb:.0f}", f"{one.response_mb:.0f}")
        shown = (f"{x:.2g}" if x < 10 else f"{x:.0f}" for x in times)
        rest = answers.get(one.unknowns, ("", ""))
        rows.append([f"{one.unknowns:,}", str(one.columns), *shown, *memory, *rest])
    rows.append(["exponent", "", *(f"{x:.2f}" for x in exponents(costs).values()), "", ""])
    return ["| " + " | ".join(row) + " |" for row in rows]


def _line(axes: Any, unknowns: Sequence[int], values: Sequence[float], *, label: str) -> None:
    """A line over the meshes of `HALVINGS`, with a ring round the default mesh."""
    (line,) = axes.loglog(unknowns, values, marker="o", markersize=4, label=label)
    here = HALVINGS.index(0.0)
    ring = {"marker": "o", "markersize": 11, "markerfacecolor": "none", "color": line.get_color()}
    axes.plot(unknowns[here], values[here], **ring)


def picture(costs: Sequence[Cost], found: dict[str, tuple[Found, ...]], path: Path) -> None:
    """Time of the three steps against unknowns, and beside it the offset's distance from its finest mesh."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 4.4), layout="constrained")
    times, errors = figure.subplots(1, 2)
    unknowns, slopes = [one.unknowns for one in costs], exponents(costs)
    for step in ("right", "factorisation", "assembly"):
        values = [getattr(one, step) / floor_of(costs) for one in costs]
        _line(times, unknowns, values, label=f"{GROWING[step]}: unknowns$^{{{slopes[step]:.2f}}}$")
    times.set_title("time, as a multiple of all three steps on the default mesh", fontsize=10)
    for name, (_, *meshes, _, finest) in found.items():
        away = [abs(one.offset - finest.offset) for one in meshes]
        _line(errors, [one.unknowns for one in meshes], away, label=name)
    errors.set_title("offset: distance from the finest mesh [deg]", fontsize=10)
    for axes in (times, errors):
        left, right = axes.get_xlim()
        ticks = [n * 10**k for k in (3, 4, 5) for n in (5, 10) if left < n * 10**k < right]
        axes.set_xticks(ticks, [f"{tick:,}" for tick in ticks])
        axes.tick_params("x", which="minor", labelbottom=False)
        axes.set_xlabel("unknowns (ring: mesh of every answer)")
        axes.grid(visible=True, alpha=0.3)
        axes.legend(fontsize=8)
    figure.savefig(path, dpi=110)


def renewed(page: str, rows: Sequence[str]) -> str:
    """The page with the rows between its two marks."""
    before, rest = page.split(BEGIN)
    return "\n".join([before + BEGIN, "", *rows, "", END + rest.split(END)[1]])


def main() -> None:
    """Measure all meshes, renew the page's table and draw the picture."""
    with threadpool_limits(1):
        found = {name: offsets(name) for name in ERRORS}
        costs = [cost(FINE.refined(times), rounds=3) for times in HALVINGS]
    page = DOCS / "growth.md"
    page.write_text(renewed(page.read_text(encoding="utf-8"), table(costs, found[NAME])), encoding="utf-8")
    picture(costs, found, DOCS / "figures" / "growth.png")


if __name__ == "__main__":
    main()
