"""The set-up sheet as one PDF page: text stays text, lines stay lines; set as large as the paper allows."""

import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cases.show import style
from cases.show.sheet.content import Listing, Sheet, Table, Wedge
from materials.errors import InputError, NeckpreloadError

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.text import Text

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of each paper [mm]: ISO 216, and 8.5 by 11 in."""
MARGIN = 11.0
GUTTER = 8.0
SCALES = (1.2, 1.15, 1.1, 1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7)
"""Sizes tried, largest first; the smallest body text is 5.6 points."""
BODY, SMALL, HEADING, TITLE, OFFSET, PAIR = 8.0, 7.0, 9.0, 17.0, 30.0, 12.0
"""Type sizes [points]."""
MM_PER_POINT = 25.4 / 72.0
LINE = 1.28
"""Distance of lines over the size of their type."""


@dataclass
class Page:
    """A page that is being set; ``texts`` holds every text drawn, ``y`` runs down from the top [mm]."""

    width: float
    height: float
    scale: float
    texts: list["Text"] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.figure: Figure = style.figure(width=self.width / 25.4, height=self.height / 25.4)

    def measure(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width of a text [mm]."""
        return self.scale * _width(text, size, "bold" if bold else "normal")

    def line(self, size: float) -> float:
        """Height of a line of type [mm]."""
        return LINE * size * self.scale * MM_PER_POINT

    def write(self, text: str, x: float, y: float, size: float, **how: Any) -> None:
        """Put one line of text with the top of its line at y."""
        place = {"ha": how.pop("ha", "left"), "va": "baseline", "parse_math": False}
        base = y + 0.95 * size * self.scale * MM_PER_POINT
        self.texts.append(
            self.figure.text(
                x / self.width, 1.0 - base / self.height, text, fontsize=size * self.scale, **place, **how
            )
        )

    def rule(self, x: float, y: float, width: float, *, color: str, thick: float) -> None:
        """Draw a horizontal line."""
        from matplotlib.lines import Line2D

        ends = [x / self.width, (x + width) / self.width], [1.0 - y / self.height] * 2
        self.figure.add_artist(Line2D(*ends, color=color, lw=thick, transform=self.figure.transFigure))

    def wrapped(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Lines of a text that are no wider than a width; a word that is too long by itself is cut."""
        lines, line = [], ""
        for word in self._pieces(text.split(), width, size, bold=bold):
            longer = f"{line} {word}".strip()
            if line and self.measure(longer, size, bold=bold) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        return [*lines, line]

    def _pieces(self, words: Sequence[str], width: float, size: float, *, bold: bool) -> Iterator[str]:
        for word in words:
            rest = word
            while len(rest) > 1 and self.measure(rest, size, bold=bold) > width:
                fits = (
                    n for n in range(len(rest) - 1, 1, -1) if self.measure(rest[:n], size, bold=bold) <= width
                )
                kept = next(fits, 1)
                yield rest[:kept]
                rest = rest[kept:]
            yield rest


@lru_cache(maxsize=20_000)
def _width(text: str, size: float, weight: str) -> float:
    """Width of a text before it is scaled [mm]; the same texts are measured again for every size tried."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=size, weight=weight)
    with warnings.catch_warnings():
        # what the font lacks is named once, when the page is written
        warnings.filterwarnings("ignore", message="Glyph ")
        wide, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return float(wide) * MM_PER_POINT


def save_sheet_pdf(sheet: Sheet, path: Path, *, paper: str = "a4") -> tuple[str, ...]:
    """Write the sheet as one PDF page.

    Parameters
    ----------
    sheet : what stands on it.
    path : the file; one that is there is replaced.
    paper : a name of `PAPERS`.

    Returns
    -------
    tuple of str
        Characters that the font at hand cannot draw.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    from matplotlib import rc_context

    page = set_sheet(sheet, paper=paper)
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")
        # type 42 keeps text as text, with the font inside; no date, so that equal sheets are equal files
        with rc_context({"pdf.fonttype": 42}):
            try:
                page.figure.savefig(
                    path,
                    format="pdf",
                    metadata={"Title": f"Set-up sheet: {sheet.title}", "CreationDate": None},
                )
            except OSError as error:
                reason = (error.strerror or str(error)).lower()
                raise InputError(
                    f"{path} cannot be written: {reason}; give a place that you may write to"
                ) from None
    said = [str(one.message) for one in warned]
    return tuple(chr(int(text.split()[1])) for text in said if text.startswith("Glyph "))


def set_sheet(sheet: Sheet, *, paper: str = "a4") -> Page:
    """The page, set as large as it fits.

    Raises
    ------
    NeckpreloadError
        If the sheet does not fit even in the smallest type.
    """
    width, height = PAPERS[paper]
    for scale in SCALES:
        page = Page(width, height, scale)
        if _set(page, sheet) <= height - MARGIN:
            return page
    raise NeckpreloadError(
        f"The sheet of {sheet.title} does not fit on one page. "
        "Shorten the case's note, or write .html instead."
    )


def _set(page: Page, sheet: Sheet) -> float:
    """Set everything; returns where it ends [mm]."""
    inner = page.width - 2.0 * MARGIN
    y = _header(page, sheet, inner)
    named = max(page.measure(name, BODY, bold=True) for name, _ in sheet.facts) + 3.0
    for name, text in sheet.facts:
        page.write(name, MARGIN, y, BODY, fontweight="bold")
        y = _paragraph(page, text, MARGIN + named, y, inner - named)
    y = _table(page, sheet.strings, MARGIN, y + 1.5, inner)
    half = 0.5 * (inner - GUTTER)
    columns = Columns((MARGIN, MARGIN + half + GUTTER), half, [y + 2.0, y + 2.0])
    columns.put(0, partial(_offset, page, sheet))
    if sheet.pairs is not None:
        columns.put(0, partial(_pairs, page, sheet.pairs))
    if sheet.readings is not None:
        columns.put(1, partial(_table, page, sheet.readings))
    for wedge in sheet.wedges:
        columns.put(0, partial(_wedge, page, wedge))
    columns.put(0, partial(_paragraph, page, sheet.edges, size=SMALL))
    columns.put(1, partial(_table, page, sheet.bolts))
    columns.put(1, partial(_listing, page, sheet.after))
    columns.put(0, partial(_listing, page, sheet.order))
    return _listing(page, sheet.cautions, MARGIN, max(columns.ends), inner)


@dataclass
class Columns:
    """Two columns that are being filled: where each begins, their width, and where each ends so far [mm]."""

    lefts: tuple[float, float]
    width: float
    ends: list[float]

    def put(self, column: int, block: Callable[[float, float, float], float]) -> None:
        """Set a block, a function of left edge, top and width that returns where it ends."""
        self.ends[column] = block(self.lefts[column], self.ends[column], self.width) + 1.5


def _header(page: Page, sheet: Sheet, inner: float) -> float:
    marks = max(page.measure(mark, SMALL) for mark in sheet.marks) + 4.0
    y = MARGIN
    for line in page.wrapped(sheet.title, inner - marks, TITLE, bold=True):
        page.write(line, MARGIN, y, TITLE, fontweight="bold")
        y += page.line(TITLE)
    y = _paragraph(page, sheet.note, MARGIN, y, inner - marks) if sheet.note else y
    beside = MARGIN
    for mark in sheet.marks:
        page.write(mark, MARGIN + inner, beside, SMALL, ha="right", color=style.INK)
        beside += page.line(SMALL)
    y = max(y, beside) + 0.5
    page.rule(MARGIN, y, inner, color=style.INK, thick=1.2)
    return y + 1.5


def _paragraph(page: Page, text: str, x: float, y: float, width: float, *, size: float = BODY) -> float:
    for line in page.wrapped(text, width, size):
        page.write(line, x, y, size)
        y += page.line(size)
    return y


def _heading(page: Page, text: str, x: float, y: float, width: float) -> float:
    for line in page.wrapped(text, width, HEADING, bold=True):
        page.write(line, x, y, HEADING, fontweight="bold")
        y += page.line(HEADING)
    return y


def _table(page: Page, table: Table, x: float, y: float, width: float) -> float:
    y = _heading(page, table.title, x, y, width) if table.title else y
    y = _rows(page, table.head, table.rows, x, y, width, size=BODY)
    return _paragraph(page, table.note, x, y + 0.3, width, size=SMALL) if table.note else y


def _rows(
    page: Page,
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    x: float,
    y: float,
    width: float,
    *,
    size: float,
) -> float:
    """Columns as wide as their text asks, the room left shared out; first column left, the others right."""
    asked = [page.measure(name, SMALL, bold=True) for name in head]
    for row in rows:
        asked = [max(a, page.measure(cell, size)) for a, cell in zip(asked, row, strict=True)]
    gap = 1.5
    room = width - sum(asked) - gap * (len(head) - 1)
    fit = min(1.0, (width - gap * (len(head) - 1)) / sum(asked))
    spread = max(room, 0.0) / max(len(head) - 1, 1)
    edges, at = [], x
    for k, one in enumerate(asked):
        at += one * fit + ((gap + spread) if k else 0.0)
        edges.append(at)
    for k, name in enumerate(head):
        place = (x, "left") if k == 0 else (edges[k], "right")
        page.write(name, place[0], y, SMALL * fit, ha=place[1], fontweight="bold")
    y += page.line(SMALL) + 0.2
    page.rule(x, y, width, color=style.INK, thick=0.7)
    y += 0.5
    for row in rows:
        for k, cell in enumerate(row):
            place = (x, "left") if k == 0 else (edges[k], "right")
            page.write(cell, place[0], y, size * fit, ha=place[1])
        y += page.line(size) + 0.2
        page.rule(x, y - 0.1, width, color=style.QUIET, thick=0.3)
        y += 0.2
    return y


def _offset(page: Page, sheet: Sheet, x: float, y: float, width: float) -> float:
    y = _heading(page, sheet.offset_title, x, y, width)
    page.write(sheet.offset, x, y - 1.0, OFFSET, fontweight="bold", color=style.BLUE)
    y += page.line(OFFSET) - 2.0
    for note in sheet.offset_notes:
        y = _paragraph(page, note, x, y, width, size=SMALL)
    return y


def _pairs(page: Page, table: Table, x: float, y: float, width: float) -> float:
    """The pairs in large type, in two blocks beside one another when there are many."""
    y = _heading(page, table.title, x, y, width)
    rows = table.rows
    half = -(-len(rows) // 2) if len(rows) > 6 else len(rows)
    blocks = [rows[:half], rows[half:]] if len(rows) > half else [rows]
    wide, lowest = 0.5 * (width - 6.0), y
    for k, block in enumerate(blocks):
        first = x + k * (wide + 6.0)
        centres = (first + 0.27 * wide, first + 0.73 * wide)
        for centre, name in zip(centres, table.head, strict=True):
            page.write(name, centre, y, SMALL, ha="center", fontweight="bold")
        below = y + page.line(SMALL) + 0.2
        page.rule(first, below, wide, color=style.INK, thick=0.7)
        below += 0.6
        for row in block:
            for centre, cell in zip(centres, row, strict=True):
                page.write(cell, centre, below, PAIR, ha="center", fontweight="bold")
            below += page.line(PAIR)
            page.rule(first, below - 0.2, wide, color=style.QUIET, thick=0.3)
        lowest = max(lowest, below)
    return _paragraph(page, table.note, x, lowest + 0.3, width, size=SMALL) if table.note else lowest


def _listing(page: Page, listing: Listing, x: float, y: float, width: float) -> float:
    y = _heading(page, listing.title, x, y, width)
    indent = page.measure("0. ", BODY) + 0.5
    for number, text in enumerate(listing.lines, start=1):
        page.write(f"{number}." if listing.numbered else "•", x, y, BODY)
        y = _paragraph(page, text, x + indent, y, width - indent)
    return y


def _wedge(page: Page, wedge: Wedge, x: float, y: float, width: float) -> float:
    """A shim, its thickness drawn to one scale and its length to none."""
    from matplotlib.patches import Polygon

    y = _heading(page, wedge.title, x, y, width)
    tall = 6.0 * page.scale
    edges = (wedge.left_mm, wedge.right_mm)
    up = [tall * edge / max(edges) for edge in edges]
    side = max(page.measure(f"{edge:.2f} mm", BODY) for edge in edges) + 1.5
    first, last, base = x + side, x + width - side, y + tall + 0.5
    corners = [(first, base), (last, base), (last, base - up[1]), (first, base - up[0])]
    page.figure.add_artist(
        Polygon(
            [(px / page.width, 1.0 - py / page.height) for px, py in corners],
            closed=True,
            facecolor=style.WOOD,
            edgecolor=style.INK,
            lw=0.8,
            transform=page.figure.transFigure,
        )
    )
    level = base - page.line(BODY)
    page.write(f"{wedge.left_mm:.2f} mm", first - 1.0, level, BODY, ha="right")
    page.write(f"{wedge.right_mm:.2f} mm", last + 1.0, level, BODY)
    page.write(wedge.left, first, base + 0.3, SMALL)
    page.write(wedge.right, last, base + 0.3, SMALL, ha="right")
    return base + 0.3 + page.line(SMALL)
