"""Pictures of a drift study: years on a log axis with their band, and one year of weather."""

from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cases.show.style import BLUE, ORANGE, QUIET, STEEL, applied, figure, headline, save
from cases.studies.drift import Drift
from cases.studies.season import MONTHS, Season

PANELS = (
    ("relief_mm", "relief, left alone [mm]"),
    ("kink_deg", "kink, left alone [deg]"),
    ("action_mm", "action, left alone [mm]"),
    ("saddle_cut_mm", "saddle to cut [mm]"),
)
TIMES = {1.0 / 365.0: "1 day", 1.0 / 12.0: "1 month", 1.0: "1 year", 10.0: "10 years"}
LINES: tuple[Any, ...] = (
    {"color": BLUE, "ls": "-"},
    {"color": ORANGE, "ls": (0, (4, 1.5))},
    {"color": STEEL, "ls": ":"},
)


@applied()
def draw_years(study: Drift) -> Figure:
    """Years under the strings: middle scenario, and the band between low and high creep."""
    drawn = figure(width=8.0, height=5.2)
    axes = drawn.subplots(2, 2, sharex=True)
    for axis, (name, label) in zip(axes.ravel(), PANELS, strict=True):
        low, middle, high = (getattr(course, name)[1:] for course in study.courses)
        axis.fill_between(study.years[1:], low, high, color=BLUE, alpha=0.15, lw=0)
        axis.plot(study.years[1:], middle, color=BLUE, lw=1.8)
        axis.axhline(getattr(study.courses[1], name)[0], color=QUIET, lw=0.8, ls=":")
        axis.set_xscale("log")
        axis.set_ylabel(label)
        axis.margins(y=0.12)
    axes[1, 1].axhline(study.saddle_room_mm, color=ORANGE, lw=1.2, ls=(0, (4, 1.5)))
    axes[1, 1].annotate(
        "largest possible saddle cut",
        (study.years[1], study.saddle_room_mm),
        xytext=(0, 2),
        textcoords="offset points",
        fontsize=8,
        color=ORANGE,
        va="bottom",
    )
    for axis in axes[1]:
        axis.set_xlabel("time under the strings")
        axis.set_xticks(list(TIMES), list(TIMES.values()))
        axis.tick_params(axis="x", which="minor", bottom=False)
    ends = f"{study.courses[0].k_def:g} to {study.courses[-1].k_def:g}"
    k_def = f"{study.courses[1].k_def:g}"
    headline(drawn, f"{study.case}: creep over the years (k_def {k_def}, band {ends})")
    drawn.tight_layout()
    return drawn


@applied()
def draw_season(study: Drift, season: Season) -> Figure:
    """Relief, action and bolt tension over a year that starts driest (or coldest)."""
    drawn = figure(width=8.0, height=3.2)
    axes = drawn.subplots(1, 3)
    for axis, name, label in (
        (axes[0], "relief_mm", "relief [mm]"),
        (axes[1], "action_mm", "action [mm]"),
    ):
        for line, course in zip(LINES, season.courses, strict=False):
            axis.plot(MONTHS, course.over_the_year(name), lw=1.6, label=course.name, **line)
        axis.set_ylabel(label)
    if len(season.courses) > 1:
        found = axes[0].get_legend_handles_labels()
        drawn.legend(*found, loc="upper left", bbox_to_anchor=(0.0, 0.93), ncols=3, frameon=False, fontsize=8)
    _bolts(axes[2], season)
    for axis in axes:
        axis.set_xlabel("month (0: lowest)")
        axis.set_xticks(range(0, 13, 3))
    span = f"{season.courses[0].value[0]:g} to {season.courses[0].value[-1]:g} {season.unit}"
    headline(drawn, f"{study.case}: a year of {season.kind}, {span}")
    drawn.tight_layout(rect=(0.0, 0.0, 1.0, 0.95 if len(season.courses) > 1 else 1.0))
    return drawn


def _bolts(axis: Axes, season: Season) -> None:
    for line, name, label in zip(LINES, ("bolt_low", "bolt_high"), ("weakest", "strongest"), strict=False):
        axis.plot(MONTHS, season.courses[0].over_the_year(name), lw=1.6, label=label, **line)
    axis.axhline(1.0, color=QUIET, lw=0.8, ls=":")
    axis.set_ylabel("bolt tension / tension at set-up,\nnot retightened")
    axis.legend(frameon=False, fontsize=7)


def save_drift(study: Drift, folder: Path) -> tuple[Path, ...]:
    """Write the pictures of a study into a folder; returns their paths."""
    drawn = {f"{study.case}-drift": draw_years(study)}
    drawn |= {f"{study.case}-{one.kind}": draw_season(study, one) for one in (study.humid, study.warm) if one}
    paths = tuple(folder / f"{name}.png" for name in drawn)
    for path, made in zip(paths, drawn.values(), strict=True):
        save(made, path)
    return paths
