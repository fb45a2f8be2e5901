"""Checks of a solution: residual, balance of forces and moments, energy, support
(docs/theory-readings.md, section 12).
"""

from dataclasses import dataclass

import numpy as np

from fem.errors import BoltSlackError, ModelError
from fem.geometry.hardware import Bolt
from fem.geometry.outline import Array, Outline
from fem.geometry.pad import face_of
from fem.solve.fields import Fields
from fem.solve.offset import Pair, Question


@dataclass(frozen=True)
class StringPull:
    """One string in the balance: tension [N], height of its axis above z = 0 at nut and saddle [m]."""

    tension: float
    nut_height: float
    saddle_height: float


@dataclass(frozen=True)
class Checks:
    """Relative errors; all are zero in exact arithmetic.

    ``residual`` of the full equations; ``force_balance`` and ``moment_balance`` of neck and block as free
    bodies under the pull of each string; ``energy_balance`` of twice the strain energy and the work of the
    row forces.
    """

    residual: float
    force_balance: float
    moment_balance: float
    energy_balance: float


def pull_resultant(
    strings: tuple[StringPull, ...], *, saddle: float, rise: float, sink: float, corner: tuple[float, float]
) -> Array:
    """Force x, z and moment about the joint corner of the strings on the neck, shape (3,) [N, N, N m].

    Each string pulls from the displaced nut straight to its point on the saddle. ``rise`` and ``sink`` are
    the displacements of nut and joint fret along z [m]: the arm is that of the displaced shape. Positive
    moments lift the nut.
    """
    total = np.zeros(3)
    for one in strings:
        slope = (one.saddle_height - one.nut_height - rise) / saddle
        force = one.tension * np.array([1.0, slope])
        arm = np.array([-corner[0], one.nut_height + rise - sink - corner[1]])
        total += np.array([force[0], force[1], force[0] * arm[1] - force[1] * arm[0]])
    return total


def _about(corner: tuple[float, float], force: Array, points: Array) -> Array:
    """Force x, z and moment about the corner (positive lifts the nut) of forces (2, n) at points, (3,)."""
    arm = points - np.asarray(corner)[:, None]
    return np.array([*force.sum(axis=1), float(np.sum(force[0] * arm[1] - force[1] * arm[0]))])


def _joint_resultant(question: Question, at: Pair, *, outline: Outline, bolts: tuple[Bolt, ...]) -> Array:
    """Force x, z and moment about the corner of shims and bolts on the neck, strung state, shape (3,)."""
    total = np.zeros(3)
    first = 0
    for pad, points in zip(question.pads, question.flexibility.points, strict=True):
        here = slice(first, first + len(points.s))
        rows = slice(first * len(points.rows), here.stop * len(points.rows))
        first = here.stop
        face = face_of(outline, pad.face)
        force = np.outer(face.normal, points.of_points(at.strung.contact.push[rows]).sum(axis=1))
        force -= np.outer(face.slip_direction, at.strung.contact.shear_force[here])
        total += _about(outline.corner, force, face.points(points.s))
    for bolt, tension in zip(bolts, at.strung.bolts, strict=True):
        crossing = face_of(outline, bolt.face).points(np.array([bolt.position]))
        total += _about(outline.corner, tension * np.array(bolt.pull)[:, None], crossing)
    return total


def check(
    question: Question,
    at: Pair,
    fields: Fields,
    *,
    outline: Outline,
    strings: tuple[StringPull, ...],
    bolts: tuple[Bolt, ...],
) -> Checks:
    """Check the strung state; ``strings`` lists them one by one."""
    flexibility, strung = question.flexibility, at.strung
    rows = flexibility.at
    free_forces = strung.forces - flexibility.reference * strung.displacements
    # the body's rotation is rigid: it adds to the readings but strains nothing
    rigid_body = question.body_stiffness is None
    displacements = strung.displacements if rigid_body else flexibility.matrix @ strung.forces
    displacement = fields.displacement(strung.forces)
    on_plates = fields.widening.spread.T
    rest = fields.transformation.T @ (fields.stiffness @ displacement) - fields.rows.T @ (
        on_plates @ (strung.forces - flexibility.reference * displacements)
    )
    scale = float(np.abs(fields.rows.T @ (on_plates @ strung.forces)).max())
    joint = _joint_resultant(question, at, outline=outline, bolts=bolts)
    crown = strung.displacements[rows["crown"]]
    pull = pull_resultant(
        strings,
        saddle=question.strings.saddle,
        rise=float(strung.displacements[rows["nut w"]][0]),
        sink=float(crown[question.line.joint - 1]),
        corner=outline.corner,
    )
    neck, block = joint + pull, flexibility.reactions @ strung.forces - joint
    force_scale = float(np.hypot(pull[0], pull[1])) or float(np.abs(joint).max()) or 1.0
    moment_scale = abs(float(pull[2])) or force_scale * outline.heel_height
    work = float(free_forces @ strung.displacements)
    turn = float(strung.forces @ (strung.displacements - displacements))
    stored = float(sum(one[0] for one in fields.energies(strung.forces, strung.forces[:, None]).values()))
    return Checks(
        residual=float(np.abs(rest).max()) / scale,
        force_balance=float(max(np.abs(neck[:2]).max(), np.abs(block[:2]).max())) / force_scale,
        moment_balance=float(max(abs(neck[2]), abs(block[2]))) / moment_scale,
        energy_balance=abs(work - turn - stored) / max(abs(stored), 1e-300),
    )


def supported(question: Question, at: Pair) -> None:
    """Raise unless the strung state holds the neck against all rigid motions, every bolt in tension.

    Closed points hold along their normal, sticking ones also along the face, bolts along their axis.

    Raises `BoltSlackError`: a bolt would have to push; `ModelError`: a rigid motion is free.
    """
    slack = np.flatnonzero(at.strung.bolts <= 0.0) + 1
    if len(slack):
        raise BoltSlackError(
            f"Bolt {', '.join(map(str, slack))} (counted as in the case) has no tension left at pitch. "
            "Tighten the bolts, or lower the string tension."
        )
    rows, rigid = question.flexibility.at, question.flexibility.rigid
    contact = at.strung.contact
    touching = contact.closed.reshape(len(contact.slipping), -1).any(axis=1)
    holding = np.concatenate(
        [
            rigid[rows["opening"]][contact.closed],
            rigid[rows["slip"]][touching & ~contact.slipping],
            rigid[rows["bolt"]],
        ]
    )
    scaled = holding * np.array([1.0, 1.0, 1.0 / max(float(np.abs(rigid[rows["opening"], 2]).max()), 1e-9)])
    if np.linalg.matrix_rank(scaled, tol=1e-6) < 3:
        raise ModelError(
            "The strung neck is not held in all directions: too little of the shims is still in contact. "
            "Tighten the bolts, or lower the string tension."
        )
