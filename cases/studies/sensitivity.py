"""What each input is worth in offset, heel stretch and relief, and which three things to measure first.

Slopes are central differences over a tenth of the input either way, at fixed shims; the nonlinear states are
solved in full. What acts on the condensed system (friction, bolts, shim layers, strings, set-up, moduli) is
read on the fine mesh, where it costs milliseconds. What changes the shape is meshed anew, on the coarse mesh
that every run keeps for its error estimate: on the README's instrument its slopes are within 7 % of the fine
mesh's, enough for a ranking, at less than half the time.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from math import degrees
from typing import Any

from threadpoolctl import threadpool_limits

from cases.casefile.case import Case
from cases.casefile.files import load
from cases.offset.assumed_effects import TENTH, rough_flexibility
from cases.offset.build import MM, question_of, string_lines, structure_of
from cases.offset.solve import Solved, solve, with_measured_body
from cases.result import Result
from cases.studies.inputs import changes_shape, keys_that_matter, with_mirror
from cases.studies.uncertainty import SEAT_ROW, Known, known, measurement, scattered, seats, together
from fem.solve.condensation import Flexibility
from fem.solve.offset import Pair, Question, other_state, pair
from materials.errors import NeckpreloadError

SCHEMA = 1
SMALLER = 0.02
"""Part of an input tried where the instrument does not allow a tenth; the change is scaled up to a tenth."""
FIRST = 3
RULE = (
    "worth = change of the offset per unit of an input x one standard deviation of that input; "
    "a measurement is worth the root of the sum of squares of the inputs that it settles"
)
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Change:
    """Change of the offset [deg], the heel stretch [deg] and the relief with the rod slack [mm]."""

    offset_deg: float
    stretch_deg: float
    relief_mm: float

    def times(self, factor: float) -> "Change":
        """The same, ``factor`` as large."""
        return Change(self.offset_deg * factor, self.stretch_deg * factor, self.relief_mm * factor)


@dataclass(frozen=True)
class Row:
    """One input: its value, the step that ``change`` belongs to, and how well it is known.

    ``value`` is None for what the case holds no number of (a wood's moduli, shim layers): its step and
    deviation are then parts of itself. ``deviation`` is one standard deviation; ``worth_deg`` is what it
    makes in the offset; both are None where nothing is to be measured.
    """

    name: str
    value: float | None
    step: float
    change: Change
    deviation: float | None
    deviation_source: str
    worth_deg: float | None


@dataclass(frozen=True)
class ToMeasure:
    """A measurement with what it is worth in the offset [deg] and the inputs that it settles."""

    name: str
    how: str
    worth_deg: float
    inputs: tuple[str, ...]


@dataclass(frozen=True)
class Sensitivities(Result):
    """Inputs ranked by the change of the offset for their step, and the measurements to make first.

    ``asked`` names the result of the joint: the preload offset, or for a flat pocket the taper, which the
    fields then call offset. ``skipped`` has the inputs that could not be changed, with the reason.
    """

    case: str
    asked: str
    offset_deg: float
    rows: tuple[Row, ...]
    measure_first: tuple[ToMeasure, ...]
    skipped: Mapping[str, str]

    @property
    def word(self) -> str:
        """What is asked for, as a heading calls it."""
        return "offset" if self.asked == "preload offset" else "taper"

    def to_rows(self) -> list[dict[str, Any]]:
        """One flat dictionary an input."""
        flat = []
        for row in self.rows:
            values = asdict(row)
            change = values.pop("change")
            flat.append({**values, **{f"change_{key}": value for key, value in change.items()}})
        return flat

    def to_dict(self) -> dict[str, Any]:
        """The JSON object."""
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


def sensitivity(case: Case | str, *, progress: Progress | None = None) -> Sensitivities:
    """Change of offset, stretch and relief for each number of a case that can have an effect.

    Steps are a tenth of each input, 0.1 of its unit where it is zero.

    Parameters
    ----------
    case : a case, or its name.
    progress : called with the number of inputs done, and of all inputs.

    Raises
    ------
    NeckpreloadError
        If the case itself cannot be solved.
    """
    loaded = load(case) if isinstance(case, str) else case
    # Matrices of a hundred rows: more threads only cost time.
    with threadpool_limits(limits=1):
        return _ranked(loaded, progress=progress)


def _ranked(loaded: Case, *, progress: Progress | None) -> Sensitivities:
    solved = solve(loaded)
    base = Base(solved)
    fine = base.on_fine_mesh()
    keys = keys_that_matter(loaded)
    loose = scattered(loaded, strings=len(string_lines(loaded)))
    two_shims = loaded.joint.kind == "two-shim"
    rows, skipped = [_seat_row(loaded)] if two_shims else [], {}
    for done, key in enumerate(keys, start=1):
        try:
            rows.append(_key_row(base if changes_shape(key) else fine, key))
        except NeckpreloadError as error:
            skipped[key] = " ".join(str(error).split())
        if progress is not None:
            progress(done, len(keys) + len(loose))
    for done, source in enumerate(loose, start=len(keys) + 1):
        up, down = (fine.read(source.changed(fine.question, sign * TENTH)) for sign in (1.0, -1.0))
        rows.append(
            _row(
                source.name, None, TENTH, base.half(up, down), Known(source.deviation, "scatter in the case")
            )
        )
        if progress is not None:
            progress(done, len(keys) + len(loose))
    ranked = sorted(rows, key=lambda row: -abs(row.change.offset_deg))
    return Sensitivities(
        case=loaded.name,
        asked="preload offset" if two_shims else "taper of the pocket's shim",
        offset_deg=degrees(solved.offset.offset),
        rows=tuple(ranked),
        measure_first=measure_first(ranked),
        skipped=skipped,
    )


@dataclass(frozen=True)
class Base:
    """A solved case from which changes are measured, on the mesh that ``solved.rough`` holds."""

    solved: Solved

    @property
    def question(self) -> Question:
        """The case's question on that mesh."""
        case = self.solved.case
        return with_measured_body(case, question_of(case, self.solved.rough, self.solved.structure))

    def on_fine_mesh(self) -> "Base":
        """The same on the fine mesh."""
        solved = self.solved
        return Base(
            replace(
                solved,
                rough=solved.question.flexibility,
                rough_fields=solved.fields,
                rough_pair=solved.pair,
            )
        )

    def changed(self, key: str, value: float) -> Question:
        """The question with one key set.

        Raises
        ------
        NeckpreloadError
            If the instrument does not allow it.
        """
        case = self.solved.case.with_values(with_mirror(self.solved.case, key, value))
        structure = structure_of(case)
        flexibility = rough_flexibility(self.solved, structure, key)
        return with_measured_body(case, question_of(case, flexibility, structure))

    def read(self, question: Question) -> Change:
        """Offset wanted beyond the base's, stretch and slack relief, at the base's shims."""
        at = self._pair(question)
        slack = other_state(question, at, strings=True, rod=0.0)
        return Change(
            degrees(-question.misfit(at.strung) / self.solved.offset.transfer),
            degrees(question.kink(at.strung) - question.kink(at.bolted)),
            question.line.relief(question.heights(slack))[0] / MM,
        )

    def half(self, up: Change, down: Change) -> Change:
        """Half of the difference of two readings: what one step up changes."""
        return difference(up, down).times(0.5)

    def _pair(self, question: Question) -> Pair:
        start = self.solved.rough_pair
        flexibility: Flexibility = question.flexibility
        same = flexibility.size == self.solved.rough.size
        return pair(question, start.angles, start=start if same else None)


def difference(first: Change, second: Change) -> Change:
    """First less second."""
    return Change(
        first.offset_deg - second.offset_deg,
        first.stretch_deg - second.stretch_deg,
        first.relief_mm - second.relief_mm,
    )


def _key_row(base: Base, key: str) -> Row:
    value = float(str(base.solved.case.value(key)))
    size = abs(value) or 1.0
    change = _slope(base, key, value, part=TENTH, size=size)
    return _row(key, value, TENTH * size, change, known(base.solved.case, key, value))


def _slope(base: Base, key: str, value: float, *, part: float, size: float) -> Change:
    """Change for a tenth of the input: central, else one-sided, else over a smaller step."""
    found: dict[float, Change] = {}
    refused: NeckpreloadError | None = None
    for sign in (1.0, -1.0):
        try:
            found[sign] = base.read(base.changed(key, value + sign * part * size))
        except NeckpreloadError as error:
            refused = error
    scale = TENTH / part
    if len(found) == 2:
        return base.half(found[1.0], found[-1.0]).times(scale)
    if found:
        sign, there = next(iter(found.items()))
        return difference(there, base.read(base.question)).times(sign * scale)
    if part > SMALLER:
        return _slope(base, key, value, part=SMALLER, size=size)
    raise refused or AssertionError(key)


def _seat_row(case: Case) -> Row:
    """The seats' own angle: by the meaning of the offset one degree of it is one degree of shim."""
    return _row(SEAT_ROW, 0.0, TENTH, Change(-TENTH, 0.0, 0.0), seats(case))


def _row(name: str, value: float | None, step: float, change: Change, good: Known | None) -> Row:
    if good is None:
        return Row(name, value, step, change, None, "chosen, or counted elsewhere", None)
    worth = abs(change.offset_deg) / step * good.deviation
    return Row(name, value, step, change, good.deviation, good.source, worth)


def measure_first(rows: list[Row]) -> tuple[ToMeasure, ...]:
    """The three measurements worth most in the offset, by `RULE`."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        if row.worth_deg:
            groups.setdefault(measurement(row.name).name, []).append(row)
    found = []
    for name, members in groups.items():
        members = sorted(members, key=lambda row: -(row.worth_deg or 0.0))
        worth = together([row.worth_deg or 0.0 for row in members])
        how = measurement(members[0].name).how
        found.append(ToMeasure(name, how, worth, tuple(row.name for row in members)))
    return tuple(sorted(found, key=lambda one: -one.worth_deg)[:FIRST])
