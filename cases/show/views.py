"""The text and the picture of each class of result, loaded on first use.

Importing this registers them with `cases.result`; the public names of `cases` do.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Any

from cases.result import VIEWS, View

SHOWN = {
    "Answer": ("text.answer:report", "pictures.budget:budget_figure"),
    "Comparison": ("text.comparison:comparison_text", "pictures.comparison:draw_comparison"),
    "Drift": ("text.drift:drift_text", "pictures.drift:draw_years"),
    "Flex": ("text.flex:flex_text", "pictures.flex:draw_flex"),
    "Sensitivities": ("text.sensitivity:sensitivity_text", "pictures.sensitivity:draw_bars"),
    "Spread": ("text.spread:spread_text", "pictures.spread:draw_spread"),
}


def _loaded(place: str) -> Callable[[Any], Any]:
    module, _, name = place.partition(":")

    def call(result: Any) -> Any:
        return getattr(import_module(f"cases.show.{module}"), name)(result)

    return call


VIEWS.update({name: View(_loaded(text), _loaded(picture)) for name, (text, picture) in SHOWN.items()})
