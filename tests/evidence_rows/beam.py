"""The beam of the shaft, clamped at one end, against closed forms of strength of materials."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fem.geometry.hardware import Rod
from fem.geometry.outline import Array
from fem.members.beam import Beam, beam, shear, stretch_and_bend
from fem.members.rod import setting_row
from fem.solve.equilibrium import Strings, second_order_stiffness
from tests.evidence_rows.mutation import Edited
from tests.evidence_rows.row import Row

LENGTH = 0.35
EA, ES, EI, KGA = 8e6, 2.4e4, 472.0, 5e5
EI_CENTROID = EI - ES**2 / EA
STIFF_SHEAR = 1e10

ES_SIGN = Edited(
    "sign of ES in the axial force",
    "fem.members.beam:stretch_and_bend",
    "- es * at.bend",
    "+ es * at.bend",
)
NO_COUPLING = Edited(
    "moment without the axial strain",
    "fem.members.beam:stretch_and_bend",
    "- es * at.stretch",
    "- 0 * es * at.stretch",
)
NO_SHEAR = Edited("shear left out", "fem.members.beam:shear", "kga(at.x)", "1e4 * kga(at.x)")
SHEAR_TWICE = Edited(
    "rotation left out of the shear angle",
    "fem.members.beam:Beam.strains",
    "- of(turn, slope=False)",
    "- 0 * of(turn, slope=False)",
)
SECOND_ORDER_SIGN = Edited(
    "sign of N w'^2",
    "fem.solve.equilibrium:second_order_stiffness",
    "-strings.tension * step.T",
    "strings.tension * step.T",
)
DEAD_LOAD = Edited(
    "string that keeps its direction instead of aiming at the saddle",
    "fem.solve.equilibrium:second_order_stiffness",
    "stiffness[0, 0] += strings.tension / strings.saddle",
    "pass",
)
ROD_STRAIGHT = Edited(
    "curve of the rod forgotten", "fem.geometry.hardware:Rod.z", "xi * (1.0 - xi)", "0 * xi * (1.0 - xi)"
)
ROD_ARM = Edited(
    "rod's lever left out of its change of length",
    "fem.members.beam:line_stretch",
    "- height * at.bend",
    "- 0 * height * at.bend",
)
HALF_BEND = Edited(
    "bending stiffness halved",
    "fem.members.beam:stretch_and_bend",
    "ei * at.bend",
    "0.5 * ei * at.bend",
)


def constant(*values: float) -> Callable[[Array], tuple[Array, ...]]:
    """The same values at every x."""
    return lambda x: tuple(np.full_like(x, value) for value in values)


def shear_only(line: Beam, kga: float) -> Array:
    """Shear stiffness of a uniform beam."""
    return shear(line, kga=lambda x: np.full_like(x, kga))


def clamped(line: Beam, matrix: Array, load: Array, *, clamp: float) -> Array:
    """Movements of all unknowns with u, w and theta held at one node."""
    held = [line.at(name, clamp) for name in ("u", "w", "t")]
    free = np.setdiff1d(np.arange(line.size), held)
    result = np.zeros(line.size)
    result[free] = np.linalg.solve(matrix[np.ix_(free, free)], load[free])
    return result


def uniform(line: Beam, *, es: float = ES, kga: float = KGA) -> Array:
    """Stiffness of a uniform beam, dense."""
    bend = stretch_and_bend(line, section=constant(EA, es, EI))  # type: ignore[arg-type]
    return np.asarray((bend + shear_only(line, kga)).todense())


def tip(load_on: str, read: str, *, amount: float = 1.0, es: float = ES, kga: float = KGA) -> float:
    """Movement of the free end x = LENGTH under one end load there, clamped at x = 0."""
    line = beam(np.array([0.0, LENGTH]), longest=LENGTH)
    load = np.zeros(line.size)
    load[line.at(load_on, LENGTH)] = amount
    return float(clamped(line, uniform(line, es=es, kga=kga), load, clamp=0.0)[line.at(read, LENGTH)])


def tapered(cells: int) -> float:
    """End deflection of a cantilever whose I doubles from the loaded end to the root, over W L^3/(E I0)."""
    line = beam(np.array([0.0, LENGTH]), longest=LENGTH / cells)
    bend = stretch_and_bend(
        line, section=lambda x: (np.full_like(x, EA), np.zeros_like(x), EI * (1 + x / LENGTH))
    )
    matrix = np.asarray((bend + shear_only(line, STIFF_SHEAR)).todense())
    load = np.zeros(line.size)
    load[line.at("w", 0.0)] = 1.0
    return float(clamped(line, matrix, load, clamp=LENGTH)[line.at("w", 0.0)]) * EI / LENGTH**3


def taper_order() -> float:
    """Order at which the error of the tapered end deflection falls, from 2 to 4 cells."""
    exact = math.log(2) - 0.5
    return math.log2(abs(tapered(2) - exact) / abs(tapered(4) - exact))


class _Line:
    """The two things the second-order terms read from a fret line."""

    def __init__(self, x: Array) -> None:
        self.x = x
        self.joint = len(x)


class _Rows:
    """Row numbers of the nut and of stations along the shaft, on a beam clamped at its last station."""

    def __init__(self, line: Beam, x: Array) -> None:
        self.at = {
            "nut w": np.array([line.at("w", 0.0)]),
            "crown": np.array([line.at("w", place) for place in x]),
        }


def second_order(tension: float, *, saddle: float, eccentricity: float, cells: int = 40) -> float:
    """Deflection of the free end x = 0 of a column, clamped at LENGTH, under a string to a fixed saddle.

    The string pulls at a height above the axis; its line, as the program has it, starts level.
    """
    line = beam(np.linspace(0.0, LENGTH, cells + 1), longest=LENGTH)
    stations = line.x[1:]
    strings = Strings(tension, eccentricity, saddle)
    rows, stiffness = second_order_stiffness(_Rows(line, stations), _Line(stations), strings)  # type: ignore[arg-type]
    matrix = uniform(line, es=0.0, kga=STIFF_SHEAR)
    matrix[np.ix_(rows, rows)] += stiffness
    load = np.zeros(line.size)
    load[line.at("t", 0.0)] = -tension * eccentricity
    return float(clamped(line, matrix, load, clamp=LENGTH)[line.at("w", 0.0)])


def fixed_saddle(tension: float, *, saddle: float, eccentricity: float) -> float:
    """Closed form of the same column: the end force keeps pointing at a point `saddle` along from the free end.

    EI w'' = T (e + w0 - w) - (T w0/saddle) x', x' from the free end, w = w' = 0 at the clamp. With k^2 = T/EI the
    solution of w'' + k^2 w = k^2 (e + w0 - w0 x'/saddle) that has w(0) = w0 and is clamped gives w0.
    """
    k, span = math.sqrt(tension / EI), LENGTH
    # w = A cos kx + B sin kx + e + w0 (1 - x/saddle); w(0) = w0 gives A = -e.
    # The clamp: w(span) = 0 and w'(span) = 0, two equations for B and w0.
    cos, sin = math.cos(k * span), math.sin(k * span)
    system = np.array([[sin, 1 - span / saddle], [k * cos, -1 / saddle]])
    known = np.array([eccentricity * cos - eccentricity, -eccentricity * k * sin])
    return float(np.linalg.solve(system, known)[1])


def rod_camber(*, depth_ends: float, depth_middle: float) -> float:
    """Rise of the middle over the chord of a uniform beam under a rod of unit tension from end to end [m]."""
    line = beam(np.linspace(0.0, LENGTH, 11), longest=LENGTH)
    rod = Rod(first=0.0, last=LENGTH, depth_ends=depth_ends, depth_middle=depth_middle, height=0.005)
    row, _ = setting_row(rod, line, None)
    displacements = clamped(line, uniform(line, es=0.0, kga=STIFF_SHEAR), -np.asarray(row), clamp=0.0)
    ends = 0.5 * (displacements[line.at("w", 0.0)] + displacements[line.at("w", LENGTH)])
    return float(displacements[line.at("w", LENGTH / 2)] - ends)


EXACT = "the element is exact for a uniform beam under end loads"
GERE = "Gere, Mechanics of Materials, problem 11.5-1 (L 30 in, 2 x 1 in, e 0.5 in, E 1e7 psi, P 2800 lb), answer on a solution page"
SCALED_LOAD = 2800.0 * 15.0**2 / (1e7 * 2 / 12) * EI / LENGTH**2

ROWS = [
    Row(
        "beam-shear [m]",
        "end deflection P L^3/3EI + P L/kGA of a cantilever 0.35 m, EI 472 N·m2, kGA 500 kN, unit end force",
        ours=lambda: tip("w", "w", es=0.0),
        outside=LENGTH**3 / (3 * EI) + LENGTH / KGA,
        tolerance=f"1e-7 %: {EXACT}",
        source="seen: Timoshenko beam theory, formula on a structural mechanics page",
        mutations=(NO_SHEAR, SHEAR_TWICE),
    ),
    Row(
        "beam-end-moment [rad]",
        "end slope M L/EI of the same cantilever about its neutral axis, ES 24 kN·m, EA 8 MN",
        ours=lambda: tip("t", "t"),
        outside=LENGTH / EI_CENTROID,
        tolerance=f"1e-7 %: {EXACT}",
        source="memory: any text on strength of materials; parallel-axis rule EI - ES^2/EA",
        mutations=(HALF_BEND, NO_COUPLING),
    ),
    Row(
        "beam-eccentric-pull [m]",
        "end deflection N z_n L^2/(2 EI) under a unit pull on the z = 0 axis, the neutral axis 3 mm above it",
        ours=lambda: tip("u", "w"),
        outside=(ES / EA) * LENGTH**2 / (2 * EI_CENTROID),
        tolerance=f"1e-7 %: {EXACT}",
        source="memory: any text on strength of materials (eccentric load): the pull bends about the neutral axis",
        mutations=(ES_SIGN, NO_COUPLING),
    ),
    Row(
        "beam-taper [-]",
        "end deflection over W L^3/(E I0) of a cantilever whose I doubles from the load to the root: ln 2 - 1/2",
        ours=lambda: tapered(9),
        outside=math.log(2) - 0.5,
        tolerance="0.001 %: cells of 40 mm as in the program, cubic deflection; a shear stiffness of 1e10 N adds 4e-7",
        source="table: worked solution page, question 13.14 of a text on structural analysis (prints 0.19)",
        mutations=(HALF_BEND,),
    ),
    Row(
        "beam-taper-order [-]",
        "order at which the error of that deflection falls when the cells are halved",
        ours=taper_order,
        outside=4.0,
        tolerance="0.4: quadratic rotation: energy and hence a load's own deflection converge as h^4; 2 to 4 cells are near that",
        source="memory: error of a load functional is of order 2p, e.g. Strang & Fix, An Analysis of the Finite Element Method",
        mutations=(HALF_BEND,),
    ),
    Row(
        "beam-column-secant [in]",
        "free end of a column under a far saddle: e (sec kL - 1), the half of a pinned column, e 0.5 in",
        ours=lambda: second_order(SCALED_LOAD, saddle=1e9, eccentricity=0.5),
        outside=0.112,
        tolerance="0.5 %: the page prints three digits (0.4 %)",
        source=f"seen: {GERE}",
        mutations=(SECOND_ORDER_SIGN,),
    ),
    Row(
        "beam-string-to-saddle [-]",
        "lift of the nut under 700 N at 10 mm, the string aiming at a saddle 0.65 m from the nut, over the first-order lift",
        ours=lambda: (
            second_order(700.0, saddle=0.65, eccentricity=0.01) / (700.0 * 0.01 * LENGTH**2 / (2 * EI))
        ),
        outside=lambda: (
            fixed_saddle(700.0, saddle=0.65, eccentricity=0.01) / (700.0 * 0.01 * LENGTH**2 / (2 * EI))
        ),
        tolerance="0.1 %: chords between forty stations for the curve: of order 1/40^2 of a ten per cent effect",
        source="memory: closed form of the beam-column equation (Timoshenko & Gere, Theory of Elastic Stability, ch. 1) with the end force through a fixed point, solved here",
        mutations=(SECOND_ORDER_SIGN, DEAD_LOAD),
    ),
    Row(
        "beam-rod-straight [m]",
        "rise of the middle P e L^2/8EI of a uniform neck under a straight rod 8 mm below its neutral axis",
        ours=lambda: rod_camber(depth_ends=0.008, depth_middle=0.008),
        outside=0.008 * LENGTH**2 / (8 * EI),
        tolerance="0.0001 %: a constant moment, exact up to the shear stiffness put in",
        source="seen: camber of a prestressed beam with a straight tendon, formula of an examination page",
        mutations=(ROD_ARM,),
    ),
    Row(
        "beam-rod-curved [m]",
        "rise of the middle 5 P h L^2/48EI under a rod that starts on the neutral axis and sags 6 mm as a parabola",
        ours=lambda: rod_camber(depth_ends=0.0, depth_middle=0.006),
        outside=5 * 0.006 * LENGTH**2 / (48 * EI),
        tolerance="0.1 %: the rod's slope enters the anchor forces to second order: (4 h/L)^2/2 is 0.2 %, part of which counts",
        source="seen: parabolic tendon as an even load w = 8 P h/L^2 (examination page), 5 w L^4/384EI",
        mutations=(ROD_STRAIGHT,),
    ),
]
