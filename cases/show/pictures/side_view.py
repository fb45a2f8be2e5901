"""Picture 1: the neck from the side, strings off and on, with exaggerated bending."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.side_parts import (
    Name,
    Part,
    lines_of,
    moved_parts,
    names_of,
    number_height,
    parts_behind,
    window,
)
from cases.show.pictures.side_shape import SideState, SideView, side_view
from fem.geometry.outline import Array

WIDTH, LEFT, RIGHT = 11.0, 0.8, 0.15
"""Width of the figure and of its margins [in]."""
ON_TOP = 100
LOOKS: dict[str, Any] = {
    "rest": {"fc": "none", "ec": style.QUIET, "lw": 0.6, "ls": ":"},
    "top": {"color": style.QUIET, "lw": 1.2},
    "bridge": {"fc": style.DARK_WOOD, "ec": style.INK, "lw": 0.6},
    "saddle": {"fc": "white", "ec": style.INK, "lw": 0.6},
    "block": {"fc": style.BLOCK, "ec": style.INK, "lw": 0.8, "hatch": "///"},
    "shim": {"fc": style.ORANGE, "ec": style.INK, "lw": 0.6},
    "seam": {"color": "white", "lw": 1.6, "solid_capstyle": "butt"},
    "neck": {"fc": style.WOOD, "ec": style.INK, "lw": 0.9},
    "board": {"fc": style.DARK_WOOD, "ec": style.INK, "lw": 0.6},
    "rod": {"color": style.STEEL, "lw": 2.2},
    "bolt": {"color": style.STEEL, "lw": 3.0, "solid_capstyle": "butt"},
    "washer": {"fc": style.STEEL, "ec": style.STEEL},
    "string": {"color": style.INK, "lw": 0.8},
    "shaft-line": style.SHAFT_LINE,
    "tongue-line": style.TONGUE_LINE,
}
"""Look of each kind of part."""


def save_side_view(case: Case, answer: Answer, path: Path) -> None:
    """Draw the side view of an answer into a file."""
    style.save(side_view_figure(side_view(case, answer)), path)


@style.applied()
def side_view_figure(view: SideView) -> Figure:
    """A figure with the side view: both states over each other, the joint enlarged below."""
    (left, right), (low, high) = window(view)
    wide = WIDTH - LEFT - RIGHT
    neck, joint, foot = wide * (high - low) / (right - left), 1.9, 1.2
    tall = foot + joint + 0.85 + 2.0 * neck + 0.4 + 0.8
    figure = style.figure(width=WIDTH, height=tall)

    def place(x: float, y: float, width: float, height: float) -> Axes:
        return figure.add_axes((x / WIDTH, y / tall, width / WIDTH, height / tall))

    lower, half = foot + joint + 0.85, 0.5 * (wide - 0.95)
    panels = [
        place(LEFT, lower + neck + 0.4, wide, neck),
        place(LEFT, lower, wide, neck),
        place(LEFT, foot, half, joint),
        place(LEFT + half + 0.95, foot, half, joint),
    ]
    draw_side_view(view, panels)
    style.write_texts(figure, view.headline, caption(view), left=LEFT)
    return figure


def caption(view: SideView) -> str:
    """Text below the picture."""
    return (
        "Lengths are to scale. Movements, gaps and the taper of the shims are drawn"
        f" {view.exaggeration:g} times their size, the shims thicker than they are.\n"
        "A white seam between shim and neck: open there, however little. The lower panels are true size."
    )


def draw_side_view(view: SideView, axes: Sequence[Axes]) -> None:
    """Draw the side view into four axes: strings off, strings on, the joint likewise."""
    rod = "" if view.on.rod is None else ", rod set"
    titles = ("Strings off, bolted up", f"Strings at pitch ({view.strings_n:.0f} N){rod}")
    for title, state, panel in zip(titles, (view.off, view.on), axes[:2], strict=True):
        draw_state(view, state, panel)
        read = (
            f"kink {state.kink_deg:+z.3f}°, tongue gap {state.tongue_gap_mm:+z.2f} mm,"
            f" relief {state.relief_mm:+z.2f} mm"
        )
        panel.set_title(f"{title}: {read}", loc="left", fontsize=10)
    draw_names(names_of(view, angles=True), axes[0])
    axes[0].tick_params(labelbottom=False)
    axes[0].set_xlabel("")
    for state, panel in zip((view.off, view.on), axes[2:], strict=True):
        draw_joint(view, state, panel)


def draw_state(view: SideView, state: SideState, axes: Axes) -> None:
    """Draw one state: body at rest, block and shims, the moved neck, its two lines and its frets."""
    draw_rest(view, axes)
    draw_moved(view, state, axes)


def draw_rest(view: SideView, axes: Axes) -> None:
    """Draw what is the same in every state: body at rest and undeformed outline, fret numbers, window."""
    draw_parts(parts_behind(view), axes)
    for number, x in zip(view.frets, view.fret_x_mm, strict=True):
        if number in view.numbered:
            text = f"{number}\njoint" if number == view.joint else f"{number}"
            axes.text(x, number_height(view), text, ha="center", va="bottom", fontsize=8, linespacing=1.0)
    across, up = window(view)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_aspect("equal", adjustable="box")
    axes.set_ylabel("height [mm]")
    axes.set_xlabel("distance from the nut [mm]", labelpad=1.0)


def draw_moved(view: SideView, state: SideState, axes: Axes) -> list[Artist]:
    """Draw what moves, over `draw_rest`; returns it in drawing order."""
    moved = draw_parts((*moved_parts(state), *lines_of(state)), axes, over=len(parts_behind(view)))
    if state.strings is not None:
        x = 0.5 * float(view.fret_x_mm[-1] + state.strings[1, 0])
        z = float(np.interp(x, *state.strings.T)) + 3.0
        moved.append(axes.text(x, z, "strings", fontsize=8, ha="center", va="bottom"))
    moved += _draw_frets(view, state, axes)
    return sorted(moved, key=lambda one: one.get_zorder())


def draw_parts(parts: Sequence[Part], axes: Axes, *, over: int = 0) -> list[Artist]:
    """Draw parts over each other and ``over`` so many before them, each in its look; the axes keep their
    limits.
    """
    drawn: list[Artist] = []
    for order, part in enumerate(parts, start=over):
        made = partial(Polygon, part.points) if part.closed else partial(Line2D, *part.points.T)
        if part.kind in ("shaft-line", "tongue-line"):
            # a white rim below both lines separates them from dark wood in grey print
            rim: dict[str, Any] = {"color": "white", "lw": 3.2, "solid_capstyle": "butt"}
            drawn.append(axes.add_artist(made(zorder=order - 1.5, **rim)))
        drawn.append(axes.add_artist(made(zorder=order, **LOOKS[part.kind])))
    return drawn


def _draw_frets(view: SideView, state: SideState, axes: Axes) -> list[Artist]:
    high = number_height(view)
    strokes: dict[str, list[Array]] = {"white": [], style.WOOD: []}
    leads = []
    for number, (x, z) in zip(view.frets, state.crown_mm, strict=True):
        named = number in view.numbered
        length, colour = (3.0, "white") if named else (1.4, style.WOOD)
        strokes[colour].append(np.array([[x, z - length], [x, z]]))
        if named:
            leads.append(np.array([[x, z + 1.0], [x, high - 1.0]]))
    looks = {"capstyle": "projecting"}
    drawn = [LineCollection(leads, colors=style.QUIET, lw=0.5, zorder=0, **looks)]
    drawn += [LineCollection(x, colors=c, lw=0.9, zorder=ON_TOP, **looks) for c, x in strokes.items()]
    return [axes.add_artist(one) for one in drawn]


def draw_names(names: Sequence[Name], axes: Axes) -> None:
    """Write the names of parts, each with its lead."""
    lead = {"arrowstyle": "-", "lw": 0.6, "color": style.INK}
    for name in names:
        axes.annotate(
            name.text, xy=name.target or name.at, xytext=name.at, fontsize=8, ha=name.side, va="center",
            arrowprops=lead if name.target else None, zorder=ON_TOP,
        )  # fmt: skip


def draw_joint(view: SideView, state: SideState, axes: Axes) -> None:
    """The joint enlarged: crowns above the shaft line, bow removed, true size."""
    draw_joint_axes(view, axes)
    draw_joint_lines(view, state, axes)
    when = "strings off" if state.strings is None else "at pitch"
    axes.set_title(f"Joint, {when}: kink {state.kink_deg:+z.3f}°", loc="left", fontsize=10)
    axes.legend(loc="best", frameon=False, fontsize=8)


def draw_joint_axes(view: SideView, axes: Axes) -> None:
    """The enlarged joint without tongue line and crowns: shaft line, frets, scales."""
    x, first = view.fret_x_mm, max(0, view.joint - 7)
    axes.axvline(x[view.joint - 1], color=style.QUIET, lw=0.8, ls=":")
    axes.plot([x[first] - 8.0, x[-1] + 8.0], [0.0, 0.0], label="shaft line", **style.SHAFT_LINE)
    shown = [n for n in range(first + 1, len(x) + 1) if (n - view.joint) % 2 == 0]
    axes.set_xticks(x[[n - 1 for n in shown]],
                    [f"{n}" + ("\njoint" if n == view.joint else "") for n in shown])  # fmt: skip
    axes.set_xlim(x[first] - 8.0, x[-1] + 8.0)
    high = max(float(np.max(np.abs(one.over_line_mm[first:]))) for one in (view.off, view.on))
    axes.set_ylim(-1.25 * high, 1.25 * high)
    axes.set_ylabel("above the shaft line [mm]")
    axes.set_xlabel("fret", labelpad=1.0)


def draw_joint_lines(view: SideView, state: SideState, axes: Axes) -> list[Artist]:
    """Tongue line and crowns of a state in the enlarged joint."""
    x, first = view.fret_x_mm, max(0, view.joint - 7)
    tongue = axes.plot(
        x[[view.joint - 1, -1]], state.tongue_over_line_mm, label="tongue line", **style.TONGUE_LINE
    )
    look: dict[str, Any] = {"ms": 4, "mfc": "white", "mec": style.INK, "mew": 0.9}
    crowns = axes.plot(x[first:], state.over_line_mm[first:], "o", label="crowns, bow removed", **look)
    return [*tongue, *crowns]
