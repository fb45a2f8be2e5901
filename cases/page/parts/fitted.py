"""One guitar in the log: measurements after string-up, swap, correction of an entry."""

from collections.abc import Callable

from nicegui import ui

from cases.bench.logbook.current_rows import Fit
from cases.bench.shims.choose_pair import PairForecast
from cases.page.bench_html import fits_html, swap_html
from cases.page.benchdesk import MEASURED, BenchDesk, fields_to_amend
from cases.page.parts.frame import Notice, act, html
from materials.errors import InputError


class FittedCard:
    """The guitar of the serial typed: its fits, measurements and next step."""

    def __init__(self, desk: BenchDesk, serial: Callable[[], str]) -> None:
        self._desk, self._serial = desk, serial
        self.fits: tuple[Fit, ...] = ()
        with ui.element("section").classes("card").props('aria-label="This guitar in the log"'):
            html("<h2>This guitar in the log</h2>")
            act("Look it up", self.show, quiet=True)
            self._notice = Notice()
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
        self.fits = ()
        self._notice.show()
        with self._notice.guard():
            self.fits = self._desk.fits(self._serial())
        self._fits.content = fits_html(self.fits)
        self._after.set_visibility(bool(self.fits))
        if self.fits:
            self._field.set_options(list(fields_to_amend(self.fits[-1])), value=None)

    def _values(self) -> dict[str, str]:
        return {key: str(one.value or "") for key, one in self._typed.items()}

    def _measured(self) -> None:
        with self._notice.guard():
            self._desk.measured(self._serial(), self._values())
            self.show()

    async def _swap(self) -> None:
        with self._notice.guard():
            found = await self._desk.swap_for(self._serial(), self._values())
            self._notice.show()
            self._swap_out.content = swap_html(found)
            self._swapped.clear()
            if not found.keep:
                words = f"{found.new.upper_deg:.2f} / {found.new.lower_deg:.2f} went in: log the swap"
                with self._swapped:
                    act(words, lambda: self._log_swap(found.new))

    def _log_swap(self, pair: PairForecast) -> None:
        with self._notice.guard():
            self._desk.log(pair, reason="swap", instead_on=self._serial())
            self._swapped.clear()
            self.show()

    def _amend(self) -> None:
        fit = self.fits[-1]
        with self._notice.guard():
            field, measurement, _ = fields_to_amend(fit).get(str(self._field.value), (None, None, ""))
            if field is None:
                raise InputError("Correction: choose the entry that is wrong first.")
            value, reason = str(self._value.value or ""), str(self._why.value or "")
            self._desk.amend(fit, field, value, reason=reason, measurement_id=measurement)
            self._value.set_value("")
            self.show()
