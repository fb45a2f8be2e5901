"""The class sheet: two sides, no answer in front, the computed values overleaf, nothing overlaps."""

from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from cases.show.pictures.side_shape import side_view
from cases.show.sheet.class_content import ClassSheet, class_sheet_of
from cases.show.sheet.class_pdf import class_pages, save_class_pdf
from cases.show.sheet.pdf_page import MARGIN, PAPERS, Page
from cases.studies.flex import Flex, flex
from tests.command import Command
from tests.pictures import case_of, misplaced_texts

NAMES = ["fourteen-mahogany", "solid-25", pytest.param("nylon-twelve", marks=pytest.mark.full)]


@cache
def flex_of(name: str) -> Flex:
    return flex(case_of(name))


@cache
def sheet_for(name: str) -> ClassSheet:
    found = flex_of(name)
    return class_sheet_of(case_of(name), found.answer, found.line, on=date(2026, 3, 31))


@cache
def sides(name: str, paper: str = "a4") -> tuple[Page, Page]:
    answer = flex_of(name).answer
    return class_pages(sheet_for(name), side_view(case_of(name), answer), answer, paper=paper)


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_is_overleaf_and_only_there(name: str, tmp_path: Path):
    sheet, answer = sheet_for(name), flex_of(name).answer
    path = tmp_path / "class.pdf"
    save_class_pdf(sheet, side_view(case_of(name), answer), answer, path)
    front, back = (" ".join(page.extract_text().split()) for page in PdfReader(path).pages)
    wanted = [
        f"{answer.relief.rod_slack_mm:.2f} mm",
        f"{answer.budget.nut_rise_mm:.1f} mm",
        f"{answer.heel_stretch_deg:.2f} degrees",
    ]
    assert [f"{one.value} {one.unit}" for one in sheet.predictions] == wanted
    for text in (*wanted, f"{answer.upper_deg if answer.pocket else answer.offset_deg:+.2f}°"):
        assert text in back
        assert text not in front
    assert front.count("I predict") == 3
    assert "Wear eye protection" in back


def test_the_help_of_the_first_side_leads_to_about_the_relief():
    """The moment half way stands for the whole shaft, so a tenth is as near as the formula can come."""
    facts = {row[0]: float(row[1].split()[0]) for row in sheet_for("fourteen-mahogany").facts.rows[4:]}
    length, moment, stiffness = facts.values()
    bow_mm = 1e3 * moment * (1e-3 * length) ** 2 / (8.0 * stiffness)
    assert bow_mm == pytest.approx(flex_of("fourteen-mahogany").answer.relief.rod_slack_mm, rel=0.1)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", PAPERS)
def test_both_sides_fit_and_nothing_overlaps(name: str, paper: str):
    width, height = PAPERS[paper]
    for page in sides(name, paper):
        # fine enough that the fitting of letters to dots, which a PDF does not know, moves no edge
        page.figure.set_dpi(600)
        assert misplaced_texts(page.figure, spare=8.0) == ([], [])
        renderer = page.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        for text in page.texts:
            left, bottom, right, top = np.array(text.get_window_extent(renderer).extents)
            per_dot = 25.4 / page.figure.dpi
            assert MARGIN - 0.5 < per_dot * left < per_dot * right < width - MARGIN + 0.5, text
            assert MARGIN - 1.0 < per_dot * bottom < per_dot * top < height - MARGIN + 1.0, text


def test_wrong_uses_are_refused_before_anything_is_solved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Command
):
    monkeypatch.setattr("cases.studies.flex.flex", None)
    run = command("sheet", "solid-25", "--class", "--out", "c.html")
    assert (run.code, "a class sheet is written as .pdf; give a name" in run.err) == (2, True)
    run = command("sheet", "solid-25", "--class", "--out", "c.pdf", "--calibration", "some.json")
    assert (run.code, "leave the calibration out" in run.err) == (2, True)
    assert list(tmp_path.iterdir()) == []


def test_the_command_writes_both_sides(tmp_path: Path, command: Command):
    run = command("sheet", "fourteen-mahogany", "--class", "--out", "c.pdf")
    assert (run.code, run.err) == (0, "")
    assert "question in front, answer overleaf" in run.out
    assert len(PdfReader(tmp_path / "c.pdf").pages) == 2
