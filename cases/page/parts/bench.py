"""The bench: serial, reading, Enter, pair; then the log, string-up, swap and corrections."""

from typing import Any

from nicegui import events, ui
from pydantic import BaseModel

from cases.bench.shims.choose_pair import PairForecast
from cases.page.answer_html import problems_html
from cases.page.bench_html import aim_html, pair_html
from cases.page.benchdesk import BenchDesk
from cases.page.parts.fitted import FittedCard
from cases.page.parts.frame import Notice, act, html, sheet
from cases.page.parts.kept import keep, kept_by_tab, on_first_connection
from cases.page.room import DEFAULT_CASE, Room
from cases.page.work import Workroom

NONE_RELEASED = (
    "No case is released: the bench takes cases with revision, released_by and released_on; have one "
    "released, then load this page again."
)


def bench_page(room: Room, benches: Workroom) -> None:
    """Build the bench for one visitor."""
    with sheet(room, here="/bench", title="Reading in, pair out"):
        names = list(room.case_names())
        if names:
            BenchView(room, benches, names)
        else:
            html(problems_html((NONE_RELEASED,)))


class Typed(BaseModel):
    """What a tab keeps of the form."""

    serial: str = ""
    reading: str = ""
    case: str | None = DEFAULT_CASE


class BenchView:
    """The form, the pair, its certainty, the log."""

    def __init__(self, room: Room, benches: Workroom, names: list[str]) -> None:
        self._desk = BenchDesk(room, benches)
        with ui.element("div").classes("two"):
            with ui.element("section").classes("card").props('aria-label="Reading"'):
                self._case = ui.select(names, label="Instrument", on_change=self._chosen).props("outlined")
                with ui.element("div").classes("bench-form"):
                    self._serial = ui.input("Serial, scan or type", on_change=self._keep)
                    self._reading = ui.input(f"Reading [{self._desk.unit}]", on_change=self._keep)
                self._serial.props('outlined autofocus autocomplete=off hint="Enter goes on to the reading"')
                self._reading.props(
                    'outlined autocomplete=off inputmode=decimal hint="1.8mm, 0.07in, or several; Enter"'
                )
                self._serial.on("keydown.enter", lambda: self._reading.run_method("focus"))
                self._reading.on("keydown.enter", self._enter)
                with ui.element("div").classes("row-of"):
                    act("Which pair goes in?", self._enter)
                    self._status = html(look="quiet")
                self._notice = Notice()
                self._pair = html()
                self._log = ui.element("div").classes("row-of")
                self._more = html()
            self._fitted = FittedCard(self._desk, lambda: self._typed()[0])
        self._names = names
        on_first_connection(self._restore)

    async def _restore(self) -> None:
        """Put back the input that the tab kept."""
        kept = await kept_by_tab("bench", Typed)
        self._serial.set_value(kept.serial)
        self._reading.set_value(kept.reading)
        self._case.set_value(kept.case if kept.case in self._names else self._names[0])

    def _keep(self) -> None:
        serial, reading = self._typed()
        keep("bench", Typed(serial=serial, reading=reading, case=self._case.value))

    def _typed(self) -> tuple[str, str]:
        return str(self._serial.value or ""), str(self._reading.value or "")

    async def _chosen(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if not event.value:
            return
        self._keep()
        self._clear()
        self._status.content = "Solving the instrument for the bench …"
        with self._notice.guard():
            await self._desk.choose(event.value)
            self._status.content = "Ready."
            return
        self._status.content = ""

    def _clear(self) -> None:
        self._notice.show()
        self._pair.content = self._more.content = ""
        self._log.clear()

    async def _enter(self) -> None:
        self._clear()
        self._status.content = "Choosing the pair …"
        with self._notice.guard():
            first = await self._desk.pair_for(*self._typed())
            self._pair.content = pair_html(first.pair, reading_mm=first.reading_mm)
            self._offer()
            self._status.content = "Calculating the chance that it is right …"
            self._more.content = aim_html(await self._desk.whole())
            self._offer()
            self._fitted.show()
        self._status.content = ""

    def _offer(self) -> None:
        """Buttons that log the pair fitted; nothing is written before one is pressed."""
        if not self._desk.room.has_logbook:
            return
        self._log.clear()
        with self._log:
            for number, pair in enumerate(self._desk.offered):
                words = f"{pair.upper_deg:.2f} / {pair.lower_deg:.2f} went in: log it"
                act(words, lambda _, chosen=pair: self._write(chosen), quiet=number > 0)

    def _write(self, pair: PairForecast) -> None:
        with self._notice.guard():
            fit = self._desk.log(pair, reason="swap" if self._fitted.fits else "new")
            self._log.clear()
            with self._log:
                html(
                    f"Logged: attempt {fit.attempt}, upper {fit.upper_deg:.2f}, lower {fit.lower_deg:.2f}.",
                    look="quiet",
                )
            self._fitted.show()
