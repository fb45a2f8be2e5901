"""One guitar in the log: its fits, and the correction of an entry."""

from collections.abc import Awaitable, Callable

from nicegui import ui

from cases.page.bench_html import fits_html
from cases.page.benchdesk import BenchDesk, fields_to_amend
from cases.page.parts.frame import Notice, act, html
from materials.errors import InputError


class FittedCard:
    """The guitar taken up: its fits and their corrections; ``corrected`` is called after one."""

    def __init__(self, desk: BenchDesk, corrected: Callable[[], Awaitable[None]]) -> None:
        self._desk, self._corrected = desk, corrected
        with ui.element("section").classes("card").props('aria-label="This guitar in the log"'):
            html("<h2>This guitar in the log</h2>")
            self._fits = html()
            with ui.expansion("Correct an entry") as self._amending:
                with ui.element("div").classes("form"):
                    self._field = ui.select([], label="What is wrong").props("outlined")
                    self._value = ui.input("What it should be").props("outlined autocomplete=off")
                    self._why = ui.input("Why").props("outlined autocomplete=off")
                act("Correct it", self._amend, quiet=True)
            self._notice = Notice()

    def show(self) -> None:
        """Show the fits of the guitar taken up."""
        fits = self._desk.fits
        found = fits_html(fits) if self._desk.serial else '<p class="quiet">Scan a guitar first.</p>'
        if found == self._fits.content:
            return
        self._fits.content = found
        self._notice.show()
        self._amending.set_visibility(bool(fits))
        self._field.set_options(list(fields_to_amend(fits[-1])) if fits else [], value=None)

    async def _amend(self) -> None:
        self._notice.show()
        with self._notice.guard():
            fit = self._desk.last
            fields = fields_to_amend(fit) if fit is not None else {}
            field, measurement, _ = fields.get(str(self._field.value), (None, None, ""))
            if fit is None or field is None:
                raise InputError("Correction: no entry is chosen; choose the entry that is wrong first.")
            value, reason = str(self._value.value or ""), str(self._why.value or "")
            self._desk.amend(fit, field, value, reason=reason, measurement_id=measurement)
            self._value.set_value("")
            await self._corrected()
