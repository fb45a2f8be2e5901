"""One row of evidence: our value beside a value from outside.

Tolerance and reason are written before the two values are compared. A row that then fails is reported as
failed; its tolerance is not widened to fit.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from materials.errors import NeckpreloadError
from tests.evidence_rows.mutation import Mutation

MARKS = {
    "seen": "the number or formula was read in a public source when the row was written",
    "table": "read in a public source when the tables of this project were compiled, not again for the row",
    "program": "computed by an independent program, run by the tests or, where the row says so, once beforehand",
    "memory": "a well-known result, recalled; the source named is where it is known to stand, not re-read",
    "practice": "common practice, no source",
}


@dataclass(frozen=True)
class Row:
    """A check against something outside the project.

    Attributes
    ----------
    name
        Part of the model, a short name unique within all rows, and the unit of both values:
        `beam-taper [m]`, with `[-]` for a pure number.
    what
        The quantity compared, in one sentence with the data that define it.
    ours
        Computes our value from the project's public functions.
    outside
        The value from outside, or a function of no argument that obtains it without the project.
    tolerance
        Largest accepted difference and the reason for it, `0.2 %: reason`; a percentage is relative to the
        outside value, a number with the row's unit is absolute.
    source
        How the outside value was read (`MARKS`), and where it is printed, `seen: a handbook, Table 2`.
    mutations
        Breakages of our formulas that must make this row fail.
    """

    name: str
    what: str
    ours: Callable[[], float]
    outside: float | Callable[[], float]
    tolerance: str
    source: str
    mutations: tuple[Mutation, ...]

    @property
    def key(self) -> str:
        """The name without its unit."""
        return self.name.partition(" [")[0]

    @property
    def part(self) -> str:
        """Part of the model."""
        return self.key.partition("-")[0]

    @property
    def unit(self) -> str:
        """Unit of both values, `-` for a pure number."""
        return self.name.partition(" [")[2].removesuffix("]")

    @property
    def mark(self) -> str:
        """How the outside value was read."""
        return self.source.partition(": ")[0]

    @property
    def absolute(self) -> bool:
        """Whether the tolerance is in the row's unit."""
        return not re.match(r"\S+ %:", self.tolerance)

    @property
    def limit(self) -> float:
        """Largest accepted difference, relative or in the row's unit."""
        size = float(re.split("[ :]", self.tolerance)[0])
        return size if self.absolute else size / 100.0

    def outcome(self) -> Outcome:
        """Compute both values and compare them."""
        outside = self.outside() if callable(self.outside) else self.outside
        ours = float(self.ours())
        difference = ours - outside if self.absolute else (ours - outside) / abs(outside)
        return Outcome(row=self, ours=ours, outside=outside, difference=difference)

    def fails(self) -> bool:
        """Whether the row is outside its tolerance or the project refuses with a named error."""
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
        return abs(self.difference) <= self.row.limit
