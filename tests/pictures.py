"""What tests of pictures share: one solved instrument, and a look for texts that lie over each other."""

from functools import cache
from itertools import combinations
from typing import Any

import pytest
from matplotlib.text import Text

from cases import load, preload
from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.solve import Solved, solve
from cases.studies.flex import Flex, flex

LIBRARY = [
    "fourteen-mahogany",
    "twelve-cedar-parlour",
    "solid-25",
    *(
        pytest.param(name, marks=pytest.mark.full)
        for name in ("fourteen-maple", "long-baritone", "twelve-string", "nylon-twelve")
    ),
]
"""Instruments whose pictures are looked at: 14 and 12 frets to the joint, a flat pocket; others in a full
run.
"""


@cache
def case_of(name: str) -> Case:
    """An instrument of the library."""
    return load(name)


@cache
def answer_of(name: str) -> Answer:
    """Its answer."""
    return preload(case_of(name), effects=False)


@cache
def readme_flex() -> Flex:
    """Everything that the flex pictures of the README's instrument are drawn from."""
    return flex(case_of("fourteen-mahogany"))


@cache
def readme_solved() -> Solved:
    """The README's instrument with its mechanics."""
    return solve(case_of("fourteen-mahogany"))


def shown_texts(figure: Any) -> list[tuple[str, Any]]:
    """Every text that a figure shows, with its box in pixels."""
    figure.canvas.draw()
    ticks: dict[Text, bool] = {}
    axes = list(figure.axes) + [child for one in figure.axes for child in one.child_axes]
    for one in axes:
        for axis in (one.xaxis, one.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                inside = low - 1e-9 <= tick.get_loc() <= high + 1e-9
                for label in (tick.label1, tick.label2):
                    ticks[label] = inside
    renderer = figure.canvas.get_renderer()
    return [
        # an annotation's own box would hold its arrow too
        (text.get_text(), Text.get_window_extent(text, renderer))
        for text in figure.findobj(Text)
        if text.get_visible() and text.get_text().strip() and ticks.get(text, True)
    ]


def overlapping_texts(figure: Any, *, spare: float = 0.5) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than ``spare`` pixels in both directions."""
    found = []
    for (one, a), (other, b) in combinations(shown_texts(figure), 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        up = min(a.y1, b.y1) - max(a.y0, b.y0)
        if across > spare and up > spare:
            found.append((one, other))
    return found


def texts_outside(figure: Any) -> list[str]:
    """Texts that stick out of the figure."""
    width, height = figure.canvas.get_width_height()
    return [
        text
        for text, box in shown_texts(figure)
        if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height
    ]
