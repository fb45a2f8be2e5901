"""The answer in large type, in the order of the command's screen; beside it every pair in stock."""

from nicegui import ui

from cases.page.answer_html import figures_html, headline_html, pairs_html, warnings_html
from cases.page.desk import Desk
from cases.page.parts.frame import html


class AnswerCard:
    """What it is, the offset, the chosen pair, what to set and to measure, what to mind."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        with ui.element("section").classes("card answer-card") as self._card:
            self._card.props('aria-label="The answer"')
            with ui.element("div").classes("split"):
                self._head = html(look="head")
                self._figures = html()
            self._warnings = html()
        self.refresh()

    def refresh(self) -> None:
        """Show the desk's current state."""
        desk = self._desk
        stale = desk.standing in ("cancelled", "failed", "wrong", "working")
        self._card.classes(**({"add": "stale"} if stale else {"remove": "stale"}))
        self._head.content = headline_html(desk.worked, about_deg=desk.about_deg, stale=stale)
        if desk.worked is not None:
            answer = desk.worked.answer
            self._figures.content = figures_html(answer)
            self._warnings.content = warnings_html(answer)


class PairsCard:
    """Every pair in stock, scrolled to the chosen one; not shown for a single shim."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._pairs = html(look="card")
        self.refresh()

    def refresh(self) -> None:
        """Show the desk's current state."""
        text = "" if self._desk.worked is None else pairs_html(self._desk.worked.answer)
        self._pairs.set_visibility(bool(text))
        if text != self._pairs.content:
            self._pairs.content = text
            ui.run_javascript(TO_THE_MARK)


TO_THE_MARK = """setTimeout(() => { const row = document.querySelector(".pairs tr.mark");
const box = row?.closest(".scroll");
if (box) box.scrollTop = row.offsetTop - box.clientHeight / 2 }, 60)"""
"""Scrolls the list to the chosen pair; the page itself does not scroll."""
