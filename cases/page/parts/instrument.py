"""The instrument: every key of the case as a field, a file to load, a file to keep."""

from dataclasses import replace
from typing import Any

from nicegui import events, ui

from cases.page.desk import Desk
from cases.page.draft import MOST_FILE, Draft, dropped
from cases.page.fields import FormField, FormTable, form_of
from cases.page.parts.frame import act, html
from materials.errors import InputError

READ_FILE = f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  const text = file.size > {MOST_FILE} ? null : await file.text();
  event.target.value = "";
  emit({{name: file.name, text: text}});
}}"""
"""The browser reads the file and sends its text: nothing is stored on the way."""


class InstrumentPanel:
    """Fields by table; a table's fields are made when it is opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._start: tuple[str, str | None] | None = None
        self._shape: tuple[str, ...] = ()
        self._inputs: dict[str, ui.input | ui.select] = {}
        self._quiet = False
        with ui.element("div").classes("two"):
            with ui.element("label").classes("drop"):
                html("Load a TOML: drop it here, or pick it", look="quiet")
                chooser = ui.element("input").props('type=file accept=".toml"')
                chooser.on("change", self._load, js_handler=READ_FILE)
            with ui.element("div").classes("row-of"):
                save = act("Save as TOML", self._save)
                save.set_visibility(desk.room.may_save)
                act("Undo all changes", self._undo, quiet=True)
                self._count = html(look="quiet")
        self._said = html()
        self._tables = ui.element("div").classes("tables")

    def refresh(self) -> None:
        """Show what the desk has now."""
        desk = self._desk
        case = desk.made.case or desk.made.base
        changes = len(desk.draft.edits)
        self._count.content = (
            "" if not changes else f"{changes} change{'s' if changes > 1 else ''} of {start_name(desk.draft)}"
        )
        if case is None:
            return
        tables = form_of(case)
        shape = tuple(table.name for table in tables)
        start = (desk.draft.start, desk.draft.text)
        if start != self._start or shape != self._shape:
            self._start, self._shape = start, shape
            self._build(tables)
        self._update(tables)

    def _build(self, tables: tuple[FormTable, ...]) -> None:
        self._inputs.clear()
        self._tables.clear()
        with self._tables:
            for table in tables:
                self._expansion(table)

    def _expansion(self, table: FormTable) -> None:
        with ui.expansion(table.title) as part:
            grid = ui.element("div").classes("form")

        def opened(event: events.ValueChangeEventArguments[Any]) -> None:
            if event.value and not grid.default_slot.children:
                with grid:
                    for field in table.fields:
                        self._inputs[field.key] = self._input(field)
                self.refresh()

        part.on_value_change(opened)
        part.props(f'header-aria-label="{table.title}"')

    def _input(self, field: FormField) -> ui.input | ui.select:
        label = f"{field.label} [{field.unit}]" if field.unit else field.label
        typed = self._desk.draft.edits.get(field.key, field.text)

        def changed(event: events.ValueChangeEventArguments[Any]) -> None:
            if not self._quiet:
                self._typed(field.key, "" if event.value is None else str(event.value))

        if field.options:
            made: ui.input | ui.select = ui.select(
                list(field.options),
                label=label,
                value=typed if typed in field.options else None,
                on_change=changed,
            )
        else:
            made = ui.input(label, value=typed, on_change=changed).props("debounce=300 autocomplete=off")
        made.without_auto_validation().props("outlined").tooltip(f"{field.meaning} Allowed: {field.allowed}.")
        return made

    def _typed(self, key: str, text: str) -> None:
        try:
            self._desk.take(self._desk.draft.edited(key, text))
        except InputError as error:
            self._say(str(error))

    def _update(self, tables: tuple[FormTable, ...]) -> None:
        """Errors and hints under the fields; what is being typed is never replaced."""
        desk, self._quiet = self._desk, True
        for table in tables:
            for field in table.fields:
                shown = self._inputs.get(field.key)
                if shown is None:
                    continue
                if field.key not in desk.draft.edits and shown.value != field.text:
                    shown.set_value(field.text if not field.options or field.text in field.options else None)
                wrong = desk.made.problem_of(field.key)
                hint = (
                    field.allowed
                    if field.given or field.key in desk.draft.edits
                    else f"{field.allowed}; default"
                )
                shown.props(f'hint="{_quoted(hint)}"')
                shown.error = wrong
        self._quiet = False

    def _load(self, event: events.GenericEventArguments) -> None:
        try:
            draft = dropped(self._desk.draft, event.args)
        except InputError as error:
            self._say(str(error))
            return
        self._say("")
        self._desk.take(draft)

    def _say(self, text: str) -> None:
        from cases.page.answer_html import problems_html

        self._said.content = problems_html((text,) if text else ())

    def _save(self) -> None:
        case = self._desk.made.case
        if case is None or not self._desk.room.may_save:
            self._say("There is no right instrument to save yet; put right what is marked first.")
            return
        ui.download.content(case.to_toml(), f"{file_name(case.name)}.toml", "application/toml")

    def _undo(self) -> None:
        self._desk.take(replace(self._desk.draft, edits={}))


def start_name(draft: Draft) -> str:
    """What a draft began with."""
    return draft.start if draft.text is None else draft.text_name


def file_name(name: str) -> str:
    """A case's name as the name of a file.

    >>> file_name("../My guitar: 1")
    'My-guitar-1'
    """
    words = "".join(char if char.isalnum() or char in "-_" else " " for char in name).split()
    return "-".join(words) or "case"


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
