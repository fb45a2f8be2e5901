"""Picture 5: string-up and rod adjustment as an animation and as a strip."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.figure import Figure
from PIL import Image

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.side_parts import window
from cases.show.pictures.side_shape import (
    SideState,
    SideView,
    body_shapes,
    exaggeration_for,
    side_state,
    side_view,
)
from cases.show.pictures.side_view import (
    draw_joint_axes,
    draw_joint_lines,
    draw_moved,
    draw_rest,
    draw_state,
)
from cases.show.saving import saving
from cases.studies.up_to_pitch import PitchStep, WayToPitch
from fem.geometry.outline import Array

FRAME_MS, HELD_MS = 500, 2000
"""Time that a frame stays, and the first and the last [ms]."""
COLOURS = 128
"""Colours of the animation; more only make the file larger."""
WIDTH, HEIGHT, DOTS_PER_INCH = 8.0, 4.5, 160
"""Size of a frame [in] and its dots: 1280 x 720, for a projector."""
ON_STRIP = ((0.0, 0.0), (0.5, 0.0), (1.0, 0.0), (1.0, 1.0))
"""Shares of tension and of the rod's setting of the states on the strip."""


@dataclass(frozen=True)
class Frame:
    """One picture of the animation: drawn state, title, shares of tension and of the rod's setting."""

    state: SideState
    title: str
    shares: tuple[float, float]


@dataclass(frozen=True)
class Film:
    """All frames, with one window and one exaggeration (`view`)."""

    view: SideView
    frames: tuple[Frame, ...]


def film(case: Case, answer: Answer, way: WayToPitch) -> Film:
    """Lay out every step of a string-up."""
    view = side_view(case, answer, exaggeration=exaggeration_for(*(step.heights_mm for step in way.steps)))
    frames = []
    for step in way.steps:
        name = "strung" if step.tension_share > 0.0 else "bolted"
        state = side_state(
            view, name, step.heights_mm, gaps_mm=step.gaps_mm, angles_deg=view.shim_deg,
            kink_deg=step.kink_deg, relief_mm=step.relief_mm,
        )  # fmt: skip
        frames.append(Frame(state, _title(way, step), (step.tension_share, step.rod_share)))
    states = [frame.state for frame in frames]
    highest = max(
        (one for one in states if one.strings is not None), key=lambda one: one.crown_mm[:, 1].max()
    )
    ends = [one.strings[1] for one in states if one.strings is not None]
    bridge, saddle, _ = body_shapes(case, view.structure, max(ends, key=lambda end: float(end[1])))
    with_one_saddle = tuple(replace(frame, state=_to_saddle(frame.state, saddle)) for frame in frames)
    seen = replace(view, off=states[0], on=_to_saddle(highest, saddle), bridge=bridge, saddle=saddle)
    return Film(seen, with_one_saddle)


def _to_saddle(state: SideState, saddle: Array) -> SideState:
    """The state with its strings drawn to one saddle."""
    if state.strings is None:
        return state
    return replace(state, strings=np.array([state.strings[0], [state.strings[1, 0], saddle[1, 1]]]))


def _title(way: WayToPitch, step: PitchStep) -> str:
    tension = f"Strings {100.0 * step.tension_share:.0f} % ({step.tension_share * way.total_tension_n:.0f} N)"
    if step.tension_share == 0.0:
        tension = "Strings off, bolted up"
    shares = {0.0: "rod slack", 1.0: "rod set"}
    rod = shares.get(step.rod_share, f"rod at {100.0 * step.rod_share:.0f} % of its setting")
    with_rod = f", {rod}" if way.steps[-1].rod_share > 0.0 else ""
    return f"{tension}{with_rod}: kink {step.kink_deg:+z.3f}°, relief {step.relief_mm:+z.2f} mm"


def _headline(made: Film) -> str:
    rod = ", then the rod" if made.frames[-1].shares[1] > 0.0 else ""
    return f"{made.view.case.name}: strings up to pitch{rod}"


def _note(made: Film) -> str:
    factor = f"{made.view.exaggeration:g}"
    return f"Movements, gaps and shim taper are drawn {factor} times their size. Dotted: undeformed."


def draw_frame(made: Film, frame: Frame, figure: Figure) -> list[Artist]:
    """Draw one frame, neck and joint, into an empty figure of the film's size or one whose frame before was
    removed; returns what changes from frame to frame, in drawing order.
    """
    if not figure.axes:
        _draw_scene(made, figure)
    neck, joint = figure.axes
    return [
        neck.set_title(frame.title, loc="left", fontsize=10),
        *draw_moved(made.view, frame.state, neck),
        *draw_joint_lines(made.view, frame.state, joint),
    ]


def _draw_scene(made: Film, figure: Figure) -> None:
    """Draw what stays through the film."""
    figure.text(0.1, 0.955, _headline(made), fontsize=12, fontweight="bold", va="center")
    neck = figure.add_axes((0.1, 0.475, 0.89, 0.4))
    joint = figure.add_axes((0.1, 0.155, 0.89, 0.225))
    figure.text(0.1, 0.02, _note(made), fontsize=7)
    draw_rest(made.view, neck)
    neck.set_xlabel("")
    draw_joint_axes(made.view, joint)
    joint.set_title("Fret by fret, over the shaft line", loc="left", fontsize=10)
    joint.set_ylabel("height [mm]")
    joint.set_xlabel("")
    lines = [*joint.get_legend_handles_labels()[0], *draw_joint_lines(made.view, made.view.off, joint)]
    joint.legend(
        handles=lines, loc="lower right", bbox_to_anchor=(1.0, 0.97), ncols=3, frameon=False, fontsize=8
    )
    for line in lines[1:]:
        line.remove()


def empty_frame() -> Figure:
    """A figure of the film's size."""
    return style.figure(width=WIDTH, height=HEIGHT)


@style.applied()
def strip_figure(made: Film) -> Figure:
    """A few of the film's states under each other: strings off, half way, at pitch, rod set."""
    shown = [frame for frame in made.frames if frame.shares in ON_STRIP]
    (left, right), (low, high) = window(made.view)
    width, side, gap = 11.0, 0.8, 0.42
    tall = (width - side - 0.15) * (high - low) / (right - left)
    height = 0.45 + len(shown) * (tall + gap) + 0.75
    figure = style.figure(width=width, height=height)
    for number, frame in enumerate(shown, 1):
        base = height - 0.45 - number * (tall + gap)
        axes = figure.add_axes((side / width, base / height, 1.0 - (side + 0.15) / width, tall / height))
        draw_state(made.view, frame.state, axes)
        axes.set_title(f"{number}. {frame.title}", loc="left", fontsize=10)
        if number < len(shown):
            axes.tick_params(labelbottom=False)
            axes.set_xlabel("")
    style.write_texts(figure, _headline(made), _note(made), left=side)
    return figure


def save_film(made: Film, path: Path) -> None:
    """Write the animation as a GIF. Raises `InputError` if the file cannot be written."""
    pictures = _pictures(made)
    # the bolted and the last state hold all colours
    both = Image.new("RGB", (pictures[0].width, 2 * pictures[0].height))
    both.paste(pictures[0])
    both.paste(pictures[-1], (0, pictures[0].height))
    # by coverage: white stays white; every fourth dot holds them as well
    fewer = both.resize((both.width // 2, both.height // 2), Image.Resampling.NEAREST)
    colours = fewer.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE)
    few = [one.quantize(palette=colours, dither=Image.Dither.NONE) for one in pictures]
    lasting = [HELD_MS, *[FRAME_MS] * (len(few) - 2), HELD_MS]
    with saving(path):
        few[0].save(path, save_all=True, append_images=few[1:], duration=lasting, loop=0)


@style.applied()
def _pictures(made: Film) -> list[Image.Image]:
    """Each frame in red, green and blue; what stays is drawn once."""
    figure, pictures = empty_frame(), []
    figure.set_dpi(DOTS_PER_INCH)
    canvas: Any = figure.canvas
    _draw_scene(made, figure)
    canvas.draw()
    scene = canvas.copy_from_bbox(figure.bbox)
    for frame in made.frames:
        canvas.restore_region(scene)
        moved = draw_frame(made, frame, figure)
        for one in moved:
            figure.draw_artist(one)
        for one in moved[1:]:
            one.remove()
        pictures.append(Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB"))
    return pictures
