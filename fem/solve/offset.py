"""The main question of the mechanics: which shim angle, the others held, meets the target at pitch."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fem.errors import ConvergenceError
from fem.geometry.fret_line import FretLine
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.joint.shim_layer import Layer, layer
from fem.solve.equilibrium import Bolting, State, Strings, Targets, bolt_up, string_up, with_body
from fem.solve.flexibility import Flexibility

FURTHEST = float(np.radians(1.0))
"""Largest offset of the search [rad], three times the largest in practice."""
STEP = float(np.radians(0.02))
"""Change of a shim angle by which gains are measured [rad]."""
MET = 1e-11
"""Misfit that ends the search [rad]."""


@dataclass(frozen=True)
class Question:
    """A flexibility and everything adjustable about it.

    ``friction`` holds one coefficient per pad; ``one_way`` keeps the rod from pushing. ``target_gap`` [m],
    unless None, replaces ``target_kink`` [rad]; ``target_saddle``, unless None, replaces both: the saddle's
    height above z = 0 at which the strings reach their height [m]. ``body_stiffness`` [N m/rad], None for a
    rigid body. ``strength`` is the pressure at which the wood at a pad is crushed [Pa], None if it bears any.
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
    strength: float | None = None

    @property
    def shims(self) -> tuple[int, ...]:
        """Numbers of the pads with a shim."""
        return tuple(k for k, one in enumerate(self.pads) if one.middle > 0.0)

    @property
    def varied(self) -> int:
        """Number of the pad whose shim angle is unknown, the last with a shim."""
        return self.shims[-1]

    def angles(self, varied: float, *, held: float) -> tuple[float, ...]:
        """Angles in pad order: ``varied`` for the unknown shim, ``held`` for the others [rad]."""
        return tuple(
            varied if k == self.varied else (held if k in self.shims else 0.0) for k in range(len(self.pads))
        )

    def joint(self, angles: tuple[float, ...]) -> tuple[Flexibility, Layer]:
        """Flexibility with the body's rotation, and the layer at shim angles in pad order [rad]."""
        points = self.flexibility.points
        law = layer(self.pads, points, angles=angles, friction=self.friction)
        if self.strength is not None:
            law = replace(law, limit=self.strength * np.concatenate([one.row_areas for one in points]))
        return with_body(self.flexibility, self.body_stiffness), law

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
    """Answer to the main question, with the states at the offset found.

    ``offset`` is the angle of the unknown shim minus that of the held one (0 for a single shim),
    ``offset_linear`` its linear estimate from the start [rad]; ``transfer`` is the change of the misfit per
    change of that angle, for a kink the shim transfer.
    """

    pair: Pair
    offset: float
    offset_linear: float
    transfer: float


def pair(question: Question, angles: tuple[float, ...], *, start: Pair | None = None) -> Pair:
    """Bolt up and string up on given shim angles [rad]."""
    if question.strength is not None:
        # where most points are at their limit Newton's method finds no way: begin uncrushed
        start = pair(replace(question, strength=None), angles, start=start)
    flexibility, law = question.joint(angles)
    bolted = bolt_up(flexibility, law, question.bolting, start=start.bolted if start else None)
    near = None
    if start is not None:
        # other angles move the whole neck: the displacement by the strings alone is the better guess
        near = replace(
            start.strung,
            displacements=start.strung.displacements + bolted.displacements - start.bolted.displacements,
        )
    string = partial(
        string_up,
        flexibility,
        law,
        question.bolting,
        bolted=bolted,
        line=question.line,
        strings=question.strings,
    )
    return Pair(angles, bolted, with_rod(question, lambda wanted, at: string(wanted=wanted, start=at), near))


def with_rod(
    question: Question, solve: Callable[[Targets, State | None], State], start: State | None
) -> State:
    """State of ``solve(targets, start)`` for the question's targets; a one-way rod never pushes."""
    found = solve(question.wanted, start)
    if question.one_way and question.wanted.relief is not None and found.rod < 0.0:
        return solve(replace(question.wanted, relief=None, rod=0.0), found)
    return found


def other_state(
    question: Question, at: Pair, *, strings: bool, rod: float, after: State | None = None
) -> State:
    """Another state on the same bolted joint and saddle: strings on or off, rod at a given setting.

    It follows the state ``after``, by default the bolted one.
    """
    flexibility, law = question.joint(at.angles)
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
        after=after,
    )


def slackened(question: Question, at: Pair) -> State:
    """The state with the strings taken off again after the first tuning-up; rod and saddle stay."""
    return other_state(question, at, strings=False, rod=at.strung.rod, after=at.strung)


def find_offset(
    question: Question,
    *,
    upper: float,
    start: Pair | None = None,
    lower: float | None = None,
    transfer: float | None = None,
) -> Offset:
    """Offset for which the strung instrument meets its target.

    Secant search on the full model, from the angle ``lower`` (default: ``upper``). The other shim is held at
    ``upper``; for a single shim the offset is measured from there [rad]. The ``transfer`` of a neighbour
    gives the first step; without it the shim is turned by `STEP`.

    Raises `ConvergenceError`: the search does not converge: the kink hardly depends on the shim.
    """
    first_angle = upper if lower is None else lower
    which = question.varied
    here = pair(question, question.angles(first_angle, held=upper), start=start)
    miss_here = question.misfit(here.strung)
    if transfer is not None and abs(miss_here) < MET:
        return Offset(here, first_angle - upper, first_angle - upper, transfer)
    step = -STEP if transfer is None else -miss_here / transfer
    there = pair(question, question.angles(first_angle + step, held=upper), start=here)
    miss_there = question.misfit(there.strung)
    linear = first_angle - upper - miss_here / ((miss_there - miss_here) / step)
    for _ in range(12):
        slope = (miss_there - miss_here) / (there.angles[which] - here.angles[which])
        if not np.isfinite(slope) or abs(slope) < 1e-3:
            break
        angle = there.angles[which] - miss_there / slope
        if abs(angle - upper) > FURTHEST:
            break
        here, miss_here = there, miss_there
        there = pair(question, question.angles(angle, held=upper), start=there)
        miss_there = question.misfit(there.strung)
        if abs(miss_there) < MET:
            return Offset(there, there.angles[which] - upper, linear, slope)
    if question.target_saddle is not None:
        raise ConvergenceError(
            "The taper search did not converge within 1 degree of shim. Check the bridge's heights and "
            "bridge.top_to_board_mm against the action: they must need a pitch that a shim can give."
        )
    raise ConvergenceError(
        "The offset search did not converge within 1 degree: the lower shim hardly changes the kink. "
        "Check that the heel face bears (bolt torque) and that the tongue is not stiffer than the heel."
    )


@dataclass(frozen=True)
class Gains:
    """Change of pitch and kink of the strung neck per change of each shim angle, rod and saddle readjusted
    [-].

    Pitch gains add up to 1 and kink gains to 0, since equal angles rotate the neck rigidly.
    """

    pitch: tuple[float, ...]
    kink: tuple[float, ...]


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
