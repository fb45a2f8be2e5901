"""The set-up sheet as a file, PDF or HTML by the ending of its name."""

from pathlib import Path

from cases.show.sheet.content import Sheet
from cases.show.sheet.html_page import sheet_html
from cases.show.sheet.pdf_page import PAPERS, save_sheet_pdf
from materials.errors import InputError

KINDS = (".pdf", ".html")


def sheet_kind(path: Path) -> str:
    """The ending that says what kind of sheet a file is.

    Raises
    ------
    InputError
        If it is neither `.pdf` nor `.html`.
    """
    kind = path.suffix.lower()
    if kind not in KINDS:
        raise InputError(
            f"--out {path}: a sheet is written as .pdf or .html, not as {kind or 'a file without ending'}; "
            "give one of these endings"
        )
    return kind


def sheet_paper(name: str) -> str:
    """The paper of a name, capitals or not.

    Raises
    ------
    InputError
        If there is no such paper.
    """
    if name.lower() not in PAPERS:
        raise InputError(
            f"--paper {name}: there is no such paper; allowed: {', '.join(PAPERS)}; give one of these"
        )
    return name.lower()


def save_sheet(sheet: Sheet, path: Path, *, kind: str, paper: str) -> tuple[str, ...]:
    """Write the sheet; a file that is there is replaced.

    Returns
    -------
    tuple of str
        Characters that the font of the PDF cannot draw; an HTML file leaves them to the viewer.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    if kind == ".pdf":
        return save_sheet_pdf(sheet, path, paper=paper)
    try:
        path.write_text(sheet_html(sheet), encoding="utf-8")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(
            f"--out {path}: it cannot be written: {reason}; give a place that you may write to"
        ) from None
    return ()
