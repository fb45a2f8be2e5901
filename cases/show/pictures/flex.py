"""The six pictures of flexing, written into one folder."""

from pathlib import Path

from matplotlib.figure import Figure

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show import style
from cases.show.pictures.budget import budget_figure
from cases.show.pictures.curvature import curvature_figure
from cases.show.pictures.side_view import save_side_view
from cases.show.pictures.stress import stress_figure
from cases.show.pictures.string_up_animation import film, save_film, strip_figure
from cases.studies.curvature import FlexLine
from cases.studies.flex import Flex
from cases.studies.stress import StressMap
from cases.studies.up_to_pitch import WayToPitch


def draw_flex(found: Flex) -> Figure:
    """The flex budget."""
    return budget_figure(found.answer)


def save_flex_pictures(
    case: Case, answer: Answer, folder: Path, *, line: FlexLine, stress: StressMap, way: WayToPitch
) -> tuple[Path, ...]:
    """Write side view, curvature, budget, stress, string-up (PNG, GIF); their paths; or `InputError`."""
    names = ("side-view.png", "curvature.png", "budget.png", "stress.png", "string-up.png", "string-up.gif")
    paths = tuple(folder / f"{answer.case}-{name}" for name in names)
    save_side_view(case, answer, paths[0])
    style.save(curvature_figure(line, case=answer.case), paths[1])
    style.save(budget_figure(answer), paths[2])
    style.save(stress_figure(stress), paths[3])
    made = film(case, answer, way)
    style.save(strip_figure(made), paths[4])
    save_film(made, paths[5])
    return paths
