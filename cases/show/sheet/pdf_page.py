"""The set-up sheet as one PDF page of text and lines, set as large as the paper allows."""

import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from cases.show import style
from cases.show.saving import saving
from cases.show.sheet.content import Block, Headline, Listing, Sheet, Table, Wedge
from materials.errors import NeckpreloadError

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
"""Line spacing over type size."""


@dataclass
class Page:
    """A page; ``texts`` holds every text written, ``y`` runs down from the top [mm].

    A page that is not ``drawn`` only finds out where everything would end.
    """

    width: float
    height: float
    scale: float
    drawn: bool = True
    texts: list[Text] = field(default_factory=list)

    @cached_property
    def figure(self) -> Figure:
        """The figure of the page's size on which all is drawn."""
        return style.figure(width=self.width / 25.4, height=self.height / 25.4)

    def measure(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width of a text [mm]: its words and the spaces between them, which do not move together."""
        weight = "bold" if bold else "normal"
        words = text.split(" ")
        wide = sum(_width(word, weight) for word in words) + (len(words) - 1) * _width(" ", weight)
        return self.scale * size * wide

    def line(self, size: float) -> float:
        """Height of a line of type [mm]."""
        return LINE * size * self.scale * MM_PER_POINT

    def write(self, text: str, x: float, y: float, size: float, **how: Any) -> None:
        """Put one line of text with the top of its line at y."""
        if not self.drawn:
            return
        place = {"ha": how.pop("ha", "left"), "va": "baseline", "parse_math": False}
        base = y + 0.95 * size * self.scale * MM_PER_POINT
        self.texts.append(
            self.figure.text(
                x / self.width, 1.0 - base / self.height, text, fontsize=size * self.scale, **place, **how
            )
        )

    def rule(self, x: float, y: float, width: float, *, color: str, thick: float) -> None:
        """Draw a horizontal line."""
        if not self.drawn:
            return
        ends = [x / self.width, (x + width) / self.width], [1.0 - y / self.height] * 2
        self.figure.add_artist(Line2D(*ends, color=color, lw=thick, transform=self.figure.transFigure))

    def wrapped(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Lines of a text no wider than ``width`` [mm]; a longer word is cut."""
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
def _width(word: str, weight: str) -> float:
    """Width of a word in type of 1 point [mm]; cached, since every size tried measures the same words."""
    font = FontProperties(size=1.0, weight=weight)
    with warnings.catch_warnings():
        # missing characters are reported once, when the page is written
        warnings.filterwarnings("ignore", message="Glyph ")
        wide, _, _ = text_to_path.get_text_width_height_descent(word, font, ismath=False)
    return float(wide) * MM_PER_POINT


def save_sheet_pdf(sheet: Sheet, path: Path, *, paper: str = "a4") -> tuple[str, ...]:
    """Write the sheet as one PDF page on a paper of `PAPERS`; returns the characters missing in the font.

    An existing file is replaced. Raises `InputError` if the file cannot be written.
    """
    page = set_sheet(sheet, paper=paper)
    # type 42 embeds the font and keeps text as text; without a date equal sheets are equal files
    marks = {"Title": f"Set-up sheet: {sheet.title}", "CreationDate": None}
    with warnings.catch_warnings(record=True) as warned, saving(path), rc_context({"pdf.fonttype": 42}):
        warnings.simplefilter("always")
        page.figure.savefig(path, format="pdf", metadata=marks)
    said = [str(one.message) for one in warned]
    return tuple(chr(int(text.split()[1])) for text in said if text.startswith("Glyph "))


def set_sheet(sheet: Sheet, *, paper: str = "a4") -> Page:
    """The page in the largest type that fits. Raises `NeckpreloadError` if not even the smallest does."""
    width, height = PAPERS[paper]
    for scale in SCALES:
        if _set(Page(width, height, scale, drawn=False), sheet) <= height - MARGIN:
            page = Page(width, height, scale)
            _set(page, sheet)
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
        y = set_text(page, text, MARGIN + named, y, inner - named)
    y = set_block(page, sheet.strings, MARGIN, y + 1.5, inner)
    half = 0.5 * (inner - GUTTER)
    ends = []
    for left, blocks in zip((MARGIN, MARGIN + half + GUTTER), sheet.columns, strict=True):
        end = y + 2.0
        for block in blocks:
            end = set_block(page, block, left, end, half) + 1.5
        ends.append(end)
    return set_block(page, sheet.cautions, MARGIN, max(ends), inner)


def _header(page: Page, sheet: Sheet, inner: float) -> float:
    marks = max(page.measure(mark, SMALL) for mark in sheet.marks) + 4.0
    y = set_text(page, sheet.title, MARGIN, MARGIN, inner - marks, size=TITLE, bold=True)
    y = set_text(page, sheet.note, MARGIN, y, inner - marks)
    beside = MARGIN
    for mark in sheet.marks:
        page.write(mark, MARGIN + inner, beside, SMALL, ha="right", color=style.INK)
        beside += page.line(SMALL)
    y = max(y, beside) + 0.5
    page.rule(MARGIN, y, inner, color=style.INK, thick=1.2)
    return y + 1.5


def set_text(
    page: Page, text: str, x: float, y: float, width: float, *, size: float = BODY, bold: bool = False
) -> float:
    """Set a text over as many lines as it needs; returns where it ends, as do all below [mm]."""
    for line in page.wrapped(text, width, size, bold=bold) if text else ():
        page.write(line, x, y, size, fontweight="bold" if bold else "normal")
        y += page.line(size)
    return y


def set_block(page: Page, block: Block, x: float, y: float, width: float) -> float:
    """Set a block; returns where it ends [mm]."""
    if isinstance(block, str):
        return set_text(page, block, x, y, width, size=SMALL)
    y = set_text(page, block.title, x, y, width, size=HEADING, bold=True)
    match block:
        case Headline():
            return _headline(page, block, x, y, width)
        case Table():
            return _table(page, block, x, y, width)
        case Listing():
            return _listing(page, block, x, y, width)
        case Wedge():
            return _wedge(page, block, x, y, width)


def _headline(page: Page, block: Headline, x: float, y: float, width: float) -> float:
    page.write(block.figure, x, y - 1.0, OFFSET, fontweight="bold", color=style.BLUE)
    y += page.line(OFFSET) - 2.0
    for note in block.notes:
        y = set_text(page, note, x, y, width, size=SMALL)
    return y


def _table(page: Page, table: Table, x: float, y: float, width: float) -> float:
    wide = 0.5 * (width - 6.0) if table.large else width
    ends = [
        _rows(page, table, part, x + number * (wide + 6.0), y, wide)
        for number, part in enumerate(table.parts)
    ]
    return set_text(page, table.note, x, max(ends) + 0.3, width, size=SMALL)


def _rows(page: Page, table: Table, rows: Sequence[Sequence[str]], x: float, y: float, width: float) -> float:
    size, weight = (PAIR, "bold") if table.large else (BODY, "normal")
    places, fit = _places(page, table, rows, x, width)
    for (at, side), name in zip(places, table.head, strict=True):
        page.write(name, at, y, SMALL * fit, ha=side, fontweight="bold")
    y += page.line(SMALL) + 0.2
    page.rule(x, y, width, color=style.INK, thick=0.7)
    y += 0.5
    for row in rows:
        for (at, side), cell in zip(places, row, strict=True):
            page.write(cell, at, y, size * fit, ha=side, fontweight=weight)
        y += page.line(size) + 0.2
        page.rule(x, y - 0.1, width, color=style.QUIET, thick=0.3)
        y += 0.2
    return y


def _places(
    page: Page, table: Table, rows: Sequence[Sequence[str]], x: float, width: float
) -> tuple[list[tuple[float, str]], float]:
    """Position and alignment of each column, and the factor by which the type must shrink.

    A large table is centred in equal columns. Else the first column stands left and the others right, each
    as wide as its text plus an equal part of the room left.
    """
    count = len(table.head)
    if table.large:
        return [(x + (number + 0.5) * width / count, "center") for number in range(count)], 1.0
    asked = [page.measure(name, SMALL, bold=True) for name in table.head]
    for row in rows:
        asked = [max(a, page.measure(cell, BODY)) for a, cell in zip(asked, row, strict=True)]
    gap = 1.5
    room = width - gap * (count - 1)
    fit = min(1.0, room / sum(asked))
    gap += max(room - sum(asked), 0.0) / max(count - 1, 1)
    edges = [x + fit * sum(asked[: number + 1]) + number * gap for number in range(count)]
    return [(x, "left"), *((edge, "right") for edge in edges[1:])], fit


def _listing(page: Page, listing: Listing, x: float, y: float, width: float) -> float:
    indent = page.measure("0. ", BODY) + 0.5
    for number, text in enumerate(listing.lines, start=1):
        page.write(f"{number}." if listing.numbered else "•", x, y, BODY)
        y = set_text(page, text, x + indent, y, width - indent)
    return y


def _wedge(page: Page, wedge: Wedge, x: float, y: float, width: float) -> float:
    """A shim: thickness to scale, length not."""
    tall = 6.0 * page.scale
    edges = (wedge.left_mm, wedge.right_mm)
    up = [tall * edge / max(edges) for edge in edges]
    side = max(page.measure(f"{edge:.2f} mm", BODY) for edge in edges) + 1.5
    first, last, base = x + side, x + width - side, y + tall + 0.5
    corners = [(first, base), (last, base), (last, base - up[1]), (first, base - up[0])]
    shape = [(across / page.width, 1.0 - down / page.height) for across, down in corners]
    look = {"facecolor": style.WOOD, "edgecolor": style.INK, "lw": 0.8}
    if page.drawn:
        page.figure.add_artist(Polygon(shape, closed=True, transform=page.figure.transFigure, **look))
    level = base - page.line(BODY)
    page.write(f"{wedge.left_mm:.2f} mm", first - 1.0, level, BODY, ha="right")
    page.write(f"{wedge.right_mm:.2f} mm", last + 1.0, level, BODY)
    page.write(wedge.left, first, base + 0.3, SMALL)
    page.write(wedge.right, last, base + 0.3, SMALL, ha="right")
    return base + 0.3 + page.line(SMALL)
