"""Parts and names of the side view in drawing order, the same for the picture and for the page."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from cases.show.pictures.side_shape import SideState, SideView
from fem.geometry.outline import Array


@dataclass(frozen=True)
class Part:
    """One part to draw: its kind, (n, 2) points [mm], whether the outline is closed."""

    kind: str
    points: Array
    closed: bool = True


@dataclass(frozen=True)
class Name:
    """A text at a point, its alignment, and the point that its lead goes to (None: no lead) [mm]."""

    text: str
    at: tuple[float, float]
    side: Literal["left", "center", "right"]
    target: tuple[float, float] | None = None


def parts_behind(view: SideView) -> tuple[Part, ...]:
    """Fixed parts behind the neck, and the neck's undeformed outline."""
    return (
        Part("rest", view.rest_neck),
        Part("rest", view.rest_board),
        Part("top", view.top, closed=False),
        Part("bridge", view.bridge),
        Part("saddle", view.saddle),
    )


def moved_parts(state: SideState) -> tuple[Part, ...]:
    """Block and shims, then the neck with its rod, open seams and the bolts."""
    rod = () if state.rod is None else (Part("rod", state.rod, closed=False),)
    bolts = (Part("bolt", bolt, closed=False) for bolt in state.bolts)
    neck = (Part("neck", state.neck), Part("board", state.board))
    shims = (Part("shim", shim) for shim in state.shims)
    washers = (Part("washer", washer) for washer in state.washers)
    seams = (Part("seam", line, closed=False) for line in state.seams)
    return (Part("block", state.block), *shims, *neck, *seams, *rod, *bolts, *washers)


def lines_of(state: SideState) -> tuple[Part, ...]:
    """Strings (at pitch only), shaft line and tongue line."""
    strings = () if state.strings is None else (Part("string", state.strings, closed=False),)
    lines = (("shaft-line", state.shaft_line), ("tongue-line", state.tongue_line))
    return (*strings, *(Part(kind, points, closed=False) for kind, points in lines))


def names_of(view: SideView, *, angles: bool) -> tuple[Name, ...]:
    """Names of the parts, below the neck and beside the block, of the shims with their angles or without."""
    block = view.off.block
    right, deep = float(block[:, 0].max()) + 14.0, float(block[:, 1].min())
    joint_x = float(view.fret_x_mm[view.joint - 1])
    found, beside = [], []
    for name, angle, shim in zip(view.shim_names, view.shim_deg, view.off.shims, strict=True):
        text = f"{name} shim {angle:+z.2f}°" if angles else f"{name} shim"
        end = shim[len(shim) // 2 - 1]
        if name == "lower":
            found.append(
                Name(text, (joint_x - 95.0, deep + 14.0), "right", (float(end[0]) + 0.5, float(end[1]) + 4.0))
            )
        else:
            beside.append((text, (float(end[0]) - 0.5, float(end[1]) - 1.0)))
    beside.append(("bolts", _point(view.off.washers[len(view.off.washers) // 2].mean(axis=0))))
    beside.append(("neck block", _point(block[-2] + (-6.0, 8.0))))
    heights = np.linspace(-20.0, deep + 3.0, len(beside))
    for (text, target), z in zip(beside, heights, strict=True):
        found.append(Name(text, (right, float(z)), "left", target))
    if view.off.rod is not None:
        x, z = _point(view.off.rod[len(view.off.rod) // 2])
        found.append(Name("rod", (x, z - 28.0), "center", (x, z)))
    under = (float(view.bridge[:, 0].mean()), float(view.bridge[:, 1].min()) - 9.0)
    return (*found, Name("bridge", under, "center"))


def _point(at: Array) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def number_height(view: SideView) -> float:
    """Height of the fret numbers, above everything drawn in both states [mm]."""
    tops = [view.saddle[:, 1].max()]
    for state in (view.off, view.on):
        tops += [state.crown_mm[:, 1].max(), *(part.points[:, 1].max() for part in lines_of(state))]
    return float(max(tops)) + 5.0


def window(view: SideView) -> tuple[tuple[float, float], tuple[float, float]]:
    """Left and right, low and high limit of the drawing, the same for both states [mm]."""
    low = min(points[:, 1].min() for points in (view.off.block, view.off.neck, view.on.neck)) - 4.0
    return (-18.0, float(view.top[:, 0].max()) + 2.0), (float(low), number_height(view) + 18.0)
