"""Shared by tests of pictures: one solved instrument, and a search for misplaced texts."""

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
"""Instruments whose pictures are tested: 14 and 12 frets to the joint, a flat pocket; others when full."""


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
    """Results drawn in the flex pictures of the README's instrument."""
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


def misplaced_texts(figure: Any, *, spare: float = 0.5) -> tuple[list[tuple[str, str]], list[str]]:
    """Pairs of texts that share more than ``spare`` pixels in both directions, and texts that are cut off."""
    width, height = figure.canvas.get_width_height()
    shown = shown_texts(figure)
    overlapping = [
        (one, other)
        for (one, a), (other, b) in combinations(shown, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > spare and min(a.y1, b.y1) - max(a.y0, b.y0) > spare
    ]
    cut_off = [text for text, box in shown if box.x0 < 0 or box.y0 < 0 or box.x1 > width or box.y1 > height]
    return overlapping, cut_off
