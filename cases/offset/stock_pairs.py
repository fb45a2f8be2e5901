"""From the offset to pairs of shims in stock."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import degrees, radians

import numpy as np

from cases.offset.answer import PairAnswer, ShimAnswer
from cases.offset.shim_ends import thick_end
from cases.offset.solve import Solved
from fem.geometry.pad import Pad
from fem.joint.shim_layer import taper
from fem.solve.offset import pair


@dataclass(frozen=True)
class StockPairs:
    """Pairs in stock nearest the offset, and a warning if there is none."""

    pairs: tuple[PairAnswer, ...]
    offset_on_stock: float | None
    shortage: str | None


def half_step(angles: Sequence[float]) -> float:
    """Half of the largest step in stock, within which an angle counts as in stock [deg]."""
    return 0.5 * max((b - a for a, b in pairwise(angles)), default=0.0) + 1e-9


def stock_pairs(solved: Solved) -> StockPairs:
    """For each upper shim the lower one nearest the offset, if within half a step of it.

    Residuals are full solutions of every difference of angles.
    """
    question, offset = solved.question, solved.offset
    angles = solved.case.stock.angles_deg()
    wanted, reach = degrees(offset.offset), half_step(angles)
    residuals: dict[float, tuple[float, float]] = {}
    found = []
    for upper in angles:
        lower = min(angles, key=lambda angle: (abs(angle - upper - wanted), abs(angle)))
        difference = round(lower - upper, 6)
        if abs(difference - wanted) > reach:
            continue
        if difference not in residuals:
            angle = offset.pair.angles[0] + radians(difference)
            strung = pair(question, (offset.pair.angles[0], angle), start=offset.pair).strung
            heights = question.heights(strung)
            residuals[difference] = (question.line.kink(heights), question.line.tongue_gap(heights))
        kink, gap = residuals[difference]
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
            f"stock spans. Add {end} ({angles[0 if wanted < 0.0 else -1] + wanted:.2f} deg or beyond), "
            "plane the pocket, or use lighter strings."
        )
    return (
        f"No pair in stock differs by {wanted:.2f} deg within half a step. "
        "Add such an angle, cut a shim to size, or accept the nearest pair and measure the kink."
    )


def shim_answer(pad: Pad, angle_deg: float) -> ShimAnswer:
    """Edges of a shim and the direction of its thick end."""
    ends = np.array([pad.start, pad.end])
    _, thickness = taper(pad, ends, radians(angle_deg))
    thin, thick = sorted(float(1e3 * t) for t in thickness)
    where = thick_end(pad.name, angle_deg)
    return ShimAnswer(pad.name, angle_deg, thin, thick, f"towards the {where}" if where else "parallel")
