"""How a strung neck bends along its length: bending moment, and curvature of beam and plate."""

from dataclasses import dataclass

import numpy as np

from cases.build import MM
from cases.mechanics import Solved
from fem.outline import Array

LEAST_STEP = 6e-3
"""Least length over which the board's turn over the joint is taken as a curvature [m]: shorter is rough."""


@dataclass(frozen=True)
class FlexLine:
    """Bending along a neck at pitch, rod set; moments are about the section's own neutral axis.

    Attributes
    ----------
    x_mm : (n,) positions on the shaft, nut to heel start [mm].
    string_moment_n_m, rod_moment_n_m : (n,) moments of string line and rod, positive bows forward [N m].
    beam_moment_n_m : (n,) moment that the beam's own state carries there [N m]: the sum of both.
    curvature_per_m : (n,) turn of the beam's section per length, ``theta'`` [1/m], positive bows forward.
    heel_edge_mm, heel_curvature_per_m : (m + 1,) and (m,) turn of the fretboard over heel and tongue, by
      steps.
    fret_x_mm, joint, heel_start_mm : where the frets stand, number of the one at the joint, where the beam
      ends.
    """

    x_mm: Array
    string_moment_n_m: Array
    rod_moment_n_m: Array
    beam_moment_n_m: Array
    curvature_per_m: Array
    heel_edge_mm: Array
    heel_curvature_per_m: Array
    fret_x_mm: Array
    joint: int
    heel_start_mm: float

    @property
    def moment_n_m(self) -> Array:
        """Strings and rod together [N m]."""
        return self.string_moment_n_m + self.rod_moment_n_m


def flex_line(solved: Solved) -> FlexLine:
    """Bending of a solved case at pitch, from its beam's state and from its loads on their own.

    The beam carries ``N = EA u' - ES theta'`` and ``M = -ES u' + EI theta'`` about the glue line; about the
    neutral axis, at ``z_n = ES / EA``, the moment is ``M + z_n N = (EI - z_n ES) theta'``.
    """
    strung = solved.pair.strung
    body = solved.fields.bodies
    moved = solved.fields.displacement(strung.forces)
    basis = body.line.basis
    x = np.asarray(basis.global_coordinates())[0].ravel()
    _, w, theta = basis.interpolate(moved[: body.line.size])
    turn = theta.grad[0].ravel()
    ea, es, ei = body.shaft.total(x)
    neutral = es / ea
    string, rod = _moments(solved, x, w=np.asarray(w).ravel(), neutral=neutral)
    order = np.argsort(x)
    edges, steps = _board_curvature(solved, moved[body.line.size :])
    return FlexLine(
        x_mm=x[order] / MM,
        string_moment_n_m=string[order],
        rod_moment_n_m=rod[order],
        beam_moment_n_m=((ei - es * neutral) * turn)[order],
        curvature_per_m=turn[order],
        heel_edge_mm=edges / MM,
        heel_curvature_per_m=steps,
        fret_x_mm=solved.question.line.x / MM,
        joint=solved.question.line.joint,
        heel_start_mm=solved.structure.outline.tie / MM,
    )


def _moments(solved: Solved, x: Array, *, w: Array, neutral: Array) -> tuple[Array, Array]:
    """Moments of string line and rod about the neutral axis at x [N m].

    Strings: ``T (z_s - w - z_n)``, z_s on the line from the moved nut to the saddle. One-way rod: ``P (z_rod
    - z_n)`` between its anchors; two-way: minus its couple.
    """
    question, strung = solved.question, solved.pair.strung
    strings = question.strings
    nut = strings.nut_height + float(strung.moves[question.flexibility.at["nut w"]][0])
    share = x / strings.saddle
    line = (1.0 - share) * nut + share * strung.saddle_height
    rod, moment = solved.structure.rod, np.zeros_like(x)
    if rod is not None:
        arm = rod.z(x) - neutral if rod.arm is None else -np.ones_like(x)
        moment = np.where((x > rod.first) & (x < rod.last), strung.rod * arm, 0.0)
    return strings.tension * (line - w - neutral), moment


def _board_curvature(solved: Solved, moved: Array) -> tuple[Array, Array]:
    """Turn of the fretboard per length from heel start to its end: edges of the steps [m], steps [1/m]."""
    columns = np.unique(np.round(solved.fields.bodies.neck.mesh.p[0], 9))
    edges = [float(columns[0])]
    for x in columns[1:]:
        if x - edges[-1] >= LEAST_STEP:
            edges.append(float(x))
    turns = [_board_turn(solved, moved, x) for x in edges]
    return np.array(edges), np.diff(turns) / np.diff(edges)


def _board_turn(solved: Solved, moved: Array, x: float) -> float:
    """Turn of the fretboard's section at x: the slope of u_x over z, by least squares over its nodes [rad].

    Simpson's rule over the cells' edges; the nodes of a column lie at their ends and middles.
    """
    neck = solved.fields.bodies.neck
    column = np.flatnonzero((np.abs(neck.nodes[0] - x) < 1e-8) & (neck.nodes[1] > -1e-9))
    column = column[np.argsort(neck.nodes[1][column])]
    height, along = neck.nodes[1][column], moved[column]
    z, u = (np.stack([value[:-2:2], value[1:-1:2], value[2::2]]) for value in (height, along))
    weight = (height[2::2] - height[:-2:2]) * np.array([[1.0], [4.0], [1.0]]) / 6.0
    arm = z - np.sum(weight * z) / np.sum(weight)
    return float(-np.sum(weight * arm * u) / np.sum(weight * arm**2))
