"""The class sheet as a PDF of two sides: question and answer."""

from dataclasses import replace
from pathlib import Path

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages

from cases.offset.answer import Answer
from cases.offset.build import MM
from cases.show import style
from cases.show.budget_bars import budget_bars
from cases.show.pictures.budget import draw_budget
from cases.show.pictures.side_parts import moved_parts, names_of, parts_behind, window
from cases.show.pictures.side_shape import SideView, side_state
from cases.show.pictures.side_view import ON_TOP, draw_names, draw_parts, draw_state
from cases.show.saving import saving
from cases.show.sheet.class_content import ClassSheet
from cases.show.sheet.pdf_page import BODY, HEADING, MARGIN, PAPERS, SMALL, TITLE, Page, set_block, set_text
from materials.errors import NeckpreloadError

SCALES = (1.25, 1.2, 1.15, 1.1, 1.0, 0.9)
"""Sizes of type tried over that of the sheet for the bench, largest first."""


def save_class_pdf(
    sheet: ClassSheet, view: SideView, answer: Answer, path: Path, *, paper: str = "a4"
) -> None:
    """Write both sides on a paper of `PAPERS`. Raises `InputError` if the file cannot be written."""
    pages = class_pages(sheet, view, answer, paper=paper)
    marks = {"Title": f"{sheet.title} {sheet.mark}", "CreationDate": None}
    with saving(path), rc_context({"pdf.fonttype": 42}), PdfPages(path, metadata=marks) as file:
        for page in pages:
            file.savefig(page.figure)


@style.applied()
def class_pages(sheet: ClassSheet, view: SideView, answer: Answer, *, paper: str = "a4") -> tuple[Page, Page]:
    """The two sides in the largest type that fits. Raises `NeckpreloadError` if none does."""
    width, height = PAPERS[paper]
    for scale in SCALES:
        question, overleaf = Page(width, height, scale), Page(width, height, scale)
        ends = _question_side(question, sheet, view), _answer_side(overleaf, sheet, view, answer)
        if max(ends) <= height - MARGIN:
            return question, overleaf
    raise NeckpreloadError(f"The class sheet of {view.case.name} does not fit on its paper. Give --paper a4.")


def _head(page: Page, title: str, sheet: ClassSheet) -> tuple[float, float]:
    inner = page.width - 2.0 * MARGIN
    page.write(title, MARGIN, MARGIN, TITLE, fontweight="bold")
    y = MARGIN + page.line(TITLE)
    page.write(sheet.mark, MARGIN, y, SMALL)
    y += page.line(SMALL) + 0.5
    page.rule(MARGIN, y, inner, color=style.INK, thick=1.2)
    return y + 3.0, inner


def _question_side(page: Page, sheet: ClassSheet, view: SideView) -> float:
    """Set the first side; returns where it ends [mm], as does `_answer_side`."""
    y, inner = _head(page, sheet.title, sheet)
    y = set_text(page, sheet.question, MARGIN, y, inner) + 2.0
    y = _rest(page, view, y) + 3.0
    y = set_block(page, sheet.facts, MARGIN, y, 0.7 * inner) + 2.0
    y = set_text(page, sheet.hint, MARGIN, y, inner, size=SMALL) + 5.0
    for number, one in enumerate(sheet.predictions, 1):
        y = set_text(page, f"{number}.  {one.question}", MARGIN, y, inner) + 5.0
        answer_line = f"I predict  ______________  {one.unit},   because"
        page.write(answer_line, MARGIN + 6.0, y, BODY)
        y += page.line(BODY) + 9.0
        page.rule(MARGIN + 6.0, y, inner - 6.0, color=style.QUIET, thick=0.6)
        y += 6.0
    return y


def _rest(page: Page, view: SideView, y: float) -> float:
    """The neck at rest with the names of its parts; returns where it ends [mm]."""
    zero = [np.zeros_like(s) for s in view.seat_mm]
    flat = side_state(
        view, "strung", np.zeros(len(view.frets)), gaps_mm=zero, angles_deg=(0.0,) * len(view.shim_deg),
        kink_deg=0.0, relief_mm=0.0,
    )  # fmt: skip
    still = replace(view, off=flat, on=flat)
    axes, y = _neck_axes(page, still, y)
    parts = [part for part in (*parts_behind(still), *moved_parts(flat)) if part.kind != "seam"]
    draw_parts(parts, axes)
    assert flat.strings is not None
    axes.plot(*flat.strings.T, color=style.INK, lw=0.8)
    draw_names(names_of(still, angles=False), axes)
    deep, joint = view.structure.outline.heel_height / MM, float(view.fret_x_mm[view.joint - 1])
    beyond = 0.5 * float(view.fret_x_mm[-1] + flat.strings[1, 0])
    over = float(np.interp(beyond, *flat.strings.T)) + 7.0
    for word, x, z in (
        ("shaft", 235.0, -27.0), ("heel", joint - 18.0, -0.6 * deep), ("strings", beyond, over)
    ):  # fmt: skip
        axes.text(x, z, word, fontsize=8, ha="center", va="center", zorder=ON_TOP)
    _frame(axes, still)
    return y


def _neck_axes(page: Page, view: SideView, y: float) -> tuple[Axes, float]:
    """Axes as wide as the page, as high as the view is at one scale, and where they end [mm]."""
    (left, right), (low, high) = window(view)
    inner = page.width - 2.0 * MARGIN
    tall = inner * (high - low) / (right - left)
    place = (MARGIN / page.width, 1.0 - (y + tall) / page.height, inner / page.width, tall / page.height)
    return page.figure.add_axes(place), y + tall


def _frame(axes: Axes, view: SideView) -> None:
    across, up = window(view)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set(xlabel="", ylabel="")
    axes.set_axis_off()


def _answer_side(page: Page, sheet: ClassSheet, view: SideView, answer: Answer) -> float:
    y, inner = _head(page, "What the calculation says", sheet)
    for number, one in enumerate(sheet.predictions, 1):
        page.write(f"{number}.", MARGIN, y + 0.6, BODY)
        page.write(f"{one.value} {one.unit}", MARGIN + 6.0, y, HEADING, fontweight="bold", color=style.BLUE)
        y = set_text(page, one.meaning, MARGIN + 44.0, y + 0.6, inner - 44.0) + 1.5
    at_pitch = "Strings at pitch" + ("" if answer.rod.kind == "none" else ", rod set")
    for title, state in (("Strings off, bolted up", view.off), (at_pitch, view.on)):
        y += 1.5
        words = f"{title}: kink {state.kink_deg:+z.2f}°, relief {state.relief_mm:+z.2f} mm"
        page.write(words, MARGIN, y, BODY, fontweight="bold")
        axes, y = _neck_axes(page, view, y + page.line(BODY) + 1.5)
        draw_state(view, state, axes)
        _frame(axes, view)
    drawn = (
        f"Movements, gaps and the taper of the shims are drawn {view.exaggeration:g} times their size."
        " Blue: line of the shaft; orange: line of the tongue. Dotted: before anything moved."
        " White seam between shim and neck: open there, however little."
    )
    y = set_text(page, drawn, MARGIN, y + 1.0, inner, size=SMALL) + 3.0
    y = set_text(page, sheet.answer, MARGIN, y, inner) + 2.0
    y = _bars(page, answer, y) + 3.0
    y = set_text(page, sheet.correction, MARGIN, y, inner) + 3.0
    return set_block(page, sheet.cautions, MARGIN, y, inner)


def _bars(page: Page, answer: Answer, y: float) -> float:
    """Both bars of the flex budget with the colours of their parts; returns where they end [mm]."""
    tall, left = 26.0, MARGIN + 25.0
    place = (
        left / page.width,
        1.0 - (y + tall) / page.height,
        1.0 - (left + MARGIN) / page.width,
        tall / page.height,
    )
    axes = page.figure.add_axes(place)
    bars = budget_bars(answer)
    draw_budget(bars, axes, key=True)
    return y + tall + 25.0
