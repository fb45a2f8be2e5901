"""Picture 1, the main job's picture: the neck from the side, strings off and on, its bending exaggerated."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.side_shape import SideState, SideView, side_view

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["SideView", "draw_side_view", "save_side_view", "side_view", "side_view_figure"]

WIDTH, LEFT, RIGHT = 11.0, 0.8, 0.15
"""Width of the figure and of its margins [in]."""


def save_side_view(case: Case, answer: Answer, path: Path) -> None:
    """Draw the side view of an answer into a file."""
    style.save(side_view_figure(side_view(case, answer)), path)


def side_view_figure(view: SideView) -> "Figure":
    """A figure with the side view: both states over each other, the joint enlarged below."""
    (left, right), (low, high) = window(view)
    wide = WIDTH - LEFT - RIGHT
    neck, joint, foot = wide * (high - low) / (right - left), 1.9, 1.2
    tall = foot + joint + 0.85 + 2.0 * neck + 0.4 + 0.8
    figure = style.figure(width=WIDTH, height=tall)

    def place(x: float, y: float, width: float, height: float) -> "Axes":
        return figure.add_axes((x / WIDTH, y / tall, width / WIDTH, height / tall))

    with style.applied():
        lower, half = foot + joint + 0.85, 0.5 * (wide - 0.95)
        panels = [
            place(LEFT, lower + neck + 0.4, wide, neck),
            place(LEFT, lower, wide, neck),
            place(LEFT, foot, half, joint),
            place(LEFT + half + 0.95, foot, half, joint),
        ]
        draw_side_view(view, panels)
        figure.text(
            LEFT / WIDTH,
            1.0 - 0.3 / tall,
            view.headline,
            fontsize=13,
            fontweight="bold",
            va="center",
        )
        figure.text(LEFT / WIDTH, 0.12 / tall, caption(view), fontsize=8, va="bottom", linespacing=1.35)
    return figure


def caption(view: SideView) -> str:
    """What the reader must know to read the picture."""
    return (
        f"Lengths true to scale; every movement of the neck, and the taper of the shims, is drawn"
        f" {view.exaggeration:g} times its size; the shims are drawn thicker than they are.\n"
        "The outline follows the computed heights of the frets (a smooth curve between them), each section"
        " turned by its slope, the heel in one piece:\nread gaps and pressure at the shims, and the action,"
        " from the answer, not from here. The lower panels are true size."
    )


def draw_side_view(view: SideView, axes: "Sequence[Axes]") -> None:
    """Draw the side view.

    Parameters
    ----------
    view : what to draw.
    axes : four axes: strings off, strings on, the joint with strings off, the joint with strings on.
    """
    titles = ("Strings off, bolted up", f"Strings at pitch ({view.strings_n:.0f} N), rod set")
    for title, state, panel in zip(titles, (view.off, view.on), axes[:2], strict=True):
        draw_state(view, state, panel)
        read = (
            f"kink {style.signed(state.kink_deg, 3)}°, tongue gap {style.signed(state.tongue_gap_mm, 2)} mm,"
            f" relief {style.signed(state.relief_mm, 2)} mm"
        )
        panel.set_title(f"{title}: {read}", loc="left", fontsize=10)
    _name_parts(view, axes[0])
    axes[0].tick_params(labelbottom=False)
    axes[0].set_xlabel("")
    for state, panel in zip((view.off, view.on), axes[2:], strict=True):
        _draw_joint(view, state, panel)


def draw_state(view: SideView, state: SideState, axes: "Axes") -> None:
    """Draw one state: body, block and shims at rest, the neck moved, its two lines and its frets."""
    for rest in (view.rest_neck, view.rest_board):
        _outline(axes, rest)
    _draw_rest(view, axes)
    axes.fill(*state.neck.T, fc=style.WOOD, ec=style.INK, lw=0.9, zorder=3)
    axes.fill(*state.board.T, fc=style.DARK_WOOD, ec=style.INK, lw=0.6, zorder=3)
    if state.rod is not None:
        axes.plot(*state.rod.T, color=style.STEEL, lw=2.2, zorder=4)
    for bolt, washer in zip(state.bolts, view.washers, strict=True):
        axes.plot(*bolt.T, color=style.STEEL, lw=3.0, solid_capstyle="butt", zorder=5)
        axes.fill(*washer.T, fc=style.STEEL, ec=style.STEEL, zorder=5)
    for points, look in ((state.shaft_line, style.SHAFT_LINE), (state.tongue_line, style.TONGUE_LINE)):
        # a white rim keeps the lines apart from dark wood in grey print
        axes.plot(*points.T, color="white", lw=3.2, solid_capstyle="butt", zorder=6)
        axes.plot(*points.T, zorder=7, **look)
    if state.strings is not None:
        axes.plot(*state.strings.T, color=style.INK, lw=0.8, zorder=5)
        x = 0.5 * float(view.fret_x_mm[-1] + state.strings[1, 0])
        z = float(np.interp(x, *state.strings.T)) + 3.0
        axes.text(x, z, "strings", fontsize=8, ha="center", va="bottom")
    _draw_frets(view, state, axes)
    across, up = window(view)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_aspect("equal", adjustable="box")
    axes.set_ylabel("height [mm]")
    axes.set_xlabel("distance from the nut [mm]", labelpad=1.0)


def _outline(axes: "Axes", points: np.ndarray) -> None:
    closed = np.concatenate([points, points[:1]])
    axes.plot(*closed.T, color=style.QUIET, lw=0.6, ls=":", zorder=1)


def _draw_rest(view: SideView, axes: "Axes") -> None:
    axes.plot(*view.top.T, color=style.QUIET, lw=1.2, zorder=1)
    axes.fill(*view.bridge.T, fc=style.DARK_WOOD, ec=style.INK, lw=0.6, zorder=2)
    axes.fill(*view.saddle.T, fc="white", ec=style.INK, lw=0.6, zorder=2)
    axes.fill(*view.block.T, fc=style.BLOCK, ec=style.INK, lw=0.8, hatch="///", zorder=1)
    for shim in view.shims:
        axes.fill(*shim.T, fc=style.ORANGE, ec=style.INK, lw=0.6, zorder=2)


def _draw_frets(view: SideView, state: SideState, axes: "Axes") -> None:
    numbers = dict(zip(view.frets, state.crown_mm, strict=True))
    for number, (x, z) in numbers.items():
        long = 3.0 if number in view.numbered else 1.4
        axes.plot(
            [x, x], [z - long, z], color="white" if number in view.numbered else style.WOOD, lw=0.9, zorder=6
        )
    high = _label_height(view)
    for number in view.numbered:
        x, z = numbers[number]
        axes.plot([x, x], [z + 1.0, high - 1.0], color=style.QUIET, lw=0.5, zorder=1)
        name = f"{number}\njoint" if number == view.joint else f"{number}"
        axes.text(x, high, name, ha="center", va="bottom", fontsize=8, linespacing=1.0)


def _label_height(view: SideView) -> float:
    """One height for all fret numbers of both states, over everything drawn there [mm]."""
    tops = [view.off.crown_mm[:, 1].max(), view.on.crown_mm[:, 1].max()]
    if view.on.strings is not None:
        tops.append(view.on.strings[:, 1].max())
    tops += [line[:, 1].max() for one in (view.off, view.on) for line in (one.shaft_line, one.tongue_line)]
    return float(max(tops)) + 5.0


def window(view: SideView) -> tuple[tuple[float, float], tuple[float, float]]:
    """Left, right and low, high of both panels of the whole neck, the same for both [mm]."""
    low = min(view.block[:, 1].min(), view.off.neck[:, 1].min(), view.on.neck[:, 1].min()) - 4.0
    return (-18.0, float(view.top[:, 0].max()) + 2.0), (float(low), _label_height(view) + 18.0)


def _name_parts(view: SideView, axes: "Axes") -> None:
    """Names of the parts, in the first panel only: below the neck and right of the block there is room."""
    block = view.block
    right, deep = float(block[:, 0].max()) + 14.0, float(block[:, 1].min())
    joint_x = float(view.fret_x_mm[view.joint - 1])
    targets = []
    for name, angle, shim in zip(view.shim_names, view.shim_deg, view.shims, strict=True):
        text = f"{name} shim {style.signed(angle, 2)}°"
        if name == "lower":
            at = (joint_x - 95.0, deep + 14.0)
            _point(axes, text, at=at, target=shim[1] + (0.5, 4.0), side="right")
        else:
            targets.append((text, shim[1] + (-0.5, -1.0)))
    targets.append(("bolts", view.washers[len(view.washers) // 2].mean(axis=0)))
    places = np.linspace(-20.0, deep + 3.0, len(targets) + 1)
    for (text, target), z in zip(targets, places, strict=False):
        _point(axes, text, at=(right, float(z)), target=target, side="left")
    axes.text(right, float(places[-1]), "block (hatched)", fontsize=8, va="center")
    if view.off.rod is not None:
        middle = view.off.rod[len(view.off.rod) // 2]
        _point(axes, "rod", at=(float(middle[0]), float(middle[1]) - 28.0), target=middle, side="center")
    axes.text(float(view.bridge[:, 0].mean()), float(view.bridge[:, 1].min()) - 4.0, "bridge", fontsize=8,
              ha="center", va="top")  # fmt: skip


def _point(axes: "Axes", text: str, *, at: tuple[float, float], target: np.ndarray, side: str) -> None:
    axes.annotate(
        text,
        xy=(float(target[0]), float(target[1])),
        xytext=at,
        fontsize=8,
        ha=side,
        va="center",
        arrowprops={"arrowstyle": "-", "lw": 0.6, "color": style.INK},
        zorder=8,
    )


def _draw_joint(view: SideView, state: SideState, axes: "Axes") -> None:
    """The joint enlarged: crowns over the shaft line, the bow taken out, true size."""
    x, over = view.fret_x_mm, state.over_line_mm
    first = max(0, view.joint - 7)
    axes.axvline(x[view.joint - 1], color=style.QUIET, lw=0.8, ls=":")
    axes.plot([x[first] - 8.0, x[-1] + 8.0], [0.0, 0.0], label="shaft line", **style.SHAFT_LINE)
    axes.plot(x[[view.joint - 1, -1]], state.tongue_over_line_mm, label="tongue line", **style.TONGUE_LINE)
    axes.plot(
        x[first:], over[first:], "o", ms=4, mfc="white", mec=style.INK, mew=0.9, label="crowns, bow taken out"
    )
    shown = [n for n in range(first + 1, len(x) + 1) if (n - view.joint) % 2 == 0]
    axes.set_xticks(x[[n - 1 for n in shown]],
                    [f"{n}" + ("\njoint" if n == view.joint else "") for n in shown])  # fmt: skip
    axes.set_xlim(x[first] - 8.0, x[-1] + 8.0)
    high = max(float(np.max(np.abs(one.over_line_mm[first:]))) for one in (view.off, view.on))
    axes.set_ylim(-1.25 * high, 1.25 * high)
    axes.set_ylabel("over the shaft line [mm]")
    axes.set_xlabel("fret", labelpad=1.0)
    when = "strings off" if state.strings is None else "at pitch"
    axes.set_title(f"Joint, {when}: kink {style.signed(state.kink_deg, 3)}°", loc="left", fontsize=10)
    axes.legend(loc="best", frameon=False, fontsize=8)
