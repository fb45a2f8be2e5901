"""The house style of every picture: colours that the colour-blind and grey print keep apart, fonts, sizes."""

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
"""The two lines whose angle is the kink, wherever they are drawn."""

DOTS_PER_INCH = 120

SETTINGS: Any = {
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "svg.hashsalt": "neckpreload",
}


def signed(value: float, digits: int) -> str:
    """A number with its sign, where what rounds to nothing reads +0 instead of -0.

    >>> signed(-1e-9, 2)
    '+0.00'
    """
    return f"{round(value, digits) + 0.0:+.{digits}f}"


@contextmanager
def applied() -> Iterator[None]:
    """Draw in the house style inside a ``with`` block; the caller's own settings come back after it."""
    from matplotlib import rc_context

    with rc_context(SETTINGS):
        yield


def figure(*, width: float, height: float) -> "Figure":
    """An empty figure of a size in inches that needs no display and touches no global state."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with applied():
        made = Figure(figsize=(width, height), dpi=DOTS_PER_INCH, facecolor="white")
    FigureCanvasAgg(made)
    return made


def save(drawn: "Figure", path: Path) -> None:
    """Write a figure; the suffix gives the format (png, svg, pdf).

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    with saving(path), applied():
        drawn.savefig(path, dpi=DOTS_PER_INCH)
