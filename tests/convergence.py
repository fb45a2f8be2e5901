"""Offset and heel stretch on successively finer meshes: differences, observed order, limit.

Run as `python -m tests.convergence`; writes docs/convergence.md and docs/figures/convergence.png.

The order is that of L. F. Richardson's extrapolation (Phil. Trans. R. Soc. A 210, 1911, 307-357, from
memory). For three meshes, each with the cells of the last cut in two, the differences fall by 2**order, and
the limit is the last value plus the last difference over (2**order - 1). If the differences hardly fall, grow
or change sign, there is no order, and the table says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cases.casefile.case import Case
from cases.casefile.files import library_names, load
from cases.offset.build import question_of, structure_of
from cases.offset.solve import aimed_upper
from fem.geometry.mesh import MeshSize
from fem.solve.condensation import condense
from fem.solve.offset import find_offset

DOCS = Path(__file__).parents[1] / "docs"
COARSEST = MeshSize(corner=8e-3, far=36e-3, growth=1.8**4, curve=8e-3)
"""Refined twice, this is the mesh of every answer."""
DEFAULT_LEVEL = 2
LEAST_ORDER = 0.5
"""Below this the differences hardly fall, and a limit would be far outside the computed values."""


@dataclass(frozen=True)
class Level:
    """Result of one mesh: number of unknowns, offset (or taper of a single shim) and heel stretch [deg]."""

    unknowns: int
    offset: float
    stretch: float


def levels(case: Case, count: int) -> tuple[Level, ...]:
    """Offset and heel stretch of a case on ``count`` meshes, each with cells half as large as before."""
    structure, upper, found = structure_of(case), aimed_upper(case), []
    bodies = None
    for times in range(count):
        flexibility, fields = condense(structure, COARSEST.refined(times), reuse=bodies)
        bodies = fields.bodies
        question = question_of(case, flexibility, structure)
        solved = find_offset(question, upper=upper)
        stretch = question.kink(solved.pair.strung) - question.kink(solved.pair.bolted)
        found.append(Level(fields.bodies.size, math.degrees(solved.offset), math.degrees(stretch)))
    return tuple(found)


def order_of(values: Sequence[float]) -> float | None:
    """Observed order from the last three values; None if their differences do not fall steadily."""
    before, last = values[-2] - values[-3], values[-1] - values[-2]
    if last == 0.0 or not before / last > 1.0:
        return None
    order = math.log2(before / last)
    return order if order >= LEAST_ORDER else None


def limit_of(values: Sequence[float]) -> float | None:
    """Limit of the values by Richardson's extrapolation; None without an order."""
    order = order_of(values)
    return None if order is None else values[-1] + (values[-1] - values[-2]) / (2.0**order - 1.0)


def _shown(value: float | None, places: int) -> str:
    return "none" if value is None else f"{value:.{places}f}"


def page(studies: dict[str, tuple[Level, ...]]) -> str:
    """The page as Markdown."""
    text = [
        "# Convergence",
        "",
        "Written by `python -m tests.convergence`. Every case of the library is solved on meshes that each",
        f"cut the cells of the one before in two; every answer uses mesh {DEFAULT_LEVEL + 1}. Offset:",
        "preload offset, or the taper of a flat pocket's shim. Order and limit are Richardson's, from the",
        'last three meshes; "none" means that the differences hardly fall, grow or change sign.',
        "",
        "![Distance from the finest mesh](figures/convergence.png)",
    ]
    count = len(next(iter(studies.values())))
    heads = [f"mesh {number}" for number in range(1, count + 1)]
    for title, pick in (("Offset [deg]", "offset"), ("Heel stretch [deg]", "stretch")):
        cells = ["case", *heads, "order", "limit", f"mesh {DEFAULT_LEVEL + 1} from the limit"]
        text += ["", f"## {title}", "", "| " + " | ".join(cells) + " |", "|" + " --- |" * len(cells)]
        for name, study in studies.items():
            values = [getattr(level, pick) for level in study]
            limit = limit_of(values)
            away = None if limit is None else values[DEFAULT_LEVEL] - limit
            row = [name, *(f"{value:.5f}" for value in values)]
            row += [_shown(order_of(values), 2), _shown(limit, 5), _shown(away, 5)]
            text.append("| " + " | ".join(row) + " |")
    return "\n".join(text) + "\n"


def picture(studies: dict[str, tuple[Level, ...]], path: Path) -> None:
    """Distance of offset and stretch from those of the finest mesh against the number of unknowns."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 4.2), layout="constrained")
    for axes, pick, title in zip(
        figure.subplots(1, 2, sharey=True), ("offset", "stretch"), ("offset", "heel stretch"), strict=True
    ):
        for name, study in studies.items():
            finest = getattr(study[-1], pick)
            away = [abs(getattr(level, pick) - finest) for level in study[:-1]]
            axes.loglog([level.unknowns for level in study[:-1]], away, marker="o", label=name)
        axes.set_title(title)
        axes.set_xlabel("unknowns")
        axes.set_xticks([1000, 2000, 4000, 8000], ["1000", "2000", "4000", "8000"])
        axes.minorticks_off()
        axes.grid(visible=True, alpha=0.3)
    figure.axes[0].set_ylabel("distance from the finest mesh [deg]")
    figure.axes[1].legend(fontsize=7, loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False)
    figure.savefig(path, dpi=110)


def main(count: int = 4) -> None:
    """Study every case of the library and write page and picture."""
    studies = {}
    for name in library_names():
        studies[name] = levels(load(name), count)
        print(name, [f"{level.offset:.5f} {level.stretch:.5f}" for level in studies[name]], flush=True)
    (DOCS / "convergence.md").write_text(page(studies), encoding="utf-8")
    picture(studies, DOCS / "figures" / "convergence.png")


if __name__ == "__main__":
    main()
