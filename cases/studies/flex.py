"""Where a neck gives way: everything that the pictures of `neckpreload flex` are drawn from."""

from dataclasses import asdict, dataclass
from typing import Any

from cases.casefile.case import Case
from cases.casefile.files import load
from cases.offset.answer import Answer
from cases.offset.preload import preload
from cases.offset.solve import solve
from cases.result import Result
from cases.studies.curvature import FlexLine, flex_line
from cases.studies.stress import StressMap, stress_map
from cases.studies.up_to_pitch import WayToPitch, way_to_pitch


@dataclass(frozen=True)
class Flex(Result):
    """A case's answer, its bending along the neck, its stress and its way up to pitch, all of one model."""

    answer: Answer
    line: FlexLine
    stress: StressMap
    way: WayToPitch

    def to_dict(self) -> dict[str, Any]:
        """The JSON object: the flex budget, and the bending along the neck."""
        return {
            "schema": 1,
            "case": self.answer.case,
            "budget": asdict(self.answer.budget),
            "line": self.to_rows(),
        }

    def to_rows(self) -> list[dict[str, Any]]:
        """Moments and curvature along the shaft, one flat dictionary a station."""
        names = ("x_mm", "string_moment_n_m", "rod_moment_n_m", "beam_moment_n_m", "curvature_per_m")
        return [
            dict(zip(names, map(float, row), strict=True))
            for row in zip(*(getattr(self.line, name) for name in names), strict=True)
        ]


def flex(case: Case | str) -> Flex:
    """Compute where a case deforms.

    Raises
    ------
    ModelError, ConvergenceError
        If the case cannot be solved.
    """
    case = load(case) if isinstance(case, str) else case
    answer = preload(case, effects=False)
    solved = solve(case)
    return Flex(answer, flex_line(solved), stress_map(solved), way_to_pitch(solved))
