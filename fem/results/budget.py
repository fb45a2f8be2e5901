"""Flex budget: contribution of each part to the nut's rise and to the heel stretch
(docs/theory-readings.md, section 11).

Virtual work. The virtual state is a unit load of the quantity on the linear structure, with all closed points
of the strung state sticking. Its work on the real change, strung minus bolted, is computed part by part; the
parts add up to the change without normalising. Slip and closing after bolting are a row of their own.
"""

from dataclasses import dataclass

import numpy as np

from fem.geometry.outline import Array
from fem.solve.fields import Fields
from fem.solve.offset import Pair, Question

CAUSES = ("strings", "rod", "contact")
"""Causes: strings with their second-order effect, the rod, and contact forces beyond the linear structure."""


@dataclass(frozen=True)
class Budget:
    """Contributions to the change of one quantity.

    ``rows`` names the parts; ``contributions`` has shape (rows, causes), in the quantity's unit; ``total``
    is the change itself.
    """

    rows: tuple[str, ...]
    contributions: Array
    total: float

    @property
    def by_part(self) -> dict[str, float]:
        """Share of each part, all causes together."""
        return dict(zip(self.rows, self.contributions.sum(axis=1).tolist(), strict=True))


def kink_row(question: Question, at: Pair) -> Array:
    """Row of the kink near a strung state, (n,)."""
    row = np.zeros(question.flexibility.size)
    row[question.flexibility.at["crown"]] = question.line.kink_row(question.heights(at.strung))
    return row


def nut_row(question: Question) -> Array:
    """Row of the nut's rise, (n,)."""
    row = np.zeros(question.flexibility.size)
    row[question.flexibility.at["nut w"]] = 1.0
    return row


def flex_budget(question: Question, fields: Fields, at: Pair, row: Array) -> Budget:
    """Budget of the quantity read by ``row``, for the change from bolted to strung."""
    flexibility, law = question.joint(at.angles)
    rows = flexibility.at
    closed = at.strung.contact.closed
    spring = np.zeros(flexibility.size)
    spring[rows["opening"]] = np.where(closed, law.normal, 0.0)
    touching = closed.reshape(len(law.tangential), -1).any(axis=1)
    spring[rows["slip"]] = np.where(touching, law.tangential, 0.0)
    spring[rows["bolt"]] = question.bolting.bolt_stiffness
    c, n = flexibility.matrix, flexibility.size
    system = np.eye(n) - np.diag(flexibility.reference - spring) @ c

    def respond(load: Array) -> Array:
        """Row forces on the linear structure under row loads: ``a = load + (reference - spring) C a``."""
        return np.asarray(np.linalg.solve(system, load))

    virtual = respond(row)
    change = at.strung.forces - at.bolted.forces
    rod = np.zeros(n)
    if "rod" in rows:
        rod[rows["rod"]] = -at.strung.rod
    outside = change.copy()
    for inside in ("opening", "slip", "bolt"):
        outside[rows[inside]] = 0.0
    by_rod, by_strings = respond(rod), respond(outside - rod)
    columns = np.stack([by_strings, by_rod, change - by_strings - by_rod], axis=1)

    parts = fields.energies(virtual, columns)
    if question.body_stiffness is not None:
        parts["body"] = virtual @ (c - question.flexibility.matrix) @ columns
    tried = c @ virtual
    work = (spring * tried)[:, None] * (c @ columns)
    # displacement of the layers beyond their elastic part: slip, or a gap that closed
    loose = np.zeros(n)
    moved, contact = at.strung.displacements - at.bolted.displacements, at.strung.contact
    squeezed = np.where(closed, (contact.push - at.bolted.contact.push) / law.normal, 0.0)
    loose[rows["opening"]] = moved[rows["opening"]] + squeezed
    loose[rows["slip"]] = moved[rows["slip"]] - contact.shear_force / law.tangential
    slipped = float(np.sum((spring * tried * loose)[np.concatenate([rows["opening"], rows["slip"]])]))
    pads = work[rows["opening"]].sum(axis=0) + work[rows["slip"]].sum(axis=0)
    slip_column = np.array([0.0, 0.0, slipped])
    parts["shim layers"] = pads - slip_column
    parts["slip and closing"] = slip_column
    parts["bolts"] = work[rows["bolt"]].sum(axis=0)
    return Budget(tuple(parts), np.stack(list(parts.values())), float(row @ moved))
