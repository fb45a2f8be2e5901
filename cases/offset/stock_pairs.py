"""From the offset to pairs of shims in stock."""

from dataclasses import dataclass
from itertools import pairwise
from math import degrees, radians

import numpy as np

from cases.casefile.case import Case
from cases.offset.answer import PairAnswer, ShimAnswer
from fem.geometry.pad import Pad
from fem.joint.shim_layer import taper
from fem.solve.offset import Offset, Question, pair


@dataclass(frozen=True)
class StockPairs:
    """Pairs in stock nearest the offset, and what to say when there is none."""

    pairs: tuple[PairAnswer, ...]
    offset_on_stock: float | None
    shortage: str | None


def stock_pairs(case: Case, question: Question, offset: Offset) -> StockPairs:
    """For each upper shim the lower one nearest the offset; residuals from full solves of every difference
    met.

    A pair counts when no angle missing from the stock's own steps would come nearer by more than the step
    itself.
    """
    angles = case.stock.angles_deg()
    wanted = degrees(offset.offset)
    reach = 0.5 * max((b - a for a, b in pairwise(angles)), default=0.0) + 1e-9
    solved: dict[float, tuple[float, float]] = {}
    found = []
    for upper in angles:
        lower = min(angles, key=lambda angle: (abs(angle - upper - wanted), abs(angle)))
        difference = round(lower - upper, 6)
        if abs(difference - wanted) > reach:
            continue
        if difference not in solved:
            angle = offset.pair.angles[0] + radians(difference)
            strung = pair(question, (offset.pair.angles[0], angle), start=offset.pair).strung
            heights = question.heights(strung)
            solved[difference] = (question.line.kink(heights), question.line.tongue_gap(heights))
        kink, gap = solved[difference]
        found.append(PairAnswer(upper, lower, degrees(kink), gap * 1e3))
    if found:
        aimed = degrees(offset.pair.angles[0])
        chosen = min(
            found, key=lambda one: (abs(one.upper_deg - aimed), abs(one.lower_deg - one.upper_deg - wanted))
        )
        return StockPairs(tuple(found), chosen.lower_deg - chosen.upper_deg, None)
    return StockPairs((), None, _shortage(angles, wanted, reach))


def _shortage(angles: tuple[float, ...], wanted: float, reach: float) -> str:
    span = angles[-1] - angles[0]
    if abs(wanted) > span + reach:
        end = "lower shims thin at the heel cap" if wanted < 0.0 else "lower shims thick at the heel cap"
        return (
            f"No pair in stock: the offset {wanted:.2f} deg is {abs(wanted) - span:.2f} deg more than the "
            f"stock spans. "
            f"Add {end} ({angles[0] + wanted if wanted < 0.0 else angles[-1] + wanted:.2f} deg or beyond), "
            f"plane the pocket, "
            "or string lighter."
        )
    return (
        f"No pair in stock differs by {wanted:.2f} deg within half a step. "
        "Add an angle that does, cut a shim to size, or accept the nearest and read the kink it leaves."
    )


def shim_answer(pad: Pad, angle_deg: float) -> ShimAnswer:
    """Edges of a shim and which way its thick end goes."""
    ends = np.array([pad.start, pad.end])
    _, thickness = taper(pad, ends, radians(angle_deg))
    thin, thick = sorted(float(1e3 * t) for t in thickness)
    if abs(angle_deg) < 1e-9:
        where = "parallel"
    elif pad.face == "heel":
        where = "towards the heel cap" if angle_deg > 0.0 else "towards the fretboard"
    else:
        behind = "towards the bridge" if pad.name == "pocket" else "towards the sound hole"
        where = "towards the nut" if angle_deg > 0.0 else behind
    return ShimAnswer(pad.name, angle_deg, thin, thick, where)
