"""Picture of a comparison: rows side by side, curves over one varied number, contours over two."""

from collections.abc import Callable, Sequence
from math import ceil, floor

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cases.show.key_names import name_and_unit
from cases.show.style import BLUE, INK, ORANGE, QUIET, STEEL, WOOD, applied, headline, panels
from cases.studies.compare import ComparedInstrument, Comparison, CurrentPair, Numbers

WIDTH = 11.0
LINES = ("-", "--", ":", "-.")
COLOURS = (BLUE, ORANGE, STEEL, INK)
Read = Callable[[Numbers], float]
PANELS: tuple[tuple[str, Read], ...] = (
    ("preload offset [deg]", lambda numbers: numbers.preload_offset_deg),
    ("heel stretch [deg]", lambda numbers: numbers.heel_stretch_deg),
    ("relief, rod slack [mm]", lambda numbers: numbers.relief_slack_mm),
)
MOST_NAMED = 3
"""Largest number of instruments named in the title."""
EDGE = 0.06
"""Share of a panel's height at its edges in which a contour has no label: it would be cut off."""
LEAST_SPAN = 0.02
"""Least span of a scale [deg, mm]: a smaller change is not worth a picture's height."""
SHADE = "the current pair may stay"
MOST_STEPS = 24
"""Largest number of steps in stock that are drawn as lines."""


@applied()
def draw_comparison(comparison: Comparison) -> Figure:
    """Contours if two numbers of one case were varied, curves if one was, else one row each."""
    numeric = [at for at, axis in enumerate(comparison.axes) if axis.numeric and len(axis.values) > 1]
    one_case = len({row.case for row in comparison.rows}) == 1
    if len(comparison.axes) == len(numeric) == 2 and one_case:
        drawn = _contours(comparison)
    else:
        drawn = _curves(comparison, numeric[0]) if len(numeric) == 1 else _side_by_side(comparison)
    changed = " and ".join(name_and_unit(axis.key)[0] for axis in comparison.axes)
    cases = list(dict.fromkeys(row.case for row in comparison.rows))
    name = ", ".join(cases) if len(cases) <= MOST_NAMED else f"{len(cases)} instruments"
    headline(drawn, f"{name}: {changed} varied" if changed else f"{name} compared")
    return drawn


def _side_by_side(comparison: Comparison) -> Figure:
    rows = comparison.rows
    height = max(3.0, 1.6 + 0.3 * len(rows))
    drawn, axes = panels(1, 3, width=WIDTH, height=height, sharey=True, width_ratios=(1.6, 1.0, 1.0))
    places = range(len(rows))
    for panel, (label, read) in zip(axes, PANELS, strict=True):
        for place, row in zip(places, rows, strict=True):
            panel.axhline(place, color=QUIET, lw=0.4, zorder=0)
            if row.numbers is not None:
                change = row.keep_pair is False
                style = {"marker": "D" if change else "o", "color": ORANGE if change else BLUE}
                panel.plot(read(row.numbers), place, ms=7, ls="none", **style)
        panel.set_xlabel(label)
        panel.margins(x=0.12)
    for place, row in zip(places, rows, strict=True):
        if row.numbers is None:
            spot = axes[0].get_yaxis_transform()
            axes[0].text(
                0.02, place, "not possible", transform=spot, va="center", color=QUIET, backgroundcolor="white"
            )
    _stay_band(axes[0], comparison.current_pair, along="x")
    axes[0].set_yticks(list(places), [row.name for row in rows])
    axes[0].set_ylim(len(rows) - 0.5, -0.5)
    axes[0].plot([], [], "o", ms=7, color=BLUE, label="keep the pair")
    if any(row.keep_pair is False for row in rows):
        axes[0].plot([], [], "D", ms=7, color=ORANGE, label="change the pair")
    drawn.legend(*axes[0].get_legend_handles_labels(), loc="outside lower center", ncols=3, frameon=False)
    return drawn


def _curves(comparison: Comparison, varied: int) -> Figure:
    axis = comparison.axes[varied]
    drawn, axes = panels(1, 3, width=WIDTH, height=4.4, width_ratios=(1.4, 1.0, 1.0))
    families: dict[str, list[ComparedInstrument]] = {}
    for row in comparison.rows:
        if row.changed:
            families.setdefault(_family(row, axis.key), []).append(row)
    for panel, (label, read) in zip(axes, PANELS, strict=True):
        for number, (name, rows) in enumerate(families.items()):
            x = [_number(row.changed[axis.key]) for row in rows]
            y = [read(row.numbers) if row.numbers is not None else np.nan for row in rows]
            line, colour = LINES[number % len(LINES)], COLOURS[number // len(LINES) % len(COLOURS)]
            panel.plot(x, y, line, marker="o", ms=4, color=colour, label=name or None)
        panel.set_xlabel(_with_unit(axis.key))
        panel.set_ylabel(label)
        low, high = panel.get_ylim()
        wider = 0.5 * max(LEAST_SPAN - (high - low), 0.0)
        panel.set_ylim(low - wider, high + wider)
    foot = axes[0].get_xaxis_transform()
    for number, (name, rows) in enumerate(families.items()):
        bad = [_number(row.changed[axis.key]) for row in rows if row.numbers is None]
        label, height = f"{name}: not possible" if name else "not possible", 0.02 + 0.04 * number
        if bad:
            axes[0].plot(bad, [height] * len(bad), "x", ms=6, color=ORANGE, transform=foot, label=label)
    _stay_band(axes[0], comparison.current_pair, along="y")
    names, labels = axes[0].get_legend_handles_labels()
    if names:
        drawn.legend(names, labels, loc="outside lower center", ncols=3, frameon=False)
    return drawn


def _contours(comparison: Comparison) -> Figure:
    across, up = comparison.axes
    shape = (len(across.values), len(up.values))
    rows = comparison.rows[1:]
    x, y = np.array([_number(v) for v in across.values]), np.array([_number(v) for v in up.values])
    drawn, axes = panels(1, 2, width=WIDTH, height=4.8)
    edged = False
    for panel, (label, read) in zip(axes, PANELS[:2], strict=True):
        values = np.array([read(row.numbers) if row.numbers is not None else np.nan for row in rows])
        grid = np.ma.masked_invalid(values.reshape(shape).T)
        if grid.count() and min(shape) > 1 and np.ptp(grid.compressed()) > 0.0:
            colours = "Blues_r" if label == PANELS[0][0] else "Blues"
            filled = panel.contourf(x, y, grid, levels=8, cmap=colours, alpha=0.7)
            lines = panel.contour(
                x, y, grid, levels=filled.levels, colors=INK, linewidths=0.7, linestyles="-"
            )
            for text in panel.clabel(lines, fontsize=8):
                _, up_there = panel.transAxes.inverted().transform(
                    panel.transData.transform(text.get_position())
                )
                text.set_visible(EDGE < up_there < 1.0 - EDGE)
        for row in rows:
            spot = (_number(row.changed[across.key]), _number(row.changed[up.key]))
            look = ("x", ORANGE, 7) if row.numbers is None else (".", STEEL, 4)
            panel.plot(*spot, look[0], color=look[1], ms=look[2], clip_on=False)
        panel.set_title(label, pad=12)
        panel.set_xlabel(_with_unit(across.key))
        panel.set_ylabel(_with_unit(up.key))
        edged = _stay_edges(panel, x, y, grid, comparison.current_pair) if label == PANELS[0][0] else edged
    drawn.supxlabel(_contour_key(rows, edged=edged), fontsize=9)
    return drawn


def _contour_key(rows: Sequence[ComparedInstrument], *, edged: bool) -> str:
    parts = ["dots: solved"]
    if any(row.numbers is None for row in rows):
        parts.append("crosses: not possible")
    if edged:
        parts.append("beyond the thick dashes the current pair must change")
    return "; ".join(parts)


def _stay_edges(
    panel: Axes, x: np.ndarray, y: np.ndarray, grid: np.ndarray, pair: CurrentPair | None
) -> bool:
    """Draw where the current pair must change; False if nowhere between the points."""
    if pair is None or not np.ma.count(grid):
        return False
    edges = (pair.offset_deg - pair.step_deg, pair.offset_deg + pair.step_deg)
    inside = [edge for edge in edges if grid.min() < edge < grid.max()]
    if inside:
        panel.contour(x, y, grid, levels=inside, colors=ORANGE, linewidths=2.2, linestyles="--")
    return bool(inside)


def _stay_band(panel: Axes, pair: CurrentPair | None, *, along: str) -> None:
    """Shade the offsets for which the current pair may stay; a thin line for each step of the stock."""
    if pair is None:
        return
    span, line = (panel.axvspan, panel.axvline) if along == "x" else (panel.axhspan, panel.axhline)
    get, put = (panel.get_xlim, panel.set_xlim) if along == "x" else (panel.get_ylim, panel.set_ylim)
    low, high = get()
    low = min(low, pair.offset_deg - 0.5 * pair.step_deg)
    high = max(high, pair.offset_deg + 0.5 * pair.step_deg)
    edges = (pair.offset_deg - pair.step_deg, pair.offset_deg + pair.step_deg)
    span(*edges, color=WOOD, alpha=0.6, lw=0, label=SHADE, zorder=-1)
    first = ceil((low - pair.offset_deg) / pair.step_deg)
    last = floor((high - pair.offset_deg) / pair.step_deg)
    for number in range(first, last + 1) if last - first < MOST_STEPS else ():
        line(pair.offset_deg + number * pair.step_deg, color=QUIET, lw=0.6, ls=":", zorder=-1)
    put(low, high)


def _family(row: ComparedInstrument, key: str) -> str:
    """Other changes of a row, and its case if there are several."""
    others = [str(value) for path, value in row.changed.items() if path != key]
    case = row.name.split(":")[0] if ":" in row.name else ""
    return ", ".join(part for part in (case, *others) if part)


def _number(value: object) -> float:
    return float(str(value))


def _with_unit(key: str) -> str:
    name, unit = name_and_unit(key)
    return f"{name} [{unit}]" if unit else name
