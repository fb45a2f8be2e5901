"""One row of evidence: our value beside a value from outside, with a tolerance that was argued beforehand.

The tolerance and its reason are part of the definition of a row, written before the two values are compared;
a row that then fails is reported as failed, its tolerance is not widened to fit.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from materials.errors import NeckpreloadError
from tests.evidence_rows.mutation import Mutation

Mark = Literal["seen", "table", "program", "memory", "practice"]

MARKS: dict[Mark, str] = {
    "seen": "the number or formula was read in a public source when the row was written",
    "table": "read in a public source when the tables of this project were compiled, not again for the row",
    "program": "computed by an independent program, run by the tests or, where the row says so, once beforehand",
    "memory": "a well-known result, recalled; the source named is where it is known to stand, not re-read",
    "practice": "common practice, no source",
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """A check against something outside the project.

    Attributes
    ----------
    part, key
        Part of the model, and a short name unique within all rows.
    what
        The quantity compared, in one sentence with the data that define it.
    unit
        Unit of both values, `-` for a pure number.
    ours
        Computes our value from the project's public functions.
    outside
        The value from outside, or a function of no argument that obtains it without the project.
    tolerance, absolute
        Largest accepted difference: relative to the outside value, or in `unit` when `absolute`.
    reason
        Why this tolerance and not another.
    source, mark
        Where the outside value stands, and how it was read (`MARKS`).
    mutations
        Breakages of our formulas that must make this row fail.
    """

    part: str
    key: str
    what: str
    unit: str
    ours: Callable[[], float]
    outside: float | Callable[[], float]
    tolerance: float
    absolute: bool = False
    reason: str
    source: str
    mark: Mark
    mutations: tuple[Mutation, ...]

    def outcome(self) -> Outcome:
        """Compute both values and compare them."""
        outside = self.outside() if callable(self.outside) else self.outside
        ours = float(self.ours())
        difference = ours - outside if self.absolute else (ours - outside) / abs(outside)
        return Outcome(row=self, ours=ours, outside=outside, difference=difference)

    def caught_by(self, mutation: Mutation) -> bool:
        """Whether the row fails, or the project refuses with a named error, while `mutation` is in force."""
        with mutation.applied():
            try:
                return not self.outcome().passed
            except NeckpreloadError:
                return True


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Both values of a row; `difference` is relative to the outside value unless the row is absolute."""

    row: Row
    ours: float
    outside: float
    difference: float

    @property
    def passed(self) -> bool:
        """True within tolerance; a NaN on either side is a failure."""
        return abs(self.difference) <= self.row.tolerance
