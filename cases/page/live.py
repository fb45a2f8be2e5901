"""The neck under the sliders, in milliseconds: loads, moduli and shims change on a condensed flexibility."""

from collections import OrderedDict
from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property
from math import degrees, radians
from operator import sub
from typing import Generic, TypeVar

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.assumed_effects import CONDENSED
from cases.offset.build import MM, question_of, structure_of
from cases.studies.curvature import FlexLine
from fem.errors import ConvergenceError
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.results.reading import pad_gaps, read, string_height
from fem.solve.equilibrium import State
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair

LEAST_FACTOR, MOST_FACTOR = 0.5, 1.6
MOST_STATES, MOST_PAIRS = 100, 20
"""Largest number of displacements and of pairs of states that a solution starts from, 2 kB and 20 kB each."""
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

    @cached_property
    def sha256(self) -> str:
        """SHA-256 of the case, computed once: every move of a slider asks for it."""
        return self.case.sha256


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


Value = TypeVar("Value")


class _Solved(Generic[Value]):
    """The latest ``most`` solutions by their places, the positions of sliders; there is always a first."""

    def __init__(self, most: int, place: tuple[float, ...], first: Value) -> None:
        self._most = most
        self._kept = OrderedDict({place: first})

    def keep(self, place: tuple[float, ...], value: Value) -> None:
        """Keep a solution; the oldest goes if there are too many."""
        self._kept[place] = value
        if len(self._kept) > self._most:
            self._kept.popitem(last=False)

    def nearest(self, place: tuple[float, ...]) -> Value:
        """The solution whose place differs least, all sliders added up."""
        return self._kept[min(self._kept, key=lambda one: sum(map(abs, map(sub, one, place))))]


def _place(knobs: Knobs, angles: tuple[float, ...]) -> tuple[float, ...]:
    return knobs.neck, knobs.bolts, *map(degrees, angles)


@dataclass(frozen=True)
class _AtPitch:
    """The neck at pitch, rod set, for the sliders' wood, bolts and shims."""

    knobs: Knobs
    question: Question
    pair: Pair
    offset_deg: float | None


class Bend:
    """The neck of one tab.

    Each solution starts from the nearest one found before, or, where Newton's method finds no way from there,
    from the answer's; only its time depends on that.
    """

    def __init__(self, worked: Worked) -> None:
        self.worked = worked
        self._pitch: _AtPitch | None = None
        own = worked.offset.pair
        place = (1.0, 1.0, *map(degrees, own.angles))
        self._wood = (1.0, worked.question.flexibility)
        self._pairs = _Solved(MOST_PAIRS, place, own)
        self._rod = own.strung.rod or 1.0
        self._states = _Solved(
            MOST_STATES, (*place, 1.0, own.strung.rod / self._rod), own.strung.displacements
        )

    def state(self, knobs: Knobs) -> LiveState:
        """State for slider positions. Raises `ConvergenceError` if the joint finds no equilibrium."""
        pitch = self._at_pitch(knobs)
        question, at = pitch.question, pitch.pair
        strings = min(max(knobs.strings, 0.0), 1.0)
        rod = at.strung.rod if knobs.rod is None else knobs.rod * self.worked.offset.pair.strung.rod
        if strings == 1.0 and knobs.rod is None:
            state = at.strung
        elif strings == 0.0:
            state = other_state(question, at, strings=False, rod=rod)
        else:
            state = self._under_tension(pitch, strings, rod)
        found = read(question, state)
        height_x = question.wanted.height_x
        over = string_height(question, state, height_x) - string_height(question, at.strung, height_x)
        nut = question.flexibility.at["nut w"]
        return LiveState(
            knobs=knobs,
            heights_mm=found.heights / MM,
            gaps_mm=tuple(gap / MM for gap in pad_gaps(question, state, at.angles)),
            angles_deg=tuple(degrees(at.angles[k]) for k in question.shims),
            kink_deg=degrees(found.kink),
            relief_mm=found.relief / MM,
            tongue_gap_mm=found.tongue_gap / MM,
            nut_rise_mm=float((state.displacements - at.bolted.displacements)[nut][0]) / MM,
            action_mm=None if strings == 0.0 else self.worked.answer.action_mm + over / MM,
            rod=float(state.rod),
            bolt_n=tuple(float(one) for one in state.bolts),
            offset_deg=pitch.offset_deg,
        )

    def _under_tension(self, pitch: _AtPitch, strings: float, rod: float) -> State:
        """State under a part of the tension at pitch."""
        question, at = pitch.question, pitch.pair
        place = (*_place(pitch.knobs, at.angles), strings, rod / self._rod)
        start = replace(at.strung, displacements=self._states.nearest(place))
        tension = strings * question.strings.tension
        loaded = replace(question, strings=replace(question.strings, tension=tension))
        try:
            state = other_state(loaded, replace(at, strung=start), strings=True, rod=rod)
        except ConvergenceError:
            state = other_state(loaded, at, strings=True, rod=rod)
        self._states.keep(place, state.displacements)
        return state

    def _at_pitch(self, knobs: Knobs) -> _AtPitch:
        key = replace(knobs, strings=1.0, rod=None)
        if self._pitch is not None and self._pitch.knobs == key:
            return self._pitch
        question = self._question(knobs)
        angles = self.worked.offset.pair.angles
        if knobs.angles_deg is not None:
            given = dict(zip(question.shims, knobs.angles_deg, strict=True))
            angles = tuple(radians(given[k]) if k in given else one for k, one in enumerate(angles))
        at = self._pair(knobs, question, angles)
        self._pitch = _AtPitch(key, question, at, self._offset(knobs, question, at))
        return self._pitch

    def _pair(self, knobs: Knobs, question: Question, angles: tuple[float, ...]) -> Pair:
        """The states on a pair of shims [rad] in the sliders' wood and bolts."""
        own = self.worked.offset.pair
        if knobs.as_case and angles == own.angles:
            return own
        place = _place(knobs, angles)
        try:
            found = pair(question, angles, start=self._pairs.nearest(place))
        except ConvergenceError:
            found = pair(question, angles, start=own)
        self._pairs.keep(place, found)
        return found

    def _question(self, knobs: Knobs) -> Question:
        question = self.worked.question
        if knobs.neck != 1.0:
            clipped = min(max(knobs.neck, LEAST_FACTOR), MOST_FACTOR)
            if self._wood[0] != clipped:
                self._wood = (clipped, question.flexibility.with_moduli(dict.fromkeys(WOOD, clipped)))
            question = replace(question, flexibility=self._wood[1])
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
            at = self._pair(knobs, question, offset.pair.angles)
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
