"""The house style of every picture: colours that the colour-blind and grey print keep apart, fonts, sizes."""

from typing import Any

INK = "#1a1a1a"
QUIET = "#8a8a8a"
BLUE = "#0b5394"
ORANGE = "#d9730d"
WOOD = "#e8d3b0"
DARK_WOOD = "#9c7a54"
BLOCK = "#d4c3a3"
STEEL = "#5c6670"

FIGURE = {"figsize": (11.0, 5.2), "dpi": 150}

SETTINGS: dict[str, Any] = {
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "savefig.bbox": "tight",
    "svg.hashsalt": "neckpreload",
}
