"""The living side view and the sliders that bend it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from nicegui import events, ui

from cases.page.answer_html import readout_html
from cases.page.desk import Desk, Part
from cases.page.live import LEAST_FACTOR, MOST_FACTOR, Knobs
from cases.page.parts.frame import html
from cases.page.svg import neck_pictures
from cases.show.side_shape import FACTORS


class Knob:
    """A slider with its name and what it stands at."""

    def __init__(
        self, name: str, *, low: float, high: float, step: float, said: Callable[[float], str],
        moved: Callable[[float], object],
    ) -> None:  # fmt: skip
        self._said = said
        self._stood = low

        async def changed(event: events.ValueChangeEventArguments[Any]) -> None:
            if event.value is None:
                return
            self._now.content = said(float(event.value))
            # the page itself stood the slider there: nothing was dragged
            if abs(float(event.value) - self._stood) > 1e-9:
                self._stood = float(event.value)
                found = moved(float(event.value))
                if hasattr(found, "__await__"):
                    await found

        with ui.element("div").classes("knob") as self.whole:
            html(name, look="name")
            self._now = html(look="now")
            self._slider = ui.slider(min=low, max=high, step=step, value=low, on_change=changed)
            self._slider.props(f'aria-label="{name}"')

    def stand(self, value: float) -> None:
        """Put the slider somewhere without moving the neck."""
        self._stood = value
        self._slider.set_value(value)
        self._now.content = self._said(value)


class NeckCard:
    """The neck from the side; it bends while a slider moves."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._built_for: str | None = None
        with ui.element("section").classes("card").props('aria-label="The neck from the side"'):
            self._picture = html()
            html(
                '<span class="key"></span>shaft line '
                '<span style="margin-left:14px" class="key b"></span>tongue line',
                look="quiet",
            )
            self._factor = html(look="quiet")
            with ui.element("div").classes("joint-row"):
                self._joint = html()
                self._readout = html()
            self._message = html(look="quiet")
            with ui.element("div").classes("knobs"):
                self._strings = self._knob("Strings, slack to pitch", 0.0, 100.0, 1.0, "strings")
                self._rod = self._knob("Rod, slack to 1½ of its setting", 0.0, 150.0, 1.0, "rod")
                self._exaggeration = Knob(
                    "Movements drawn", low=0, high=len(FACTORS) - 1, step=1,
                    said=lambda at: f"{FACTORS[int(at)]:g} times", moved=self._exaggerate,
                )  # fmt: skip
                self._neck = self._knob(
                    "Neck wood's stiffness", 100 * LEAST_FACTOR, 100 * MOST_FACTOR, 1.0, "neck"
                )
                self._bolts = self._knob("Bolt tension", 100 * LEAST_FACTOR, 100 * MOST_FACTOR, 1.0, "bolts")
            self._angles = ui.element("div").classes("knobs")
            ui.button("Back to the answer", on_click=self._back).props("outline")
        desk.listen(self._heard)

    def _knob(self, name: str, low: float, high: float, step: float, field: str) -> Knob:
        def moved(value: float) -> object:
            turned: dict[str, Any] = {field: 0.01 * value}
            return self._desk.drag(replace(self._now(), **turned))

        return Knob(name, low=low, high=high, step=step, said=lambda at: f"{at:.0f} %", moved=moved)

    def _now(self) -> Knobs:
        return self._desk.next_knobs

    def _exaggerate(self, at: float) -> None:
        self._desk.exaggerate(FACTORS[int(at)])

    def _heard(self, part: Part) -> None:
        desk = self._desk
        if desk.worked is None or desk.live is None or desk.stage is None:
            return
        if part == "answer" and self._built_for != desk.worked.case.sha256:
            self._built_for = desk.worked.case.sha256
            self._stand()
        self._picture.content, self._joint.content = neck_pictures(desk.stage, desk.live)
        self._readout.content = readout_html(desk.live)
        self._factor.content = (
            f"Movements and tapers are drawn {desk.stage.view.exaggeration:g} times their size."
        )
        self._message.content = desk.message if desk.standing == "full" else ""

    def _stand(self) -> None:
        """Put every slider where the new answer has it."""
        desk = self._desk
        assert desk.worked is not None
        assert desk.stage is not None
        self._strings.stand(100.0 * desk.knobs.strings)
        self._rod.stand(100.0)
        self._rod.whole.set_visibility(desk.worked.offset.pair.strung.rod != 0.0)
        self._neck.stand(100.0)
        self._bolts.stand(100.0)
        self._exaggeration.stand(float(FACTORS.index(desk.stage.view.exaggeration)))
        self._angles.clear()
        with self._angles:
            for number, (shim, angle) in enumerate(
                zip(desk.worked.answer.shims, desk.found_deg, strict=True)
            ):
                low, high = min(-0.5, angle - 0.1), max(0.5, angle + 0.1)
                knob = Knob(
                    f"{shim.name.capitalize()} shim", low=round(low, 2), high=round(high, 2), step=0.01,
                    said=lambda at: f"{at:+.2f}°", moved=self._turn(number),
                )  # fmt: skip
                knob.stand(angle)

    def _turn(self, number: int) -> Callable[[float], object]:
        def moved(value: float) -> object:
            angles = list(self._now().angles_deg or self._desk.found_deg)
            angles[number] = value
            return self._desk.drag(replace(self._now(), angles_deg=tuple(angles)))

        return moved

    async def _back(self) -> None:
        await self._desk.drag(Knobs())
        self._stand()
