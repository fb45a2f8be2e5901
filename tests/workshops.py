"""Run the simulated workshops and write docs/workshops.md and docs/figures/reliability.png.

    python -m tests.workshops --date 2030-01-31 --commit 0123abc [--seeds 20] [--processes 2]

About half an hour with 20 workshops. Settings and seeds: `cases/bench/simulated/truth.py`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from cases.bench.simulated.rates import KINDS, Alarms, Rates, alarms, rates
from cases.bench.simulated.simulate import Simulation, simulation_of
from cases.bench.simulated.truth import ERRORS, SETTINGS
from cases.bench.simulated.ways import WAYS
from cases.show import style

DOCS = Path(__file__).resolve().parent.parent / "docs"
Times = tuple[tuple[str, float], ...]
Job = tuple[str, Times, int]
"""Way of working or `alarms`, multiples of true errors, number of workshops."""
Found = Mapping[Job, Any]
EARLIER: Times = tuple((name, 0.0) for name in ("batch", "season", "bench", "rod", "gross"))
"""Multiples of the true errors that leave those of the first simulation: no batches, seasons, benches, rod
errors and gross errors."""
VARIED = "again 0.01"
"""The way of working of the table of single errors."""
FEW = 6
"""Workshops of that table."""
BEFORE = (
    "fixed",
    "log",
    "log+neck",
    "log+neck+squares",
    "dry 0.01",
    "dry 0.005",
    "dry useless",
    "down 0.005",
    "follow",
)
"""Ways of working of the table with the errors of the first simulation."""
DRAWN = ("log+neck", "dry 0.01", "down 0.01")
"""Ways of working in the picture."""
RATES = (
    "| way of working | right: median | worst | as in the prior | body and creep | with the saddle trimmed: "
    "median | as in the prior | body and creep | chance - rate | worst | changed dry | gap out |"
)


@cache
def simulation() -> Simulation:
    """The simulated instrument, solved once in a process."""
    return simulation_of()


def changed(times: Times) -> Simulation:
    """The workshops with other true errors, which the program does not know."""
    at = simulation()
    return replace(at, settings=replace(at.settings, times=MappingProxyType(dict(times))))


def run(job: Job) -> Rates | Alarms:
    """Fit the workshops of one line of a table."""
    key, times, count = job
    at = changed(times)
    if key == "alarms":
        return alarms(at, seeds=range(count))
    return rates(at, WAYS[key], seeds=range(count))


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


def varied(name: str, factor: float) -> Times:
    """One true error at a multiple of its size."""
    return ((name, factor),)


def single_errors(found: Found, count: int) -> Iterator[str]:
    """How the rate depends on each error without a source: half, as assumed, double."""
    yield from head("| error | half | as assumed | double | chance - rate: half | as assumed | double |")
    for name, what in ERRORS.items():
        each = [found[VARIED, times, count] for times in (varied(name, 0.5), (), varied(name, 2.0))]
        cells = [f"{one.median:.3f}" for one in each]
        cells += [f"{100 * one.difference:+.1f} points" for one in each]
        yield f"| {what} | " + " | ".join(cells) + " |"


def reliability(results: Mapping[str, Rates]) -> Iterator[str]:
    """Calculated chance and rate, by way of working and kind of hidden truth."""
    yield from head("| way of working | kind | " + "calculated: right (guitars) |")
    for key in DRAWN:
        for kind, rows in zip(KINDS, results[key].reliability, strict=True):
            cells = [
                f"{100 * mean:.0f}: {100 * rate:.0f} ({count:.0f})" for mean, rate, count in rows if count
            ]
            yield f"| {WAYS[key].name} | {kind} | {', '.join(cells)} |"


@style.applied()
def draw(results: Mapping[str, Rates], path: Path) -> None:
    """Draw the reliability curves; a point of fewer than 50 guitars is left out."""
    figure = style.figure(width=8.0, height=3.8)
    looks = ((style.QUIET, "s"), (style.BLUE, "o"), (style.ORANGE, "^"))
    for number, kind in enumerate(KINDS):
        axes = figure.add_subplot(1, 2, number + 1)
        axes.plot([20, 100], [20, 100], color=style.QUIET, lw=1.0, ls="--")
        for key, (colour, mark) in zip(DRAWN, looks, strict=True):
            rows = results[key].reliability[number]
            rows = rows[rows[:, 2] >= 50]
            axes.plot(
                100 * rows[:, 0], 100 * rows[:, 1], f"-{mark}", color=colour, ms=4, label=WAYS[key].name
            )
        axes.set_title(f"hidden truth: {kind}", fontsize=9)
        axes.set_xlabel("calculated chance [%]")
        axes.set_ylabel("guitars right [%]")
        axes.set(xlim=(20, 101), ylim=(20, 101), aspect="equal")
        axes.legend(fontsize=6, loc="lower right", frameon=False)
    figure.tight_layout()
    figure.savefig(path)


def jobs(seeds: int) -> list[Job]:
    """Every line of every table."""
    few = min(FEW, seeds)
    found: list[Job] = [(key, (), seeds) for key in WAYS]
    found += [(key, EARLIER, seeds) for key in BEFORE]
    found += [("alarms", times, SETTINGS.shift_seeds) for times in ((), EARLIER)]
    found += [(VARIED, (), few)]
    found += [(VARIED, varied(name, factor), few) for name in ERRORS for factor in (0.5, 2.0)]
    return found


def page(found: Mapping[Job, Any], *, date: str, commit: str, seeds: int) -> str:
    """The page as Markdown; draws its picture."""
    now = {key: found[key, (), seeds] for key in WAYS}
    draw(now, DOCS / "figures" / "reliability.png")
    named = (("all errors", ()), ("errors of the first simulation", EARLIER))
    alarm = [(name, found["alarms", times, SETTINGS.shift_seeds]) for name, times in named]
    few = min(FEW, seeds)
    lines = [
        "# Simulated workshops: the numbers",
        "",
        "Written by `python -m tests.workshops`. [The simulation](bench-simulation.md) explains what is",
        f"simulated and what follows. {seeds} workshops of {SETTINGS.guitars} guitars each, seeds 0 to "
        f"{seeds - 1}, judged",
        f"from guitar {SETTINGS.judged_from + 1}; computed on {date} at commit {commit}. **A simulation, "
        "not a measurement.**",
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
        *(rate_line(WAYS[key].name, found[key, EARLIER, seeds]) for key in BEFORE),
        "",
        "## One error at a time",
        "",
        f"Median of {few} of these workshops with the way *{WAYS[VARIED].name}*. The true error",
        "is half or double the assumed one; the program does not know it.",
        "",
        *single_errors(found, few),
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
        *head("| simulated | flagged within 20 guitars | false within 250 guitars | false a month |"),
        *(
            f"| {name} | {100 * one.flagged:.1f} % | {100 * one.false:.1f} % | {one.false_a_month:.1f} |"
            for name, one in alarm
        ),
    ]
    return "\n".join(lines) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the page and the picture."""
    parser = argparse.ArgumentParser(description="write docs/workshops.md")
    parser.add_argument("--date", required=True, help="date to print")
    parser.add_argument("--commit", required=True, help="commit to print")
    parser.add_argument("--seeds", type=int, default=SETTINGS.seeds, help="number of workshops")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args(arguments)
    todo = jobs(given.seeds)
    found: dict[Job, Rates | Alarms] = {}
    with ProcessPoolExecutor(given.processes) as pool:
        for job, result in zip(todo, pool.map(run, todo), strict=True):
            found[job] = result
            print(job, f"{result.median:.3f}" if isinstance(result, Rates) else result, flush=True)
    text = page(found, date=given.date, commit=given.commit, seeds=given.seeds)
    (DOCS / "workshops.md").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
