"""The instrument: every key of the case as a field, loading and saving of a file."""

from typing import Any

from nicegui import events, ui

from cases.page.desk import Desk
from cases.page.draft import MOST_FILE, dropped
from cases.page.fields import FormField, FormTable
from cases.page.parts.frame import Notice, act, html

READ_FILE = f"""async (event) => {{
  const file = event.target.files[0];
  if (!file) return;
  const text = file.size > {MOST_FILE} ? null : await file.text();
  event.target.value = "";
  emit({{name: file.name, text: text}});
}}"""
"""The browser reads the file and sends its text; nothing is stored on the way."""


class InstrumentPanel:
    """Fields by table, built when the table is opened."""

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
        self._notice = Notice()
        self._tables = ui.element("div").classes("tables")

    def refresh(self) -> None:
        """Show the desk's current state."""
        desk = self._desk
        case = desk.made.case or desk.made.base
        changes = len(desk.draft.edits)
        plural = "s" if changes > 1 else ""
        self._count.content = (
            f"{changes} change{plural} of {desk.draft.text_name or desk.draft.start}" if changes else ""
        )
        if case is None:
            return
        tables = desk.form(case)
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
        part = ui.expansion(table.title)

        def opened(event: events.ValueChangeEventArguments[Any]) -> None:
            if event.value and not part.default_slot.children:
                with part, ui.element("div").classes("form"):
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
        with self._notice.guard():
            self._desk.take(self._desk.draft.edited(key, text))

    def _update(self, tables: tuple[FormTable, ...]) -> None:
        """Update errors and hints below the fields; text being typed is never replaced."""
        desk, self._quiet = self._desk, True
        for table in tables:
            for field in table.fields:
                shown = self._inputs.get(field.key)
                if shown is None:
                    continue
                if field.key not in desk.draft.edits and shown.value != field.text:
                    shown.set_value(field.text if not field.options or field.text in field.options else None)
                default = "" if field.given or field.key in desk.draft.edits else "; default"
                shown.props(f'hint="{_quoted(field.allowed + default)}"')
                shown.error = desk.made.problem_of(field.key)
        self._quiet = False

    def _load(self, event: events.GenericEventArguments) -> None:
        with self._notice.guard():
            draft = dropped(self._desk.draft, event.args)
            self._notice.show()
            self._desk.take(draft)

    def _save(self) -> None:
        case = self._desk.made.case
        if case is None or not self._desk.room.may_save:
            self._notice.show("There is no valid instrument to save; correct the marked fields first.")
            return
        ui.download.content(case.to_toml(), f"{case.name}.toml", "application/toml")

    def _undo(self) -> None:
        self._desk.take(self._desk.draft.model_copy(update={"edits": {}}))


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
