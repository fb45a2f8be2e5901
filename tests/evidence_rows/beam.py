"""The beam of the shaft, clamped at one end, against closed forms of strength of materials."""

import math
from types import SimpleNamespace

import numpy as np

from fem.geometry.hardware import Rod
from fem.geometry.mesh import MeshSize
from fem.geometry.outline import Array
from fem.members.beam import Beam, beam, shear, stretch_and_bend
from fem.members.rod import setting_row
from fem.solve.assembly import Bodies, Piece, bodies
from fem.solve.equilibrium import Strings, second_order_stiffness
from fem.time.free_strain import FreeStrain, free_strain_load
from tests.cantilever import clamped, lifted_by_string, uniform_stiffness
from tests.instrument import readme_structure

LENGTH = 0.35
WIDTH, BOARD, NECK = 0.04, 0.006, 0.020
EA, ES, EI, KGA = 8e6, 2.4e4, 472.0, 5e5
EI_CENTROID = EI - ES**2 / EA
STIFF_SHEAR = 1e10


def uniform(line: Beam, *, es: float = ES, kga: float = KGA) -> Array:
    """Dense stiffness of the uniform beam."""
    return uniform_stiffness(line, axial=EA, static=es, bending=EI, kga=kga)


def tip(load_on: str, read: str, *, es: float = ES) -> float:
    """Movement of the free end x = LENGTH under one end load there, clamped at x = 0."""
    line = beam(np.array([0.0, LENGTH]), longest=LENGTH)
    load = np.zeros(line.size)
    load[line.at(load_on, LENGTH)] = 1.0
    return float(clamped(line, uniform(line, es=es), load, at=0.0)[line.at(read, LENGTH)])


def tapered(cells: int) -> float:
    """End deflection of a cantilever whose I doubles from the loaded end to the root, over W L^3/(E I0)."""
    line = beam(np.array([0.0, LENGTH]), longest=LENGTH / cells)
    bend = stretch_and_bend(
        line, section=lambda x: (np.full_like(x, EA), np.zeros_like(x), EI * (1 + x / LENGTH))
    )
    matrix = np.asarray((bend + shear(line, kga=lambda x: np.full_like(x, STIFF_SHEAR))).todense())
    load = np.zeros(line.size)
    load[line.at("w", 0.0)] = 1.0
    return float(clamped(line, matrix, load, at=LENGTH)[line.at("w", 0.0)]) * EI / LENGTH**3


def taper_order() -> float:
    """Order at which the error of the tapered end deflection falls, from 2 to 4 cells."""
    exact = math.log(2) - 0.5
    return math.log2(abs(tapered(2) - exact) / abs(tapered(4) - exact))


def second_order(tension: float, *, saddle: float, eccentricity: float, cells: int = 40) -> float:
    """Deflection of the free end x = 0 of a column, clamped at LENGTH, under a string to a fixed saddle.

    The string pulls at a height above the axis; its line, as the program has it, starts level.
    """
    line = beam(np.linspace(0.0, LENGTH, cells + 1), longest=LENGTH)
    stations = line.x[1:]
    strings = Strings(tension, eccentricity, saddle)
    places = {"nut w": np.array([line.at("w", 0.0)]), "crown": np.array([line.at("w", x) for x in stations])}
    rows, stiffness = second_order_stiffness(
        SimpleNamespace(at=places), SimpleNamespace(x=stations, joint=len(stations)), strings
    )
    matrix = uniform(line, es=0.0, kga=STIFF_SHEAR)
    matrix[np.ix_(rows, rows)] += stiffness
    load = np.zeros(line.size)
    load[line.at("t", 0.0)] = -tension * eccentricity
    return float(clamped(line, matrix, load, at=LENGTH)[line.at("w", 0.0)])


def rod_camber(*, depth_ends: float, depth_middle: float) -> float:
    """Rise of the middle over the chord of a uniform beam under a rod of unit tension from end to end [m]."""
    line = beam(np.linspace(0.0, LENGTH, 11), longest=LENGTH)
    rod = Rod(first=0.0, last=LENGTH, depth_ends=depth_ends, depth_middle=depth_middle, height=0.005)
    row, _ = setting_row(rod, line, None)
    displacements = clamped(line, uniform(line, es=0.0, kga=STIFF_SHEAR), -np.asarray(row), at=0.0)
    ends = 0.5 * (displacements[line.at("w", 0.0)] + displacements[line.at("w", LENGTH)])
    return float(displacements[line.at("w", LENGTH / 2)] - ends)


SCALED_LOAD = 2800.0 * 15.0**2 / (1e7 * 2 / 12) * EI / LENGTH**2


def _layer(young: float, low: float, high: float):
    constants = [young * WIDTH * (high**k - low**k) / k for k in (1, 2, 3)]
    return lambda x: tuple(np.full_like(x, one) for one in constants)


def strip_fall() -> float:
    """Fall of a strip's free end when its upper layer (17 GPa on 11 GPa) grows by 0.001 [m]."""
    line = beam(np.linspace(0.0, LENGTH, 9))
    whole = bodies(readme_structure(), MeshSize(4e-3, 24e-3, 4.0, 4e-3))
    body = Bodies(line, whole.neck, whole.block, whole.parts, whole.shaft, whole.points)
    pieces = {
        "bend board": Piece(0, stretch_and_bend(line, section=_layer(17e9, 0.0, BOARD))),
        "bend neck": Piece(0, stretch_and_bend(line, section=_layer(11e9, -NECK, 0.0))),
    }
    stiffness = pieces["bend board"].matrix + pieces["bend neck"].matrix
    stiffness = stiffness + shear(line, kga=lambda x: np.full_like(x, 1e9))
    load = free_strain_load(body, pieces, FreeStrain(board=(1e-3, 0.0)))[: line.size]
    return float(-clamped(line, np.asarray(stiffness.todense()), load, at=LENGTH)[line.at("w", 0.0)])


def two_metals() -> float:
    """The same by the strip of two metals [m]."""
    m, n, h = BOARD / NECK, 17.0 / 11.0, BOARD + NECK
    kappa = 6e-3 * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))
    return 0.5 * kappa * LENGTH**2


OURS = {
    "beam-shear": lambda: tip("w", "w", es=0.0),
    "beam-end-moment": lambda: tip("t", "t"),
    "beam-eccentric-pull": lambda: tip("u", "w"),
    "beam-taper": lambda: tapered(9),
    "beam-taper-order": taper_order,
    "beam-column-secant": lambda: second_order(SCALED_LOAD, saddle=1e9, eccentricity=0.5),
    "beam-string-to-saddle": lambda: (
        second_order(700.0, saddle=0.65, eccentricity=0.01) / (700.0 * 0.01 * LENGTH**2 / (2 * EI))
    ),
    "beam-rod-straight": lambda: rod_camber(depth_ends=0.008, depth_middle=0.008),
    "beam-rod-curved": lambda: rod_camber(depth_ends=0.0, depth_middle=0.006),
    "beam-two-metals": strip_fall,
}
OUTSIDE = {
    "beam-shear": LENGTH**3 / (3 * EI) + LENGTH / KGA,
    "beam-end-moment": LENGTH / EI_CENTROID,
    "beam-eccentric-pull": (ES / EA) * LENGTH**2 / (2 * EI_CENTROID),
    "beam-taper": math.log(2) - 0.5,
    "beam-string-to-saddle": lambda: (
        lifted_by_string(700.0, nut=0.01, saddle_height=0.01, saddle=0.65, bending=EI, span=LENGTH)
        / (700.0 * 0.01 * LENGTH**2 / (2 * EI))
    ),
    "beam-rod-straight": 0.008 * LENGTH**2 / (8 * EI),
    "beam-rod-curved": 5 * 0.006 * LENGTH**2 / (48 * EI),
    "beam-two-metals": two_metals,
}
