"""The README's instrument against plane geometry and against what the trade knows."""

import math

from fem.results.reading import read
from fem.solve.offset import Pair, Question, other_state, pair
from tests.evidence_rows.mutation import kept_until_broken
from tests.instrument import readme_question

STEP = math.radians(0.1)


@kept_until_broken
def equal_shims() -> tuple[Question, Pair]:
    """The README's instrument and its states on equal shims."""
    question = readme_question()
    return question, pair(question, (0.0, 0.0))


def slack_relief() -> float:
    """Relief of the README's instrument with its rod slack [mm]."""
    question, at = equal_shims()
    state = other_state(question, at, strings=True, rod=0.0)
    return 1e3 * question.line.relief(question.heights(state))[0]


def heel_turn() -> float:
    """Turn of the heel's start against the tongue line, strung minus bolted [deg]."""
    question, at = equal_shims()
    rows, displacements = question.flexibility.at, at.strung.displacements - at.bolted.displacements
    tongue = question.line.slope_row(question.line.tongue) @ displacements[rows["crown"]]
    return math.degrees(float(tongue - displacements[rows["heel start"]][0]))


def fall_at_the_saddle() -> float:
    """How much lower the shaft line passes the saddle at pitch than when bolted, rod set [mm]."""
    question, at = equal_shims()
    return 1e3 * (read(question, at.bolted).saddle_line - read(question, at.strung).saddle_line)


def both_shims(step: float) -> tuple[float, float]:
    """Fall of the shaft line at the saddle and rise of a string over fret 12, a step on both shims [mm].

    Bolted up, the string a straight line from the lifted nut to a saddle that stays where it is.
    """
    question = readme_question()
    rows, share = question.flexibility.at, float(question.line.x[11]) / question.strings.saddle
    line, saddle = [], []
    for angle in (0.0, step):
        state = pair(question, (angle, angle)).bolted
        nut = float(state.displacements[rows["nut w"]][0])
        line.append(nut * (1.0 - share) - float(state.displacements[rows["crown"]][11]))
        saddle.append(read(question, state).saddle_line)
    return 1e3 * (saddle[0] - saddle[1]), 1e3 * (line[1] - line[0])


OURS = {
    "whole-saddle-per-tenth-degree": lambda: both_shims(STEP)[0],
    "whole-action-per-tenth-degree": lambda: both_shims(STEP)[1],
    "plausible-relief-slack": slack_relief,
    "plausible-heel-turn": heel_turn,
    "plausible-fall-at-the-saddle": fall_at_the_saddle,
}
