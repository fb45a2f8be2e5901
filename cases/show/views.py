"""The text and the picture of each class of result, loaded when first shown."""

import io
from importlib import import_module
from typing import TYPE_CHECKING, Any

from cases.result import View

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MANY_POINTS = 1000
"""A line with more points is drawn into the SVG as pixels: ten thousand markers would take a megabyte."""
PIXELS_PER_INCH = 160


def _view(text: str, picture: str) -> View:
    """View by two functions of `cases.show`, each named as ``module:function``."""

    def call(place: str, result: Any) -> Any:
        module, _, name = place.partition(":")
        return getattr(import_module(f"cases.show.{module}"), name)(result)

    return View(
        text=lambda result: call(text, result),
        picture=lambda result: call(picture, result),
        svg=lambda result: _svg(call(picture, result)),
    )


def _svg(figure: "Figure") -> str:
    """The figure as an SVG element; the same figure always gives the same text."""
    from cases.show.style import applied

    file = io.StringIO()
    for line in (line for axes in figure.axes for line in axes.lines):
        if len(line.get_path()) > MANY_POINTS:
            line.set_rasterized(True)
    with applied():
        figure.savefig(file, format="svg", dpi=PIXELS_PER_INCH, metadata={"Date": None})
    drawn = file.getvalue()
    return drawn[drawn.index("<svg") :]


VIEWS = {
    "Answer": _view("text.answer:report", "pictures.budget:budget_figure"),
    "Comparison": _view("text.comparison:comparison_text", "pictures.comparison:draw_comparison"),
    "Drift": _view("text.drift:drift_text", "pictures.drift:draw_years"),
    "Flex": _view("text.flex:flex_text", "pictures.flex:draw_flex"),
    "History": _view("text.history:history_text", "pictures.history:draw_history"),
    "NeckWoods": _view("text.neck_woods:neck_woods_text", "pictures.neck_woods:draw_neck_woods"),
    "Sensitivities": _view("text.sensitivity:sensitivity_text", "pictures.sensitivity:draw_bars"),
    "Spread": _view("text.spread:spread_text", "pictures.spread:draw_spread"),
}
"""By the name of the class."""
