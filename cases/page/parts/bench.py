"""The bench: serial, reading, Enter, and the pair is there; then the log, string-up, swap, correction."""

import json
from typing import Any

from nicegui import Client, events, ui

from cases.page.answer_html import problems_html
from cases.page.bench_html import aim_html, pair_html
from cases.page.benchdesk import BenchDesk, chosen_of
from cases.page.parts.fitted import FittedCard
from cases.page.parts.frame import act, html, sheet
from cases.page.parts.kept import keep, kept_by_tab
from cases.page.room import DEFAULT_CASE, Room
from cases.page.work import CancelledWork, WorkError, Workroom
from materials.errors import InputError


def bench_page(room: Room, benches: Workroom) -> None:
    """Build the bench for one visitor."""
    with sheet(room, here="/bench", title="Reading in, pair out"):
        names = list(room.case_names())
        if not names:
            html(
                problems_html(
                    ("No case is released: the bench takes cases with revision, released_by and released_on; "
                     "have one released, then load this page again.",)
                )
            )  # fmt: skip
            return
        BenchView(room, benches, names)


class BenchView:
    """The form, the pair, and what follows it."""

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
                self._said = html()
                self._pair = html()
                self._log = ui.element("div").classes("row-of")
                self._more = html()
            self._fitted = FittedCard(self._desk, lambda: str(self._serial.value or ""))
        self._begin(names)

    def _begin(self, names: list[str]) -> None:
        client = ui.context.client
        begun = False

        async def connected(_: Client) -> None:
            nonlocal begun
            if begun:
                return
            begun = True
            with client:
                kept = _kept(await kept_by_tab("bench"))
                self._serial.set_value(kept.get("serial", ""))
                self._reading.set_value(kept.get("reading", ""))
                first = kept.get("case", DEFAULT_CASE)
                self._case.set_value(first if first in names else names[0])

        client.on_connect(connected)

    def _keep(self) -> None:
        kept = {"serial": self._serial.value, "reading": self._reading.value, "case": self._case.value}
        keep("bench", json.dumps(kept))

    async def _chosen(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if not event.value:
            return
        self._keep()
        self._clear()
        self._status.content = "Solving the instrument for the bench …"
        try:
            await self._desk.choose(event.value)
        except CancelledWork:
            return
        except (InputError, WorkError) as error:
            self._say(error)
            return
        finally:
            self._status.content = ""
        self._status.content = "Ready."

    def _clear(self) -> None:
        for place in (self._said, self._pair, self._more):
            place.content = ""
        self._log.clear()

    def _say(self, error: Exception) -> None:
        self._said.content = problems_html((str(error),))

    async def _enter(self) -> None:
        self._clear()
        self._status.content = "Choosing the pair …"
        try:
            first = await self._desk.pair_for(str(self._serial.value or ""), str(self._reading.value or ""))
            self._pair.content = pair_html(first.pair, reading_mm=first.reading_mm)
            self._offer()
            self._status.content = "How sure it is follows …"
            self._more.content = aim_html(await self._desk.whole())
            self._offer()
            self._fitted.show()
        except CancelledWork:
            return
        except (InputError, WorkError) as error:
            self._say(error)
        finally:
            self._status.content = ""

    def _offer(self) -> None:
        """Buttons that log the pair which went in; nothing is written before one is pressed."""
        if not self._desk.room.has_logbook:
            return
        self._log.clear()
        with self._log:
            for number, pair in enumerate(chosen_of(self._desk.aim, self._desk.first)):
                words = f"{pair.upper_deg:.2f} / {pair.lower_deg:.2f} went in: log it"
                button = act(words, lambda _, chosen=pair: self._write(chosen))
                if number:
                    button.classes("quiet-act")

    def _write(self, pair) -> None:  # type: ignore[no-untyped-def]
        try:
            reason = "swap" if self._fitted.fits else "new"
            fit = self._desk.log(pair, reason=reason)
        except InputError as error:
            self._say(error)
            return
        self._log.clear()
        with self._log:
            html(
                f"Logged: attempt {fit.attempt}, upper {fit.upper_deg:.2f}, lower {fit.lower_deg:.2f}.",
                look="quiet",
            )
        self._fitted.show()


def _kept(text: object) -> dict[str, str]:
    """What a tab kept, if it is what this page had it keep."""
    try:
        found = json.loads(text) if isinstance(text, str) and len(text) < 4000 else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        return {}
    return {key: value for key, value in found.items() if isinstance(key, str) and isinstance(value, str)}
