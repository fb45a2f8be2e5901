"""What an instrument comes to after it was set up: bolts locked, strings kept at pitch, rod and saddle left
or set anew (docs/theory.md, section 14).
"""

from dataclasses import dataclass, replace

import numpy as np

from fem.errors import ConvergenceError
from fem.geometry.outline import Array
from fem.joint.shim_layer import layer, taper
from fem.solve.equilibrium import Bolting, State, Targets, string_up, with_body
from fem.solve.offset import Pair, Question
from fem.time.free_strain import resized, unit_load

STAIRS = 9
"""Steps in which free strain is put on where one does not do, none and all included."""


@dataclass(frozen=True)
class Kept:
    """What was set on the bench and stays.

    ``pair`` holds the states at set-up; ``rod_stiffness`` is that of the rod itself, force (couple) per
    movement of its row [N/m, N m]; ``bolt_growth`` and ``rod_growth`` are how far heat lengthens bolts and
    rod's row since [m]; ``shim_swelling`` the strain of the shims through their thickness since.
    """

    pair: Pair
    rod_stiffness: float
    bolt_growth: Array | None = None
    rod_growth: float = 0.0
    shim_swelling: float = 0.0


def _strung(question: Question, kept: Kept, wanted: Targets, start: State | None) -> State:
    flexibility = with_body(question.flexibility, question.body_stiffness)
    at = kept.pair
    law = layer(question.pads, flexibility.points, angles=at.angles, friction=question.friction)
    if kept.shim_swelling:
        thickness = [
            taper(pad, points.s, angle)[1]
            for pad, points, angle in zip(question.pads, flexibility.points, at.angles, strict=True)
        ]
        swollen = law.interference + kept.shim_swelling * np.concatenate(thickness)
        law = replace(law, interference=swollen)
    bolted = resized(at.bolted.displacements, flexibility.size)
    if kept.bolt_growth is not None:
        bolted = bolted.copy()
        bolted[flexibility.at["bolt"]] += kept.bolt_growth

    def solve(near: State, bolting: Bolting, *, share: float) -> State:
        return string_up(
            flexibility,
            law,
            bolting,
            bolted=replace(at.bolted, displacements=bolted),
            line=question.line,
            strings=question.strings,
            wanted=wanted,
            start=replace(near, displacements=resized(near.displacements, flexibility.size)),
            rest=share * unit_load(flexibility),
        )

    def found_from(near: State, bolting: Bolting) -> State:
        try:
            return solve(near, bolting, share=1.0)
        except ConvergenceError:
            # far from where it began the contact is found by putting the free strain on little by little
            for share in np.linspace(0.0, 1.0, STAIRS):
                near = solve(near, bolting, share=float(share))
            return near

    bolting = question.bolting
    found = found_from(start or at.strung, bolting)
    for _ in bolting.bolt_tension:
        pulls = found.bolts >= 0.0
        if pulls.all():
            break
        # a bolt cannot push: one that would is loose
        bolting = Bolting(bolting.bolt_tension * pulls, bolting.bolt_stiffness * pulls)
        found = found_from(found, bolting)
    return found


def looked_after(question: Question, kept: Kept) -> State:
    """The state with rod and saddle set anew: relief and action as wanted; a one-way rod never pushes."""
    found = _strung(question, kept, question.wanted, None)
    if question.one_way and question.wanted.relief is not None and found.rod < 0.0:
        return _strung(question, kept, replace(question.wanted, relief=None, rod=0.0), found)
    return found


def left_alone(question: Question, kept: Kept) -> State:
    """The state with nothing touched: saddle where it was, rod locked as the bolts are.

    The rod's tension follows its length, ``P = P0 + k (r - r0)``; r answers to P almost linearly, so that a
    secant of a few solves finds it.
    """
    first = kept.pair.strung
    rows = question.flexibility.at.get("rod")
    wanted = replace(
        question.wanted, relief=None, rod=first.rod, height=None, saddle_height=first.saddle_height
    )
    here = _strung(question, kept, wanted, None)
    if rows is None or (question.one_way and first.rod <= 0.0):
        return here

    def excess(state: State) -> float:
        grown = float((state.displacements[rows] - first.displacements[rows])[0]) - kept.rod_growth
        return state.rod - first.rod - kept.rod_stiffness * grown

    there = _strung(question, kept, replace(wanted, rod=first.rod - 0.5 * excess(here) - 1e-9), here)
    for _ in range(12):
        off = excess(there)
        if abs(off) <= 1e-9 * max(abs(first.rod), 1.0):
            break
        slope = (off - excess(here)) / (there.rod - here.rod)
        setting = there.rod - off / slope
        if question.one_way:
            setting = max(setting, 0.0)
        if setting == there.rod:
            break
        here, there = there, _strung(question, kept, replace(wanted, rod=setting), there)
    return there
