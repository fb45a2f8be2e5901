"""The neck from bolted up to playing: strings brought to pitch in steps, then the rod set."""

from dataclasses import dataclass, replace
from math import degrees

from cases.offset.build import MM
from cases.offset.solve import Solved
from fem.geometry.outline import Array
from fem.results.reading import pad_gaps
from fem.solve.equilibrium import State
from fem.solve.offset import Question, pair

TENSION_STEPS = 6
"""Equal steps of tension up to pitch."""
ROD_STEPS = 4
"""Steps of the rod from slack to its setting."""


@dataclass(frozen=True)
class PitchStep:
    """One state: ``tension_share`` of the tension at pitch and ``rod_share`` of the rod's setting; crown
    heights (frets,) [mm], gaps along each seat (points,) [mm], kink [deg] and relief [mm].
    """

    tension_share: float
    rod_share: float
    heights_mm: Array
    gaps_mm: tuple[Array, ...]
    kink_deg: float
    relief_mm: float


@dataclass(frozen=True)
class WayToPitch:
    """States in order: bolted up, tension rising with the rod slack, rod being set. The last is the strung
    state of the answer.
    """

    case: str
    total_tension_n: float
    steps: tuple[PitchStep, ...]


def way_to_pitch(solved: Solved) -> WayToPitch:
    """Solve a case in steps up to pitch, on the answer's shims and saddle; may raise `ConvergenceError`."""
    question, final = solved.question, solved.pair
    steps = [_step(question, final.bolted, final.angles, tension=0.0, rod=0.0)]
    found = None
    rods = [0.0] * TENSION_STEPS + [(k + 1) / ROD_STEPS for k in range(ROD_STEPS)]
    if final.strung.rod == 0.0:
        rods = rods[:TENSION_STEPS]
    for number, rod in enumerate(rods, 1):
        tension = min(number / TENSION_STEPS, 1.0)
        wanted = replace(
            question.wanted,
            relief=None,
            rod=rod * final.strung.rod,
            height=None,
            saddle_height=final.strung.saddle_height,
        )
        strings = replace(question.strings, tension=tension * question.strings.tension)
        asked = replace(question, strings=strings, wanted=wanted)
        found = pair(asked, final.angles, start=found or final)
        steps.append(_step(question, found.strung, final.angles, tension=tension, rod=rod))
    return WayToPitch(solved.case.name, question.strings.tension, tuple(steps))


def _step(
    question: Question, state: State, angles: tuple[float, ...], *, tension: float, rod: float
) -> PitchStep:
    heights = question.heights(state)
    return PitchStep(
        tension_share=tension,
        rod_share=rod,
        heights_mm=heights / MM,
        gaps_mm=tuple(gap / MM for gap in pad_gaps(question, state, angles)),
        kink_deg=degrees(question.line.kink(heights)),
        relief_mm=float(question.line.relief(heights)[0]) / MM,
    )
