"""First-order scatter of the offset: contribution of each source, from the model's sensitivities."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from cases.casefile.case import Case
from cases.offset.solve import Solved
from fem.geometry.pad import Pad
from fem.solve.flexibility import Flexibility
from fem.solve.offset import Question, pair

NINETY = 1.6449
"""Half-width of a normal distribution's central 90 % band, in standard deviations."""


@dataclass(frozen=True)
class Source:
    """A source of scatter: relative standard deviation, and the question at a given relative change."""

    name: str
    deviation: float
    changed: Callable[[Question, float], Question]


def _moduli(*names: str) -> Callable[[Question, float], Question]:
    def changed(question: Question, change: float) -> Question:
        flexibility: Flexibility = question.flexibility
        for name in names:
            flexibility = flexibility.with_modulus(name, change)
        return replace(question, flexibility=flexibility)

    return changed


def stiffened(pad: Pad, factor: float) -> Pad:
    """A shim and its two bedding surfaces, stiffer by a factor."""
    return replace(
        pad, young=pad.young * factor, shear=pad.shear * factor, compliance=pad.compliance / factor
    )


def _layers(question: Question, change: float) -> Question:
    return replace(question, pads=tuple(stiffened(pad, 1.0 + change) for pad in question.pads))


def _bolt(number: int) -> Callable[[Question, float], Question]:
    def changed(question: Question, change: float) -> Question:
        tension = question.bolting.bolt_tension.copy()
        tension[number] *= 1.0 + change
        return replace(question, bolting=replace(question.bolting, bolt_tension=tension))

    return changed


def _tension(question: Question, change: float) -> Question:
    return replace(
        question, strings=replace(question.strings, tension=question.strings.tension * (1.0 + change))
    )


@dataclass(frozen=True)
class Deviations:
    """Relative standard deviations of a case; zero for measured values."""

    neck: float
    board: float
    block: float
    ratio: float
    layer: float
    string: float
    density: float
    bolts: tuple[float, ...]


def deviations(case: Case) -> Deviations:
    """Scatter of a case.

    The stated scatter of a torque counts as two standard deviations (common practice, no source). A tension
    given directly, and a modulus measured on the piece itself, do not scatter.
    """
    scatter = case.scatter
    return Deviations(
        neck=scatter.neck_e_cov if case.neck.e_l_gpa is None else 0.0,
        board=scatter.board_e_cov if case.fretboard.e_l_gpa is None else 0.0,
        block=scatter.block_e_cov if case.block.e_l_gpa is None else 0.0,
        ratio=scatter.ratio_cov,
        layer=scatter.layer_cov,
        string=scatter.string_tension_cov,
        density=scatter.density_cov,
        bolts=tuple(0.0 if bolt.torque_n_m is None else bolt.torque_scatter / 2.0 for bolt in case.bolts),
    )


def sources(case: Case, *, strings: int) -> tuple[Source, ...]:
    """Sources of scatter of a case; the sum of ``strings`` scatters by the root of their number less."""
    own = deviations(case)
    found = [
        Source("neck wood", own.neck, _moduli("neck along", "neck across")),
        Source("neck wood, across and shear", own.ratio, _moduli("neck across")),
        Source("fretboard wood", own.board, _moduli("board along", "board across")),
        Source("fretboard wood, across and shear", own.ratio, _moduli("board across")),
        Source("block wood", own.block, _moduli("block")),
        Source("shim layers", own.layer, _layers),
        Source("string tension", own.string / sqrt(strings), _tension),
    ]
    for number, (bolt, deviation) in enumerate(zip(case.bolts, own.bolts, strict=True)):
        found.append(Source(f"bolt {bolt.name}", deviation, _bolt(number)))
    return tuple(source for source in found if source.deviation > 0.0)


def offset_scatter(solved: Solved) -> tuple[tuple[str, float], ...]:
    """Standard deviation of the offset from each source, largest first [rad].

    It is the change of the kink at fixed shims for a quarter of the source's deviation, over a quarter of the
    shim transfer.
    """
    question, here = solved.question, solved.pair
    base = question.misfit(here.strung)
    found = []
    for source in sources(solved.case, strings=len(solved.lines)):
        there = pair(source.changed(question, 0.25 * source.deviation), here.angles, start=here)
        change = -(question.misfit(there.strung) - base) / solved.offset.transfer
        found.append((source.name, abs(change) / 0.25))
    return tuple(sorted(found, key=lambda one: -one[1]))


def half_band(deviations: tuple[tuple[str, float], ...]) -> float:
    """Half-width of the 90 % band of independent sources [rad]."""
    return NINETY * float(np.sqrt(sum(value**2 for _, value in deviations)))
