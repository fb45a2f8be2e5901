"""What stands on the bench's page: the steps with their fields, the large button, the guitar in the log."""

from html import escape
from typing import Any, Literal, Protocol

from nicegui import events, ui

from cases.bench.shims.choose_pair import PairForecast
from cases.bench.shims.geometry import geometry_of
from cases.bench.shims.swap import Swap
from cases.page.bench_html import (
    bolting_html,
    dry_html,
    label_html,
    pair_html,
    short_pair,
    string_up_html,
    summaries,
    swap_html,
    whole_html,
)
from cases.page.bench_typed import (
    AT_PITCH,
    BOLTED,
    JIG,
    MORE_AT_PITCH,
    MOVED,
    READING,
    SQUARES,
    BenchField,
    Typed,
    possible_reading,
)
from cases.page.benchdesk import BenchDesk
from cases.page.parts.bench_input import ENTER, BenchInput, focus
from cases.page.parts.bench_place import PlaceCard
from cases.page.parts.bench_steps import StepList, next_words
from cases.page.parts.fitted import FittedCard
from cases.page.parts.frame import Notice, act, html
from cases.page.parts.year import YearCard

READ_AGAIN = {"swap": "the pair was not right: a swap", "return": "it came back after delivery: a return"}


class Doing(Protocol):
    """What the fields and buttons of the sheet do."""

    def changed(self, key: str, text: str | None) -> None:
        """A field was typed in."""

    async def chosen(self, event: events.ValueChangeEventArguments[Any]) -> None:
        """An instrument was chosen."""

    async def take_up(self) -> None:
        """A guitar was scanned."""

    async def go(self) -> None:
        """The next step of the work is to be done."""

    async def log_pair(self, pair: PairForecast) -> None:
        """A pair other than the best one went in."""

    def once_more(self, what: Literal["pocket", "joint"]) -> None:
        """Something is to be read again."""

    def strike(self) -> None:
        """The readings of the bolted joint are wrong."""

    def as_it_is(self) -> None:
        """The guitar is strung up without a dry check, or against its advice."""

    async def corrected(self) -> None:
        """An entry of the log was corrected."""


class BenchSheet:
    """The elements of one visitor's bench."""

    def __init__(self, desk: BenchDesk, doing: Doing, names: list[str]) -> None:
        self._desk, self._doing = desk, doing
        self.inputs: dict[str, BenchInput] = {}
        with ui.element("div").classes("two bench"):
            with ui.element("section").classes("card").props('aria-label="The work"'):
                self.case = ui.select(names, label="Instrument", on_change=doing.chosen).props("outlined")
                self._place = PlaceCard(desk, changed=doing.changed)
                self._steps = StepList()
                self._build_before_the_neck_goes_in()
                self._build_bolted()
                self._build_after()
                with ui.element("div").classes("next"):
                    self.notice = Notice()
                    with ui.element("div").props('role="status" aria-live="polite"'):
                        self._status = html(look="status-line")
                    self._next = act("Next", doing.go)
            with ui.element("div"):
                self._fitted = FittedCard(desk, doing.corrected)
                YearCard(desk)
        self.inputs |= self._place.inputs

    @property
    def _inch(self) -> bool:
        return self._desk.unit == "in"

    def _field(self, *fields: BenchField, hint: str = "") -> None:
        for one in fields:
            self.inputs[one.key] = BenchInput(
                one, unit=self._desk.unit, changed=self._doing.changed, entered=self._doing.go, hint=hint
            )

    def _build_before_the_neck_goes_in(self) -> None:
        steps = self._steps
        with steps.step("scan"):
            self.serial = ui.input(
                "Serial", on_change=lambda event: self._doing.changed("serial", event.value)
            )
            self.serial.props('outlined autocomplete=off autocapitalize=off data-scan hint="scan or type"')
            self.serial.on("keydown.enter", self._doing.take_up, [], js_handler=ENTER)
            self._again = act("Read its pocket again", lambda: self._doing.once_more("pocket"), quiet=True)
        with steps.step("read"):
            with ui.element("div").classes("bench-form"):
                self._field(READING)
                self._field(*SQUARES, hint="gap at the cap end, open = +")
                self._field(MOVED, hint="movement of the dial by the mass")
            self.why = ui.select(READ_AGAIN, value="swap", label="Why again").props("outlined")
        with steps.step("pair"):
            self._pair, self._more = html(), html()
            self._others = ui.element("div").classes("row-of")

    def _build_bolted(self) -> None:
        steps = self._steps
        with steps.step("label"):
            self._label = html()
            act("Print the label", lambda: ui.run_javascript("neckPrintLabel()"), quiet=True)
        with steps.step("bolt"):
            self._bolting = html()
        with steps.step("dry"):
            with ui.element("div").classes("row-of") as self._read_dry:
                self._field(
                    BOLTED, hint="no strings, rod slack: -0.07, several, or the tongue gap as -0.10mm"
                )
                act("Skip the dry check", self._doing.as_it_is, quiet=True)
            self._dry_found = html()
            with ui.element("div").classes("row-of") as self._after_dry:
                self._strike = act("Strike the reading out", self._doing.strike, quiet=True)
                self._read_joint = act(
                    "Read the joint again", lambda: self._doing.once_more("joint"), quiet=True
                )
                self._keep_pair = act("String up as it is", self._doing.as_it_is, quiet=True)

    def _build_after(self) -> None:
        with self._steps.step("string"):
            self._string_up = html()
        with self._steps.step("measure"), ui.element("div").classes("bench-form"):
            self._field(*AT_PITCH, *MORE_AT_PITCH)
        with self._steps.step("done"):
            self._verdict = html()

    def solved(self) -> None:
        """Show what depends on the instrument."""
        case = self._desk.case
        if case is not None:
            self.inputs[READING.key].hint(possible_reading(geometry_of(case), unit=self._desk.unit))
            self._bolting.content = bolting_html(case)
            self._string_up.content = string_up_html(case, inch=self._inch)

    def fill(self, typed: Typed) -> None:
        """Show kept texts in their fields."""
        self.serial.set_value(typed.serial)
        for key, one in self.inputs.items():
            one.element.set_value(typed.texts.get(key, ""))
        for key, tick in self._place.uses.items():
            tick.set_value(typed.uses(key))

    def say(self, words: str) -> None:
        """Say above the button what is going on, or what was found; screen readers read it out."""
        self._status.content = escape(words)

    def show(self, typed: Typed, swap: Swap | None, *, move: bool = False) -> None:
        """Show the step of the work, and with ``move`` put the focus on the next field or button."""
        desk, inch = self._desk, self._inch
        step, last, serial = desk.step, desk.last, desk.serial
        self._steps.show(step, summaries(last, inch=inch))
        first, whole = desk.first, desk.whole
        self._pair.content = (
            ""
            if first is None
            else pair_html(first.pair, serial=serial, reading_mm=first.reading_mm, inch=inch)
        )
        self._more.content = "" if whole is None else whole_html(whole, inch=inch)
        self._verdict.content = "" if swap is None else swap_html(swap, serial=serial, inch=inch)
        self._again.set_visibility(bool(desk.fits) and step not in ("read", "pair"))
        self.why.set_visibility(bool(desk.fits))
        for key, uses in ((one.key, "use_squares") for one in SQUARES):
            self.inputs[key].element.set_visibility(typed.uses(uses))
        for one in MORE_AT_PITCH:
            self.inputs[one.key].element.set_visibility(typed.uses("use_more"))
        self.inputs[MOVED.key].element.set_visibility(any(typed.text(one) for one in JIG))
        self._read_dry.set_visibility(step == "dry")
        dry = desk.dry if step in ("dry", "change", "string") else None
        odd = dry is not None and dry.check.odd
        self._after_dry.set_visibility(dry is not None)
        self._strike.set_visibility(odd)
        self._read_joint.set_visibility(step != "dry")
        self._keep_pair.set_visibility(step == "change" or odd)
        self._dry_found.content = dry_html(dry.check, inch=inch) if dry else ""
        self._label.content = label_html(last) if last is not None else ""
        self._offer()
        self._place.show(typed)
        self._fitted.show()
        self._next.set_text(next_words(desk, swap))
        if move:
            focus(self._target(swap))

    def _target(self, swap: Swap | None) -> ui.element:
        """The field or button to use next."""
        step = self._desk.step
        if step in ("pair", "change") or (step == "done" and swap is not None and not swap.keep):
            return self._next
        field = {"read": READING, "dry": BOLTED, "string": AT_PITCH[0]}.get(step)
        return self.serial if field is None else self.inputs[field.key].element

    def _offer(self) -> None:
        """The neighbouring pairs, each with a button of its own."""
        self._others.clear()
        with self._others:
            for pair in self._desk.offered[1:]:
                words = f"Log {short_pair(pair)} for {self._desk.serial} instead"
                act(words, lambda _, chosen=pair: self._doing.log_pair(chosen), quiet=True)
