"""What the joint's past is worth: strings once above pitch, wood that is crushed (docs/history.md)."""

from dataclasses import dataclass, replace
from math import degrees

import numpy as np

from cases.offset.joint_bearing import row_slices
from cases.offset.solve import Solved
from cases.offset.woods import weaker_compression
from fem.errors import ConvergenceError
from fem.solve.history import back_from
from fem.solve.offset import Pair, Question, find_offset

OVERSHOOT = 1.05
"""Tension of the excursion above pitch, over that at pitch: about 40 cents sharp; a choice of ours."""
STATES = {
    "bolted": "bolts tightened on the bench, the faces seated without friction; never strung",
    "slack": "brought to pitch for the first time, rod set, then the strings slackened; rod as set",
    "strung": "brought to pitch for the first time, strings and rod together, no overshoot",
}
"""What happened before each state of the answer."""


def overshoot_change(solved: Solved) -> float:
    """Change of the offset (taper) once the strings have been above pitch by `OVERSHOOT` [deg].

    It is the change of the misfit at the same shims, rod and saddle set again, over the transfer.
    """
    question, at = solved.question, solved.pair
    after = back_from(question, at, share=OVERSHOOT)
    return degrees(-(question.misfit(after) - question.misfit(at.strung)) / solved.offset.transfer)


@dataclass(frozen=True)
class Crushing:
    """Depth crushed at each pad [mm], and the change of the offset (taper) [deg]; None: no rest is found."""

    depth_mm: tuple[float | None, ...]
    change_deg: float | None


def crushable(solved: Solved) -> Question:
    """The question with wood that bears no more than its strength across the grain."""
    return replace(solved.question, strength=weaker_compression(solved.case))


def crushing(solved: Solved) -> Crushing:
    """What happens if no pressure can exceed the strength of the wood."""
    question, pads = crushable(solved), solved.question.flexibility.points
    if not _overloaded(question, solved.pair):
        return Crushing((0.0,) * len(pads), 0.0)
    varied = solved.pair.angles[question.varied]
    try:
        found = find_offset(
            question, upper=solved.upper, start=solved.pair, lower=varied, transfer=solved.offset.transfer
        )
    except ConvergenceError:
        return Crushing((None,) * len(pads), None)
    crushed = found.pair.strung.crushed
    depth = tuple(1e3 * float(crushed[here].max()) for here in row_slices(pads))
    return Crushing(depth, degrees(found.offset - solved.offset.offset))


def _overloaded(question: Question, at: Pair) -> bool:
    area = np.concatenate([one.row_areas for one in question.flexibility.points])
    highest = max(np.max(state.contact.push / area) for state in (at.bolted, at.strung))
    return bool(highest > (question.strength or np.inf))
