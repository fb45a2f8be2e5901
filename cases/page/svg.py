"""The live side view as SVG: shapes of `cases.show.pictures.side_shape`, displacements from the sliders."""

from dataclasses import dataclass
from html import escape

import numpy as np

from cases.page.chart_svg import joint_svg
from cases.page.live import LiveState, Worked
from cases.show.pictures.side_shape import Scene, SideState, SideView, scene_of, side_state, side_view
from cases.show.style import signed
from fem.geometry.outline import Array

ROOM_MM = 10.0
"""Room left around the drawing [mm]."""
KEPT_POINTS = 40
"""Points of an outline that are drawn; a screen shows no more."""


@dataclass(frozen=True)
class Stage:
    """What stays the same while sliders move: the window of the drawing [mm], and the parts that lie still,
    drawn already: those behind the neck and those before it.
    """

    worked: Worked
    view: SideView
    scene: Scene
    left: float
    right: float
    low: float
    high: float
    behind: str
    before: str


def stage_of(worked: Worked, *, exaggeration: float | None = None) -> Stage:
    """Set the stage of an instrument; movements are drawn ``exaggeration`` times their size."""
    view = side_view(worked.case, worked.answer, exaggeration=exaggeration)
    scene = scene_of(worked.case, worked.answer, exaggeration=view.exaggeration)
    tops = [view.off.crown_mm[:, 1].max(), view.on.crown_mm[:, 1].max(), view.saddle[:, 1].max()]
    lows = [view.block[:, 1].min(), view.off.neck[:, 1].min(), view.on.neck[:, 1].min()]
    return Stage(
        worked=worked,
        view=view,
        scene=scene,
        left=-ROOM_MM,
        right=float(view.top[:, 0].max()) + ROOM_MM,
        low=float(min(lows)) - 0.5 * ROOM_MM,
        high=float(max(tops)) + 2.2 * ROOM_MM,
        behind="".join(
            [
                _path(view.rest_neck, "rest"),
                _path(view.top, "top", closed=False),
                _path(view.bridge, "dark-wood"),
                _path(view.saddle, "bone"),
                _path(view.block, "block"),
                *(_path(shim, "shim") for shim in view.shims),
            ]
        ),
        before="".join([*(_path(washer, "washer") for washer in view.washers), *_names(view)]),
    )


def neck_pictures(stage: Stage, state: LiveState) -> tuple[str, str]:
    """The neck as the sliders have it, and its joint enlarged, as two SVG elements.

    Parameters
    ----------
    stage : of the same case.
    state : what the sliders gave.

    Returns
    -------
    tuple of str
        SVG; its colours are those of the page's light or dark style.
    """
    name = "bolted" if state.knobs.strings == 0.0 else "strung"
    moved = side_state(
        stage.scene, name, state.heights_mm, kink_deg=state.kink_deg, relief_mm=state.relief_mm
    )
    joint = joint_svg(
        stage.view.fret_x_mm, moved.over_line_mm, moved.tongue_over_line_mm, joint=stage.view.joint
    )
    return side_svg(stage, state, moved), joint


def side_svg(stage: Stage, state: LiveState, moved: SideState) -> str:
    """The whole neck."""
    view = stage.view
    parts = [
        stage.behind,
        _path(moved.neck, "wood"),
        _path(moved.board, "dark-wood"),
        *_frets(stage, moved),
        *([] if moved.rod is None else [_path(moved.rod, "rod", closed=False)]),
        *(_path(bolt, "bolt", closed=False) for bolt in moved.bolts),
        stage.before,
        *_strings(moved, state),
        _path(moved.shaft_line, "shaft-line", closed=False),
        _path(moved.tongue_line, "tongue-line", closed=False),
        *_numbers(stage, moved),
    ]
    width, height = stage.right - stage.left, stage.high - stage.low
    words = (
        f"Neck from the side, movements {view.exaggeration:g} times their size: kink "
        f"{signed(state.kink_deg, 3)} degrees, relief {signed(state.relief_mm, 2)} mm."
    )
    return (
        f'<svg class="neck" role="img" aria-label="{escape(words)}" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="{stage.left:.0f} {-stage.high:.0f} {width:.0f} {height:.0f}" '
        f'preserveAspectRatio="xMidYMid meet">{"".join(parts)}</svg>'
    )


def _path(points: Array, look: str, *, closed: bool = True) -> str:
    step = max(1, len(points) // KEPT_POINTS)
    kept = points[::step] if step == 1 else np.concatenate([points[::step], points[-1:]])
    steps = "L".join(f"{x:.1f} {-z:.1f}" for x, z in kept)
    return f'<path class="{look}" d="M{steps}{"Z" if closed else ""}"/>'


def _frets(stage: Stage, moved: SideState) -> list[str]:
    lines = "".join(f"M{x:.1f} {-z:.1f}v3" for x, z in moved.crown_mm)
    return [f'<path class="fret" d="{lines}"/>']


def _numbers(stage: Stage, moved: SideState) -> list[str]:
    texts, last_x = [], -np.inf
    high = stage.high - 0.9 * ROOM_MM
    for number, (x, z) in zip(stage.view.frets, moved.crown_mm, strict=True):
        if number not in stage.view.numbered or x - last_x < 24.0:
            continue
        last_x = x
        word = f"{number} joint" if number == stage.view.joint else str(number)
        texts.append(f'<path class="lead" d="M{x:.1f} {-z - 2:.1f}V{-high + 3:.1f}"/>')
        texts.append(f'<text class="number" x="{x:.1f}" y="{-high:.1f}">{word}</text>')
    return texts


def _strings(moved: SideState, state: LiveState) -> list[str]:
    if moved.strings is None:
        return []
    faint = 0.35 + 0.65 * min(max(state.knobs.strings, 0.0), 1.0)
    return [f'<g style="opacity:{faint:.2f}">{_path(moved.strings, "string", closed=False)}</g>']


def _names(view: SideView) -> list[str]:
    """Names of the parts that are not the wood of the neck, beside the block."""
    right = float(view.block[:, 0].max()) + 12.0
    low = float(view.block[:, 1].min())
    joint = float(view.fret_x_mm[view.joint - 1])
    stem = view.block[-1, 0] + 0.6 * (view.block[-2, 0] - view.block[-1, 0])
    texts = [
        f'<path class="lead" d="M{right - 3:.1f} {-low - 6:.1f}H{stem:.1f}"/>'
        f'<text class="name" x="{right:.1f}" y="{-low - 2:.1f}">neck block</text>'
    ]
    places = np.linspace(-26.0, low + 22.0, max(len(view.shims), 2))
    for name, shim, z in zip(view.shim_names, view.shims, places, strict=False):
        middle = shim.mean(axis=0)
        if name == "lower":
            x, anchor = joint - 62.0, "end"
            place = f'x="{x:.1f}" y="{-low - 8:.1f}" style="text-anchor:end"'
            lead = f"M{x + 3:.1f} {-low - 12:.1f}L{middle[0]:.1f} {-shim[1][1] - 6:.1f}"
        else:
            x, anchor = right, "start"
            place = f'x="{x:.1f}" y="{-z:.1f}" style="text-anchor:{anchor}"'
            lead = f"M{x - 3:.1f} {-z - 4:.1f}L{shim[1][0] - 4:.1f} {-middle[1]:.1f}"
        texts.append(f'<path class="lead" d="{lead}"/><text class="name" {place}>{escape(name)} shim</text>')
    return texts
