"""Picture of a trend: residuals, their EWMA, first-time-right rate by week."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from cases.bench.learning.trend import Chart, Rate, Residual
from cases.show import style
from materials.counted import counted

# Okabe and Ito's set for the colour-blind; different in lightness, hence also in grey print
DARK = "#0072B2"
BRIGHT = "#E69F00"
QUIET = "0.55"


@style.applied()
def draw_trend(chart: Chart, weeks: Sequence[Rate] = ()) -> Figure:
    """Draw a control chart and, if given, the first-time-right rate by week, oldest first."""
    rows = 3 if weeks else 2
    figure, grid = style.panels(rows, 1, width=8.0, height=2.6 * rows, squeeze=False)
    panels = grid[:, 0]
    kind = chart.kind.replace("_", " ")
    style.headline(figure, f"{kind}: measured minus predicted, {len(chart.points)} fits in the log's order")
    _draw_single(panels[0], chart)
    _draw_smoothed(panels[1], chart)
    if weeks:
        _draw_weeks(panels[2], weeks)
    return figure


@style.applied()
def draw_few(points: Sequence[Residual], kind: str, unit: str) -> Figure:
    """Draw values that are too few for control limits."""
    figure, grid = style.panels(1, 1, width=8.0, height=2.6, squeeze=False)
    axes = grid[0, 0]
    count = counted(len(points), "fit")
    figure.suptitle(f"{kind}: measured minus predicted, {count} in the log's order")
    axes.plot(range(1, len(points) + 1), [point.value for point in points], "o", ms=3.5, color=DARK)
    axes.axhline(0.0, color=QUIET, lw=1.0)
    axes.set_xlabel("fit, in the log's order")
    axes.set_ylabel(f"single [{unit}]")
    axes.set_xlim(0.5, len(points) + 0.5)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1))
    return figure


def _draw_single(axes: Axes, chart: Chart) -> None:
    numbers = range(1, len(chart.points) + 1)
    axes.plot(numbers, chart.values, "o", ms=2.5, color=DARK, label="one fit")
    _centre_and_limits(axes, chart.limits.centre, chart.limits.individuals, "3 standard deviations")
    outside = [hint.first for hint in chart.hints if hint.rule == "beyond 3"]
    if outside:
        axes.plot([at + 1 for at in outside], [chart.values[at] for at in outside], "o", ms=8,
                  mfc="none", mec=BRIGHT, mew=1.8, label="outside")  # fmt: skip
    _finish(axes, f"single [{chart.unit}]")


def _draw_smoothed(axes: Axes, chart: Chart) -> None:
    numbers = range(1, len(chart.points) + 1)
    axes.plot(numbers, chart.smoothed, "-", lw=1.6, color=DARK, label="EWMA")
    _centre_and_limits(axes, chart.limits.centre, chart.limits.ewma, "limit")
    for number, alarm in enumerate(chart.alarms):
        label = "outside the limit" if number == 0 else None
        axes.axvspan(alarm.first + 0.5, alarm.last + 1.5, color=BRIGHT, alpha=0.35, lw=0, label=label)
    axes.set_xlabel("fit, in the log's order")
    _finish(axes, f"EWMA [{chart.unit}]")


def _draw_weeks(axes: Axes, weeks: Sequence[Rate]) -> None:
    judged = [
        rate for rate in weeks if rate.share is not None and rate.low is not None and rate.high is not None
    ]
    places = range(len(judged))
    shares = [100.0 * (rate.share or 0.0) for rate in judged]
    below = [100.0 * ((rate.share or 0.0) - (rate.low or 0.0)) for rate in judged]
    above = [100.0 * ((rate.high or 0.0) - (rate.share or 0.0)) for rate in judged]
    axes.errorbar(places, shares, yerr=[below, above], fmt="o", color=DARK, ecolor=QUIET, capsize=2,
                  label="first fit within tolerance, 95 % interval")  # fmt: skip
    limits = [100.0 * (rate.limit_low or 0.0) for rate in judged]
    axes.plot(places, limits, "_", color="black", ms=9, label="lower limit for chance")
    every = max(1, -(-len(judged) // 12))
    axes.set_xticks(list(places)[::every], [rate.group for rate in judged][::every], fontsize="small")
    axes.set_ylim(0.0, 125.0)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.set_ylabel("first-time-right [%]")
    axes.legend(loc="upper left", ncols=2, fontsize="small", frameon=False)


def _centre_and_limits(axes: Axes, centre: float, limits: tuple[float, float], name: str) -> None:
    axes.axhline(centre, color=QUIET, lw=1.0, label="centre")
    for index, limit in enumerate(limits):
        axes.axhline(limit, color="black", lw=1.0, ls="--", label=name if index == 0 else None)


def _finish(axes: Axes, label: str) -> None:
    """Name the axis; the legend stands in a room left above the drawing."""
    axes.set_ylabel(label)
    axes.legend(loc="upper left", ncols=4, fontsize="small", frameon=False)
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.25 * (high - low))
