"""The answer in large type."""

from nicegui import ui

from cases.page.answer_html import figures_html, headline_html, pairs_html
from cases.page.desk import Desk
from cases.page.parts.frame import html


class AnswerCard:
    """Offset, chosen pair, all pairs in stock, the other figures."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        with ui.element("section").classes("card answer-card") as self._card:
            self._card.props('aria-label="The answer"')
            with ui.element("div").classes("split"):
                self._head = html(look="head")
                self._pairs = html()
            self._figures = html()
        self.refresh()

    def refresh(self) -> None:
        """Show the desk's current state."""
        desk = self._desk
        stale = desk.standing in ("cancelled", "failed", "wrong", "working")
        self._card.classes(**({"add": "stale"} if stale else {"remove": "stale"}))
        self._head.content = headline_html(desk.worked, about_deg=desk.about_deg, stale=stale)
        if desk.worked is not None:
            answer = desk.worked.answer
            self._show_pairs(pairs_html(answer))
            self._figures.content = figures_html(answer)

    def _show_pairs(self, text: str) -> None:
        if text != self._pairs.content:
            self._pairs.content = text
            ui.run_javascript(TO_THE_MARK)


TO_THE_MARK = """setTimeout(() => { const row = document.querySelector(".pairs tr.mark");
const box = row?.closest(".scroll");
if (box) box.scrollTop = row.offsetTop - box.clientHeight / 2 }, 60)"""
"""Scrolls the list to the chosen pair; the page itself does not scroll."""
