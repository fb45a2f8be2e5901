"""Where a neck deforms: the data of `neckpreload flex`."""

from dataclasses import asdict, dataclass
from typing import Any

from threadpoolctl import threadpool_limits

from cases.casefile.case import Case
from cases.casefile.files import load
from cases.offset.answer import Answer
from cases.offset.preload import answer_of
from cases.offset.solve import solve
from cases.result import Result
from cases.studies.curvature import FlexLine, flex_line
from cases.studies.stress import StressMap, stress_map
from cases.studies.up_to_pitch import WayToPitch, way_to_pitch


@dataclass(frozen=True)
class Flex(Result):
    """Answer of a case, bending along its neck, stress, and steps up to pitch, all from one model."""

    answer: Answer
    line: FlexLine
    stress: StressMap
    way: WayToPitch

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON object: flex budget, and bending along the neck."""
        return {
            "schema": 1,
            "case": self.answer.case,
            "budget": asdict(self.answer.budget),
            "line": self.to_rows(),
        }

    def to_rows(self) -> list[dict[str, Any]]:
        """Return moments and curvature along the shaft, one flat dictionary per station."""
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
    with threadpool_limits(limits=1):
        solved = solve(case)
        answer = answer_of(solved, effects=False)
        return Flex(answer, flex_line(solved), stress_map(solved), way_to_pitch(solved))
