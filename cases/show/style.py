"""Style of every picture: colours distinct for the colour-blind and in grey print, fonts, sizes."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cases.show.saving import saving

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#1a1a1a"
QUIET = "#8a8a8a"
BLUE = "#0b5394"
ORANGE = "#d9730d"
WOOD = "#e8d3b0"
DARK_WOOD = "#9c7a54"
BLOCK = "#d4c3a3"
STEEL = "#5c6670"

SHAFT_LINE: Any = {"color": BLUE, "lw": 1.8}
TONGUE_LINE: Any = {"color": ORANGE, "lw": 2.0, "ls": (0, (4, 1.5))}
"""Shaft line and tongue line; the angle between them is the kink."""

DOTS_PER_INCH = 120
PACKED: Any = {"pil_kwargs": {"compress_level": 3}}
"""How hard a PNG is packed: a quarter less time than usual, and a file 7 % larger."""

SETTINGS: Any = {
    "font.size": 9.0,
    # the font that is always there alone: with the usual list each text is looked up in nine more
    "font.sans-serif": ["DejaVu Sans"],
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    # titles stay where they are: no search for labels above the axes at each drawing
    "axes.titley": 1.0,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.hashsalt": "neckpreload",
}


@contextmanager
def applied() -> Iterator[None]:
    """Draw in this style inside a ``with`` block, or in a function decorated with `applied()`."""
    from matplotlib import rc_context

    with rc_context(SETTINGS):
        yield


def figure(*, width: float, height: float) -> "Figure":
    """An empty figure, size in inches; needs no display and no global state."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with applied():
        made = Figure(figsize=(width, height), dpi=DOTS_PER_INCH, facecolor="white")
    FigureCanvasAgg(made)
    return made


def panels(rows: int, columns: int, *, width: float, height: float, **how: Any) -> tuple["Figure", Any]:
    """A figure with a grid of axes laid out by itself, size in inches; ``how`` as for `Figure.subplots`."""
    drawn = figure(width=width, height=height)
    drawn.set_layout_engine("constrained")
    return drawn, drawn.subplots(rows, columns, **how)


def write_texts(drawn: "Figure", title: str, caption: str, *, left: float) -> None:
    """Write the title at the top and the caption at the foot of a figure, from ``left`` [in]."""
    width, tall = drawn.get_size_inches()
    x = left / width
    drawn.text(x, 1.0 - 0.3 / tall, title, fontsize=13, fontweight="bold", va="center")
    drawn.text(x, 0.12 / tall, caption, fontsize=8, va="bottom", linespacing=1.35)


def headline(drawn: "Figure", title: str) -> None:
    """Write the title of a figure whose axes are laid out by themselves."""
    drawn.suptitle(title, x=0.01, ha="left", fontsize=12, fontweight="bold", color=INK)


def save(drawn: "Figure", path: Path) -> None:
    """Write a figure as its suffix says (png, svg, pdf). Raises `InputError` if it cannot be written."""
    packed: Any = PACKED if path.suffix.lower() == ".png" else {}
    with saving(path), applied():
        drawn.savefig(path, dpi=DOTS_PER_INCH, **packed)
