"""A uniform cantilever as the smallest instrument: nut at x = 0, clamped at the joint, one contact point.

It lets the tests of strings and rod run the program's own search where a closed form exists.
"""

import math

import numpy as np

from fem.geometry.fret_line import FretLine
from fem.geometry.outline import Array
from fem.joint.shim_layer import Layer, PadPoints
from fem.members.beam import Beam, beam, shear, stretch_and_bend
from fem.solve.equilibrium import Bolting, State, Strings, Targets, bolt_up, string_up
from fem.solve.flexibility import Flexibility

LENGTH = 0.36
EA, EI, STIFF_SHEAR = 8e6, 400.0, 1e11


def uniform_stiffness(
    line: Beam, *, axial: float = EA, static: float = 0.0, bending: float = EI, kga: float = STIFF_SHEAR
) -> Array:
    """Dense stiffness of a uniform beam; `static` is ES, EA times the neutral axis' height."""

    def section(x: Array) -> tuple[Array, Array, Array]:
        return np.full_like(x, axial), np.full_like(x, static), np.full_like(x, bending)

    bend = stretch_and_bend(line, section=section)
    return np.asarray((bend + shear(line, kga=lambda x: np.full_like(x, kga))).todense())


def clamped(line: Beam, matrix: Array, load: Array, *, at: float) -> Array:
    """All unknowns with u, w and theta held at the node at `at`; loads may be columns."""
    free = np.setdiff1d(np.arange(line.size), [line.at(name, at) for name in ("u", "w", "t")])
    displacements = np.zeros_like(load)
    displacements[free] = np.linalg.solve(matrix[np.ix_(free, free)], load[free])
    return displacements


def instrument(frets: int = 40) -> tuple[Flexibility, FretLine]:
    """Flexibility of the cantilever with crowns evenly along it and two more beyond the clamp.

    One interface point and one bolt stand on the rigid clamp, so they never move: the search runs, the joint
    does not give way.
    """
    stations = LENGTH * np.arange(1, frets + 1) / frets
    beyond = LENGTH + 0.02 * np.arange(1, 3)
    line = beam(np.concatenate([[0.0], stations]), longest=LENGTH)
    matrix = uniform_stiffness(line)
    at = {"opening": np.array([0]), "slip": np.array([1]), "bolt": np.array([2])}
    at |= {"nut u": np.array([3]), "nut w": np.array([4]), "nut t": np.array([5])}
    at["crown"] = 6 + np.arange(len(stations) + 2)
    rows = np.zeros((6 + len(stations) + 2, line.size))
    for name, row in (("u", 3), ("w", 4), ("t", 5)):
        rows[row, line.at(name, 0.0)] = 1.0
    for number, x in enumerate(stations):
        rows[6 + number, line.at("w", float(x))] = 1.0
    c = rows @ clamped(line, matrix, rows.T.copy(), at=LENGTH)
    n = len(rows)
    points = (PadPoints(np.array([0.01]), np.array([1e-4])),)
    flexibility = Flexibility(
        matrix=0.5 * (c + c.T),
        at=at,
        reference=np.zeros(n),
        points=points,
        rigid=np.zeros((n, 3)),
        reactions=np.zeros((3, n)),
    )
    x = np.concatenate([stations, beyond])
    return flexibility, FretLine(x, frets, np.zeros_like(x))


def strung(
    strings: Strings, *, saddle_height: float = 0.0, height: float | None = None, frets: int = 40
) -> tuple[State, Flexibility, FretLine]:
    """The cantilever with strings at pitch, saddle at a height or found for a height at mid-length."""
    flexibility, line = instrument(frets)
    law = Layer(np.array([1e-4]), np.array([1e7]), np.array([1e7]), np.array([0.3]))
    bolting = Bolting(np.array([1000.0]), np.array([1e7]))
    bolted = bolt_up(flexibility, law, bolting)
    wanted = Targets(
        relief=None, rod=0.0, height=height, saddle_height=saddle_height, height_x=float(line.x[frets // 2])
    )
    state = string_up(flexibility, law, bolting, bolted=bolted, line=line, strings=strings, wanted=wanted)
    return state, flexibility, line


def lifted_by_string(
    tension: float,
    *,
    nut: float,
    saddle_height: float,
    saddle: float,
    bending: float = EI,
    span: float = LENGTH,
) -> float:
    """Lift of the nut by a string of constant tension to a fixed saddle, over a uniform cantilever.

    x runs from the free end (nut) to the clamp at L. The string runs straight from the displaced nut
    (0, h + w0) to the saddle (X, z_s), so its slope is s = (z_s - h - w0)/X. Cutting at x, the string's pull
    T along its line has the arm h + w0 + s x - w about the displaced axis:

        EI w'' = T (h + w0 + s x - w),   w(0) = w0,  w(L) = 0,  w'(L) = 0.

    With k^2 = T/EI: w = A cos kx + B sin kx + h + w0 + s x, and w(0) = w0 gives A = -h. s holds w0, so the
    two conditions at the clamp are linear in B and w0:

        B sin kL + w0 (1 - L/X) = h cos kL - h - (z_s - h) L/X
        B k cos kL - w0/X = -h k sin kL - (z_s - h)/X.
    """
    k = math.sqrt(tension / bending)
    sin, cos, rise = math.sin(k * span), math.cos(k * span), (saddle_height - nut) / saddle
    system = np.array([[sin, 1 - span / saddle], [k * cos, -1 / saddle]])
    known = np.array([nut * cos - nut - rise * span, -nut * k * sin - rise])
    return float(np.linalg.solve(system, known)[1])
