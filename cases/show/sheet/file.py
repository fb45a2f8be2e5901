"""The set-up sheet as a file, PDF or HTML by the ending of the name; the class sheet as PDF."""

from datetime import date
from pathlib import Path

from cases.casefile.case import Case
from cases.offset.answer import Answer
from cases.show.saving import saving
from cases.show.sheet.class_content import class_sheet_of
from cases.show.sheet.content import Sheet
from cases.show.sheet.html_page import sheet_html
from cases.show.sheet.pdf_page import PAPERS, save_sheet_pdf
from cases.studies.curvature import FlexLine
from materials.errors import InputError

KINDS = (".pdf", ".html")


def sheet_kind(path: Path, *, for_class: bool = False) -> str:
    """The ending of a sheet's file name. Raises `InputError` if it is neither `.pdf` nor `.html`.

    A class sheet has two sides of paper and is always a `.pdf`.
    """
    kind = path.suffix.lower()
    if for_class and kind != ".pdf":
        raise InputError(f"--out {path}: a class sheet is written as .pdf; give a name that ends in .pdf")
    if kind not in KINDS:
        raise InputError(
            f"--out {path}: a sheet is written as .pdf or .html, not as {kind or 'a file without ending'}; "
            "give one of these endings"
        )
    return kind


def sheet_paper(name: str) -> str:
    """The name of a paper in lower case. Raises `InputError` if there is no such paper."""
    if name.lower() not in PAPERS:
        raise InputError(
            f"--paper {name}: there is no such paper; allowed: {', '.join(PAPERS)}; give one of these"
        )
    return name.lower()


def save_sheet(sheet: Sheet, path: Path, *, kind: str, paper: str) -> tuple[str, ...]:
    """Write the sheet; returns the characters missing in the PDF's font (in HTML the viewer chooses it).

    An existing file is replaced. Raises `InputError` if the file cannot be written.
    """
    if kind == ".pdf":
        return save_sheet_pdf(sheet, path, paper=paper)
    with saving(path):
        path.write_text(sheet_html(sheet), encoding="utf-8")
    return ()


def save_class_sheet(case: Case, answer: Answer, line: FlexLine, path: Path, *, on: date, paper: str) -> None:
    """Write the class sheet; an existing file is replaced. Raises `InputError` if it cannot be written."""
    # imported here: the sheet for the bench has no pictures
    from cases.show.pictures.side_shape import side_view
    from cases.show.sheet.class_pdf import save_class_pdf

    content = class_sheet_of(case, answer, line, on=on)
    save_class_pdf(content, side_view(case, answer), answer, path, paper=paper)
