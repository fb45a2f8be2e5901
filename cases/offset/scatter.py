"""First-order scatter of the offset: what each source is worth, from the model's own sensitivities."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from cases.casefile.case import Case
from fem.geometry.pad import Pad
from fem.solve.condensation import Flexibility
from fem.solve.offset import Offset, Question, pair

NINETY = 1.6449
"""Half-width of a normal distribution's central 90 % band, in standard deviations."""


@dataclass(frozen=True)
class Source:
    """A source of scatter: relative standard deviation, and the question when it is larger by a given
    part.
    """

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


def _layers(question: Question, change: float) -> Question:
    def stiffer(one: Pad) -> Pad:
        part = 1.0 + change
        return replace(one, young=one.young * part, shear=one.shear * part, compliance=one.compliance / part)

    return replace(question, pads=tuple(stiffer(one) for one in question.pads))


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

    A torque's stated scatter is read as two standard deviations (common practice, no source). Strings
    scatter one by one, so their sum does by the root of their number less. A modulus measured on this very
    plank does not scatter.
    """
    scatter = case.scatter

    def modulus(cov: float, measured: float | None) -> float:
        return 0.0 if measured is not None else cov

    found = [
        Source(
            "neck wood", modulus(scatter.neck_e_cov, case.neck.e_l_gpa), _moduli("neck along", "neck across")
        ),
        Source("neck wood, across and shear", scatter.ratio_cov, _moduli("neck across")),
        Source(
            "fretboard wood",
            modulus(scatter.board_e_cov, case.fretboard.e_l_gpa),
            _moduli("board along", "board across"),
        ),
        Source("fretboard wood, across and shear", scatter.ratio_cov, _moduli("board across")),
        Source("block wood", modulus(scatter.block_e_cov, case.block.e_l_gpa), _moduli("block")),
        Source("shim layers", scatter.layer_cov, _layers),
        Source("string tension", scatter.string_tension_cov / sqrt(strings), _tension),
    ]
    for number, bolt in enumerate(case.bolts):
        deviation = bolt.torque_scatter / 2.0 if bolt.torque_n_m is not None else 0.0
        found.append(Source(f"bolt {bolt.name}", deviation, _bolt(number)))
    return tuple(source for source in found if source.deviation > 0.0)


def offset_scatter(
    case: Case, question: Question, offset: Offset, *, strings: int
) -> tuple[tuple[str, float], ...]:
    """Standard deviation of the offset owed to each source, largest first [rad].

    The kink's change at fixed shims, for a quarter of the source's deviation, divided by the shim transfer.
    """
    base = question.misfit(offset.pair.strung)
    shares = []
    for source in sources(case, strings=strings):
        step = 0.25 * source.deviation
        there = pair(source.changed(question, step), offset.pair.angles, start=offset.pair)
        moved = -(question.misfit(there.strung) - base) / offset.transfer
        shares.append((source.name, abs(moved) / 0.25))
    return tuple(sorted(shares, key=lambda share: -share[1]))


def half_band(shares: tuple[tuple[str, float], ...]) -> float:
    """Half-width of the 90 % band of independent sources [rad]."""
    return NINETY * float(np.sqrt(sum(value**2 for _, value in shares)))
