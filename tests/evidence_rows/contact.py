"""Shim layer that cannot pull, friction, bolts in two steps, against closed forms of joints and footings."""

import math

import numpy as np

from fem.geometry.hardware import Bolt
from fem.geometry.mesh import Block
from fem.geometry.outline import Array
from fem.joint.bolt import bolt_stiffness, torque_tension
from fem.joint.shim_layer import Layer, traction
from fem.solve.newton import Problem, Solution, solve

WIDTH, BED = 60.0, 100.0  # mm, N/mm3: the strip of the worked numbers, one millimetre deep


def strip(points: int = 1200, *, wedge: float = 0.0) -> tuple[Array, Layer]:
    """Positions from the middle and layer of an evenly stiff seat whose interference grows along it."""
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
            reference=np.array([grounding, grounding]),
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


OURS = {
    "contact-edge-pressure": lambda: edge_pressure(1000.0, 20.0),
    "contact-opening": lambda: seat(1000.0, 20.0)[1],
    "contact-middle-third": lambda: edge_pressure(1000.0, 8.0),
    "contact-wedge": lambda: seat(10000.0, 0.0, wedge=0.01)[1],
    "contact-friction": lambda: sliding_force(1000.0, 1.0),
    "contact-bolt-share": lambda: bolt_force(20e3, preload=40e3, members=3e8, bolt=1e8),
    "contact-bolt-share-textbook": lambda: (
        (bolt_force(20e3, preload=40e3, members=8.95e6, bolt=5.21e6) - 40e3) / 20e3
    ),
    "contact-torque": lambda: torque_tension(1.0, nut_factor=0.2, diameter=6.35e-3),
    "contact-bolt-stiffness": lambda: bolt_stiffness(STEEL_BOLT, BLOCK),
}
OUTSIDE = {
    "contact-edge-pressure": 2 * 1000.0 / (3 * (WIDTH / 2 - 20.0)),
    "contact-opening": 2 * 1000.0 / (3 * (WIDTH / 2 - 20.0)) / (BED * 3 * (WIDTH / 2 - 20.0)),
    "contact-middle-third": 1000.0 / WIDTH * (1 + 6 * 8.0 / WIDTH),
    "contact-torque": 1.0 / (0.2 * 6.35e-3),
    "contact-bolt-stiffness": 205e9 * math.pi * 0.006**2 / 4 / 0.036,
}
