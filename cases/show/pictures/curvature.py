"""Picture 2: bending moment and curvature along the neck, frets on top."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cases.show import style
from cases.studies.curvature import FlexLine

CAPTION = (
    "Positive bows the neck forward. Moments are about the section's neutral axis; along the shaft"
    " bending = moment / bending stiffness.\nThe fretboard line is the curvature at the frets: it differs"
    " from bending where shear changes (rod, heel, bolts); at the joint it shows hump or hollow."
)


@style.applied()
def curvature_figure(line: FlexLine, *, case: str) -> Figure:
    """Two panels along the neck: moments of strings and rod, and the resulting curvature."""
    figure = style.figure(width=11.0, height=6.4)
    top, low = figure.subplots(
        2, 1, sharex=True, gridspec_kw={"left": 0.075, "right": 0.985, "top": 0.83, "bottom": 0.16}
    )
    draw_moment(line, top)
    draw_curvature(line, low)
    style.write_texts(figure, f"{case}: bending of the neck at pitch, rod set", CAPTION, left=0.825)
    return figure


def draw_moment(line: FlexLine, axes: Axes) -> None:
    """Moments of strings and rod and their sum along the shaft [N m]."""
    axes.plot(line.x_mm, line.string_moment_n_m, color=style.ORANGE, lw=1.5, ls=(0, (5, 2)), label="strings")
    axes.plot(line.x_mm, line.rod_moment_n_m, color=style.STEEL, lw=1.5, ls=":", label="rod")
    axes.plot(line.x_mm, line.moment_n_m, color=style.BLUE, lw=2.2, label="both")
    axes.fill_between(line.x_mm, 0.0, line.moment_n_m, color=style.BLUE, alpha=0.12, lw=0)
    axes.set_ylabel("bending moment [N m]")
    _landmarks(line, axes)
    axes.legend(loc="upper right", frameon=False)
    _frets_on_top(line, axes)


def draw_curvature(line: FlexLine, axes: Axes) -> None:
    """Curvature along shaft, heel and tongue [1/m]."""
    axes.plot(line.x_mm, line.curvature_per_m, color=style.BLUE, lw=2.2, label="bending of the shaft")
    axes.plot(line.board_x_mm, line.board_curvature_per_m, color=style.ORANGE, lw=1.5, ls=(0, (5, 1.5)),
              marker="o", ms=2.5, label="fretboard line, including shear")  # fmt: skip
    both = np.concatenate([line.curvature_per_m, line.board_curvature_per_m])
    low, high = min(0.0, float(both.min())), float(both.max())
    axes.set_ylim(low - 0.08 * (high - low), high + 0.3 * (high - low))
    axes.set_ylabel("curvature [1/m]")
    axes.set_xlabel("distance from the nut [mm]")
    _landmarks(line, axes)
    axes.legend(loc="upper left", bbox_to_anchor=(0.08, 1.02), ncols=2, frameon=False)


def _landmarks(line: FlexLine, axes: Axes) -> None:
    joint = float(line.fret_x_mm[line.joint - 1])
    end = float(max(line.board_x_mm[-1], line.fret_x_mm[-1]))
    axes.axhline(0.0, color=style.INK, lw=0.6)
    axes.axvspan(line.heel_start_mm, joint, color=style.WOOD, alpha=0.6, lw=0, zorder=0)
    axes.axvline(joint, color=style.INK, lw=0.9, zorder=1)
    look: dict[str, Any] = {"colors": style.QUIET, "lw": 0.4, "alpha": 0.6, "zorder": 0}
    axes.vlines(line.fret_x_mm, 0.0, 1.0, transform=axes.get_xaxis_transform(), **look)
    axes.set_xlim(-4.0, end + 4.0)


def _frets_on_top(line: FlexLine, axes: Axes) -> None:
    upper = axes.secondary_xaxis("top")
    shown = [n for n in range(1, len(line.fret_x_mm) + 1) if n == line.joint or n % 2 == 1 or n == 12]
    crowded = (line.joint - 1, line.joint + 1)
    shown = [n for n in shown if n not in crowded or (n == 12 and line.joint > 13)]
    upper.set_xticks(line.fret_x_mm[np.array(shown) - 1],
                     [f"{n}\njoint" if n == line.joint else f"{n}" for n in shown])  # fmt: skip
    upper.set_xlabel("fret (shaded: heel)", labelpad=4.0)
    upper.spines["top"].set_visible(False)
