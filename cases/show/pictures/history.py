"""Picture of a history: kink and action along the steps, and the kink over the strings' tension."""

import numpy as np
from matplotlib.figure import Figure

from cases.show.style import BLUE, INK, ORANGE, QUIET, applied, figure
from cases.studies.history import History, HistoryPoint

MANY = 16
"""Steps beyond which only numbers fit below the axis."""


@applied()
def draw_history(found: History) -> Figure:
    """Kink and action along the steps; beside them the kink over the tension of the strings."""
    drawn = figure(width=10.5, height=5.4)
    drawn.set_layout_engine("constrained")
    grid = drawn.add_gridspec(2, 2, width_ratios=(1.6, 1.0))
    kink, action = drawn.add_subplot(grid[0, 0]), drawn.add_subplot(grid[1, 0])
    loop = drawn.add_subplot(grid[:, 1])
    along = _along(found.path)
    ends = np.arange(len(found.points))
    for axes, name, label, colour in (
        (kink, "kink_deg", "kink [deg]", BLUE),
        (action, "action_mm", "action, fret 12 [mm]", ORANGE),
    ):
        axes.plot(along, _values(found.path, name), color=colour, lw=1.5)
        axes.plot(ends, _values(found.points, name), "o", color=colour, ms=4)
        axes.set_ylabel(label)
        axes.set_xticks(ends)
        axes.set_xlim(-0.3, len(ends) - 0.7)
        axes.grid(axis="x", color=QUIET, alpha=0.25)
        axes.tick_params(labelbottom=axes is action)
    few = len(ends) <= MANY
    words = [one.what if few else str(one.step) for one in found.points]
    action.set_xticklabels(words, rotation=35 if few else 0, ha="right" if few else "center", fontsize=8)
    strung = 100.0 * _values(found.path, "strings")
    loop.plot(strung, _values(found.path, "kink_deg"), color=BLUE, lw=1.3)
    loop.plot(
        100.0 * _values(found.points, "strings"), _values(found.points, "kink_deg"), "o", color=BLUE, ms=4
    )
    loop.set_xlabel("tension of the strings [% of that at pitch]")
    loop.set_ylabel("kink [deg]")
    for axes in (kink, loop):
        axes.margins(y=0.12)
        for value, what in ((found.kink_stuck_deg, "nothing slips"), (found.kink_smooth_deg, "no friction")):
            if value is not None:
                axes.axhline(value, color=QUIET, lw=0.8, ls=":")
                place = (1.0 if axes is kink else 0.02, value)
                axes.annotate(
                    f"{what}, at pitch", place, xycoords=("axes fraction", "data"), fontsize=7, color=QUIET,
                    ha="right" if axes is kink else "left", va="bottom",
                )  # fmt: skip
    drawn.suptitle(f"{found.case}: what the joint remembers", color=INK)
    drawn.supxlabel(
        "Where the bow changes sign the kink makes a jog: relief is then read at other frets.", fontsize=8
    )
    return drawn


def _values(points: tuple[HistoryPoint, ...], name: str) -> np.ndarray:
    return np.array(
        [np.nan if (value := getattr(one, name)) is None else value for one in points], dtype=float
    )


def _along(path: tuple[HistoryPoint, ...]) -> np.ndarray:
    """Place of each point on an axis on which every step is one long."""
    numbers = [one.step for one in path]
    counted = {step: numbers.count(step) for step in set(numbers)}
    seen: dict[int, int] = {}
    found = []
    for step in numbers:
        seen[step] = seen.get(step, 0) + 1
        found.append(step - 1 + seen[step] / counted[step])
    return np.array(found)
