"""Where a neck gives way: everything that the pictures of `neckpreload flex` are drawn from."""

from dataclasses import dataclass

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.offset.preload import preload
from cases.offset.solve import solve
from cases.studies.curvature import FlexLine, flex_line
from cases.studies.stress import StressMap, stress_map
from cases.studies.up_to_pitch import WayToPitch, way_to_pitch


@dataclass(frozen=True)
class Flex:
    """A case's answer, its bending along the neck, its stress and its way up to pitch, all of one model."""

    answer: Answer
    line: FlexLine
    stress: StressMap
    way: WayToPitch


def flex_of(case: Case) -> Flex:
    """Work out where a case gives way.

    Raises
    ------
    ModelError, ConvergenceError
        With what to change.
    """
    answer = preload(case, effects=False)
    solved = solve(case)
    return Flex(answer, flex_line(solved), stress_map(solved), way_to_pitch(solved))
