"""The compared numbers by this project: beam, tie and plates, on the default mesh or another."""

import inspect
from dataclasses import dataclass, replace
from unittest import mock

import numpy as np

from fem.geometry.fret_line import FretLine
from fem.geometry.hardware import Bolt
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.joint.across_width import Body
from fem.joint.shim_layer import layer
from fem.solve import assembly, equilibrium, widening
from fem.solve.condensation import condense
from fem.solve.equilibrium import Bolting, Targets
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question, pair
from tests.reference.instruments import Instrument, inputs

RIGID = 1e6
"""Times its own stiffness, a block does not move."""


@dataclass(frozen=True)
class Crowns:
    """What is read of a state in either model: u_z of the crowns and of the nut [m]."""

    crowns: Array
    nut: float


def fret_line(structure: Structure) -> FretLine:
    """Frets of an instrument whose board is straight."""
    return FretLine(structure.frets, structure.joint_fret, np.zeros_like(structure.frets))


def _bearing(structure: Structure, pad: Pad, s: Array) -> Array:
    """The wood's own width in the place of a constant bearing width."""
    outline = structure.outline
    xj, zc = outline.corner
    if pad.face == "heel":
        return outline.neck_thickness_across(np.full_like(s, xj), zc - s)
    return np.full_like(s, outline.tongue_width)


def _no_pinch(_bolt: Bolt, _body: Body, s: Array, *, bearing: Array, rows: Array) -> tuple[Array, float]:
    """Of a bolt whose force is even across the width of neck and block."""
    return np.zeros(len(s) * len(rows)), 0.0


def condensed(one: Instrument, *, rigid_block: bool = False, pinched: bool = True) -> Flexibility:
    """Flexibility with pads as wide as the wood, with or without the pinch of the bolts."""
    structure = one.structure
    if rigid_block:
        stem = structure.block_wood
        structure = replace(
            structure, block_wood=replace(stem, moduli=RIGID * stem.moduli, solid=stem.solid / RIGID)
        )
    bolts = widening.pinch if pinched else _no_pinch
    with mock.patch.object(assembly, "bearing", _bearing), mock.patch.object(widening, "pinch", bolts):
        # the tests keep condensations by structure, which does not show what is patched here
        return inspect.unwrap(condense)(structure, MeshSize())[0]


def bonded(one: Instrument, *, on_block: bool) -> Crowns:
    """Bonded layers on fixed seats, or on the block, under the strings' plain load: linear."""
    flexibility = condensed(one, rigid_block=not on_block)
    pads, at = one.structure.pads, flexibility.at
    law = layer(pads, flexibility.points, angles=(0.0, 0.0), friction=(0.0, 0.0))
    held = np.zeros(flexibility.size)
    held[at["opening"]], held[at["slip"]] = law.normal, law.tangential
    load = np.zeros(flexibility.size)
    for name, force in zip(("u", "w", "t"), one.end_load, strict=True):
        load[at[f"nut {name}"]] = force
    # r = C (load + (k_g - k) r): the layers hold where the grounding springs held
    free = np.eye(flexibility.size) - flexibility.matrix * (flexibility.reference - held)
    displacements = np.linalg.solve(free, flexibility.matrix @ load)
    return Crowns(displacements[at["crown"]], float(displacements[at["nut w"]][0]))


def contact(one: Instrument, *, friction: float = 0.0, pinched: bool = True) -> dict[float, list[Crowns]]:
    """Bolted and strung state by angle of the lower shim [deg]: constant bolt forces, first order."""
    flexibility = condensed(one, pinched=pinched)
    structure = one.structure
    tension = np.array([bolt.tension for bolt in structure.bolts])
    question = Question(
        flexibility=flexibility,
        pads=structure.pads,
        friction=(friction, friction),
        bolting=Bolting(tension, np.zeros_like(tension)),
        strings=one.strings,
        wanted=Targets(relief=None, rod=0.0, height=None, saddle_height=one.saddle_height, height_x=0.0),
        line=fret_line(structure),
        one_way=True,
        target_kink=0.0,
    )
    whole = equilibrium.second_order_stiffness

    def first_order(*arguments):
        rows, stiffness = whole(*arguments)
        return rows, 0.0 * stiffness

    states = {}
    with mock.patch.object(equilibrium, "second_order_stiffness", first_order):
        for degrees in (0.0, inputs()["shim_step_deg"]):
            at = pair(question, (0.0, float(np.radians(degrees))))
            moves = [state.displacements for state in (at.bolted, at.strung)]
            rows = flexibility.at
            states[degrees] = [Crowns(move[rows["crown"]], float(move[rows["nut w"]][0])) for move in moves]
    return states
