"""The README's instrument condensed on a coarse mesh once a run, and short cuts to solve changed cases."""

import math
from collections.abc import Mapping
from dataclasses import astuple, dataclass, replace
from functools import cache

from cases import load
from cases.casefile.case import Case
from cases.offset.build import question_of, string_lines, structure_of
from cases.offset.solve import FINE, Solved, aimed_upper, with_measured_body
from fem.geometry.mesh import MeshSize
from fem.geometry.section_shape import SectionMaterial
from fem.geometry.structure import Structure
from fem.solve.condensation import condense
from fem.solve.fields import Fields
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Pair, Question, find_offset, other_state, pair

COARSE = MeshSize(corner=6e-3, far=20e-3, growth=2.0, curve=5e-3)
"""A third of the default's fineness: relations hold on any mesh."""


def resolved(solved: Solved, values: Mapping[str, object]) -> Solved:
    """A solved case with changed loads, targets or settings, same bodies and same coarse solution."""
    case = solved.case.with_values(values)
    structure = structure_of(case)
    question = with_measured_body(case, question_of(case, solved.question.flexibility, structure))
    changed = replace(solved, case=case, lines=string_lines(case), structure=structure, question=question)
    return replace(changed, offset=find_offset(question, upper=solved.upper))


def fine_offset_deg(case: Case) -> float:
    """Offset of a case on the fine mesh alone [deg]."""
    structure = structure_of(case)
    flexibility, _ = condense(structure, FINE)
    question = with_measured_body(case, question_of(case, flexibility, structure))
    return math.degrees(find_offset(question, upper=aimed_upper(case)).offset)


@cache
def readme_case() -> Case:
    """The 14-fret mahogany instrument."""
    return load("fourteen-mahogany")


@cache
def readme_structure() -> Structure:
    """Its stiffness-giving parts."""
    return structure_of(readme_case())


@cache
def readme_condensed() -> tuple[Flexibility, Fields]:
    """Its flexibility, and the way back to displacements."""
    return condense(readme_structure(), COARSE)


@cache
def readme_question() -> Question:
    """Its question, everything as in the case."""
    return question_of(readme_case(), readme_condensed()[0], readme_structure())


def asked_of(structure: Structure, *, size: MeshSize = COARSE) -> Question:
    """The case's question to a changed structure, mesh or both."""
    flexibility, _ = condense(structure, size)
    return question_of(readme_case(), flexibility, structure)


def rod_slack(question: Question) -> Question:
    """The same with the rod left slack and the saddle fixed where the case's own answer puts it."""
    wanted = replace(question.wanted, relief=None, rod=0.0, height=None, saddle_height=saddle_height())
    return replace(question, wanted=wanted)


@cache
def saddle_height() -> float:
    """Height of the saddle at equal shims, rod set [m]."""
    return pair(readme_question(), (0.0, 0.0)).strung.saddle_height


@dataclass(frozen=True)
class Reading:
    """What a user sees of a question: degrees, millimetres, newtons."""

    offset: float
    transfer: float
    rod: float
    slack_relief: float
    nut_rise: float
    kink: float
    stretch: float


def reading(question: Question) -> Reading:
    """Offset, transfer and rod at the offset; relief, nut rise, kink and heel stretch on equal shims."""
    found = find_offset(question, upper=0.0)
    equal = pair(question, (0.0, 0.0))
    slack = other_state(question, equal, strings=True, rod=0.0)
    return Reading(
        offset=math.degrees(found.offset),
        transfer=found.transfer,
        rod=found.pair.strung.rod,
        slack_relief=1e3 * question.line.relief(question.heights(slack))[0],
        nut_rise=1e3 * float(equal.strung.displacements[question.flexibility.at["nut w"]][0]),
        kink=math.degrees(question.kink(equal.strung)),
        stretch=stretch(question, equal),
    )


def stretch(question: Question, at: Pair) -> float:
    """Heel stretch of a pair [deg]."""
    return math.degrees(question.kink(at.strung) - question.kink(at.bolted))


def scaled(structure: Structure, factor: float) -> Structure:
    """The same instrument with every modulus, shims, bedding and bolts included, times a factor."""

    def timber(wood):
        return replace(
            wood,
            moduli=factor * wood.moduli,
            along=factor * wood.along,
            section=SectionMaterial(*(factor * value for value in astuple(wood.section))),
            solid=None if wood.solid is None else wood.solid / factor,
        )

    return replace(
        structure,
        neck=timber(structure.neck),
        board=timber(structure.board),
        block_wood=timber(structure.block_wood),
        pads=tuple(
            replace(p, young=factor * p.young, shear=factor * p.shear, compliance=p.compliance / factor)
            for p in structure.pads
        ),
        bolts=tuple(replace(b, young=factor * b.young, tension=factor * b.tension) for b in structure.bolts),
        bars=tuple(replace(b, young=factor * b.young, shear=factor * b.shear) for b in structure.bars),
    )
