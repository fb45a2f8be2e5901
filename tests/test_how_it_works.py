"""docs/how-it-works.md: the example by hand is near the program, and the page shows both."""

import re
from math import degrees, pi, radians

import numpy as np
import pytest

from cases import load
from cases.offset.build import resultant, string_lines
from cases.offset.preload import answer_of
from cases.offset.solve import Solved, solve
from cases.studies.curvature import FlexLine, flex_line
from fem.results.reading import read
from fem.solve.offset import pair
from tests.pages import PAGES

PAGE = PAGES / "how-it-works.md"
ROW = re.compile(r"^\| (\d) [^|]*\| (-?[\d.]+) \| (-?[\d.]+) \|", re.MULTILINE)
SHOWN = {int(step): (float(hand), float(program)) for step, hand, program in ROW.findall(PAGE.read_text())}
STEP_DEG = -0.12
MM = 1e-3


@pytest.fixture(scope="module")
def solved() -> Solved:
    return solve(load("fourteen-mahogany"))


@pytest.fixture(scope="module")
def flexed(solved: Solved) -> FlexLine:
    return flex_line(solved)


@pytest.fixture(scope="module")
def hand(solved: Solved, flexed: FlexLine) -> dict[int, float]:
    """The page's seven steps as it does them, from dimensions, moduli and three readings of the gap."""
    structure, outline = solved.structure, solved.structure.outline
    frets, joint = flexed.fret_x_mm * MM, flexed.joint - 1
    x, span = frets[5], frets[joint] - frets[0]
    width, depth = float(outline.width(x)), float(outline.shaft_depth(x))
    board = outline.board_thickness - 0.5 * outline.slot_depth
    wood, top = structure.neck.section.young, structure.board.section.young
    stretch = (wood * pi * width * depth / 4, top * width * board)
    middle = (-4 * depth / (3 * pi), board / 2)
    about_glue = wood * pi * width * depth**3 / 16 + top * width * board**3 / 3
    neutral = sum(s * z for s, z in zip(stretch, middle, strict=True)) / sum(stretch)
    stiffness = about_glue - sum(stretch) * neutral**2

    strings, action = resultant(string_lines(solved.case), solved.case)
    height = float(np.interp(x, (0.0, frets[11]), (strings.nut_height, action)))
    moment = strings.tension * (height - neutral)

    even = pair(solved.question, (0.0, 0.0))
    other = pair(solved.question, (0.0, radians(STEP_DEG)))
    bolted, strung, swapped = (
        read(solved.question, state).tongue_gap for state in (even.bolted, even.strung, other.strung)
    )
    reach = frets[-1] - frets[joint]
    transfer = degrees((swapped - strung) / reach) / STEP_DEG
    return {
        1: stiffness,
        2: moment,
        3: moment * span**2 / (8 * stiffness) / MM,
        4: degrees(4 * solved.case.targets.relief_mm * MM / span),
        5: degrees((strung - bolted) / reach),
        6: transfer,
        7: -degrees(strung / reach) / transfer,
    }


@pytest.fixture(scope="module")
def program(solved: Solved, flexed: FlexLine) -> dict[int, float]:
    answer = answer_of(solved, effects=False)
    even = pair(solved.question, (0.0, 0.0))
    at = flexed.fret_x_mm[5]
    stiffness = np.interp(at, flexed.x_mm, flexed.beam_moment_n_m / flexed.curvature_per_m)
    return {
        1: float(stiffness),
        2: float(np.interp(at, flexed.x_mm, flexed.string_moment_n_m)),
        3: answer.relief.rod_slack_mm,
        4: -answer.states["strung"].kink_relief_part_deg,
        5: degrees(solved.question.kink(even.strung) - solved.question.kink(even.bolted)),
        6: answer.shim_transfer,
        7: answer.preload_offset_deg,
    }


@pytest.mark.parametrize("step", range(1, 8))
def test_hand_and_program_agree_within_a_fifth(step: int, hand: dict[int, float], program: dict[int, float]):
    assert hand[step] == pytest.approx(program[step], rel=0.2)


@pytest.mark.parametrize("step", range(1, 8))
def test_the_page_shows_both(step: int, hand: dict[int, float], program: dict[int, float]):
    shown_hand, shown_program = SHOWN[step]
    assert shown_hand == pytest.approx(hand[step], rel=0.06)
    assert shown_program == pytest.approx(program[step], rel=0.06)


def test_each_step_s_result_in_the_text_is_that_of_the_table():
    text = [float(result) for result in re.findall(r"\*\*(-?[\d.]+) ?\S*\*\*", PAGE.read_text())]
    assert text == pytest.approx([SHOWN[step][0] for step in range(1, 8)], rel=0.02)
