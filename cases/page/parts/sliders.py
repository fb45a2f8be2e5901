"""The live side view and its sliders."""

from collections.abc import Awaitable, Callable
from dataclasses import replace
from typing import Any

from nicegui import events, ui

from cases.page.answer_html import key_html
from cases.page.desk import Desk, Part
from cases.page.live import LEAST_FACTOR, MOST_FACTOR, Knobs
from cases.page.parts.frame import act, html
from cases.show.pictures.side_shape import FACTORS


class Knob:
    """A slider with name and value: the browser's own, for keyboard, touch and screen readers."""

    def __init__(
        self, name: str, *, low: float, high: float, step: float, said: Callable[[float], str],
        moved: Callable[[float], Awaitable[None] | None],
    ) -> None:  # fmt: skip
        self._said = said

        async def changed(event: events.GenericEventArguments) -> None:
            value = event.args
            if not isinstance(value, int | float) or not low <= value <= high:
                return
            self._now.content = said(float(value))
            under_way = moved(float(value))
            if under_way is not None:
                await under_way

        with ui.element("div").classes("knob") as self.whole:
            html(name, look="name")
            self._now = html(look="now")
            self._slider = ui.element("input").classes("range")
            self._slider.props(f'type=range min={low} max={high} step={step} aria-label="{name}"')
            self._slider.on("input", changed, throttle=0.05, js_handler="(e) => emit(Number(e.target.value))")

    def stand(self, value: float) -> None:
        """Set the slider without moving the neck.

        The value is set on the browser's element: as a property of the page it would reset the slider under
        the hand at every redraw.
        """
        self._now.content = self._said(value)
        element = f"getHtmlElement({self._slider.id})"
        self._slider.client.run_javascript(
            f"Vue.nextTick(() => {{ const one = {element}; if (one) one.value = {value:.6f} }})"
        )


class NeckCard:
    """The neck from the side; it bends while a slider moves."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._built_for: str | None = None
        with ui.element("section").classes("card").props('aria-label="The neck from the side"'):
            html("<h2>The neck from the side</h2>")
            self._picture = html()
            html(key_html("shaft line", "tongue line"))
            self._factor = html(look="quiet")
            with ui.element("div").classes("joint-row"):
                self._joint = html()
                self._readout = html()
            self._message = html(look="quiet")
            with ui.element("div").classes("knobs"):
                self._strings = self._knob("Strings, slack to pitch", 0.0, 100.0, 1.0, "strings")
                self._rod = self._knob("Rod, slack to 1½ times its setting", 0.0, 150.0, 1.0, "rod")
                self._exaggeration = Knob(
                    "Movements drawn", low=0, high=len(FACTORS) - 1, step=1,
                    said=lambda at: f"{FACTORS[int(at)]:g} times", moved=self._exaggerate,
                )  # fmt: skip
                self._neck = self._knob(
                    "Neck wood's stiffness", 100 * LEAST_FACTOR, 100 * MOST_FACTOR, 1.0, "neck"
                )
                self._bolts = self._knob("Bolt tension", 100 * LEAST_FACTOR, 100 * MOST_FACTOR, 1.0, "bolts")
            self._angles = ui.element("div").classes("knobs")
            act("Back to the answer", self._back, quiet=True)
        desk.listen(self._heard)

    def _knob(self, name: str, low: float, high: float, step: float, field: str) -> Knob:
        def moved(value: float) -> Awaitable[None]:
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
        if part == "answer" and self._built_for != desk.worked.sha256:
            self._built_for = desk.worked.sha256
            self._stand()
        drawing = desk.drawing()
        assert drawing is not None
        self._picture.content, self._joint.content = drawing.neck, drawing.joint
        self._readout.content = drawing.readout
        self._factor.content = (
            f"Movements, gaps and tapers are drawn {desk.stage.view.exaggeration:g} times their size."
            " A white seam between shim and neck: open there, however little."
        )
        self._message.content = desk.message if desk.standing == "full" else ""

    def _stand(self) -> None:
        """Set every slider to the new answer."""
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

    def _turn(self, number: int) -> Callable[[float], Awaitable[None]]:
        def moved(value: float) -> Awaitable[None]:
            angles = list(self._now().angles_deg or self._desk.found_deg)
            angles[number] = value
            return self._desk.drag(replace(self._now(), angles_deg=tuple(angles)))

        return moved

    async def _back(self) -> None:
        await self._desk.drag(Knobs())
        self._stand()
