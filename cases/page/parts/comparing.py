"""Two instruments side by side: A is the one on the page, B is held or picked."""

from typing import Any

from nicegui import events, ui

from cases.page.answer_html import compare_html, key_html
from cases.page.chart_svg import profiles_svg
from cases.page.desk import Desk
from cases.page.live import Bend, Knobs, Worked
from cases.page.parts.frame import Notice, act, html
from cases.page.svg import neck_pictures, stage_of
from cases.page.work import Workroom


class ComparePanel:
    """Figures, pictures and fret lines of two."""

    def __init__(self, desk: Desk, answers: Workroom) -> None:
        self._desk, self._answers = desk, answers
        self._held: Worked | None = None
        self._shown: tuple[str, str] | None = None
        with ui.element("div").classes("row-of"):
            act("Hold this one as B", self._hold)
            self._pick = ui.select(
                list(desk.room.case_names()), label="or pick B", on_change=self._picked
            ).props("outlined dense").style("min-width:260px")  # fmt: skip
        self._notice = Notice()
        self._hint = html(
            '<p class="quiet">A is the instrument on the page. Hold it as B, then change it above: '
            "both are shown side by side.</p>"
        )
        self._table = html()
        with ui.element("div").classes("two"):
            self._pictures = [html(), html()]
        self._lines = html()

    def _hold(self) -> None:
        self._held, self._shown = self._desk.worked, None
        self._pick.set_value(None)
        self.refresh()

    async def _picked(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if not event.value:
            return
        with self._notice.guard():
            self._held = await self._answers.full(self._desk.room.open_case(event.value))
            self._notice.show()
            self._shown = None
            self.refresh()

    def refresh(self) -> None:
        """Show the desk's current state."""
        first, second = self._desk.worked, self._held
        if first is None or second is None or self._shown == (first.sha256, second.sha256):
            return
        self._shown = (first.sha256, second.sha256)
        self._hint.content = ""
        self._table.content = compare_html(first.answer, second.answer)
        factor = min(stage_of(one).view.exaggeration for one in (first, second))
        for letter, place, one in zip("AB", self._pictures, (first, second), strict=True):
            stage = stage_of(one, exaggeration=factor)
            picture, _ = neck_pictures(stage, Bend(one).state(Knobs()))
            place.content = f"<h3>{letter}: at pitch, movements {factor:g} times</h3>{picture}"
        frets = [one.answer.fret_profile for one in (first, second)]
        lines = profiles_svg([one.x_mm for one in frets], [one.z_strung_mm for one in frets], ["A", "B"])
        self._lines.content = f"<h3>Fret lines at pitch</h3>{lines}{key_html('A', 'B')}"
