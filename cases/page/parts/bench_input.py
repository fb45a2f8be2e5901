"""Fields of the bench: large type, the allowed range below, Enter goes on."""

from collections.abc import Awaitable, Callable

from nicegui import ui

from cases.page.bench_typed import BenchField, LengthUnit

ENTER = "event => { if (neckEnter(event)) emit() }"
"""Enter moves to the next field of the step; only in its last field it asks the server to go on."""


class BenchInput:
    """One field; ``changed`` gets key and text after each keystroke, ``entered`` is called after the last one
    of a step.
    """

    def __init__(
        self,
        field: BenchField,
        *,
        unit: LengthUnit,
        changed: Callable[[str, str], None],
        entered: Callable[[], Awaitable[None]] | None = None,
        hint: str = "",
    ) -> None:
        self.field = field
        heading = field.heading(unit)
        self.element = ui.input(heading, on_change=lambda event: changed(field.key, str(event.value or "")))
        self.element.props("outlined autocomplete=off autocapitalize=off spellcheck=false")
        # a phone's decimal keys have no minus
        mode = "text" if field.signed or not field.unit else "decimal"
        self.element.props(f"inputmode={mode}").on("keydown.enter", entered, [], js_handler=ENTER)
        self.hint(hint or field.allowed(unit))

    def hint(self, text: str) -> None:
        """Show a range below the field."""
        self.element.props["hint"] = text or None

    @property
    def text(self) -> str:
        """What is typed."""
        return str(self.element.value or "")


def focus(element: ui.element) -> None:
    """Move the focus to an element as soon as the browser shows it, its text selected."""
    ui.run_javascript(f'neckFocus("{element.html_id}")')
