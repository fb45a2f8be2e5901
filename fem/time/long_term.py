"""An instrument long after set-up: bolts locked, strings at pitch, rod and saddle left alone or readjusted
(docs/theory-readings.md, section 14).
"""

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fem.errors import ConvergenceError
from fem.geometry.outline import Array
from fem.joint.shim_layer import taper
from fem.solve.equilibrium import Bolting, State, Targets, string_up
from fem.solve.offset import Pair, Question, with_rod
from fem.time.free_strain import resized, unit_load

STAIRS = 9
"""Load steps of the free strain where a single one does not converge, zero and full load included."""


@dataclass(frozen=True)
class Kept:
    """The setting from the bench.

    ``pair`` holds the states at set-up; ``rod_stiffness`` is the rod's own, force (couple) per displacement
    of its row [N/m, N m]. Since set-up, heat has lengthened bolts and the rod's row by ``bolt_growth`` and
    ``rod_growth`` [m], and the shims have strained by ``shim_swelling`` through their thickness.
    """

    pair: Pair
    rod_stiffness: float
    bolt_growth: Array | None = None
    rod_growth: float = 0.0
    shim_swelling: float = 0.0


def _strung(question: Question, kept: Kept, wanted: Targets, start: State | None) -> State:
    at = kept.pair
    flexibility, law = question.joint(at.angles)
    thickness = [
        np.repeat(taper(pad, points.s, angle)[1], len(points.rows))
        for pad, points, angle in zip(question.pads, flexibility.points, at.angles, strict=True)
    ]
    swelling = kept.shim_swelling * np.concatenate(thickness)
    bolted = resized(at.bolted.displacements, flexibility.size)
    if kept.bolt_growth is not None:
        bolted = bolted.copy()
        bolted[flexibility.at["bolt"]] += kept.bolt_growth

    def solve(near: State, bolting: Bolting, *, share: float) -> State:
        return string_up(
            flexibility,
            replace(law, interference=law.interference + share * swelling),
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
            # far from the start, where shims that shrank may touch nothing, the contact is found by steps of
            # the free strain
            for share in np.linspace(0.0, 1.0, STAIRS):
                near = solve(near, bolting, share=float(share))
            return near

    bolting = question.bolting
    found = found_from(start or at.strung, bolting)
    for _ in bolting.bolt_tension:
        pulls = found.bolts >= 0.0
        if pulls.all():
            break
        # a bolt cannot push: one in compression is loose
        bolting = Bolting(bolting.bolt_tension * pulls, bolting.bolt_stiffness * pulls)
        found = found_from(found, bolting)
    return found


def looked_after(question: Question, kept: Kept) -> State:
    """The state with rod and saddle readjusted to relief and action; a one-way rod never pushes."""
    return with_rod(question, partial(_strung, question, kept), None)


def left_alone(question: Question, kept: Kept) -> State:
    """The state with nothing readjusted: same saddle, rod and bolts locked.

    The rod's tension follows its length, ``P = P0 + k (r - r0)``; r is almost linear in P, so a few secant
    steps solve it.
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
