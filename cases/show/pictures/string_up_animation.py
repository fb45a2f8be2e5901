"""Picture 5: the strings coming up to pitch and the rod being set, as an animation."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.side_shape import (
    SideState,
    SideView,
    exaggeration_for,
    scene_of,
    side_state,
    side_view,
)
from cases.show.pictures.side_view import draw_state
from cases.studies.up_to_pitch import PitchStep, WayToPitch
from materials.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PER_SECOND = 2
"""Frames per second."""
HOLD = 3
"""How many frames the first and the last picture stay."""
DOTS_PER_INCH = 80


@dataclass(frozen=True)
class Frame:
    """One picture of the animation: the step, what is drawn of it, and its words."""

    step: PitchStep
    state: SideState
    title: str


@dataclass(frozen=True)
class Film:
    """All frames, in one window and with one exaggeration (`view`)."""

    view: SideView
    frames: tuple[Frame, ...]


def film(case: Case, answer: Answer, way: WayToPitch) -> Film:
    """Lay out every step of a way to pitch; nothing is solved."""
    factor = exaggeration_for(*(step.heights_mm for step in way.steps))
    scene = scene_of(case, answer, exaggeration=factor)
    frames = []
    for step in way.steps:
        name = "strung" if step.tension_share > 0.0 else "bolted"
        state = side_state(scene, name, step.heights_mm, kink_deg=step.kink_deg, relief_mm=step.relief_mm)
        frames.append(Frame(step, state, _title(way, step)))
    states = [frame.state for frame in frames]
    highest = max(
        (one for one in states if one.strings is not None), key=lambda one: one.crown_mm[:, 1].max()
    )
    view = side_view(case, answer, exaggeration=factor)
    return Film(replace(view, off=states[0], on=highest), tuple(frames))


def _title(way: WayToPitch, step: PitchStep) -> str:
    tension = (
        f"strings {100.0 * step.tension_share:3.0f} % ({step.tension_share * way.total_tension_n:.0f} N)"
    )
    rod = "rod slack" if step.rod_share == 0.0 else f"rod {100.0 * step.rod_share:.0f} % of its setting"
    return (
        f"{tension}, {rod}:  kink {style.signed(step.kink_deg, 3)}°,"
        f"  relief {style.signed(step.relief_mm, 2)} mm"
    )


def draw_frame(made: Film, frame: Frame, figure: "Figure") -> None:
    """Draw one frame into a figure of the film's size, in place of what it held."""
    figure.clear()
    axes = figure.add_axes((0.085, 0.21, 0.905, 0.7))
    draw_state(made.view, frame.state, axes)
    axes.set_title(frame.title, loc="left", fontsize=10)
    figure.text(
        0.085,
        0.02,
        f"{made.view.case}; movements and shim taper drawn {made.view.exaggeration:g} times;"
        " dotted: at rest, straight",
        fontsize=8,
    )


def empty_frame() -> "Figure":
    """A figure of the film's size."""
    return style.figure(width=9.0, height=3.3)


def save_film(made: Film, path: Path) -> None:
    """Write the animation as a GIF; its first and last picture stay longer.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    from matplotlib.animation import PillowWriter

    figure, writer = empty_frame(), PillowWriter(fps=PER_SECOND)
    last = len(made.frames) - 1
    try:
        with style.applied(), writer.saving(figure, str(path), DOTS_PER_INCH):
            for number, frame in enumerate(made.frames):
                draw_frame(made, frame, figure)
                for _ in range(HOLD if number in (0, last) else 1):
                    writer.grab_frame()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(f"{path} cannot be written: {reason}; give a folder that you may write to") from None
