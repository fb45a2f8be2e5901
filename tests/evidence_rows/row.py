"""One row of evidence: our value beside a value from outside.

The texts are TOML, one table a row; the module of the same name has the functions: `OURS`, and `OUTSIDE` for
values from outside that are computed. Tolerance and reason are written before the values are compared. A row
that then fails is reported as failed; its tolerance is not widened to fit.
"""

from __future__ import annotations

import importlib
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from materials.errors import NeckpreloadError
from tests.evidence_rows.mutation import MUTATIONS, Mutation

HERE = Path(__file__).parent
PLAUSIBLE = "plausible"
"""Part of the rows whose band is so wide that they tell a gross error only; evidence counts without them."""
PARTS = ("materials", "section", "beam", "plate", "contact", "whole", PLAUSIBLE)
MARKS = {
    "seen": "read in the source named or in a transcription of its table or page",
    "quoted": "read in another public text that quotes the source named",
    "memory": "recalled; the source named is where it is known to stand, not re-read",
    "derived": "follows from a formula that is derived at the end of this page, or where the row says",
    "program": "computed by an independent program, run by the tests or, where the row says so, "
    "once beforehand",
    "practice": "common practice, no source",
}


@dataclass(frozen=True, kw_only=True)
class Row:
    """A check against something outside the project.

    Attributes
    ----------
    key
        Part of the model and a short name, unique within all rows: `beam-taper`.
    unit
        Unit of both values, `-` for a pure number.
    what
        The quantity compared, in one sentence with the data that define it.
    ours
        Computes our value from the project's public functions.
    outside
        The value from outside, or a function of no argument that obtains it without the project.
    tolerance, reason
        Largest accepted difference, `0.2 %` of the outside value or absolute as `0.02 mm`; the reason for it.
    mark, source
        How the outside value was read (`MARKS`), and where it is printed.
    mutations
        Breakages of our formulas that must make this row fail.
    """

    key: str
    unit: str
    what: str
    ours: Callable[[], float]
    outside: float | Callable[[], float]
    tolerance: str
    reason: str
    mark: str
    source: str
    mutations: tuple[Mutation, ...]

    @property
    def part(self) -> str:
        """Part of the model."""
        return self.key.partition("-")[0]

    @property
    def absolute(self) -> bool:
        """Whether the tolerance is in the row's unit."""
        return not re.fullmatch(r"\S+ %", self.tolerance)

    @property
    def limit(self) -> float:
        """Largest accepted difference, relative or in the row's unit."""
        size = float(self.tolerance.split()[0])
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


def rows_of(name: str) -> list[Row]:
    """Rows of one module, its texts joined with its functions.

    Raises
    ------
    LookupError
        If a row has a text and no function, or a function and no text.
    TypeError
        If a field is missing or unknown.
    """
    module = importlib.import_module(f"tests.evidence_rows.{name}")
    texts = tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))
    computed = getattr(module, "OUTSIDE", {})
    if alone := texts.keys() ^ module.OURS.keys() | computed.keys() - texts.keys():
        raise LookupError(
            f"{', '.join(sorted(alone))}: give each row a table in {name}.toml and a function in OURS"
        )
    return [
        Row(
            key=key,
            ours=module.OURS[key],
            mutations=tuple(MUTATIONS[mutation] for mutation in text.pop("broken_by")),
            **text,
            **({"outside": computed[key]} if key in computed else {}),
        )
        for key, text in texts.items()
    ]


def all_rows() -> list[Row]:
    """Rows of all modules, in the order of the model's parts."""
    names = sorted(path.stem for path in HERE.glob("*.toml") if path.stem != "mutations")
    return sorted((row for name in names for row in rows_of(name)), key=lambda row: PARTS.index(row.part))
