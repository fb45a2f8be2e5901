"""What the year's humidity does to an instrument."""

from nicegui import ui

from cases.page.bench_html import year_html
from cases.page.bench_typed import HUMIDITY, number_of
from cases.page.benchdesk import BenchDesk
from cases.page.parts.frame import Notice, act, html

DRY, DAMP = "30", "70"


class YearCard:
    """Relief, action and kink between the driest and the dampest day of the year."""

    def __init__(self, desk: BenchDesk) -> None:
        self._desk = desk
        with (
            ui.element("section").classes("card").props('aria-label="The season"'),
            ui.expansion("The season"),
        ):
            with ui.element("div").classes("form"):
                self._ends = [
                    ui.input(f"{name} day of the year [%]", value=value).props("outlined inputmode=decimal")
                    for name, value in (("Driest", DRY), ("Dampest", DAMP))
                ]
            act("What changes over the year?", self._ask, quiet=True)
            self._notice = Notice()
            self._found = html()

    async def _ask(self) -> None:
        self._notice.show()
        self._found.content = ""
        with self._notice.guard():
            low, high = (number_of(HUMIDITY, str(one.value or "")) for one in self._ends)
            year = await self._desk.year((low, high))
            self._found.content = year_html(year, inch=self._desk.unit == "in")
