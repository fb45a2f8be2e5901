"""What the bolts and shims bear: torque window, contact, pressure against the wood's strength."""

from dataclasses import replace

import numpy as np

from cases.offset.answer import BoltAnswer, ContactAnswer
from cases.offset.build import wood_of
from cases.offset.solve import Solved
from fem.errors import ConvergenceError
from fem.joint.bolt import washer_area
from fem.solve.offset import Pair, Question, pair

LONG_HOLDING = 0.5
"""Share of the proportional limit across the grain that a washer may use for years: common practice, no
source.
"""
CLOSED = 0.9
"""Share of the heel face that must bear for it to count as closed: the last edge carries next to nothing."""
PEAK_LENGTH = 5e-3
"""Length over which the largest pressure is averaged [m]: at the very edge it is singular."""


def contact_answers(solved: Solved) -> tuple[ContactAnswer, ...]:
    """How each shim bears at pitch; strength is the weaker wood's across the grain."""
    strength = wood_strength(solved)
    found, first = [], 0
    for pad_shape, points in zip(solved.structure.pads, solved.question.flexibility.points, strict=True):
        here = slice(first, first + len(points.s))
        first += len(points.s)
        contact = solved.pair.strung.contact
        closed = contact.closed[here]
        found.append(
            ContactAnswer(
                name=pad_shape.name,
                closed_fraction=float(np.average(closed, weights=points.area)),
                slipping_fraction=float(np.average(contact.slipping[here], weights=points.area)),
                peak_pressure_mpa=peak_pressure(points.s, points.area, contact.push[here]) / 1e6,
                strength_mpa=strength / 1e6,
            )
        )
    return tuple(found)


def wood_strength(solved: Solved) -> float:
    """Strength across the grain of the weaker of neck and block [Pa]."""
    return min(wood_of(solved.case.neck).compression_across, wood_of(solved.case.block).compression_across)


def peak_pressure(s: np.ndarray, area: np.ndarray, push: np.ndarray) -> float:
    """Largest mean pressure over any 5 mm of a pad [Pa]; s, area, push of shape (points,) [m, m2, N]."""
    means = []
    for centre in s:
        near = np.abs(s - centre) <= 0.5 * PEAK_LENGTH
        means.append(push[near].sum() / area[near].sum())
    return float(max(means))


def _seat_closed(question: Question, at: Pair) -> bool:
    """Whether the seat of the shim searched for bears: the heel face, or the floor of a pocket."""
    points = question.flexibility.points
    first = sum(len(one.s) for one in points[: question.varied])
    area = points[question.varied].area
    closed = at.strung.contact.closed[first : first + len(area)]
    return bool(np.average(closed, weights=area) >= CLOSED)


def lowest_factor(solved: Solved, *, highest: float) -> float | None:
    """Common factor on all bolt tensions at which nine tenths of the heel's seat bear at pitch; None if it
    opens at ``highest`` too.
    """

    def closed(factor: float, start: Pair) -> tuple[bool, Pair]:
        bolting = replace(solved.question.bolting, bolt_tension=solved.question.bolting.bolt_tension * factor)
        try:
            there = pair(replace(solved.question, bolting=bolting), start.angles, start=start)
        except ConvergenceError:
            # so loose that the joint slides as a whole
            return False, start
        return _seat_closed(solved.question, there), there

    good, at = closed(highest, solved.pair)
    if not good:
        return None
    low, high = 0.0, highest
    for _ in range(7):
        middle = 0.5 * (low + high)
        good, at = closed(middle, at)
        low, high = (low, middle) if good else (middle, high)
    return high


def bolt_answers(solved: Solved) -> tuple[tuple[BoltAnswer, ...], str | None]:
    """Bolts as set and at pitch with their torque window, and a warning when there is none."""
    bearing = wood_of(solved.case.block).compression_across * LONG_HOLDING
    limits = [bearing * washer_area(bolt) for bolt in solved.structure.bolts]
    set_tension = solved.question.bolting.bolt_tension
    highest = float(min(limit / tension for limit, tension in zip(limits, set_tension, strict=True)))
    factor = lowest_factor(solved, highest=max(highest, 1.0))
    found = []
    for k, (table, bolt) in enumerate(zip(solved.case.bolts, solved.structure.bolts, strict=True)):
        per_tension = table.nut_factor * bolt.diameter
        found.append(
            BoltAnswer(
                name=bolt.name,
                set_n=float(set_tension[k]),
                strung_n=float(solved.pair.strung.bolts[k]),
                torque_n_m=float(set_tension[k] * per_tension),
                torque_low_n_m=None if factor is None else float(factor * set_tension[k] * per_tension),
                torque_high_n_m=float(limits[k] * per_tension),
            )
        )
    warning = None
    if factor is None:
        warning = (
            "At pitch less than nine tenths of the heel's seat bears, at every torque the wood bears under "
            "these washers. Use wider washers or a plate, or accept that the rest of the face opens."
        )
    elif factor > 1.0:
        warning = (
            "At pitch less than nine tenths of the heel's seat bears: "
            f"it would from {factor:.2f} times the bolt tensions set."
        )
    return tuple(found), warning
