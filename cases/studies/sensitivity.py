"""Effect of each input on offset, heel stretch and relief, and the measurements to make first.

A change is the mean of a step up and a step down by a tenth of the input, at fixed shims, from full nonlinear
solutions on the coarse mesh of the error estimate: for the README's instrument its changes are within 7 % of
the fine mesh's or 0.0012 degrees, enough for a ranking, in less than half the time. Inputs of the shaft use a
coarser mesh still (`VERY_COARSE`). The angle of an upright bolt is worth many of its small steps, so it uses
the fine one. Inputs that need new rows and hardly matter (`SMALL_DEG`) get the step up alone: in the library
that moves the offset of such an input by at most 0.0054 degrees and its worth by at most 0.002.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, astuple, dataclass, replace
from functools import cached_property
from math import degrees
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.files import opened
from cases.offset.assumed_effects import TENTH, changed_flexibility
from cases.offset.build import MM, question_of, structure_of
from cases.offset.solve import COARSE, MeshSolution, Solved, one_thread, solve, with_measured_body
from cases.result import Result
from cases.studies.inputs import changes_rows, changes_shaft, changes_shape, keys_that_matter, with_mirror
from cases.studies.uncertainty import (
    SEAT_ROW,
    ToMeasure,
    Uncertainty,
    ranked,
    seats,
    sources_without_key,
    uncertainty_of,
)
from fem.geometry.mesh import MeshSize
from fem.geometry.structure import Structure
from fem.solve.condensation import condense
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question, other_state, pair
from materials.errors import NeckpreloadError

SCHEMA = 1
SMALL_DEG = 0.01
"""Change of offset and stretch, and worth, of an input below which one step will do [deg]."""
SMALLER = 0.02
"""Part of an input tried where the case does not allow a tenth; the change is scaled up to a tenth."""
FIRST = 6
"""Number of measurements listed: the torque is among them for all instruments of the library."""
VERY_COARSE = MeshSize(corner=12e-3, far=48e-3, growth=4.0, curve=6e-3)
"""Mesh of the joint for inputs of the shaft: in the library it changes their effects by 0.001 deg at most."""
RULE = (
    "worth = change of the offset per unit of an input x one standard deviation of that input; "
    "worth of a measurement = root of the sum of squares over the inputs that it settles"
)
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Change:
    """Change of the offset [deg], the heel stretch [deg] and the relief with the rod slack [mm]."""

    offset_deg: float
    stretch_deg: float
    relief_mm: float

    def times(self, factor: float) -> "Change":
        """The change times a factor."""
        return Change(*(factor * value for value in astuple(self)))

    def __add__(self, other: "Change") -> "Change":
        return Change(*(mine + its for mine, its in zip(astuple(self), astuple(other), strict=True)))

    def __sub__(self, other: "Change") -> "Change":
        return Change(*(mine - its for mine, its in zip(astuple(self), astuple(other), strict=True)))


@dataclass(frozen=True)
class InputEffect:
    """One input: its value, the change for its ``step``, and its uncertainty.

    ``value`` is None for an input without a number in the case (a wood's moduli, shim layers); step and
    deviation are then relative. ``deviation`` is one standard deviation and ``worth_deg`` its effect on the
    offset; both are None if there is nothing to measure. ``origin`` is ``measured``, ``copied`` (from another
    case) or ``assumed``; None for an input without a key. ``both_ways`` tells whether the change is the mean
    of a step up and a step down; else it is that of one step.
    """

    name: str
    value: float | None
    step: float
    change: Change
    deviation: float | None
    deviation_source: str
    worth_deg: float | None
    origin: str | None = None
    both_ways: bool = True


@dataclass(frozen=True)
class Sensitivities(Result):
    """Inputs ranked by the change of the offset for their step, and the measurements to make first.

    ``asked`` names the result of the joint: the preload offset, or for a flat pocket the taper, which the
    fields then call offset. ``skipped`` has the inputs that could not be changed, with the reason.
    """

    case: str
    asked: str
    offset_deg: float
    rows: tuple[InputEffect, ...]
    measure_first: tuple[ToMeasure, ...]
    skipped: Mapping[str, str]

    @property
    def word(self) -> str:
        """Short name of the result, for headings."""
        return "offset" if self.asked == "preload offset" else "taper"

    def to_rows(self) -> list[dict[str, Any]]:
        """Return one flat dictionary per input."""
        flat = []
        for row in self.rows:
            values = asdict(row)
            change = values.pop("change")
            flat.append({**values, **{f"change_{key}": value for key, value in change.items()}})
        return flat

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "schema": SCHEMA,
            "case": self.case,
            "asked": self.asked,
            "offset_deg": self.offset_deg,
            "rule": RULE,
            "rows": self.to_rows(),
            "measure_first": [{**asdict(one), "inputs": list(one.inputs)} for one in self.measure_first],
            "skipped": dict(self.skipped),
        }


@one_thread
def sensitivity(case: Case | str | Path, *, progress: Progress | None = None) -> Sensitivities:
    """Change of offset, stretch and relief for each number of a case that can have an effect.

    Steps are a tenth of each input, 0.1 of its unit where it is zero.

    Parameters
    ----------
    case : a case, its name or file.
    progress : called with the number of inputs done, and of all inputs.

    Raises
    ------
    NeckpreloadError
        If the case itself cannot be solved.
    """
    case = opened(case)
    solved = solve(case)
    coarse, fine = Reference(solved, solved.coarse), Reference(solved, solved.fine)
    shaft = Reference(solved, meshed(solved, VERY_COARSE), VERY_COARSE)
    keys = keys_that_matter(case)
    scatter = sources_without_key(case)
    two_shims = case.joint.kind == "two-shim"
    rows, skipped = [_seat_row(case)] if two_shims else [], {}
    for done, key in enumerate(keys, start=1):
        try:
            of = shaft if changes_shaft(key) else fine if _upright(case, key) else coarse
            rows.append(_key_row(of, key))
        except NeckpreloadError as error:
            skipped[key] = " ".join(str(error).split())
        if progress is not None:
            progress(done, len(keys) + len(scatter))
    for done, source in enumerate(scatter, start=len(keys) + 1):
        up, down = (coarse.read(source.changed(coarse.question, sign * TENTH)) for sign in (1.0, -1.0))
        uncertainty = Uncertainty(source.deviation, "scatter in the case")
        rows.append(_row(source.name, None, TENTH, (up - down).times(0.5), uncertainty))
        if progress is not None:
            progress(done, len(keys) + len(scatter))
    ranked = sorted(rows, key=lambda row: -abs(row.change.offset_deg))
    return Sensitivities(
        case=case.name,
        asked="preload offset" if two_shims else "taper of the pocket's shim",
        offset_deg=degrees(solved.offset.offset),
        rows=tuple(ranked),
        measure_first=measure_first(ranked),
        skipped=skipped,
    )


@dataclass(frozen=True)
class Reference:
    """A solved case on one of its meshes, from which changes are measured; new bodies get one of ``size``."""

    solved: Solved
    mesh: MeshSolution
    size: MeshSize = COARSE

    @property
    def question(self) -> Question:
        """The case's question on that mesh."""
        return _asked(self.solved.case, self.mesh.flexibility, self.solved.structure)

    def changed(self, key: str, value: float) -> Question:
        """The question with one key set. Raises `NeckpreloadError` if the case does not allow it."""
        case = self.solved.case.with_values(with_mirror(self.solved.case, key, value))
        structure, flexibility = structure_of(case), self.mesh.flexibility
        if changes_rows(key):
            flexibility = changed_flexibility(
                self.solved.structure, self.mesh, structure, key=key, size=self.size
            )
        return _asked(case, flexibility, structure)

    def read(self, question: Question) -> Change:
        """Offset beyond the reference's, stretch, and relief with the rod slack, at the reference's shims."""
        here = self.mesh.pair
        same_rows = question.flexibility.size == self.mesh.flexibility.size
        at = pair(question, here.angles, start=here if same_rows else None)
        slack = other_state(question, at, strings=True, rod=0.0)
        return Change(
            degrees(-question.misfit(at.strung) / self.solved.offset.transfer),
            degrees(question.kink(at.strung) - question.kink(at.bolted)),
            question.line.relief(question.heights(slack))[0] / MM,
        )

    @cached_property
    def middle(self) -> Change:
        """What is read at the question itself."""
        return self.read(self.question)


def _asked(case: Case, flexibility: Flexibility, structure: Structure) -> Question:
    return with_measured_body(case, question_of(case, flexibility, structure))


def meshed(solved: Solved, size: MeshSize) -> MeshSolution:
    """The case on another mesh, at its own shim angles."""
    flexibility, fields = condense(solved.structure, size, reuse=solved.fields.bodies)
    question = _asked(solved.case, flexibility, solved.structure)
    return MeshSolution(flexibility, fields, pair(question, solved.pair.angles))


def _upright(case: Case, key: str) -> bool:
    """Whether a key is the angle of an upright bolt, whose step is far less than its uncertainty."""
    return changes_rows(key) and not changes_shape(key) and case.value(key) == 0.0


def _key_row(reference: Reference, key: str) -> InputEffect:
    case = reference.solved.case
    value, origin = float(str(case.value(key))), case.origin(key)
    size = abs(value) or 1.0

    def row(changes: list[Change]) -> InputEffect:
        change = sum(changes[1:], start=changes[0]).times(1.0 / len(changes))
        found = _row(key, value, TENTH * size, change, uncertainty_of(case, key, value))
        return replace(found, origin=origin, both_ways=len(changes) == 2)

    def one_is_enough(up: Change) -> bool:
        effects = (up.offset_deg, up.stretch_deg, row([up]).worth_deg or 0.0)
        costs = changes_rows(key) and not _upright(case, key)
        return costs and max(map(abs, effects)) < SMALL_DEG

    return row(_changes(reference, key, value, part=TENTH, size=size, one_is_enough=one_is_enough))


def _changes(
    reference: Reference,
    key: str,
    value: float,
    *,
    part: float,
    size: float,
    one_is_enough: Callable[[Change], bool],
) -> list[Change]:
    """Changes for a tenth more of the input, from a step up and a step down: one of them if that is enough or
    the case does not allow the other; over a smaller step if it allows neither.
    """
    found: list[Change] = []
    refused: NeckpreloadError | None = None
    for sign in (1.0, -1.0):
        try:
            there = reference.read(reference.changed(key, value + sign * part * size))
        except NeckpreloadError as error:
            refused = error
            continue
        found.append((there - reference.middle).times(sign * TENTH / part))
        if sign > 0.0 and one_is_enough(found[0]):
            break
    if not found and part > SMALLER:
        return _changes(reference, key, value, part=SMALLER, size=size, one_is_enough=one_is_enough)
    if not found:
        raise refused or AssertionError(key)
    return found


def _seat_row(case: Case) -> InputEffect:
    """The seats' own angle: by definition of the offset one degree of it counts as one degree of shim."""
    return _row(SEAT_ROW, 0.0, TENTH, Change(-TENTH, 0.0, 0.0), seats(case))


def _row(
    name: str, value: float | None, step: float, change: Change, uncertainty: Uncertainty | None
) -> InputEffect:
    if uncertainty is None:
        return InputEffect(name, value, step, change, None, "chosen, or counted elsewhere", None)
    worth = abs(change.offset_deg) / step * uncertainty.deviation
    return InputEffect(name, value, step, change, uncertainty.deviation, uncertainty.source, worth)


def measure_first(rows: list[InputEffect]) -> tuple[ToMeasure, ...]:
    """The three measurements with the largest effect on the offset, by `RULE`."""
    return ranked({row.name: row.worth_deg for row in rows if row.worth_deg})[:FIRST]
