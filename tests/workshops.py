"""Run the simulated workshops and write docs/workshops.md and docs/figures/reliability.png.

    python -m tests.workshops --date 2030-01-31 --commit 0123abc [--seeds 20]

Half an hour of one core with 20 workshops. Settings and seeds: `cases/bench/simulated/truth.py`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from cases.bench.simulated.rates import KINDS, Rates, alarms, rates
from cases.bench.simulated.simulate import Simulation, simulation_of
from cases.bench.simulated.truth import ERRORS, SETTINGS
from cases.bench.simulated.ways import WAYS
from cases.show import style

DOCS = Path(__file__).resolve().parent.parent / "docs"
EARLIER: Mapping[str, float] = dict.fromkeys(("batch", "season", "bench", "rod", "gross"), 0.0)
"""Multiples of the true errors that leave those of the first simulation: no batches, seasons, benches, rod
errors and gross errors."""
VARIED = "again 0.01"
"""The way of working of the table of single errors."""
DRAWN = ("log+neck", "dry 0.01", "down 0.01")
"""Ways of working in the picture."""
RATES = (
    "| way of working | right: median | worst | as in the prior | body and creep | with the saddle trimmed: "
    "median | as in the prior | body and creep | chance - rate | worst | changed dry | gap out |"
)


def changed(at: Simulation, times: Mapping[str, float]) -> Simulation:
    """The same workshops with other true errors, which the program does not know."""
    return replace(at, settings=replace(at.settings, times=MappingProxyType(dict(times))))


def rate_line(name: str, one: Rates) -> str:
    """One way of working."""
    cells = [f"{value:.3f}" for value in (one.median, one.worst, *one.kinds, one.trim, *one.trim_kinds)]
    off = ["", ""]
    if one.way.program:
        off = [f"{100 * value:+.1f} points" for value in (one.difference, one.worst_difference)]
    cells += [*off, f"{100 * one.changed:.0f} %" if one.way.dry_deg else "", f"{100 * one.by_gap:.0f} %"]
    return "| " + " | ".join((name, *cells)) + " |"


def head(line: str) -> list[str]:
    """The first two lines of a table."""
    return [line, "|" + " --- |" * line.count(" |")]


def single_errors(at: Simulation, seeds: Sequence[int]) -> Iterator[str]:
    """How the rate depends on each error without a source: half, as assumed, double."""
    yield from head("| error | half | as assumed | double | chance - rate: half | as assumed | double |")
    base = rates(at, WAYS[VARIED], seeds=seeds)
    for name, what in ERRORS.items():
        half, double = (
            rates(changed(at, {name: factor}), WAYS[VARIED], seeds=seeds) for factor in (0.5, 2.0)
        )
        each = (half, base, double)
        cells = [f"{one.median:.3f}" for one in each]
        cells += [f"{100 * one.difference:+.1f} points" for one in each]
        print(name, *cells, flush=True)
        yield f"| {what} | " + " | ".join(cells) + " |"


def reliability(results: Mapping[str, Rates]) -> Iterator[str]:
    """Calculated chance and rate, by way of working and kind of hidden truth."""
    yield from head("| way of working | kind | " + "calculated: right (guitars) |")
    for key in DRAWN:
        for kind, rows in zip(KINDS, results[key].reliability, strict=True):
            cells = [f"{100 * mean:.0f}: {100 * rate:.0f} ({count:.0f})" for mean, rate, count in rows if count]
            yield f"| {WAYS[key].name} | {kind} | {', '.join(cells)} |"


@style.applied()
def draw(results: Mapping[str, Rates], path: Path) -> None:
    """Draw the reliability curves; a point of fewer than 50 guitars is left out."""
    figure = style.figure(width=8.0, height=3.8)
    looks = ((style.QUIET, "s"), (style.BLUE, "o"), (style.ORANGE, "^"))
    for number, kind in enumerate(KINDS):
        axes = figure.add_subplot(1, 2, number + 1)
        axes.plot([40, 100], [40, 100], color=style.QUIET, lw=1.0, ls="--")
        for key, (colour, mark) in zip(DRAWN, looks, strict=True):
            rows = results[key].reliability[number]
            rows = rows[rows[:, 2] >= 50]
            axes.plot(100 * rows[:, 0], 100 * rows[:, 1], f"-{mark}", color=colour, ms=4, label=WAYS[key].name)
        axes.set_title(f"hidden truth: {kind}", fontsize=9)
        axes.set_xlabel("calculated chance [%]")
        axes.set_ylabel("guitars right [%]")
        axes.set_aspect("equal")
        axes.legend(fontsize=6, loc="upper left", frameon=False)
    figure.tight_layout()
    figure.savefig(path)


def page(*, date: str, commit: str, seeds: Sequence[int]) -> str:
    """Run everything; return the page as Markdown."""
    at = simulation_of()
    now = {}
    for key, way in WAYS.items():
        now[key] = rates(at, way, seeds=seeds)
        print(rate_line(key, now[key]), flush=True)
    earlier = changed(at, EARLIER)
    before = [rate_line(way.name, rates(earlier, way, seeds=seeds)) for way in WAYS.values()]
    alarm = [(name, alarms(one, seeds=range(SETTINGS.shift_seeds))) for name, one in
             (("all errors", at), ("errors of the first simulation", earlier))]  # fmt: skip
    draw(now, DOCS / "figures" / "reliability.png")
    return "\n".join([
        "# Simulated workshops: the numbers",
        "",
        "Written by `python -m tests.workshops`. [At the bench](bench.md), section 6, explains what is simulated",
        f"and what follows. {len(seeds)} workshops, seeds {seeds[0]} to {seeds[-1]}, {SETTINGS.guitars} guitars each,",
        f"judged from guitar {SETTINGS.judged_from + 1}; computed on {date} at commit {commit}. **A simulation, not a measurement.**",
        "",
        "## Rates",
        "",
        *head(RATES),
        *(rate_line(WAYS[key].name, one) for key, one in now.items()),
        "",
        "## The same with the errors of the first simulation",
        "",
        "Without batches of wood, seasons, differences of benches, rod errors and gross errors:",
        "",
        *head(RATES),
        *before,
        "",
        "## One error at a time",
        "",
        f"Median of the same workshops with the way *{WAYS[VARIED].name}*. The true error is half or double the",
        "assumed one; the program does not know it.",
        "",
        *single_errors(at, seeds),
        "",
        "## Calculated chance against rate",
        "",
        "![Reliability curves](figures/reliability.png)",
        "",
        "Per cent calculated: per cent right (guitars):",
        "",
        *reliability(now),
        "",
        "## Alarms",
        "",
        f"A shift by one standard deviation at guitar {SETTINGS.shift_at}, {SETTINGS.shift_seeds} workshops:",
        "",
        *head("| simulated | flagged within 20 guitars | false alarm within 250 guitars | false alarms a month |"),
        *(f"| {name} | {100 * one.flagged:.1f} % | {100 * one.false:.1f} % | {one.false_a_month:.1f} |"
          for name, one in alarm),
    ]) + "\n"  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the page and the picture."""
    parser = argparse.ArgumentParser(description="write docs/workshops.md")
    parser.add_argument("--date", required=True, help="date to print")
    parser.add_argument("--commit", required=True, help="commit to print")
    parser.add_argument("--seeds", type=int, default=SETTINGS.seeds, help="number of workshops")
    given = parser.parse_args(arguments)
    text = page(date=given.date, commit=given.commit, seeds=range(given.seeds))
    (DOCS / "workshops.md").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
