"""An instrument with other woods than on the day of its set-up: crept, wetter, drier, warmer."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from cases.casefile.case import Case
from cases.offset.build import MM, Woods, question_of, structure_of, woods_of
from cases.offset.solve import COARSE, aimed_upper, with_measured_body
from fem.geometry.outline import Array
from fem.geometry.pad import Pad
from fem.geometry.structure import Structure
from fem.results.reading import read, string_height
from fem.solve.condensation import condense
from fem.solve.offset import Offset, Question, find_offset
from fem.time.free_strain import FreeStrain, top_rise, with_free_strain
from fem.time.long_term import Kept, left_alone, looked_after
from materials.wood import Wood


@dataclass(frozen=True)
class SetUp:
    """An instrument on the day of its set-up: its question (coarse mesh), the shims found, what stays."""

    case: Case
    woods: Woods
    question: Question
    offset: Offset
    kept: Kept


@dataclass(frozen=True)
class Alone:
    """What is read from an instrument left alone: relief and change of action [m], kink [rad], rod tension or
    couple [N, N m], and the bolts' tensions over those at set-up, (bolts,).
    """

    relief: float
    kink: float
    action_change: float
    rod: float
    bolt_shares: Array


@dataclass(frozen=True)
class Anew:
    """What is read when relief and action are set to target again: rod tension or couple, kink [rad], and how
    far the saddle rises [m] (negative = it is cut down).
    """

    rod: float
    kink: float
    saddle_rise: float


def set_up(case: Case, *, woods: Woods | None = None) -> SetUp:
    """Find the shims of an instrument and set it up: relief by rod, action by saddle, bolts locked."""
    cut = woods or woods_of(case)
    structure = structure_of(case, woods=cut)
    flexibility, _ = condense(structure, COARSE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    offset = find_offset(question, upper=aimed_upper(case))
    return SetUp(case, cut, question, offset, Kept(offset.pair, rod_stiffness(case)))


def rod_stiffness(case: Case) -> float:
    """Stiffness of the rod itself: EA/l of a one-way rod [N/m]; EA a^2/(2 l) of a pair [N m]; 0 for none."""
    rod = case.rod
    if rod.kind == "none":
        return 0.0
    area = 0.25 * pi * (rod.diameter_mm * MM) ** 2
    one = rod.young_gpa * 1e9 * area / ((rod.end_mm - rod.start_mm) * MM)
    return one if rod.kind == "one-way" else 0.5 * one * (rod.arm_mm * MM) ** 2


def changed(woods: Woods, change: Callable[[Wood], Wood]) -> Woods:
    """All three woods changed alike."""
    return Woods(change(woods.neck), change(woods.board), change(woods.block))


def scaled(wood: Wood, *, along: float, across: float, shear: float) -> Wood:
    """A wood with its moduli multiplied."""
    return replace(
        wood,
        e_l=wood.e_l * along,
        e_r=wood.e_r * across,
        e_t=wood.e_t * across,
        g_lr=wood.g_lr * shear,
        g_lt=wood.g_lt * shear,
        g_rt=wood.g_rt * shear,
    )


def softer(pad: Pad, *, times: float) -> Pad:
    """A shim and its two bedded surfaces, softer by a factor."""
    return replace(pad, young=pad.young / times, shear=pad.shear / times, compliance=pad.compliance * times)


def mean_action_mm(case: Case) -> float:
    """Action asked for, middle of treble and bass [mm]."""
    return 0.5 * (case.setup.action_treble_mm + case.setup.action_bass_mm)


def question_with(start: SetUp, woods: Woods) -> Question:
    """The set-up's question to the same instrument with other woods."""
    structure = structure_of(start.case, woods=woods)
    flexibility, _ = condense(structure, COARSE)
    return replace(start.question, flexibility=flexibility)


def strained_questions(
    start: SetUp, woods: Woods, strains: dict[str, FreeStrain]
) -> tuple[dict[str, Question], Structure]:
    """The question to the same instrument with other woods under each of some free strains."""
    structure = structure_of(start.case, woods=woods)
    flexibility, fields = condense(structure, COARSE)
    questions = {}
    on_beam = start.question.line.x < structure.outline.tie - 1e-9
    for name, strain in strains.items():
        rise = top_rise(structure, fields.bodies, strain)
        line, strings = start.question.line, start.question.strings
        questions[name] = replace(
            start.question,
            flexibility=with_free_strain(structure, flexibility, fields, strain),
            line=replace(line, planed=line.planed + rise * on_beam),
            strings=replace(strings, nut_height=strings.nut_height + rise),
        )
    return questions, structure


def alone(start: SetUp, question: Question, kept: Kept) -> Alone:
    """Read what an instrument has come to with nothing touched."""
    height_x, fresh = question.wanted.height_x, kept.pair.strung
    state = left_alone(question, kept)
    seen = read(question, state)
    return Alone(
        relief=seen.relief,
        kink=seen.kink,
        action_change=string_height(question, state, height_x)
        - string_height(start.question, fresh, height_x),
        rod=state.rod,
        bolt_shares=np.asarray(state.bolts / fresh.bolts),
    )


def anew(question: Question, kept: Kept) -> Anew:
    """Read what an instrument comes to when rod and saddle are set anew."""
    state = looked_after(question, kept)
    rise = state.saddle_height - kept.pair.strung.saddle_height
    return Anew(state.rod, read(question, state).kink, rise)
