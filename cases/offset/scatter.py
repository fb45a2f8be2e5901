"""First-order scatter of the offset: contribution of each source, from the model's sensitivities."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from cases.casefile.case import Case
from cases.offset.solve import Solved
from fem.geometry.pad import Pad
from fem.solve.condensation import Flexibility
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


def sources(case: Case, *, strings: int) -> tuple[Source, ...]:
    """Sources of scatter of a case.

    The stated scatter of a torque counts as two standard deviations (common practice, no source). The
    ``strings`` scatter independently, so their sum by the root of their number less. A modulus measured on
    the piece itself does not scatter.
    """
    scatter = case.scatter

    def unless(measured: float | None, cov: float) -> float:
        return 0.0 if measured is not None else cov

    found = [
        Source(
            "neck wood", unless(case.neck.e_l_gpa, scatter.neck_e_cov), _moduli("neck along", "neck across")
        ),
        Source("neck wood, across and shear", scatter.ratio_cov, _moduli("neck across")),
        Source(
            "fretboard wood",
            unless(case.fretboard.e_l_gpa, scatter.board_e_cov),
            _moduli("board along", "board across"),
        ),
        Source("fretboard wood, across and shear", scatter.ratio_cov, _moduli("board across")),
        Source("block wood", unless(case.block.e_l_gpa, scatter.block_e_cov), _moduli("block")),
        Source("shim layers", scatter.layer_cov, _layers),
        Source("string tension", scatter.string_tension_cov / sqrt(strings), _tension),
    ]
    for number, bolt in enumerate(case.bolts):
        deviation = bolt.torque_scatter / 2.0 if bolt.torque_n_m is not None else 0.0
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
