"""The neck under the sliders: a solved instrument on its condensed flexibility, solved again for what is
dragged (strings, rod, moduli, bolts, shims), in milliseconds.
"""

from dataclasses import dataclass, replace
from math import degrees, radians

import numpy as np

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.assumed_effects import CONDENSED
from cases.offset.build import MM, question_of, structure_of
from cases.studies.curvature import FlexLine
from fem.geometry.outline import Array
from fem.geometry.structure import Structure
from fem.results.reading import read, string_height
from fem.solve.offset import Offset, Pair, Question, find_offset, other_state, pair

LEAST_FACTOR, MOST_FACTOR = 0.5, 1.6
WOOD = ("neck along", "neck across")
LIVE_TABLES = ("strings", "stock", "tolerance", "scatter", "setup", "targets")
"""Tables whose keys leave stiffness alone, besides those of `cases.offset.assumed_effects.CONDENSED`."""


@dataclass(frozen=True)
class Worked:
    """Everything the page keeps of a case worked out in full; nothing in it changes any more.

    ``rough_angle`` is the angle found on the coarse mesh [rad], from which a preview starts.
    """

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
    """Where the sliders stand.

    ``strings`` is the share of the tension at pitch, ``rod`` that of the setting found (None: set to the
    relief wanted at pitch), ``neck`` and ``bolts`` factors of the case's moduli and tensions, ``angles_deg``
    the shims in place of those found.
    """

    strings: float = 1.0
    rod: float | None = None
    neck: float = 1.0
    bolts: float = 1.0
    angles_deg: tuple[float, ...] | None = None

    @property
    def as_case(self) -> bool:
        """Whether wood and bolts are those of the case."""
        return self.neck == 1.0 and self.bolts == 1.0


@dataclass(frozen=True)
class LiveState:
    """The neck as the sliders have it; lengths [mm], angles [deg].

    ``nut_rise_mm`` counts from the neck bolted up, without strings.
    ``offset_deg`` is the offset for these moduli and bolts to first order, the case's own where they are its
    own; None without a pair of shims. ``action_mm`` is None with the strings off.
    """

    knobs: Knobs
    heights_mm: Array
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
    """One tab's neck: remembers its last states, from which the next solution starts."""

    def __init__(self, worked: Worked) -> None:
        self.worked = worked
        self._pitch: tuple[Knobs, Question, Pair] | None = None

    def state(self, knobs: Knobs) -> LiveState:
        """The neck for sliders.

        Raises
        ------
        ConvergenceError
            If the joint finds no equilibrium there.
        """
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
            angles_deg=tuple(degrees(at.angles[k]) for k in question.shims),
            kink_deg=degrees(found.kink),
            relief_mm=found.relief / MM,
            tongue_gap_mm=found.tongue_gap / MM,
            nut_rise_mm=(found.nut_rise - read(question, at.bolted).nut_rise) / MM,
            action_mm=None if strings == 0.0 else self.worked.answer.action_mm + over / MM,
            rod=float(state.rod),
            bolt_n=tuple(float(one) for one in state.bolts),
            offset_deg=self._offset(knobs, question),
        )

    def _at_pitch(self, knobs: Knobs) -> tuple[Question, Pair]:
        """Question and states at pitch with the rod set, for wood, bolts and shims of the sliders."""
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
            flexibility = question.flexibility
            for name in WOOD:
                # a flexibility follows the inverse of its modulus: by this change it does so exactly
                flexibility = flexibility.with_modulus(name, 1.0 - 1.0 / _clipped(knobs.neck))
            question = replace(question, flexibility=flexibility)
        if knobs.bolts != 1.0:
            bolting = question.bolting
            tension = bolting.bolt_tension * _clipped(knobs.bolts)
            question = replace(question, bolting=replace(bolting, bolt_tension=tension))
        return question

    def _offset(self, knobs: Knobs, question: Question) -> float | None:
        own = self.worked.answer.preload_offset_deg
        if own is None or knobs.as_case:
            return own
        offset = self.worked.offset
        at = pair(question, offset.pair.angles, start=offset.pair)
        return own - degrees(question.misfit(at.strung)) / offset.transfer


def _clipped(factor: float) -> float:
    return min(max(factor, LEAST_FACTOR), MOST_FACTOR)


def changed_keys(before: Case, after: Case) -> frozenset[str]:
    """Paths of the keys in which two cases differ."""
    old, new = dict(before.items()), dict(after.items())
    return frozenset(key for key in old.keys() | new.keys() if old.get(key) != new.get(key))


def acts_at_once(keys: frozenset[str]) -> bool:
    """Whether a change of these keys leaves the condensed flexibility as it is."""
    for key in keys:
        table, last = key.split(".")[0], key.split(".")[-1]
        free = table in LIVE_TABLES or "." not in key or last in CONDENSED.get(table, ())
        if not free:
            return False
    return True


def preview(worked: Worked, case: Case) -> float | None:
    """Offset, or taper, of a changed case on the flexibility of one worked out before [deg]; None where the
    change needs another flexibility.

    Raises
    ------
    NeckpreloadError
        If the changed case has no solution there.
    """
    if not acts_at_once(changed_keys(worked.case, case)):
        return None
    question = question_of(case, worked.question.flexibility, structure_of(case))
    if case.body.straightedge_drop_mm is not None:
        question = replace(question, body_stiffness=worked.question.body_stiffness)
    varied = worked.offset.pair.angles[worked.question.varied]
    found = find_offset(question, upper=worked.upper, start=worked.offset.pair, lower=varied)
    return degrees(found.offset)


def heights_of(worked: Worked) -> tuple[Array, Array]:
    """Crown heights bolted up and strung of the answer, frets 1..last [mm]."""
    profile = worked.answer.fret_profile
    return np.asarray(profile.z_bolted_mm), np.asarray(profile.z_strung_mm)
