"""Choice of instrument, strings and woods, and the progress of the answer."""

from collections.abc import Callable
from typing import Any

from nicegui import events, ui

from cases.page.answer_html import problems_html
from cases.page.desk import Desk
from cases.page.draft import Draft
from cases.page.parts.frame import act, html
from materials.strings import set_names
from materials.wood import wood_names

QUICK = {"strings.set": "Strings", "neck.wood": "Neck wood", "fretboard.wood": "Fretboard wood"}
DROPPED = "the file you loaded"
Changed = Callable[[events.ValueChangeEventArguments[Any]], None]


class AskBar:
    """The choices that change the answer most, with progress and Cancel."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._quiet = False
        with ui.element("div").classes("ask"):
            self._start = self._select("Instrument", list(desk.room.case_names()), self._pick)
            names = {"strings.set": set_names(), "neck.wood": wood_names(), "fretboard.wood": wood_names()}
            self._quick = {
                key: self._select(label, list(names[key]), self._setter(key)) for key, label in QUICK.items()
            }
        with ui.element("div").classes("status").props('role="status" aria-live="polite"'):
            self._words = html(look="quiet")
            self._bar = ui.linear_progress(show_value=False).props('indeterminate aria-label="working"')
            self._cancel = act("Cancel", desk.cancel, quiet=True)
            self._again = act("Calculate", lambda: desk.take(desk.draft), quiet=True)
        self._problems = html()
        self.refresh()

    def _select(self, label: str, options: list[str], changed: Changed) -> ui.select:
        return ui.select(options, label=label, value=None, on_change=changed, with_input=False).props(
            "outlined dense options-dense"
        )

    def _pick(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if not self._quiet and event.value and event.value != DROPPED:
            self._desk.take(Draft(start=event.value))

    def _setter(self, key: str) -> Changed:
        def changed(event: events.ValueChangeEventArguments[Any]) -> None:
            if not self._quiet and event.value:
                self._desk.take(self._desk.draft.edited(key, event.value))

        return changed

    def refresh(self) -> None:
        """Show the desk's current state."""
        desk, self._quiet = self._desk, True
        draft, names = desk.draft, list(desk.room.case_names())
        start = draft.start
        if draft.text is not None:
            names.append(start := DROPPED)
        if names != self._start.options:
            self._start.set_options(names)
        self._start.set_value(start if start in names else None)
        case = desk.made.case or desk.made.base
        for key, select in self._quick.items():
            typed = draft.edits.get(key) or (case.value(key) if case is not None else None)
            select.set_value(typed if typed in select.options else None)
        self._quiet = False
        working = desk.standing == "working"
        self._bar.set_visibility(working)
        self._cancel.set_visibility(working)
        self._again.set_visibility(desk.standing in ("cancelled", "failed"))
        self._words.content = _standing_words(desk)
        failed = (desk.message,) if desk.standing == "failed" else ()
        self._problems.content = problems_html(desk.made.problems or failed)


def _standing_words(desk: Desk) -> str:
    preview = "Preview; c" if desk.about_deg is not None else "C"
    return {
        "empty": "",
        "full": "Full answer, identical to the command's.",
        "working": f"{preview}alculating the full answer …",
        "cancelled": "Cancelled: the answer shown is for the previous instrument.",
        "failed": "No answer; the one shown is for the previous instrument.",
        "wrong": "The answer shown is for the last valid instrument.",
    }[desk.standing]
