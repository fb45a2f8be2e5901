"""The main question of the mechanics: which shim angle, the others held, meets the target at pitch."""

from dataclasses import dataclass, replace

import numpy as np

from fem.errors import ConvergenceError
from fem.geometry.fret_line import FretLine
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.joint.shim_layer import layer
from fem.solve.condensation import Flexibility
from fem.solve.equilibrium import Bolting, State, Strings, Targets, bolt_up, string_up, with_body

FURTHEST = float(np.radians(1.0))
"""Largest offset that is searched for [rad]; practice knows a third of it at most."""
STEP = float(np.radians(0.02))
"""Change of a shim angle by which gains are measured [rad]."""


@dataclass(frozen=True)
class Question:
    """A flexibility and everything adjustable about it.

    ``friction`` holds one coefficient a pad; ``one_way`` keeps the rod from pushing; ``target_gap`` [m],
    when not None, replaces ``target_kink`` [rad]; ``target_saddle``, when not None, goes before both: the
    height of the string line at the saddle above z = 0 that the wanted height of the strings must come out
    with [m]; ``body_stiffness`` [N m/rad], None for a rigid body.
    """

    flexibility: Flexibility
    pads: tuple[Pad, ...]
    friction: tuple[float, ...]
    bolting: Bolting
    strings: Strings
    wanted: Targets
    line: FretLine
    one_way: bool
    target_kink: float
    target_gap: float | None = None
    body_stiffness: float | None = None
    target_saddle: float | None = None

    @property
    def shims(self) -> tuple[int, ...]:
        """Numbers of the pads that a taper can be cut for; the last is the one searched for."""
        return tuple(k for k, one in enumerate(self.pads) if one.middle > 0.0)

    @property
    def varied(self) -> int:
        """Number of the pad whose angle is searched for."""
        return self.shims[-1]

    def angles(self, varied: float, *, held: float) -> tuple[float, ...]:
        """Angles in pad order: the shim searched for, and the one at which the other shims are held [rad]."""
        return tuple(
            varied if k == self.varied else (held if k in self.shims else 0.0) for k in range(len(self.pads))
        )

    def heights(self, state: State) -> Array:
        """Crown heights of a state, frets 1..last [m]."""
        return self.line.heights(state.displacements[self.flexibility.at["crown"]])

    def kink(self, state: State) -> float:
        """Kink of a state [rad]."""
        return self.line.kink(self.heights(state))

    @property
    def target(self) -> tuple[str, float, float]:
        """Name of the reading to be met (``kink``, ``gap`` or ``saddle``), its value, and the lever by which
        its error is divided to give an angle at the joint: [m], but 1 for a kink.
        """
        joint = float(self.line.x[self.line.joint - 1])
        if self.target_saddle is not None:
            return "saddle", self.target_saddle, joint + self.pads[self.varied].pivot - self.strings.saddle
        if self.target_gap is not None:
            return "gap", self.target_gap, float(self.line.x[-1]) - joint
        return "kink", self.target_kink, 1.0

    def misfit(self, state: State) -> float:
        """Error of the state against its target, as an angle at the joint [rad]."""
        name, value, lever = self.target
        heights = self.heights(state)
        if name == "saddle":
            found = state.saddle_height
        else:
            found = self.line.kink(heights) if name == "kink" else self.line.tongue_gap(heights)
        return (found - value) / lever


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
    offset : angle of the shim searched for minus that of the held one (0 when it is alone) [rad].
    offset_linear : the same from the start and the transfer alone [rad].
    transfer : change of the misfit per change of that angle; for a kink, the shim transfer.
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
    bolted = bolt_up(flexibility, law, question.bolting, start=start.bolted if start else None)
    near = None
    if start is not None:
        # on other angles the whole neck lies elsewhere: what the strings alone moved is the better guess
        near = replace(
            start.strung,
            displacements=start.strung.displacements + bolted.displacements - start.bolted.displacements,
        )
    strung = string_up(
        flexibility,
        law,
        question.bolting,
        bolted=bolted,
        line=question.line,
        strings=question.strings,
        wanted=question.wanted,
        start=near,
    )
    if question.one_way and question.wanted.relief is not None and strung.rod < 0.0:
        slack = replace(question.wanted, relief=None, rod=0.0)
        strung = string_up(
            flexibility,
            law,
            question.bolting,
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
        question.bolting,
        bolted=at.bolted,
        line=question.line,
        strings=question.strings if strings else None,
        wanted=wanted,
        start=at.strung if strings else None,
    )


def find_offset(
    question: Question, *, upper: float, start: Pair | None = None, lower: float | None = None
) -> Offset:
    """Angle of the last shim for which the strung instrument meets its target [rad].

    Secant search on the full model, from ``lower`` (default: equal angles). ``upper`` is the angle at which
    the other shim is held; of a single shim it is the angle from which the answer counts.

    Raises
    ------
    ConvergenceError
        If the search does not close: the joint does not answer to the shim.
    """
    first_angle = upper if lower is None else lower
    which = question.varied
    here = pair(question, question.angles(first_angle, held=upper), start=start)
    there = pair(question, question.angles(first_angle - STEP, held=upper), start=here)
    miss_here, miss_there = question.misfit(here.strung), question.misfit(there.strung)
    slope = (miss_here - miss_there) / STEP
    linear = first_angle - upper - miss_here / slope
    for count in range(2, 14):
        slope = (miss_there - miss_here) / (there.angles[which] - here.angles[which])
        if not np.isfinite(slope) or abs(slope) < 1e-3:
            break
        angle = there.angles[which] - miss_there / slope
        if abs(angle - upper) > FURTHEST:
            break
        here, miss_here = there, miss_there
        there = pair(question, question.angles(angle, held=upper), start=there)
        miss_there = question.misfit(there.strung)
        if abs(miss_there) < 1e-11:
            return Offset(there, there.angles[which] - upper, linear, slope, count + 1)
    if question.target_saddle is not None:
        raise ConvergenceError(
            "The taper search did not close within 1 degree of shim. Check the bridge's heights and "
            "bridge.top_to_board_mm against the action: they must ask for a pitch that a shim can give."
        )
    raise ConvergenceError(
        "The offset search did not close within 1 degree: the kink hardly answers to the lower shim. "
        "Check that the heel face bears (bolt torque) and that the tongue is not stiffer than the heel."
    )


@dataclass(frozen=True)
class Gains:
    """Answers of the strung neck to a unit change of each shim angle, in shim order, rod and saddle re-set;
    they have no unit.

    Pitch gains add to 1 and kink gains to 0, since equal angles turn the neck rigidly.
    """

    pitch: tuple[float, ...]
    kink: tuple[float, ...]

    @property
    def pitch_per_upper(self) -> float:
        """Pitch per degree of the upper shim (of the only one, where there is one)."""
        return self.pitch[0]

    @property
    def pitch_per_lower(self) -> float:
        """Pitch per degree of the lower shim."""
        return self.pitch[1]

    @property
    def kink_per_upper(self) -> float:
        """Kink per degree of the upper shim (of the only one, where there is one)."""
        return self.kink[0]

    @property
    def kink_per_lower(self) -> float:
        """Kink per degree of the lower shim."""
        return self.kink[1]


def gains(question: Question, at: Pair) -> Gains:
    """Gains at a pair, by central differences."""
    pitch, kink = [], []
    for which in question.shims:
        read = []
        for sign in (1.0, -1.0):
            angles = list(at.angles)
            angles[which] += sign * STEP
            strung = pair(question, tuple(angles), start=at).strung
            heights = question.heights(strung)
            read.append((-question.line.shaft_slope(heights), question.line.kink(heights)))
        pitch.append((read[0][0] - read[1][0]) / (2.0 * STEP))
        kink.append((read[0][1] - read[1][1]) / (2.0 * STEP))
    return Gains(tuple(pitch), tuple(kink))
