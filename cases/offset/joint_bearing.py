"""Loads on bolts and shims: torque window, contact, pressure against the wood's strength."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, pairwise

import numpy as np

from cases.offset.answer import BoltAnswer, ContactAnswer
from cases.offset.solve import Solved
from cases.offset.washers import lasting_tension
from cases.offset.woods import weaker_compression
from fem.errors import ConvergenceError
from fem.joint.shim_layer import PadPoints
from fem.solve.offset import Pair, Question, pair

CLOSED = 0.9
"""Contact ratio of the heel face from which the joint counts as closed: the last edge carries little."""
PEAK_LENGTH = 5e-3
"""Length over which the largest pressure is averaged [m]: at the very edge it is singular."""


def pad_slices(points: Sequence[PadPoints]) -> list[slice]:
    """Slice of each pad in the vectors of contact points."""
    return _slices([len(one.s) for one in points])


def row_slices(points: Sequence[PadPoints]) -> list[slice]:
    """Slice of each pad in the vectors of the rows of contact points."""
    return _slices([len(one.row_areas) for one in points])


def _slices(lengths: Sequence[int]) -> list[slice]:
    ends = [0, *accumulate(lengths)]
    return [slice(first, last) for first, last in pairwise(ends)]


def contact_answers(solved: Solved, depth_mm: Sequence[float | None]) -> tuple[ContactAnswer, ...]:
    """Contact of each shim at pitch; strength is the weaker wood's across the grain.

    ``depth_mm`` is the depth crushed at each if no pressure exceeds it, None if the joint finds no rest.
    """
    strength, contact = weaker_compression(solved.case), solved.pair.strung.contact
    pads = solved.question.flexibility.points
    return tuple(
        ContactAnswer(
            name=pad.name,
            closed_fraction=float(np.average(contact.closed[rows], weights=points.row_areas)),
            slipping_fraction=float(np.average(contact.slipping[here], weights=points.area)),
            peak_pressure_mpa=peak_pressure(points, contact.push[rows]) / 1e6,
            strength_mpa=strength / 1e6,
            crushed_mm=depth,
        )
        for pad, points, here, rows, depth in zip(
            solved.structure.pads, pads, pad_slices(pads), row_slices(pads), depth_mm, strict=True
        )
    )


def peak_pressure(points: PadPoints, push: np.ndarray) -> float:
    """Largest mean pressure over any 5 mm of a pad and its width [Pa], from the forces on its rows [N]."""
    near = (np.abs(points.s - centre) <= 0.5 * PEAK_LENGTH for centre in points.s)
    force = points.of_points(push).sum(axis=1)
    return float(max(force[here].sum() / points.area[here].sum() for here in near))


def _seat_closed(question: Question, at: Pair) -> bool:
    """Whether the seat of the varied shim is closed: the heel face, or the floor of a pocket."""
    points, varied = question.flexibility.points, question.varied
    closed = at.strung.contact.closed[row_slices(points)[varied]]
    return bool(np.average(closed, weights=points[varied].row_areas) >= CLOSED)


def lowest_factor(solved: Solved, *, highest: float) -> float | None:
    """Least factor on all bolt tensions that closes the seat at pitch; None if ``highest`` is too low."""

    def closed(factor: float, start: Pair) -> tuple[bool, Pair]:
        bolting = replace(solved.question.bolting, bolt_tension=solved.question.bolting.bolt_tension * factor)
        try:
            there = pair(replace(solved.question, bolting=bolting), start.angles, start=start)
        except ConvergenceError:
            # so loose that the whole joint slides
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
    """Bolts after tightening and at pitch with their torque window, and a warning if it is empty."""
    limits = [lasting_tension(solved.case, bolt) for bolt in solved.structure.bolts]
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
            "At pitch less than 90 % of the heel's seat is in contact, at any torque that the wood under "
            "these washers carries. Use wider washers or a plate, or accept that part of the face opens."
        )
    elif factor > 1.0:
        warning = (
            "At pitch less than 90 % of the heel's seat is in contact; "
            f"{factor:.2f} times the bolt tensions would close it."
        )
    return tuple(found), warning
