"""The set-up sheet: it says what the answer says, fits each paper, overlaps nothing, fetches nothing."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import cache
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.backends.backend_agg import RendererAgg
from pypdf import PdfReader

from cases import load, preload
from cases.bench.shims.choose_pair import ReadingRow, reading_table
from cases.casefile.case import Case
from cases.casefile.files import library_names
from cases.offset.answer import Answer, PairAnswer, ShimAnswer
from cases.offset.build import structure_of
from cases.offset.stock_pairs import shim_answer
from cases.offset.warnings import CAUTIONS
from cases.show.sheet.content import Sheet, Wedge, sheet_of
from cases.show.sheet.file import sheet_paper
from cases.show.sheet.html_page import sheet_html
from cases.show.sheet.pdf_page import MARGIN, PAPERS, Page, save_sheet_pdf, set_sheet
from fem.joint.shim_layer import taper
from materials.errors import NeckpreloadError
from tests.command import Command

ON = date(2026, 3, 31)
NAME = "fourteen-mahogany"


@cache
def solved(name: str) -> tuple[Case, Answer, tuple[ReadingRow, ...]]:
    case = load(name)
    answer = preload(case, effects=False)
    return case, answer, reading_table(case, answer) if answer.pocket is None else ()


@cache
def made(name: str) -> Sheet:
    case, answer, readings = solved(name)
    return sheet_of(case, answer, on=ON, readings=readings)


@cache
def crowded() -> Sheet:
    """As full as a sheet gets: long names, a fine stock, many readings, a two-line note."""
    case, answer, readings = solved("twelve-string")
    pairs = tuple(PairAnswer(0.01 * k, 0.01 * k - 0.2, 0.0, 0.0) for k in range(60))
    rows = tuple(replace(readings[0], reading_mm=0.1 * k) for k in range(60))
    named = case.with_values({"name": "W" * 80, "note": "a note that goes on and on " * 12})
    return sheet_of(named, replace(answer, pairs=pairs, warnings=answer.warnings * 2), on=ON, readings=rows)


@cache
def page_of(name: str, paper: str) -> Page:
    return set_sheet(crowded() if name == "crowded" else made(name), paper=paper)


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], Path]:
    """The PDF of an instrument on a paper, written once."""
    folder = tmp_path_factory.mktemp("sheets")

    @cache
    def save(name: str, paper: str) -> Path:
        path = folder / f"{name}-{paper}.pdf"
        assert save_sheet_pdf(made(name), path, paper=paper) == ()
        return path

    return save


def words(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def pdf_text(path: Path) -> str:
    return words(" ".join(page.extract_text() for page in PdfReader(path).pages))


def html_text(sheet: Sheet) -> str:
    body = re.sub(r"<style>.*?</style>", "", sheet_html(sheet), flags=re.DOTALL)
    return words(re.sub(r"<[^>]+>", " ", body).replace("&#x27;", "'").replace("&quot;", '"'))


@pytest.mark.parametrize(("name", "paper"), [(NAME, "a4"), ("solid-25", "letter")])
def test_one_page_of_the_papers_size_with_text_as_text_and_no_picture(name: str, paper: str, saved):
    path = saved(name, paper)
    pages = PdfReader(path).pages
    assert len(pages) == 1
    size = [float(side) * 25.4 / 72.0 for side in pages[0].mediabox[2:]]
    assert size == pytest.approx(PAPERS[paper], abs=0.1)
    assert len(pages[0].images) == 0
    assert name in pdf_text(path)


def test_the_sheet_says_what_the_answer_says(saved):
    case, answer, readings = solved(NAME)
    sheet = made(NAME)
    said = pdf_text(saved(NAME, "a4"))
    wanted = [
        f"{answer.offset_deg:+.2f}°",
        "2026-03-31",
        f"model {answer.version}",
        answer.case_sha256[:12],
        case.neck.wood,
        case.fretboard.wood,
        case.block.wood,
        f"{answer.relief.set_mm:.2f} mm once it is set",
        f"never above {answer.rod.limit_torque_n_m:.1f} N·m",
        "heel-top, then heel-low, then tongue",
        "strings slack before a bolt is turned",
    ]
    wanted += [f"{tension:.0f}" for tension in answer.strings.tension_n]
    wanted += [f"{bolt.name} {bolt.torque_n_m:.2f}" for bolt in answer.bolts]
    wanted += [f"{pair.upper_deg:.2f} {pair.lower_deg:.2f}" for pair in answer.pairs]
    wanted += [
        f"{row.reading_mm + 0.0:.2f} {row.upper_deg:.2f} {row.lower_deg:.2f} {row.action_bass_mm:.2f}"
        for row in readings
    ]
    wanted += [words(text) for text in (*CAUTIONS, *answer.warnings)]
    wanted += [f"{edge:.2f} mm" for shim in answer.shims for edge in (shim.thin_edge_mm, shim.thick_edge_mm)]
    assert len(wanted) > 60
    assert [text for text in wanted if text not in said] == []
    assert [text for text in wanted if text not in html_text(sheet)] == []


@pytest.mark.parametrize(
    ("name", "degrees", "thick"),
    [("upper", 0.2, "nut"), ("upper", -0.2, "sound hole"),
     ("lower", 0.2, "heel cap"), ("lower", -0.2, "fretboard")],
)  # fmt: skip
def test_the_thick_end_is_drawn_where_the_mechanics_have_it(name: str, degrees: float, thick: str):
    """Positive upper = thick towards the nut, positive lower = thick towards the cap (each lifts the nut)."""
    case, answer, _ = solved(NAME)
    pad = next(pad for pad in structure_of(case).pads if pad.name == name)
    _, ends = taper(pad, np.array([pad.start, pad.end]), float(np.radians(degrees)))
    at_corner, away = (1e3 * float(end) for end in ends)
    wedge = sheet_of(case, replace(answer, shims=(shim_answer(pad, degrees),)), on=ON).wedges[0]
    by_end = {wedge.left: wedge.left_mm, wedge.right: wedge.right_mm}
    # the corner is the upper shim's end towards the nut, and the lower shim's towards the fretboard
    corner, other = ("nut", "sound hole") if name == "upper" else ("fretboard", "heel cap")
    assert by_end == pytest.approx({corner: at_corner, other: away})
    assert max(by_end, key=lambda end: by_end[end]) == thick
    assert thick in wedge.title


def test_a_shim_without_taper_and_the_rule_for_other_angles():
    case, answer, _ = solved(NAME)
    flat = ShimAnswer("upper", 0.0, 0.9, 0.9, "parallel")
    assert sheet_of(case, replace(answer, shims=(flat,)), on=ON).wedges[0] == Wedge(
        "upper shim 0.00°, not tapered", 0.9, 0.9, "nut", "sound hole"
    )
    pad = structure_of(case).pads[1]
    ends = np.array([pad.start, pad.end])
    rise = abs(float(np.diff(taper(pad, ends, np.radians(0.1))[1])[0])) * 1e3
    assert f"lower 0.90 mm in the middle, {rise:.2f} mm between its ends for each 0.10°" in made(NAME).edges
    assert made(NAME).edges.endswith(
        "Thick end of + angles: upper nut, lower heel cap; of - angles: the other end."
    )


def boxes(page: Page) -> list[tuple[str, np.ndarray]]:
    """Text and box (left, bottom, right, top) of everything written [mm]."""
    # fine enough that the fitting of letters to dots, which a PDF does not know, moves no edge
    page.figure.set_dpi(2400)
    renderer = RendererAgg(8, 8, page.figure.dpi)
    per_dot = 25.4 / page.figure.dpi
    return [(text.get_text(), text.get_window_extent(renderer).extents * per_dot) for text in page.texts]


@pytest.mark.parametrize(
    ("name", "paper"),
    [
        (NAME, "a4"),
        ("solid-25", "a4"),
        ("crowded", "a4"),
        ("crowded", "letter"),
        *(pytest.param(name, paper, marks=pytest.mark.full) for name in library_names() for paper in PAPERS),
    ],
)
def test_no_text_leaves_the_margins_or_overlaps_another(name: str, paper: str):
    placed = boxes(page_of(name, paper))
    assert len(placed) > 50
    width, height = PAPERS[paper]
    for text, (left, bottom, right, top) in placed:
        assert MARGIN - 0.5 < left < right < width - MARGIN + 0.5, text
        assert MARGIN - 1.0 < bottom < top < height - MARGIN + 1.0, text
    for (one, a), (other, b) in combinations(placed, 2):
        # boxes hold ascenders and descenders that a given text may not have: a third of a millimetre is none
        apart = np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])
        assert apart.min() < 0.35, f"{one!r} overlaps {other!r}"


def test_the_check_for_overlap_sees_one():
    page = set_sheet(made(NAME))
    page.write("over another", MARGIN + 1.0, MARGIN + 1.0, 12.0)
    (_, a), (_, b) = boxes(page)[0], boxes(page)[-1]
    assert (np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])).min() > 0.35


def test_what_is_too_much_for_a_page_is_left_out_and_said():
    sheet = crowded()
    assert sheet.pairs is not None
    assert sheet.readings is not None
    assert (len(sheet.pairs.rows), len(sheet.readings.rows)) == (20, 20)
    assert "40 more in `neckpreload offset --json`" in sheet.pairs.note
    assert "40 readings further out" in sheet.readings.note
    # of the pairs those round the angle aimed at stay
    assert ("0.00", "-0.20") in sheet.pairs.rows
    endless = replace(sheet, note="word " * 1600)
    with pytest.raises(NeckpreloadError, match=r"does not fit on one page\. Shorten"):
        set_sheet(endless)


def test_without_a_pair_in_stock_the_sheet_says_so_and_shows_the_exact_angles():
    case, answer, _ = solved(NAME)
    coarse = case.with_values({"stock.list_deg": [-0.02, 0.0, 0.02]})
    sheet = sheet_of(coarse, preload(coarse, effects=False), on=ON)
    assert sheet.pairs is not None
    assert (sheet.pairs.rows, sheet.readings) == ((), None)
    assert "No pair in stock" in sheet.pairs.note
    assert any("No pair in stock" in line for line in sheet.cautions.lines)
    assert f"{answer.offset_deg:+.2f}°" == sheet.offset.figure


def test_a_flat_pocket_has_one_taper_and_no_pairs():
    case, answer, _ = solved("solid-25")
    sheet = made("solid-25")
    assert answer.pocket is not None
    assert (sheet.pairs, sheet.readings) == (None, None)
    assert sheet.offset.figure == f"{answer.pocket.taper_deg:+.2f}°"
    assert sheet.offset.title == "Taper of the shim"
    assert len(sheet.wedges) == 1
    assert "heel-top" not in html_text(sheet)
    assert case.joint.kind in dict(sheet.facts)["Instrument"]


def test_the_html_needs_nothing_from_outside_and_escapes_what_it_shows():
    case, answer, readings = solved(NAME)
    sly = case.with_values({"note": "<script>alert('x')</script> & <b>bold</b>"})
    page = sheet_html(sheet_of(sly, answer, on=ON, readings=readings))
    assert not re.search(r"https?:|//|\bsrc=|\bhref=|url\(|@import|<script|<link|<b>", page)
    assert "&lt;script&gt;" in page
    assert page.startswith("<!doctype html>")
    assert page.count("<svg") == len(answer.shims)


def test_html_tags_are_closed():
    text = re.sub(r"<style>.*?</style>", "", sheet_html(made(NAME)), flags=re.DOTALL)
    page = ElementTree.fromstring(re.sub(r"(<meta [^>]*)>", r"\1/>", text.replace("<!doctype html>", "")))
    assert len(page.findall(".//section")) > 5


@pytest.mark.full
def test_the_command_writes_both_kinds(tmp_path: Path, command: Command):
    for name in ("s.pdf", "s.html"):
        run = command("sheet", NAME, "--out", name, "--date", "2026-03-31", "--paper", "letter")
        assert (run.code, run.err) == (0, "")
        assert (tmp_path / name).stat().st_size > 4000
    assert "2026-03-31" in pdf_text(tmp_path / "s.pdf")


def test_places_and_papers_are_refused_before_anything_is_solved(
    monkeypatch: pytest.MonkeyPatch, command: Command
):
    monkeypatch.setattr("cases.offset.solve.solve", None)
    assert [sheet_paper(name) for name in ("A4", "a4", "Letter")] == ["a4", "a4", "letter"]
    for arguments, sentence in (
        (("s.docx",), "written as .pdf or .html"),
        (("s.html", "--paper", "A3"), "there is no such paper; allowed: a4, letter; give"),
        (("none/s.pdf",), "; give"),
    ):
        run = command("sheet", NAME, "--out", *arguments)
        assert (run.code, sentence in run.err, "Traceback" in run.err) == (2, True, False)


def test_a_letter_that_the_font_lacks_is_named(tmp_path: Path):
    strange = replace(made(NAME), note="木 neck")
    assert save_sheet_pdf(strange, tmp_path / "s.pdf") == ("木",)
    assert "木" in sheet_html(strange)


def test_equal_sheets_are_equal_files(saved, tmp_path: Path):
    save_sheet_pdf(made(NAME), tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == saved(NAME, "a4").read_bytes()
