"""An instrument whose woods have changed since its set-up: crept, wetter, drier or warmer."""

from dataclasses import dataclass, replace

import numpy as np

from cases.casefile.case import Case
from cases.offset.build import question_of, rod_stiffness, structure_of
from cases.offset.solve import COARSE, aimed_upper, with_measured_body
from cases.offset.woods import Woods, woods_of
from fem.geometry.outline import Array
from fem.results.reading import read, string_height
from fem.solve.condensation import condense
from fem.solve.offset import Offset, Question, find_offset
from fem.time.free_strain import FreeStrain, top_rise, with_free_strain
from fem.time.long_term import Kept, left_alone, looked_after


@dataclass(frozen=True)
class SetUp:
    """An instrument on the day of its set-up: question on the coarse mesh, shims, and its locked state."""

    case: Case
    woods: Woods
    question: Question
    offset: Offset
    kept: Kept


@dataclass(frozen=True)
class UntouchedReading:
    """Readings of an instrument that nobody readjusts.

    Relief and change of action [m], kink [rad], rod tension or couple [N, N m], and the bolts' tensions over
    those at set-up, (bolts,).
    """

    relief: float
    kink: float
    action_change: float
    rod: float
    bolt_shares: Array


@dataclass(frozen=True)
class ReadjustedReading:
    """Readings with relief and action back on target: rod tension or couple [N, N m], kink [rad], and rise of
    the saddle [m] (negative: cut down).
    """

    rod: float
    kink: float
    saddle_rise: float


def set_up(case: Case, *, woods: Woods | None = None) -> SetUp:
    """Find the shims of an instrument and set it up: relief by rod, action by saddle, bolts locked."""
    own = woods or woods_of(case)
    structure = structure_of(case, woods=own)
    flexibility, _ = condense(structure, COARSE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    offset = find_offset(question, upper=aimed_upper(case))
    return SetUp(case, own, question, offset, Kept(offset.pair, rod_stiffness(case)))


def mean_action_mm(case: Case) -> float:
    """Target action, mean of treble and bass side [mm]."""
    return 0.5 * (case.setup.action_treble_mm + case.setup.action_bass_mm)


def question_with(start: SetUp, woods: Woods) -> Question:
    """Question of the same instrument with other woods."""
    structure = structure_of(start.case, woods=woods)
    flexibility, _ = condense(structure, COARSE)
    return replace(start.question, flexibility=flexibility)


def strained_questions(start: SetUp, woods: Woods, strains: dict[str, FreeStrain]) -> dict[str, Question]:
    """Questions of the same instrument with other woods, one for each free strain."""
    structure = structure_of(start.case, woods=woods)
    _, fields = condense(structure, COARSE)
    questions = {}
    on_beam = start.question.line.x < structure.outline.tie - 1e-9
    for name, strain in strains.items():
        rise = top_rise(structure, fields.bodies, strain)
        line, strings = start.question.line, start.question.strings
        questions[name] = replace(
            start.question,
            flexibility=with_free_strain(structure, fields, strain),
            line=replace(line, planed=line.planed + rise * on_beam),
            strings=replace(strings, nut_height=strings.nut_height + rise),
        )
    return questions


def untouched(start: SetUp, question: Question, kept: Kept) -> UntouchedReading:
    """Read an instrument with rod, saddle and bolts left as set up."""
    height_x, fresh = question.wanted.height_x, kept.pair.strung
    state = left_alone(question, kept)
    seen = read(question, state)
    return UntouchedReading(
        relief=seen.relief,
        kink=seen.kink,
        action_change=string_height(question, state, height_x)
        - string_height(start.question, fresh, height_x),
        rod=state.rod,
        bolt_shares=np.asarray(state.bolts / fresh.bolts),
    )


def readjusted(question: Question, kept: Kept) -> ReadjustedReading:
    """Read an instrument with rod and saddle readjusted."""
    state = looked_after(question, kept)
    rise = state.saddle_height - kept.pair.strung.saddle_height
    return ReadjustedReading(state.rod, read(question, state).kink, rise)
