"""Bench, wood batch, humidity, gauge and neck test: what stays from guitar to guitar."""

from collections.abc import Callable
from html import escape

from nicegui import ui

from cases.page.bench_html import calibration_text
from cases.page.bench_typed import GAUGE_STEP, HUMIDITY, JIG, PLACES, USES, BenchField, Typed
from cases.page.benchdesk import BenchDesk
from cases.page.parts.bench_input import BenchInput
from cases.page.parts.frame import html

FULL_STEP = "its plane over the bare seat: 0 for a plain rod, empty for the full step"


class PlaceCard:
    """The bench's own settings, folded to one line that always shows what is in use."""

    def __init__(self, desk: BenchDesk, *, changed: Callable[[str, str], None]) -> None:
        self._desk = desk
        self.inputs: dict[str, BenchInput] = {}
        self.uses: dict[str, ui.checkbox] = {}

        def one(field: BenchField, hint: str = "") -> None:
            self.inputs[field.key] = BenchInput(field, unit=desk.unit, changed=changed, hint=hint)

        with ui.expansion("This bench").classes("place"):
            with ui.element("div").classes("form").props("data-step=place"):
                for field in (*PLACES, HUMIDITY):
                    one(field)
                one(GAUGE_STEP, FULL_STEP)
            for key, words in USES.items():
                self.uses[key] = ui.checkbox(
                    words, on_change=lambda event, key=key: changed(key, "on" if event.value else "")
                )
            html("<h3>Neck test: supports, load and dial</h3>")
            html("With these the dial's movement is asked for with each reading.", look="quiet")
            with ui.element("div").classes("form").props("data-step=jig"):
                for field in JIG:
                    one(field, "from the nut" if field.unit == "mm" else "")
        self._words = html(look="quiet")

    def show(self, typed: Typed) -> None:
        """Show in one line what is in use."""
        found = [f"{one.label.lower()} {typed.text(one)}" for one in PLACES if typed.text(one)]
        if typed.text(HUMIDITY):
            found.append(f"{typed.text(HUMIDITY).removesuffix('%').strip()} % humidity")
        found.append(calibration_text(self._desk.calibration))
        self._words.content = escape("; ".join(found))
