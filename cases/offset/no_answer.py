"""Why a case has no offset: which one input, put right alone, would let the search end, and its key."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import degrees

import numpy as np

from cases.casefile.case import Case
from cases.casefile.errors import Problem
from cases.offset.build import fret_line
from cases.offset.washers import lasting_tension
from fem.geometry.structure import Structure
from fem.solve.offset import FURTHEST, Question, find_offset, pair
from materials.errors import NeckpreloadError

NO_ANSWER = "there is no answer within 1 degree of shim"
USUAL_SCALE_MM = 650.0
"""Scale to which a longer one is shortened on trial: common practice, no source."""
LESS_PULL = (0.5, 0.25)
"""Parts of the strings' tension tried in turn."""


@dataclass(frozen=True)
class _Trial:
    """The question with one input put right, and the sentence about that input."""

    question: Question
    problem: Problem


def why_no_answer(case: Case, structure: Structure, question: Question, *, upper: float) -> Problem | None:
    """The one input that alone keeps the search from ending; None if there is no such one.

    Tried in turn: target, planed board, bolts (bearing), and the pull of the strings (force).
    """
    for trial in _trials(case, structure, question, upper):
        try:
            find_offset(trial.question, upper=upper)
        except NeckpreloadError:
            continue
        return trial.problem
    return None


def _trials(case: Case, structure: Structure, question: Question, upper: float) -> Iterator[_Trial]:
    yield from _targets(case, question, upper)
    yield from _boards(case, question)
    yield from _bolts(case, structure, question)
    yield from _pulls(case, question)


def _targets(case: Case, question: Question, upper: float) -> Iterator[_Trial]:
    targets = case.targets
    key = "kink_deg" if targets.tongue_gap_mm is None else "tongue_gap_mm"
    wanted = getattr(targets, key)
    if question.target_saddle is not None or not wanted:
        return
    level = replace(question, target_kink=0.0, target_gap=None)
    reached = sorted(_readings(level, upper, gap=key == "tongue_gap_mm"))
    if len(reached) < 2:
        return
    unit = "mm" if key == "tongue_gap_mm" else "deg"
    wrong = f"no pair of shims bends the board at the joint so far; {NO_ANSWER}"
    allowed = f"{reached[0]:+.2f} to {reached[-1]:+.2f} {unit} on this neck"
    remedy = "give a target that shims can reach, usually 0"
    yield _Trial(level, Problem(f"targets.{key}", f"{wanted:g}", wrong, allowed, remedy))


def _readings(question: Question, upper: float, *, gap: bool) -> Iterator[float]:
    """Kink [deg] or tongue gap [mm] at both ends of the search, or as far out as the joint has a state."""
    for end in (FURTHEST, -FURTHEST):
        for share in (1.0, 0.75, 0.5, 0.25):
            try:
                state = pair(question, question.angles(upper + share * end, held=upper)).strung
            except NeckpreloadError:
                continue
            heights = question.heights(state)
            yield 1e3 * question.line.tongue_gap(heights) if gap else degrees(question.line.kink(heights))
            break


def _boards(case: Case, question: Question) -> Iterator[_Trial]:
    """Trials of the bare board: without its fallaway, without its planed relief, without both."""
    planed = {
        f"fretboard.{name}": getattr(case.fretboard, name) for name in ("fallaway_mm", "planed_relief_mm")
    }
    given = {key: value for key, value in planed.items() if value}
    for keys in [*([key] for key in given), list(given)]:
        if not keys:
            continue
        flat = replace(question, line=fret_line(case.with_values(dict.fromkeys(keys, 0.0))))
        path = " and ".join(f"{key} = {given[key]:g}" for key in keys)
        problem = Problem(
            path,
            "",
            f"a board planed so has more kink than shims can close; {NO_ANSWER}",
            "what a straightedge on the bare board shows, seldom beyond a few tenths of a millimetre",
            "measure the board again without strings, or plane it first",
        )
        yield _Trial(flat, problem)


def _bolts(case: Case, structure: Structure, question: Question) -> Iterator[_Trial]:
    """Trial with the bolts as tight as the wood under their washers allows."""
    tension = question.bolting.bolt_tension
    most = np.array([lasting_tension(case, bolt) for bolt in structure.bolts])
    if np.all(tension >= most):
        return
    tight = replace(question, bolting=replace(question.bolting, bolt_tension=np.maximum(tension, most)))
    loosest = int(np.argmin(tension / most))
    table, bolt = case.bolts[loosest], structure.bolts[loosest]
    if table.torque_n_m is None:
        key, given, span = "tension_n", f"{table.tension_n:g}", f"up to {most[loosest]:.0f} N"
    else:
        torque = most[loosest] * table.nut_factor * bolt.diameter
        key, given, span = "torque_n_m", f"{table.torque_n_m:g}", f"up to {torque:.2f} N·m"
    problem = Problem(
        f"bolts.{table.name}.{key}",
        given,
        f"the bolts together hold {tension.sum():.0f} N against a string pull of "
        f"{question.strings.tension:.0f} N, the seat does not bear at pitch, and {NO_ANSWER}",
        f"{span} for the wood under its washer",
        "tighten the bolts, within the limit of their maker",
    )
    yield _Trial(tight, problem)


def _pulls(case: Case, question: Question) -> Iterator[_Trial]:
    """Trials with less string tension: by a usual scale if this one is longer, then by lighter strings."""
    pull, scale = question.strings.tension, case.instrument.scale_mm
    wrong = f"the strings pull {pull:.0f} N, more than this joint holds; {NO_ANSWER}"

    def trial(share: float, key: str, given: str, remedy: str) -> _Trial:
        lighter = replace(question, strings=replace(question.strings, tension=share * pull))
        problem = Problem(
            key, given, wrong, f"a pull that the joint holds: {share * pull:.0f} N will do", remedy
        )
        return _Trial(lighter, problem)

    if scale > USUAL_SCALE_MM:
        remedy = "check the length, or tune lower and take lighter strings for it"
        yield trial((USUAL_SCALE_MM / scale) ** 2, "instrument.scale_mm", f"{scale:g}", remedy)
    strings = case.strings
    given = {
        "tuning": strings.tuning,
        "set": strings.set,
        "gauges_in": strings.gauges_in,
        "unit_weights_kg_m": strings.unit_weights_kg_m,
    }
    key, value = next((key, value) for key, value in given.items() if value is not None)
    for share in LESS_PULL:
        yield trial(share, f"strings.{key}", f"{value}", "tune lower, or take lighter strings")
