"""The pressure across the pads, frozen as the instrument itself has it at pitch: rows become points again.

A batch of necks has no room for rows of contact points. With the shape of the pressure across each point
given, a point's force and the bolts' decide those of all its rows; the compliance is then an upper bound
whose error is of second order in the change of shape (principle of least complementary energy).
"""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.joint.shim_layer import PadPoints
from fem.solve.offset import Pair, Question
from fem.solve.widening import local_compliance


@dataclass(frozen=True)
class PressureShape:
    """Forces of rows, slips and bolts per force of points, slips and bolts, ``forces``; ``points`` have the
    rows. ``layers`` is the compliance of the shim layers under that pressure beyond that under a uniform one
    [m/N].
    """

    points: tuple[PadPoints, ...]
    forces: Array
    layers: Array

    def local(self, structure: Structure, *parts: str) -> Array:
        """Local compliance of some parts over points, slips and bolts, for other woods [m/N]."""
        found = local_compliance(structure, self.points)
        whole = np.sum([found[part] for part in parts], axis=0)
        return np.asarray(self.forces.T @ whole @ self.forces)


def pressure_shape(question: Question, at: Pair, structure: Structure) -> PressureShape:
    """Shape of the pressure in the strung state of a pair.

    A point's rows that are open there stay open; a point with none closed keeps them all.
    """
    points = question.flexibility.points
    _, law = question.joint(at.angles)
    n, rows = len(law.tangential), len(law.normal) // len(law.tangential)
    local = np.sum(list(local_compliance(structure, points).values()), axis=0)
    closed = at.strung.contact.closed.reshape(n, rows)
    touching = np.any(closed, axis=1, keepdims=True)
    kept = np.flatnonzero(closed | ~touching)
    bolts = len(structure.bolts)
    at_bolts = len(law.normal) + n + np.arange(bolts)
    # p = W (E d - g F) with W = (1/k + Y)^-1; the points' forces are f = E^T p
    repeat = np.repeat(np.eye(n), rows, axis=0)[kept]
    stiff = np.linalg.inv(np.diag(1.0 / law.normal[kept]) + local[np.ix_(kept, kept)])
    by_bolt = local[np.ix_(kept, at_bolts)]
    of_point = np.linalg.solve(repeat.T @ stiff @ repeat, repeat.T @ stiff).T
    forces = np.zeros((len(law.normal) + n + bolts, 2 * n + bolts))
    forces[kept, :n] = of_point
    forces[kept, 2 * n :] = of_point @ (repeat.T @ stiff @ by_bolt) - stiff @ by_bolt
    forces[len(law.normal) :, n:] = np.eye(n + bolts)
    pressed = forces[: len(law.normal)]
    layers = pressed.T @ (pressed / law.normal[:, None])
    layers[:n, :n] -= np.diag(1.0 / law.normal.reshape(n, rows).sum(axis=1))
    return PressureShape(points, forces, layers)
