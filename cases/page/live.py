"""The neck under the sliders, in milliseconds: loads, moduli and shims change on a condensed flexibility."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import degrees, radians

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.assumed_effects import CONDENSED
from cases.offset.build import MM, question_of, structure_of
from cases.studies.curvature import FlexLine
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.results.reading import pad_gaps, read, string_height
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair

LEAST_FACTOR, MOST_FACTOR = 0.5, 1.6
WOOD = ("neck along", "neck across")
LIVE_TABLES = ("strings", "stock", "tolerance", "scatter", "setup", "targets")
"""Tables without influence on stiffness, besides the keys of `cases.offset.assumed_effects.CONDENSED`."""


@dataclass(frozen=True)
class Worked:
    """A full answer with its mechanics; ``rough_angle`` is the angle on the coarse mesh [rad]."""

    case: Case
    answer: Answer
    structure: Structure
    question: Question
    offset: Offset
    upper: float
    line: FlexLine
    rough_angle: float


@dataclass(frozen=True)
class Knobs:
    """Position of the sliders.

    ``strings`` is a fraction of the tension at pitch, ``rod`` of the setting found (None: set to the target
    relief at pitch), ``neck`` and ``bolts`` factor moduli and tensions, ``angles_deg`` replaces the shims.
    """

    strings: float = 1.0
    rod: float | None = None
    neck: float = 1.0
    bolts: float = 1.0
    angles_deg: tuple[float, ...] | None = None

    @property
    def as_case(self) -> bool:
        """Whether wood and bolts are unchanged."""
        return self.neck == 1.0 and self.bolts == 1.0


@dataclass(frozen=True)
class LiveState:
    """State of the neck under the sliders; lengths [mm], angles [deg]; `gaps_mm` along each seat.

    ``nut_rise_mm`` is relative to the bolted neck without strings; ``offset_deg`` is a linear estimate for
    changed moduli and bolts, None without a pair of shims; ``action_mm`` is None with the strings off.
    """

    knobs: Knobs
    heights_mm: Array
    gaps_mm: tuple[Array, ...]
    angles_deg: tuple[float, ...]
    kink_deg: float
    relief_mm: float
    tongue_gap_mm: float
    nut_rise_mm: float
    action_mm: float | None
    rod: float
    bolt_n: tuple[float, ...]
    offset_deg: float | None


class Bend:
    """The neck of one tab; each solution starts from the previous one."""

    def __init__(self, worked: Worked) -> None:
        self.worked = worked
        self._pitch: tuple[Knobs, Question, Pair] | None = None

    def state(self, knobs: Knobs) -> LiveState:
        """State for slider positions. Raises `ConvergenceError` if the joint finds no equilibrium."""
        question, at = self._at_pitch(knobs)
        strings = min(max(knobs.strings, 0.0), 1.0)
        rod = at.strung.rod if knobs.rod is None else knobs.rod * self.worked.offset.pair.strung.rod
        if strings == 1.0 and knobs.rod is None:
            state = at.strung
        elif strings == 0.0:
            state = other_state(question, at, strings=False, rod=rod)
        else:
            loaded = replace(
                question, strings=replace(question.strings, tension=strings * question.strings.tension)
            )
            state = other_state(loaded, at, strings=True, rod=rod)
        found = read(question, state)
        height_x = question.wanted.height_x
        over = string_height(question, state, height_x) - string_height(question, at.strung, height_x)
        return LiveState(
            knobs=knobs,
            heights_mm=found.heights / MM,
            gaps_mm=tuple(gap / MM for gap in pad_gaps(question, state, at.angles)),
            angles_deg=tuple(degrees(at.angles[k]) for k in question.shims),
            kink_deg=degrees(found.kink),
            relief_mm=found.relief / MM,
            tongue_gap_mm=found.tongue_gap / MM,
            nut_rise_mm=(found.nut_rise - read(question, at.bolted).nut_rise) / MM,
            action_mm=None if strings == 0.0 else self.worked.answer.action_mm + over / MM,
            rod=float(state.rod),
            bolt_n=tuple(float(one) for one in state.bolts),
            offset_deg=self._offset(knobs, question, at),
        )

    def _at_pitch(self, knobs: Knobs) -> tuple[Question, Pair]:
        """Question and states at pitch, rod set, for the sliders' wood, bolts and shims."""
        key = replace(knobs, strings=1.0, rod=None)
        if self._pitch is not None and self._pitch[0] == key:
            return self._pitch[1], self._pitch[2]
        question = self._question(knobs)
        angles = self.worked.offset.pair.angles
        if knobs.angles_deg is not None:
            given = dict(zip(question.shims, knobs.angles_deg, strict=True))
            angles = tuple(radians(given[k]) if k in given else one for k, one in enumerate(angles))
        near = self._pitch[2] if self._pitch is not None else self.worked.offset.pair
        at = near
        if not (knobs.as_case and angles == near.angles and near is self.worked.offset.pair):
            at = pair(question, angles, start=near)
        self._pitch = (key, question, at)
        return question, at

    def _question(self, knobs: Knobs) -> Question:
        question = self.worked.question
        if knobs.neck != 1.0:
            clipped = min(max(knobs.neck, LEAST_FACTOR), MOST_FACTOR)
            stiffer = question.flexibility.with_moduli(dict.fromkeys(WOOD, clipped))
            question = replace(question, flexibility=stiffer)
        if knobs.bolts != 1.0:
            bolting = question.bolting
            tension = bolting.bolt_tension * min(max(knobs.bolts, LEAST_FACTOR), MOST_FACTOR)
            question = replace(question, bolting=replace(bolting, bolt_tension=tension))
        return question

    def _offset(self, knobs: Knobs, question: Question, at: Pair) -> float | None:
        own = self.worked.answer.preload_offset_deg
        if own is None or knobs.as_case:
            return own
        offset = self.worked.offset
        if at.angles != offset.pair.angles:
            at = pair(question, offset.pair.angles, start=offset.pair)
        return own - degrees(question.misfit(at.strung)) / offset.transfer


def acts_at_once(keys: Collection[str]) -> bool:
    """Whether a change of these keys leaves the condensed flexibility unchanged."""
    ends = [(key.split(".")[0], key.split(".")[-1]) for key in keys if "." in key]
    return all(table in LIVE_TABLES or last in CONDENSED.get(table, ()) for table, last in ends)


def preview(worked: Worked, case: Case) -> float | None:
    """Offset or taper of a changed case on the flexibility of a solved one [deg]; None if the change needs
    another flexibility. Raises `NeckpreloadError` if the changed case has no solution there.
    """
    before, after = dict(worked.case.items()), dict(case.items())
    changed = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
    if not acts_at_once(changed):
        return None
    question = question_of(case, worked.question.flexibility, structure_of(case))
    if case.body.straightedge_drop_mm is not None:
        question = replace(question, body_stiffness=worked.question.body_stiffness)
    varied = worked.offset.pair.angles[worked.question.varied]
    near = worked.offset
    found = find_offset(question, upper=worked.upper, start=near.pair, lower=varied, transfer=near.transfer)
    return degrees(found.offset)
