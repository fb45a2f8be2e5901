"""Picture 3: the flex budget of nut rise and heel stretch as stacked bars."""

from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from cases.offset.answer import Answer
from cases.show import style
from cases.show.budget_bars import BudgetBar, budget_bars

LOOKS: dict[str, tuple[str, str]] = {
    "shaft bending": (style.BLUE, ""),
    "shaft shear": ("#9cc3e6", "///"),
    "fretboard over the joint": (style.DARK_WOOD, ""),
    "heel": (style.WOOD, ""),
    "tongue": (style.WOOD, "..."),
    "block": (style.BLOCK, "///"),
    "body": ("#ffffff", "xxx"),
    "shim layers": (style.ORANGE, ""),
    "slip and closing": ("#f6c79a", "\\\\\\"),
    "bolts": (style.STEEL, ""),
}
"""Colour and hatch of each part: neighbours differ in lightness or hatch, so in grey print too."""
LEAST_LABEL_PERCENT = 5.0
"""Smallest contribution with a label in the bar."""


CAPTION = (
    "Contributions by virtual work, each computed separately; they add to 100 %. A negative one acts in the"
    " opposite direction (the rod bends the shaft back).\n'slip and closing': slip of closed shim points, and"
    " points that closed only after bolting. Heel stretch is read at the fret of the relief at pitch;"
    " in the answer it follows the bow."
)


@style.applied()
def budget_figure(answer: Answer) -> Figure:
    """Two bars on one scale, and the table of all contributions."""
    bars = budget_bars(answer)
    figure = style.figure(width=11.0, height=6.0)
    axes = figure.add_axes((0.11, 0.58, 0.87, 0.31))
    draw_budget(bars, axes)
    table = figure.add_axes((0.11, 0.085, 0.87, 0.36))
    _draw_table(bars, table)
    style.write_texts(figure, f"{answer.case}: flexing between bolted up and at pitch", CAPTION, left=0.22)
    return figure


def draw_budget(bars: tuple[BudgetBar, BudgetBar], axes: Axes, *, key: bool = False) -> None:
    """Stack both bars: positive contributions right of zero, negative ones left; ``key`` names the parts."""
    for row, bar in enumerate(bars):
        right = left = 0.0
        for part, percent in zip(bar.parts, bar.percent, strict=True):
            start = right if percent >= 0.0 else left
            label = part if key and row == 0 else None
            axes.barh(-row, percent, left=start, height=0.62, label=label, **_look(part))
            if abs(percent) >= LEAST_LABEL_PERCENT:
                light = part not in ("shaft bending", "fretboard over the joint", "bolts")
                number = axes.text(start + 0.5 * percent, -row, f"{percent:.0f}", ha="center", va="center",
                                  color=style.INK if light else "white", fontsize=9)  # fmt: skip
                if _look(part)["hatch"]:
                    number.set_bbox({"fc": "white", "ec": "none", "pad": 1.0})
            right, left = (right + percent, left) if percent >= 0.0 else (right, left + percent)
    axes.axvline(0.0, color=style.INK, lw=1.0)
    axes.axvline(100.0, color=style.INK, lw=0.8, ls=":")
    names = [f"{bar.title}\n{bar.total:+z.{bar.digits}f} {bar.unit}" for bar in bars]
    axes.set_yticks([0.0, -1.0], names)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(-1.5, 0.5)
    axes.set_xlabel("share of the total [%]", labelpad=1.0)
    if key:
        axes.legend(loc="upper center", bbox_to_anchor=(0.44, -0.38), ncols=4, frameon=False, fontsize=8)


def _look(part: str) -> dict[str, Any]:
    colour, hatch = LOOKS.get(part, (style.QUIET, "ooo"))
    return {"fc": colour, "hatch": hatch, "ec": style.INK, "lw": 0.6}


def _draw_table(bars: tuple[BudgetBar, BudgetBar], axes: Axes) -> None:
    """All contributions in two columns of rows, with the swatch of each part."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 2.0)
    parts = bars[0].parts
    per_column = -(-len(parts) // 2)
    axes.set_ylim(-per_column - 0.4, 0.9)
    for column in range(2):
        for x, bar in zip((0.62, 0.93), bars, strict=True):
            axes.text(column + x, 0.15, f"{bar.title} [{bar.unit}]  (%)", ha="right", fontsize=8,
                      color=style.STEEL)  # fmt: skip
    for number, part in enumerate(parts):
        column, row = divmod(number, per_column)
        axes.add_patch(Rectangle((column, -row - 0.85), 0.035, 0.6, **_look(part)))
        axes.text(column + 0.05, -row - 0.55, part, va="center", fontsize=9)
        for x, bar in zip((0.62, 0.93), bars, strict=True):
            share, percent = bar.shares[number], bar.percent[number]
            text = f"{share:+z.3f}  ({percent:+z.1f})"
            axes.text(column + x, -row - 0.55, text, va="center", ha="right", fontsize=9)
