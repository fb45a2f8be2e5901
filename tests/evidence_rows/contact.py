"""Shim layer that cannot pull, friction, and bolts in two steps, against closed forms of foundations and joints."""

from __future__ import annotations

import math

import numpy as np

from fem.geometry.hardware import Bolt
from fem.geometry.mesh import Block
from fem.geometry.outline import Array
from fem.joint.bolt import bolt_stiffness, torque_tension
from fem.joint.shim_layer import Layer, traction
from fem.solve.newton import Problem, Solution, solve
from tests.evidence_rows.mutation import Edited
from tests.evidence_rows.row import Row

BILATERAL = Edited(
    "contact made bilateral",
    "fem.joint.shim_layer:traction",
    "closed = squeeze > 0.0",
    "closed = squeeze > -np.inf",
)
SQUEEZE_SIGN = Edited(
    "interference counted the wrong way round",
    "fem.joint.shim_layer:traction",
    "squeeze = law.interference - opening",
    "squeeze = -law.interference - opening",
)
NO_CAP = Edited(
    "friction without its limit",
    "fem.joint.shim_layer:traction",
    "most = law.friction * push if cap is None else cap",
    "most = np.inf * np.ones_like(push)",
)
CAP_BY_STIFFNESS = Edited(
    "friction limit from the layer's stiffness instead of its pressure",
    "fem.joint.shim_layer:traction",
    "most = law.friction * push if cap is None else cap",
    "most = law.friction * law.normal * 1e-6",
)
BOLT_DEAD = Edited(
    "locked bolt without stiffness",
    "fem.solve.newton:Problem.evaluate",
    "bolt = self.locked + self.bolt_stiffness * displacements[self.bolt]",
    "bolt = self.locked + 0 * displacements[self.bolt]",
)
BOLT_PUSHES = Edited(
    "bolt that pushes",
    "fem.solve.newton:Problem.evaluate",
    "self.reference * slip - contact.shear_force, -bolt]",
    "self.reference * slip - contact.shear_force, bolt]",
)
TORQUE = Edited(
    "torque over the radius",
    "fem.joint.bolt:torque_tension",
    "(nut_factor * diameter)",
    "(nut_factor * diameter / 2)",
)
BOLT_AREA = Edited(
    "bolt's area from its diameter as radius", "fem.joint.bolt:bolt_stiffness", "0.25 * np.pi", "np.pi"
)
BOLT_GRIP = Edited(
    "bolt's length without its part in the insert",
    "fem.joint.bolt:bolt_stiffness",
    "+ 0.5 * bolt.insert_length",
    "",
)

WIDTH, BED = 60.0, 100.0  # mm, N/mm3: the strip of the worked numbers, one millimetre deep


def strip(points: int = 1200, *, wedge: float = 0.0) -> tuple[Array, Layer]:
    """Positions from the middle and layer of a seat of even stiffness, with an interference that grows along it."""
    edges = np.linspace(-WIDTH / 2, WIDTH / 2, points + 1)
    place = 0.5 * (edges[1:] + edges[:-1])
    normal = np.full(points, BED * WIDTH / points)
    return place, Layer(wedge * place, normal, normal, np.full(points, 0.3))


def seat(force: float, eccentricity: float, *, wedge: float = 0.0) -> tuple[float, float]:
    """Sinking of the middle and rotation of a rigid foot pressed off its middle (Newton's method)."""
    place, law = strip(wedge=wedge)
    arms = np.stack([np.ones_like(place), place])  # opening = -(sinking + rotation * place)
    displacements = np.array([force / (BED * WIDTH), 0.0])
    for _ in range(50):
        state = traction(law, -arms.T @ displacements, np.zeros_like(place), stuck_at=None)
        misfit = arms @ state.push - force * np.array([1.0, eccentricity])
        if np.max(np.abs(misfit)) < 1e-9 * force:
            return float(displacements[0]), float(displacements[1])
        displacements = displacements - np.linalg.solve(-(arms * state.push_by_opening) @ arms.T, misfit)
    return math.nan, math.nan


def edge_pressure(force: float, eccentricity: float) -> float:
    """Pressure at the pressed edge [MPa]."""
    sinking, rotation = seat(force, eccentricity)
    return BED * (sinking + rotation * WIDTH / 2)


def sliding_force(force: float, slip: float) -> float:
    """Force along a seat pressed evenly when it has slid far."""
    place, law = strip()
    opening = np.full_like(place, -force / (BED * WIDTH))
    return float(
        np.sum(traction(law, opening, np.full_like(place, slip), stuck_at=np.zeros_like(place)).shear_force)
    )


def joint(pull: float, *, preload: float, members: float, bolt: float) -> Solution:
    """A block clamped to a fixed seat by one bolt: tightened, locked, then pulled."""
    grounding = members
    flexibility = np.array([[1.0, 0.0, 1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 1.0]]) / grounding
    law = Layer(np.zeros(1), np.array([members]), np.array([members]), np.array([0.3]))

    def held(load: float, locked: float, stiffness: float, stuck: Array | None, start: Array) -> Solution:
        problem = Problem(
            c=flexibility,
            base=load * flexibility[:, 0],
            columns=np.zeros((3, 0)),
            conditions=(),
            opening=np.array([0]),
            slip=np.array([1]),
            bolt=np.array([2]),
            reference=np.array([grounding]),
            law=law,
            stuck_at=stuck,
            locked=np.array([locked]),
            bolt_stiffness=np.array([stiffness]),
        )
        return solve(problem, displacements=start, settings=np.zeros(0))

    # A body with nothing but this seat must start a little pressed: open, it would float.
    tight = held(0.0, preload, 0.0, None, np.array([-1e-9, 0.0, -1e-9]))
    return held(
        pull, preload - bolt * tight.displacements[2], bolt, tight.displacements[[1]], tight.displacements
    )


def bolt_force(pull: float, *, preload: float, members: float, bolt: float) -> float:
    """Tension of the bolt of `joint` after the pull [N]."""
    return -float(joint(pull, preload=preload, members=members, bolt=bolt).force[-1])


STEEL_BOLT = Bolt("probe", "heel", 0.02, 6e-3, 18e-3, 12e-3, 9e-3, 205e9, 1000.0)
BLOCK = Block(length=0.075, stem=0.03, shelf=0.02, height=0.09, width=0.08)

FOOTING = "footing loaded outside its middle third: pressure 2 P/(Y B), Y = 3 (L/2 - e), Mosley and others, Reinforced Concrete Design, fig. 10.3, and a mailing list of structural engineers"
SEAT = "exact but for 1200 points along the seat: the edge of contact is known to half a point, 0.04 %"

ROWS = [
    Row(
        "contact-edge-pressure [MPa]",
        "pressure at the edge of a seat 60 mm long, 1 mm wide, under 1000 N at 20 mm off its middle",
        ours=lambda: edge_pressure(1000.0, 20.0),
        outside=2 * 1000.0 / (3 * (WIDTH / 2 - 20.0)),
        tolerance=f"0.1 %: {SEAT}",
        source=f"seen: {FOOTING}",
        mutations=(BILATERAL,),
    ),
    Row(
        "contact-opening [rad]",
        "rotation of the foot on that seat, bed 100 N/mm3: p/(bed Y), half the seat open",
        ours=lambda: seat(1000.0, 20.0)[1],
        outside=2 * 1000.0 / (3 * (WIDTH / 2 - 20.0)) / (BED * 3 * (WIDTH / 2 - 20.0)),
        tolerance=f"0.1 %: {SEAT}",
        source=f"seen: {FOOTING}; the pressure falls to zero over Y",
        mutations=(BILATERAL,),
    ),
    Row(
        "contact-middle-third [MPa]",
        "pressure at the edge of the same seat under 1000 N at 8 mm, inside the middle third: P/A (1 + 6 e/L)",
        ours=lambda: edge_pressure(1000.0, 8.0),
        outside=1000.0 / WIDTH * (1 + 6 * 8.0 / WIDTH),
        tolerance="0.001 %: closed everywhere, so linear; 1200 points integrate the moment to 1e-6",
        source="seen: footing loaded within its middle third, lecture notes on eccentric footings",
        mutations=(
            Edited(
                "layer half as stiff",
                "fem.joint.shim_layer:traction",
                "law.normal * squeeze",
                "0.5 * law.normal * squeeze",
            ),
        ),
    ),
    Row(
        "contact-wedge [rad]",
        "rotation of the foot when a wedge of 0.01 rad, thick at the right, is put under its middle load",
        ours=lambda: seat(10000.0, 0.0, wedge=0.01)[1],
        outside=-0.01,
        tolerance="1e-7 %: closed everywhere, the foot follows the wedge exactly",
        source="memory: a wedge turns what lies on it by its own angle: plain geometry, no source needed",
        mutations=(SQUEEZE_SIGN,),
    ),
    Row(
        "contact-friction [N]",
        "force along a seat that slides under 1000 N with friction 0.3",
        ours=lambda: sliding_force(1000.0, 1.0),
        outside=300.0,
        tolerance="1e-7 %: both sides are exact",
        source="memory: Coulomb's law of friction, any text on mechanics",
        mutations=(NO_CAP, CAP_BY_STIFFNESS),
    ),
    Row(
        "contact-bolt-share [N]",
        "bolt tension after a pull of 20 kN on a joint tightened to 40 kN, members three times as stiff as the bolt: share 1/4",
        ours=lambda: bolt_force(20e3, preload=40e3, members=3e8, bolt=1e8),
        outside=45e3,
        tolerance="1e-7 %: the joint stays closed, both sides are exact",
        source="seen: joint stiffness factor k_b/(k_b + k_m), 1/4 for members three times as stiff, on a page of machine-element formulas",
        mutations=(BOLT_DEAD, BOLT_PUSHES),
    ),
    Row(
        "contact-bolt-share-textbook [-]",
        "share of a pull of 20 kN taken by a bolt of 5.21 Mlbf/in in members of 8.95 Mlbf/in",
        ours=lambda: (bolt_force(20e3, preload=40e3, members=8.95e6, bolt=5.21e6) - 40e3) / 20e3,
        outside=0.368,
        tolerance="0.2 %: the book prints three digits",
        source="table: Shigley's Mechanical Engineering Design, 9th ed., example 8-4, p. 443",
        mutations=(BOLT_DEAD,),
    ),
    Row(
        "contact-torque [N]",
        "tension from 1 N·m on a bolt of 6.35 mm, nut factor 0.2: T/(k d)",
        ours=lambda: torque_tension(1.0, nut_factor=0.2, diameter=6.35e-3),
        outside=1.0 / (0.2 * 6.35e-3),
        tolerance="1e-7 %: both sides are one formula",
        source="seen: T = F D K, design notes of a university team and a formula page; J. Fail. Anal. Prev. 2019",
        mutations=(TORQUE,),
    ),
    Row(
        "contact-bolt-stiffness [N/m]",
        "stiffness E A/L of a steel bolt 6 mm through 30 mm of block and half of a 12 mm insert",
        ours=lambda: bolt_stiffness(STEEL_BOLT, BLOCK),
        outside=205e9 * math.pi * 0.006**2 / 4 / 0.036,
        tolerance="1e-7 %: both sides are one formula; half of the threaded length is the usual allowance",
        source="seen: k = E A/L, design notes of a university team and a page of machine-element formulas",
        mutations=(BOLT_AREA, BOLT_GRIP),
    ),
]
