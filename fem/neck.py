"""The main question of the mechanics: which difference of the two shims leaves the wanted kink at pitch."""

from dataclasses import dataclass, replace

import numpy as np

from fem.equilibrium import Hardware, State, Strings, Wanted, bolt_up, string_up, with_body
from fem.errors import ConvergenceError
from fem.flexibility import Flexibility
from fem.interface import Pad, layer
from fem.outline import Array
from fem.profile import FretLine

STEP = np.radians(0.02)
"""Change of a shim angle by which gains are measured [rad]."""


@dataclass(frozen=True)
class Question:
    """A flexibility and everything adjustable about it.

    ``friction`` holds one coefficient a pad; ``one_way`` keeps the rod from pushing; ``target_gap`` [m],
    when not None, replaces ``target_kink`` [rad]; ``body_stiffness`` [N m/rad], None for a rigid body.
    """

    flexibility: Flexibility
    pads: tuple[Pad, ...]
    friction: tuple[float, ...]
    hardware: Hardware
    strings: Strings
    wanted: Wanted
    line: FretLine
    one_way: bool
    target_kink: float
    target_gap: float | None = None
    body_stiffness: float | None = None

    def heights(self, state: State) -> Array:
        """Crown heights of a state, frets 1..last [m]."""
        return self.line.heights(state.moves[self.flexibility.at["crown"]])

    def kink(self, state: State) -> float:
        """Kink of a state [rad]."""
        return self.line.kink(self.heights(state))

    def misfit(self, state: State) -> float:
        """How far the state is from its target, as a kink [rad]."""
        if self.target_gap is None:
            return self.kink(state) - self.target_kink
        gap = self.line.tongue_gap(self.heights(state))
        return (gap - self.target_gap) / float(self.line.x[-1] - self.line.x[self.line.joint - 1])


@dataclass(frozen=True)
class Pair:
    """The two states of the instrument on a pair of shims (angles in pad order) [rad]."""

    angles: tuple[float, ...]
    bolted: State
    strung: State


@dataclass(frozen=True)
class Offset:
    """Answer to the main question.

    Attributes
    ----------
    pair : states at the offset found.
    offset : lower minus upper angle [rad].
    offset_linear : the same from the start and the transfer alone [rad].
    transfer : d kink / d(lower - upper), the shim transfer.
    solves : number of pairs solved on the way.
    """

    pair: Pair
    offset: float
    offset_linear: float
    transfer: float
    solves: int


def pair(question: Question, angles: tuple[float, ...], *, start: Pair | None = None) -> Pair:
    """Bolt up and string up on given shim angles [rad]."""
    flexibility = with_body(question.flexibility, question.body_stiffness)
    law = layer(question.pads, flexibility.points, angles=angles, friction=question.friction)
    bolted = bolt_up(flexibility, law, question.hardware, start=start.bolted if start else None)
    strung = string_up(
        flexibility,
        law,
        question.hardware,
        bolted=bolted,
        line=question.line,
        strings=question.strings,
        wanted=question.wanted,
        start=start.strung if start else None,
    )
    if question.one_way and question.wanted.relief is not None and strung.rod < 0.0:
        slack = replace(question.wanted, relief=None, rod=0.0)
        strung = string_up(
            flexibility,
            law,
            question.hardware,
            bolted=bolted,
            line=question.line,
            strings=question.strings,
            wanted=slack,
            start=strung,
        )
    return Pair(angles, bolted, strung)


def other_state(question: Question, at: Pair, *, strings: bool, rod: float) -> State:
    """A further state on the same bolted joint: strings on or off, rod at a given setting; the saddle
    stays as it is.
    """
    flexibility = with_body(question.flexibility, question.body_stiffness)
    law = layer(question.pads, flexibility.points, angles=at.angles, friction=question.friction)
    wanted = replace(
        question.wanted, relief=None, rod=rod, height=None, saddle_height=at.strung.saddle_height
    )
    return string_up(
        flexibility,
        law,
        question.hardware,
        bolted=at.bolted,
        line=question.line,
        strings=question.strings if strings else None,
        wanted=wanted,
        start=at.strung if strings else None,
    )


def find_offset(
    question: Question, *, upper: float, start: Pair | None = None, lower: float | None = None
) -> Offset:
    """Lower shim angle for which the strung instrument meets its target, the upper angle given [rad].

    Secant search on the full model, from ``lower`` (default: equal angles).

    Raises
    ------
    ConvergenceError
        If the search does not close: the joint does not answer to the lower shim.
    """
    first_angle = upper if lower is None else lower
    here = pair(question, (upper, first_angle), start=start)
    there = pair(question, (upper, first_angle - STEP), start=here)
    miss_here, miss_there = question.misfit(here.strung), question.misfit(there.strung)
    slope = (miss_here - miss_there) / STEP
    linear = first_angle - upper - miss_here / slope
    for count in range(2, 14):
        slope = (miss_there - miss_here) / (there.angles[1] - here.angles[1])
        if not np.isfinite(slope) or abs(slope) < 1e-3:
            break
        angle = there.angles[1] - float(np.clip(miss_there / slope, -0.05, 0.05))
        here, miss_here = there, miss_there
        there = pair(question, (upper, angle), start=there)
        miss_there = question.misfit(there.strung)
        if abs(miss_there) < 1e-11:
            return Offset(there, there.angles[1] - upper, linear, slope, count + 1)
    raise ConvergenceError(
        "The offset search did not close: the kink hardly answers to the lower shim. "
        "Check that the heel face bears (bolt torque) and that the tongue is not stiffer than the heel."
    )


@dataclass(frozen=True)
class Gains:
    """Answers of the strung neck to a unit change of each shim angle, rod and saddle re-set; they have no
    unit.

    ``pitch_per_upper`` + ``pitch_per_lower`` is 1 and ``kink_per_upper`` + ``kink_per_lower`` is 0, since
    equal angles turn the neck rigidly.
    """

    pitch_per_upper: float
    pitch_per_lower: float
    kink_per_upper: float
    kink_per_lower: float


def gains(question: Question, at: Pair) -> Gains:
    """Gains at a pair, by central differences."""
    pitch, kink = [], []
    for which in range(2):
        read = []
        for sign in (1.0, -1.0):
            angles = list(at.angles)
            angles[which] += sign * STEP
            strung = pair(question, tuple(angles), start=at).strung
            heights = question.heights(strung)
            read.append((-question.line.shaft_slope(heights), question.line.kink(heights)))
        pitch.append((read[0][0] - read[1][0]) / (2.0 * STEP))
        kink.append((read[0][1] - read[1][1]) / (2.0 * STEP))
    return Gains(pitch[0], pitch[1], kink[0], kink[1])
