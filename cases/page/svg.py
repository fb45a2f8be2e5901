"""The live side view as SVG: the picture's own parts, moved as the sliders have them."""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

import numpy as np

from cases.page.chart_svg import joint_svg
from cases.page.live import LiveState, Worked
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
from cases.show.pictures.side_shape import SideState, SideView, side_state, side_view
from fem.geometry.outline import Array

LEAST_MM = 0.05
"""Points nearer than this to the line without them are left out [mm]; a screen shows no less."""
NUMBERS_APART = 24.0
"""Smallest distance of two fret numbers [mm]."""
ANCHORS = {"left": "start", "center": "middle", "right": "end"}


@dataclass(frozen=True)
class Stage:
    """What stays of a drawing while the sliders move, with SVG of the parts behind the neck and the names."""

    worked: Worked
    view: SideView
    behind: str
    names: str


def stage_of(worked: Worked, *, exaggeration: float | None = None) -> Stage:
    """The stage of an instrument; without ``exaggeration`` the largest factor that fits."""
    view = side_view(worked.case, worked.answer, exaggeration=exaggeration)
    names = "".join(_name(name) for name in names_of(view, angles=False))
    return Stage(worked, view, _paths(parts_behind(view)), names)


def neck_pictures(stage: Stage, state: LiveState) -> tuple[str, str]:
    """SVG of the neck as the sliders have it, and of its joint enlarged; style.css gives the colours."""
    view = stage.view
    name = "bolted" if state.knobs.strings == 0.0 else "strung"
    moved = side_state(
        view, name, state.heights_mm, gaps_mm=state.gaps_mm, angles_deg=state.angles_deg,
        kink_deg=state.kink_deg, relief_mm=state.relief_mm,
    )  # fmt: skip
    joint = joint_svg(view.fret_x_mm, moved.over_line_mm, moved.tongue_over_line_mm, joint=view.joint)
    return _side(stage, state, moved), joint


def _side(stage: Stage, state: LiveState, moved: SideState) -> str:
    view = stage.view
    (left, right), (low, high) = window(view)
    tops = [moved.crown_mm[:, 1].max(), *(part.points[:, 1].max() for part in lines_of(moved))]
    higher = max(0.0, float(max(tops)) + 5.0 - number_height(view))
    high, low = high + higher, min(low, float(moved.neck[:, 1].min()) - 4.0)
    frets = "".join(f"M{x:.1f} {-z:.1f}v3" for x, z in moved.crown_mm)
    strings_opacity = 0.35 + 0.65 * min(max(state.knobs.strings, 0.0), 1.0)
    words = (
        f"Neck from the side, movements {view.exaggeration:g} times their size: kink "
        f"{state.kink_deg:+z.3f} degrees, relief {state.relief_mm:+z.2f} mm."
    )
    return (
        f'<svg class="neck" role="img" aria-label="{escape(words)}" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="{left:.0f} {-high:.0f} {right - left:.0f} {high - low:.0f}" '
        f'preserveAspectRatio="xMidYMid meet" style="--strings:{strings_opacity:.2f}">'
        f'{stage.behind}{_paths(moved_parts(moved))}<path class="fret" d="{frets}"/>{stage.names}'
        f"{_paths(lines_of(moved))}{_numbers(view, moved, number_height(view) + higher)}</svg>"
    )


def _paths(parts: Iterable[Part]) -> str:
    return "".join(_path(part) for part in parts)


def _path(part: Part) -> str:
    steps = "L".join(f"{x:.2f} {-z:.2f}" for x, z in kept(part.points))
    return f'<path class="{part.kind}" d="M{steps}{"Z" if part.closed else ""}"/>'


def kept(points: Array) -> Array:
    """The points of a line that a screen needs: none of the others is `LEAST_MM` away from what is drawn.

    By Douglas and Peucker [douglas1973] (from memory).
    """
    at = points[:, 0] + 1j * points[:, 1]
    needed = [0, len(at) - 1]
    parts = [(0, len(at) - 1)]
    while parts:
        first, last = parts.pop()
        if last - first < 2:
            continue
        chord, from_first = complex(at[last] - at[first]), at[first:last] - at[first]
        # the product with the conjugate has the distance from the chord, times its length, as imaginary part
        away = abs((from_first * chord.conjugate()).imag) if chord else abs(from_first)
        furthest = int(away.argmax())
        if away[furthest] >= LEAST_MM * (abs(chord) or 1.0):
            needed.append(first + furthest)
            parts += [(first, first + furthest), (first + furthest, last)]
    return points[sorted(needed)]


def _numbers(view: SideView, moved: SideState, high: float) -> str:
    text, last_x = "", -np.inf
    for number, (x, z) in zip(view.frets, moved.crown_mm, strict=True):
        if number in view.numbered and x - last_x >= NUMBERS_APART:
            word = f"{number} joint" if number == view.joint else str(number)
            text += f'<path class="lead" d="M{x:.1f} {-z - 2:.1f}V{-high + 3:.1f}"/>'
            text += f'<text x="{x:.1f}" y="{-high:.1f}" text-anchor="middle">{word}</text>'
            last_x = x
    return text


def _name(name: Name) -> str:
    x, z = name.at
    aside = {"left": -3.0, "center": 0.0, "right": 3.0}[name.side]
    up = 8.0 if name.side == "center" else 0.0
    lead = ""
    if name.target is not None:
        to_x, to_z = name.target
        lead = f'<path class="lead" d="M{x + aside:.1f} {-z - up:.1f}L{to_x:.1f} {-to_z:.1f}"/>'
    text = f'<text x="{x:.1f}" y="{4 - z:.1f}" text-anchor="{ANCHORS[name.side]}">{escape(name.text)}</text>'
    return lead + text
