"""One drawn guitar solved in full, from mesh to offset."""

from dataclasses import dataclass, fields, replace

import numpy as np

from cases.casefile.case import Case
from cases.monte_carlo.draws import Draws
from cases.monte_carlo.varied_case import VariedCase
from cases.offset.scatter import stiffened
from cases.offset.solve import FINE
from fem.errors import ConvergenceError
from fem.many.offsets import Outcome
from fem.results.reading import string_height
from fem.solve.condensation import condense
from fem.solve.offset import Pair, Question, find_offset, pair

STEP = float(np.radians(0.01))
"""Change of the varied shim's angle for the derivatives [rad]."""


@dataclass(frozen=True)
class FullNeck:
    """A drawn guitar of a case: one row of draws."""

    case: Case
    draws: Draws


@dataclass(frozen=True)
class FullAnswer:
    """Question, upper angle [rad], offset [rad] and states of a drawn guitar."""

    question: Question
    upper: float
    offset: float
    pair: Pair


def drawn_question(task: FullNeck) -> tuple[Question, float]:
    """Question of a drawn guitar on its own flexibility, and upper angle [rad]; may raise `ModelError`."""
    varied, draws = VariedCase(task.case, task.case), task.draws
    flexibility, _ = condense(varied.structure(draws.multiples[0]), FINE)
    question = varied.question(flexibility)
    each = zip(question.pads, draws.layer[0], draws.bedding[0], strict=True)
    pads = tuple(stiffened(pad, float(more), bedding=float(surface)) for pad, more, surface in each)
    bolting = replace(question.bolting, bolt_tension=question.bolting.bolt_tension * draws.bolts[0])
    strings = replace(question.strings, tension=question.strings.tension * float(draws.tension[0]))
    return replace(question, pads=pads, bolting=bolting, strings=strings), varied.upper


def solve_fully(task: FullNeck) -> FullAnswer:
    """Offset of a drawn guitar. Raises `ModelError` or `ConvergenceError` if it cannot be solved."""
    question, upper = drawn_question(task)
    error = draws_error(task.draws)
    held = upper + sum(error[k] for k in question.shims if k != question.varied)
    found = find_offset(question, upper=held)
    return FullAnswer(question, held, found.offset, found.pair)


def draws_error(draws: Draws) -> tuple[float, ...]:
    """Error of each pad's angle, shim and seat together [rad]."""
    return tuple(float(x) for x in draws.shim[0] + draws.seat[0])


def full_outcome(task: FullNeck, angles: tuple[float, ...], *, saddle: float) -> Outcome:
    """Result of `fem.many.offsets.outcomes` for one guitar, in full; unsettled if it cannot be solved."""
    nothing = np.full(1, np.nan)
    try:
        answer = solve_fully(task)
        question = answer.question
        fixed = replace(question, wanted=replace(question.wanted, height=None, saddle_height=saddle))
        own = tuple(a + e for a, e in zip(angles, draws_error(task.draws), strict=True))
        read = []
        for step in (0.0, STEP, -STEP):
            at = tuple(a + (step if k == question.varied else 0.0) for k, a in enumerate(own))
            strung = pair(fixed, at, start=answer.pair).strung
            heights, action = question.heights(strung), string_height(fixed, strung, question.wanted.height_x)
            read.append((question.line.kink(heights), question.line.tongue_gap(heights), action, strung.rod))
    except ConvergenceError:
        names = [one.name for one in fields(Outcome) if one.name != "settled"]
        return Outcome(**dict.fromkeys(names, nothing), settled=np.zeros(1, dtype=bool))
    here, more, less = np.array(read)[:, :, None]
    rate = (more - less) / (2.0 * STEP)
    return Outcome(
        **dict(zip(("kink", "gap", "action", "rod"), here, strict=True)),
        **dict(zip(("kink_by_lower", "gap_by_lower", "action_by_lower"), rate[:3], strict=True)),
        offset=np.array([answer.offset]),
        transfer=rate[0],
        settled=np.ones(1, dtype=bool),
    )
