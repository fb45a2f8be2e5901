"""The question's own line: instrument, strings and woods, and how far its answer is."""

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


class AskBar:
    """Choices that change the answer most, with progress and Cancel beside them."""

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
            self._again = act("Work it out", lambda: desk.take(desk.draft), quiet=True)
        self._problems = html()
        self.refresh()

    def _select(self, label: str, options: list[str], changed) -> ui.select:  # type: ignore[no-untyped-def]
        return ui.select(options, label=label, value=None, on_change=changed, with_input=False).props(
            "outlined dense options-dense"
        )

    def _pick(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if not self._quiet and event.value and event.value != DROPPED:
            self._desk.take(Draft(start=event.value))

    def _setter(self, key: str):  # type: ignore[no-untyped-def]
        def changed(event: events.ValueChangeEventArguments[Any]) -> None:
            if not self._quiet and event.value:
                self._desk.take(self._desk.draft.edited(key, event.value))

        return changed

    def refresh(self) -> None:
        """Show what the desk has now."""
        desk, self._quiet = self._desk, True
        draft = desk.draft
        names = list(desk.room.case_names())
        if draft.text is not None:
            names.append(DROPPED)
        start = DROPPED if draft.text is not None else draft.start
        self._start.set_options(names, value=start if start in names else None)
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
        self._problems.content = problems_html(
            desk.made.problems or ((desk.message,) if desk.standing == "failed" else ())
        )


def _standing_words(desk: Desk) -> str:
    return {
        "empty": "",
        "full": "Full answer, as the command gives it.",
        "working": "Working out the full answer …"
        if desk.about_deg is None
        else "Preview; the full answer is on its way …",
        "cancelled": "Cancelled: the answer shown belongs to the instrument before.",
        "failed": "No answer; the one shown belongs to the instrument before.",
        "wrong": "The answer shown belongs to the last instrument that was right.",
    }[desk.standing]
