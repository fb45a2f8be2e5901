"""Where a neck deforms: the data of `neckpreload flex`."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from cases.casefile.case import Case
from cases.casefile.files import opened
from cases.offset.answer import Answer
from cases.offset.preload import answer_of
from cases.offset.solve import one_thread, solve
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
        names = ("x_mm", "string_moment_n_m", "rod_moment_n_m", "beam_moment_n_m", "curvature_per_m")
        stations = zip(*(getattr(self.line, name).tolist() for name in names), strict=True)
        return {
            "schema": 1,
            "case": self.answer.case,
            "budget": asdict(self.answer.budget),
            "line": [dict(zip(names, station, strict=True)) for station in stations],
        }

    def to_rows(self) -> list[dict[str, Any]]:
        """Return the flex budget, one flat dictionary per part, largest nut rise first."""
        rise, stretch = self.answer.budget.nut_rise_shares_mm, self.answer.budget.heel_stretch_shares_deg
        parts = sorted(rise, key=lambda part: -abs(rise[part]))
        return [{"part": p, "nut_rise_mm": rise[p], "heel_stretch_deg": stretch[p]} for p in parts]


@one_thread
def flex(case: Case | str | Path) -> Flex:
    """Compute where a case deforms.

    Raises
    ------
    ModelError, ConvergenceError
        If the case cannot be solved.
    """
    solved = solve(opened(case))
    answer = answer_of(solved, effects=False)
    return Flex(answer, flex_line(solved), stress_map(solved), way_to_pitch(solved))
