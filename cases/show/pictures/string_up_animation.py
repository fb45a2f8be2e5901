"""Picture 5: string-up and rod adjustment as an animation."""

from dataclasses import dataclass, replace
from pathlib import Path

from matplotlib.animation import PillowWriter
from matplotlib.figure import Figure

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.side_shape import SideState, SideView, exaggeration_for, side_state, side_view
from cases.show.pictures.side_view import draw_state
from cases.show.saving import saving
from cases.studies.up_to_pitch import PitchStep, WayToPitch

PER_SECOND = 2
"""Frames per second."""
HOLD = 3
"""Number of frames for the first and the last picture."""
DOTS_PER_INCH = 80


@dataclass(frozen=True)
class Frame:
    """One picture of the animation: drawn state, title."""

    state: SideState
    title: str


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
        frames.append(Frame(state, _title(way, step)))
    states = [frame.state for frame in frames]
    highest = max(
        (one for one in states if one.strings is not None), key=lambda one: one.crown_mm[:, 1].max()
    )
    return Film(replace(view, off=states[0], on=highest), tuple(frames))


def _title(way: WayToPitch, step: PitchStep) -> str:
    tension = (
        f"strings {100.0 * step.tension_share:3.0f} % ({step.tension_share * way.total_tension_n:.0f} N)"
    )
    rod = "rod slack" if step.rod_share == 0.0 else f"rod {100.0 * step.rod_share:.0f} % of its setting"
    return f"{tension}, {rod}:  kink {step.kink_deg:+z.3f}°,  relief {step.relief_mm:+z.2f} mm"


def draw_frame(made: Film, frame: Frame, figure: Figure) -> None:
    """Draw one frame into a figure of the film's size, which is cleared first."""
    figure.clear()
    axes = figure.add_axes((0.085, 0.21, 0.905, 0.7))
    draw_state(made.view, frame.state, axes)
    axes.set_title(frame.title, loc="left", fontsize=10)
    figure.text(
        0.085,
        0.02,
        f"{made.view.case.name}; movements and shim taper drawn {made.view.exaggeration:g} times;"
        " dotted: undeformed",
        fontsize=8,
    )


def empty_frame() -> Figure:
    """A figure of the film's size."""
    return style.figure(width=9.0, height=3.3)


def save_film(made: Film, path: Path) -> None:
    """Write the animation as a GIF. Raises `InputError` if the file cannot be written."""
    figure, writer = empty_frame(), PillowWriter(fps=PER_SECOND)
    last = len(made.frames) - 1
    with saving(path), style.applied(), writer.saving(figure, str(path), DOTS_PER_INCH):
        for number, frame in enumerate(made.frames):
            draw_frame(made, frame, figure)
            for _ in range(HOLD if number in (0, last) else 1):
                writer.grab_frame()
