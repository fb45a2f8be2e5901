"""Bending of a strung neck along its length: moment, and curvature of beam and plate."""

from dataclasses import dataclass

import numpy as np

from cases.offset.build import MM
from cases.offset.solve import Solved
from fem.geometry.outline import Array

STEP = 12e-3
"""Least distance of points for the fretboard's curvature [m]: closer ones give noise."""


@dataclass(frozen=True)
class FlexLine:
    """Bending along a neck at pitch, rod set; moments are about the section's neutral axis.

    Attributes
    ----------
    x_mm : (n,) positions on the shaft, nut to heel start [mm].
    string_moment_n_m, rod_moment_n_m : (n,) moments of string line and rod, positive bows forward [N m].
    beam_moment_n_m : (n,) moment from the beam's state, the sum of both [N m].
    curvature_per_m : (n,) rotation of the beam's section per length, ``theta'`` [1/m], positive bows forward.
    board_x_mm, board_curvature_per_m : (k,) curvature of the fretboard's glue line, nut to board end: bending
      plus the change of shear along the neck.
    fret_x_mm, joint, heel_start_mm : positions of the frets, number of the one at the joint, end of the beam.
    """

    x_mm: Array
    string_moment_n_m: Array
    rod_moment_n_m: Array
    beam_moment_n_m: Array
    curvature_per_m: Array
    board_x_mm: Array
    board_curvature_per_m: Array
    fret_x_mm: Array
    joint: int
    heel_start_mm: float

    @property
    def moment_n_m(self) -> Array:
        """Strings and rod together [N m]."""
        return self.string_moment_n_m + self.rod_moment_n_m


def flex_line(solved: Solved) -> FlexLine:
    """Bending of a solved case at pitch, from the beam's state and independently from the loads.

    The beam carries ``N = EA u' - ES theta'`` and ``M = -ES u' + EI theta'`` about the glue line; about the
    neutral axis, at ``z_n = ES / EA``, the moment is ``M + z_n N = (EI - z_n ES) theta'``.
    """
    strung = solved.pair.strung
    body = solved.fields.bodies
    displaced = solved.fields.displacement(strung.forces)
    basis = body.line.basis
    x = np.asarray(basis.global_coordinates())[0].ravel()
    _, w, theta = basis.interpolate(displaced[: body.line.size])
    turn = theta.grad[0].ravel()
    ea, es, ei = body.shaft.total(x)
    neutral = es / ea
    string, rod = _moments(solved, x, w=np.asarray(w).ravel(), neutral=neutral)
    order = np.argsort(x)
    board_x, board = _board_curvature(solved, displaced)
    return FlexLine(
        x_mm=x[order] / MM,
        string_moment_n_m=string[order],
        rod_moment_n_m=rod[order],
        beam_moment_n_m=((ei - es * neutral) * turn)[order],
        curvature_per_m=turn[order],
        board_x_mm=board_x / MM,
        board_curvature_per_m=board,
        fret_x_mm=solved.question.line.x / MM,
        joint=solved.question.line.joint,
        heel_start_mm=solved.structure.outline.tie / MM,
    )


def _moments(solved: Solved, x: Array, *, w: Array, neutral: Array) -> tuple[Array, Array]:
    """Moments of string line and rod about the neutral axis at x [N m].

    Strings: ``T (z_s - w - z_n)``, z_s on the line from the displaced nut to the saddle. One-way rod:
    ``P (z_rod - z_n)`` between its anchors; two-way: minus its couple.
    """
    question, strung = solved.question, solved.pair.strung
    strings = question.strings
    nut = strings.nut_height + float(strung.displacements[question.flexibility.at["nut w"]][0])
    share = x / strings.saddle
    line = (1.0 - share) * nut + share * strung.saddle_height
    rod, moment = solved.structure.rod, np.zeros_like(x)
    if rod is not None:
        arm = rod.z(x) - neutral if rod.arm is None else -np.ones_like(x)
        moment = np.where((x > rod.first) & (x < rod.last), strung.rod * arm, 0.0)
    return strings.tension * (line - w - neutral), moment


def _board_curvature(solved: Solved, displaced: Array) -> tuple[Array, Array]:
    """Positions (k,) [m] and curvature (k,) [1/m] of the glue line, on the beam and on the plate.

    No difference spans the tie, where beam and plate agree only in the mean.
    """
    body, tie = solved.fields.bodies, solved.structure.outline.tie
    # 1e-9 m inside: the library's search may miss the element of the last point
    beam_x = np.linspace(0.0, tie - 1e-9, int(np.ceil(tie / STEP)) + 1)
    _, of_w, _ = body.line.basis.split(displaced[: body.line.size])
    w, basis = of_w
    on_beam = basis.probes(beam_x[None]) @ w
    neck, first = body.neck, body.line.size + body.neck.size
    glue = np.flatnonzero(np.abs(neck.nodes[1]) < 1e-9)
    glue = glue[np.argsort(neck.nodes[0][glue])]
    plate_x = neck.nodes[0][glue]
    kept = [0]
    for number in range(1, len(plate_x)):
        if plate_x[number] - plate_x[kept[-1]] >= STEP:
            kept.append(number)
    on_plate = displaced[first + glue[kept]]
    parts = (second_difference(beam_x, on_beam), second_difference(plate_x[kept], on_plate))
    x, curvature = (np.concatenate([part[k] for part in parts]) for k in (0, 1))
    return x, curvature


def second_difference(x: Array, w: Array) -> tuple[Array, Array]:
    """Inner positions (n - 2,) and curvature w'' there from values at n positions; exact for a parabola."""
    slope, middle = np.diff(w) / np.diff(x), 0.5 * (x[1:] + x[:-1])
    return 0.5 * (middle[1:] + middle[:-1]), np.diff(slope) / np.diff(middle)
