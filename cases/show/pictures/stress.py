"""Picture 4: stress in heel, tongue and block at pitch, and the pressure along both shims."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from cases.show import style
from cases.studies.stress import PartStress, StressMap
from fem.geometry.outline import Array

STROKE_MM = 8.0
"""Spacing of the principal stress strokes [mm]; from a quarter of the scale on all have full length."""
ALONG = {
    "tongue": "distance from the joint corner under the tongue",
    "heel": "distance from the joint corner down the heel face",
    "end": "height up the end wall",
}
ROUND = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0)


@style.applied()
def stress_figure(stress: StressMap) -> Figure:
    """Two maps over two pressure panels."""
    (left, right), (low, high) = _window(stress)
    width, wide, pressure, foot = 11.0, 3.8, 1.5, 1.25
    over = foot + pressure + 0.95
    tall = over + wide * (high - low) / (right - left) + 0.85
    figure = style.figure(width=width, height=tall)
    starts = (0.7, 6.25)
    maps = [
        figure.add_axes((x / width, over / tall, wide / width, 1.0 - (over + 0.85) / tall)) for x in starts
    ]
    draw_principal(stress, maps[0])
    draw_across(stress, maps[1])
    below = [figure.add_axes((x / width, foot / tall, 4.5 / width, pressure / tall)) for x in starts]
    for pad, axes in zip(range(len(stress.pads)), below, strict=False):
        draw_pressure(stress, pad, axes)
    style.write_texts(figure, f"{stress.case}: stress in the wood at pitch", caption(stress), left=0.7)
    return figure


def _window(stress: StressMap) -> tuple[tuple[float, float], tuple[float, float]]:
    corner = np.concatenate([part.corner_mm for part in stress.parts], axis=1)
    (left, low), (right, high) = corner.min(axis=1) - 4.0, corner.max(axis=1) + 4.0
    return (float(left), float(right)), (float(low), float(high))


def caption(stress: StressMap) -> str:
    """Text below the picture."""
    return (
        "Strokes lie along the larger principal stress: solid = tension, dotted = compression. At sharp"
        " corners, pad ends, washers and inserts the computed\nstress grows with mesh refinement:"
        f" strokes, scales and the labelled maximum exclude the {stress.clear_mm:g} mm around them; values"
        " beyond a scale have the colour of its end.\nThe strength across the grain is a handbook mean of"
        " clear wood; a real piece can be well below it. This picture does not show that a joint is safe."
    )


def draw_principal(stress: StressMap, axes: Axes) -> None:
    """Larger principal stress, signed [MPa], with strokes along it."""
    signed = [_dominant(part) for part in stress.parts]
    clear = max(
        float(np.max(np.abs(value[part.clear])))
        for part, (value, _) in zip(stress.parts, signed, strict=True)
        if part.clear.any()
    )
    limit = _rounded(clear)
    drawn: Any = None
    for part, (value, _) in zip(stress.parts, signed, strict=True):
        drawn = _paint(part, value, axes, cmap="PuOr", low=-limit, high=limit)
    for part, (value, direction) in zip(stress.parts, signed, strict=True):
        _strokes(part, value, direction, axes, longest=0.25 * limit)
    _frame(stress, axes)
    axes.set_title("larger principal stress", loc="left", fontsize=10)
    _scale(drawn, axes, "[MPa], tension positive", extend="both")


def draw_across(stress: StressMap, axes: Axes) -> None:
    """Tension across the grain in per cent of the wood's limit."""
    shares = [part.utilisation() for part in stress.parts]
    worst = stress.worst_utilisation or 0.0
    limit = _rounded(100.0 * worst)
    drawn: Any = None
    for part, share in zip(stress.parts, shares, strict=True):
        if share is not None:
            drawn = _paint(part, 100.0 * share, axes, cmap="cividis", low=0.0, high=limit)
    _frame(stress, axes)
    axes.set_title("tension across the grain, % of the strength", loc="left", fontsize=10)
    if stress.worst_at_mm is not None:
        x, z = stress.worst_at_mm
        axes.plot([x], [z], "o", ms=9, mfc="none", mec="white", mew=2.8)
        axes.plot([x], [z], "o", ms=9, mfc="none", mec=style.INK, mew=1.2)
        (_, right), up = _window(stress)
        axes.annotate(
            f"{100.0 * worst:.0f} % of the limit\n({stress.worst_part})",
            xy=(x, z),
            xytext=(right - 4.0, sum(up) / 2.0),
            fontsize=8,
            ha="right",
            va="top",
            bbox={"fc": "white", "ec": "none", "pad": 1.5},
            arrowprops={"arrowstyle": "-", "lw": 1.2, "color": style.ORANGE, "shrinkB": 5},
        )
    if drawn is not None:
        _scale(drawn, axes, "[% of the limit]", extend="max")


def draw_pressure(stress: StressMap, number: int, axes: Axes) -> None:
    """Pressure along one shim, bolted up and at pitch; both shims have the same scale."""
    pad = stress.pads[number]
    axes.fill_between(pad.s_mm, 0.0, pad.strung_mpa, color=style.ORANGE, alpha=0.25, lw=0)
    axes.plot(pad.s_mm, pad.strung_mpa, color=style.ORANGE, lw=2.0, label="at pitch")
    axes.plot(pad.s_mm, pad.bolted_mpa, color=style.BLUE, lw=1.5, ls=(0, (4, 2)), label="bolted up")
    axes.axhline(stress.strength_mpa, color=style.INK, lw=0.8, ls=":", label="strength across the grain")
    highest = max(float(max(one.strung_mpa.max(), one.bolted_mpa.max())) for one in stress.pads)
    axes.set_ylim(0.0, 1.15 * max(highest, stress.strength_mpa))
    axes.set_xlim(0.0, 1.03 * float(pad.s_mm.max()))
    axes.set_ylabel("pressure [MPa]")
    axes.set_xlabel(f"{ALONG[pad.face]} [mm]", labelpad=1.0)
    axes.set_title(pad.name if pad.face == "end" else f"{pad.name} shim", loc="left", fontsize=10)
    axes.legend(loc="upper right", frameon=False, fontsize=8)


def _dominant(part: PartStress) -> tuple[Array, Array]:
    large, small, direction = part.principal_mpa()
    tension = np.abs(large) >= np.abs(small)
    return np.where(tension, large, small), np.where(tension, direction, direction + 0.5 * np.pi)


def _rounded(value: float) -> float:
    return min((one for one in ROUND if one >= value), default=ROUND[-1])


def _paint(part: PartStress, value: Array, axes: Axes, *, cmap: str, low: float, high: float) -> Any:
    a, b, c, d = part.cells
    triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    canvas: Any = axes
    return canvas.tripcolor(
        Triangulation(part.corner_mm[0], part.corner_mm[1], triangles), value, cmap=cmap, vmin=low, vmax=high,
        shading="gouraud", rasterized=True,
    )  # fmt: skip


def _strokes(part: PartStress, value: Array, direction: Array, axes: Axes, *, longest: float) -> None:
    """One stroke in each square of a grid, at the corner nearest its middle."""
    x, z = part.corner_mm
    squares = np.stack([np.floor(x / STROKE_MM), np.floor(z / STROKE_MM)])
    off = np.hypot(x / STROKE_MM - squares[0] - 0.5, z / STROKE_MM - squares[1] - 0.5)
    order = np.argsort(off)
    _, first = np.unique(squares[:, order], axis=1, return_index=True)
    strokes: dict[bool, list[list[tuple[float, float]]]] = {True: [], False: []}
    for at in order[first]:
        size = 0.45 * STROKE_MM * min(abs(value[at]) / longest, 1.0)
        if size < 0.06 * STROKE_MM or not part.clear[at]:
            continue
        dx, dz = size * np.cos(direction[at]), size * np.sin(direction[at])
        strokes[bool(value[at] > 0.0)].append([(x[at] - dx, z[at] - dz), (x[at] + dx, z[at] + dz)])
    for tension, lines in strokes.items():
        look: Any = (
            {"ls": "-", "capstyle": "projecting"} if tension else {"ls": (0, (1, 1)), "capstyle": "butt"}
        )
        axes.add_collection(LineCollection(lines, colors=style.INK, lw=1.1, **look), autolim=False)


def _frame(stress: StressMap, axes: Axes) -> None:
    across, up = _window(stress)
    for part in stress.parts:
        edges = list(part.corner_mm[:, _outline(part)].T)
        axes.add_collection(
            LineCollection(edges, colors=style.INK, lw=0.6, capstyle="projecting"), autolim=False
        )
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_aspect("equal", adjustable="box")
    axes.set_xlabel("distance from the nut [mm]", labelpad=1.0)
    axes.set_ylabel("height [mm]")


def _outline(part: PartStress) -> np.ndarray:
    """Corners of the edges that belong to one cell only, (2, edges)."""
    sides = np.stack([part.cells, np.roll(part.cells, -1, axis=0)], axis=-1).reshape(-1, 2)
    edges, count = np.unique(np.sort(sides, axis=1), axis=0, return_counts=True)
    return edges[count == 1].T


def _scale(drawn: Any, axes: Axes, label: str, *, extend: str) -> None:
    beside = axes.inset_axes((1.03, 0.0, 0.035, 1.0))
    bar = axes.figure.colorbar(drawn, cax=beside, extend=extend)
    bar.set_label(label, fontsize=8)
