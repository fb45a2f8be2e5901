"""What the log has of a guitar: measured after string-up, swap, correction of an entry."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from nicegui import ui

from cases.bench.shims.choose_pair import PairForecast
from cases.page.answer_html import problems_html
from cases.page.bench_html import fits_html, swap_html
from cases.page.benchdesk import MEASURED, BenchDesk, fields_to_amend
from cases.page.parts.frame import act, html
from cases.page.work import CancelledWork, WorkError
from materials.errors import InputError

if TYPE_CHECKING:
    from cases.bench.logbook.current_rows import Fit


class FittedCard:
    """The guitar of the serial typed: its fits, what was measured, what to do."""

    def __init__(self, desk: BenchDesk, serial: Callable[[], str]) -> None:
        self._desk, self._serial = desk, serial
        self.fits: tuple[Fit, ...] = ()
        with ui.element("section").classes("card").props('aria-label="This guitar in the log"'):
            html("<h2>This guitar in the log</h2>")
            act("Look it up", self.show, quiet=True)
            self._said = html()
            self._fits = html()
            self._after = ui.element("div")
            with self._after:
                html(f"<h3>Measured at pitch [{desk.unit}]</h3>")
                with ui.element("div").classes("form"):
                    self._typed = {
                        key: ui.input(label).props("outlined inputmode=decimal autocomplete=off")
                        for key, label in MEASURED.items()
                    }
                with ui.element("div").classes("row-of"):
                    act("Log what was measured", self._measured)
                    act("What to do?", self._swap, quiet=True)
                self._swap_out = html()
                self._swapped = ui.element("div").classes("row-of")
                with ui.expansion("Correct an entry"):
                    with ui.element("div").classes("form"):
                        self._field = ui.select([], label="What is wrong").props("outlined")
                        self._value = ui.input("What it should be").props("outlined autocomplete=off")
                        self._why = ui.input("Why").props("outlined autocomplete=off")
                    act("Correct it", self._amend)
            self._after.set_visibility(False)

    def show(self) -> None:
        """Show the fits of the serial typed."""
        try:
            self.fits = self._desk.fits(self._serial())
        except InputError as error:
            self.fits = ()
            self._say(error)
        else:
            self._said.content = ""
        self._fits.content = fits_html(self.fits)
        self._after.set_visibility(bool(self.fits))
        if self.fits:
            self._field.set_options(list(fields_to_amend(self.fits[-1])), value=None)

    def _say(self, error: Exception) -> None:
        self._said.content = problems_html((str(error),))

    def _values(self) -> dict[str, str]:
        return {key: str(one.value or "") for key, one in self._typed.items()}

    def _measured(self) -> None:
        try:
            self._desk.measured(self._serial(), self._values())
        except InputError as error:
            self._say(error)
            return
        self.show()

    async def _swap(self) -> None:
        try:
            found = await self._desk.swap_for(self._serial(), self._values())
        except CancelledWork:
            return
        except (InputError, WorkError) as error:
            self._say(error)
            return
        self._said.content = ""
        self._swap_out.content = swap_html(found)
        self._swapped.clear()
        if not found.keep:
            words = f"{found.new.upper_deg:.2f} / {found.new.lower_deg:.2f} went in: log the swap"
            with self._swapped:
                act(words, lambda: self._log_swap(found.new))

    def _log_swap(self, pair: PairForecast) -> None:
        try:
            self._desk.log_swap(self._serial(), pair)
        except InputError as error:
            self._say(error)
            return
        self._swapped.clear()
        self.show()

    def _amend(self) -> None:
        fit = self.fits[-1]
        wanted = fields_to_amend(fit).get(str(self._field.value))
        try:
            if wanted is None:
                raise InputError("Correction: choose first what is wrong.")
            self._desk.amend(
                fit,
                wanted[0],
                str(self._value.value or ""),
                reason=str(self._why.value or ""),
                measurement_id=wanted[1],
            )
        except InputError as error:
            self._say(error)
            return
        self._value.set_value("")
        self.show()
