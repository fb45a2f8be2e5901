"""The bench in the order of the work: scan, read the pocket, pair, label, bolt up, check dry, string up."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, Literal

from nicegui import events, ui

from cases.bench.shims.choose_pair import PairForecast
from cases.bench.shims.geometry import geometry_of
from cases.bench.shims.swap import Swap
from cases.page.answer_html import problems_html
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
    OF_GUITAR,
    OF_POCKET,
    READING,
    SQUARES,
    Typed,
    possible_reading,
)
from cases.page.benchdesk import BenchDesk
from cases.page.parts.bench_input import ENTER, BenchInput, focus
from cases.page.parts.bench_place import PlaceCard
from cases.page.parts.bench_steps import StepList, next_words
from cases.page.parts.fitted import FittedCard
from cases.page.parts.frame import Notice, act, html, sheet
from cases.page.parts.kept import keep, kept_by_tab, on_first_connection
from cases.page.parts.year import YearCard
from cases.page.room import Room
from cases.page.work import Workroom

NONE_RELEASED = (
    "No case is released: the bench takes cases with revision, released_by and released_on; have one "
    "released, then load this page again."
)
READ_AGAIN = {"swap": "the pair was not right: a swap", "return": "it came back after delivery: a return"}


def bench_page(room: Room, benches: Workroom) -> None:
    """Build the bench for one visitor."""
    with sheet(room, here="/bench", title="The bench"):
        names = list(room.case_names())
        if names:
            BenchView(room, benches, names)
        else:
            html(problems_html((NONE_RELEASED,)))


class BenchView:
    """Steps, the one large button for the next of them, and the guitar in the log."""

    def __init__(self, room: Room, benches: Workroom, names: list[str]) -> None:
        self._desk = BenchDesk(room, benches)
        self._typed, self._names = Typed(), names
        self._inputs: dict[str, BenchInput] = {}
        self._swap: Swap | None = None
        self._quiet = False
        self._under_way: set[str] = set()
        with ui.element("div").classes("two bench"):
            with ui.element("section").classes("card").props('aria-label="The work"'):
                self._case = ui.select(names, label="Instrument", on_change=self._chosen).props("outlined")
                self._place = PlaceCard(self._desk, changed=self._changed)
                self._steps = StepList()
                self._build_before_the_neck_goes_in()
                self._build_after()
                with ui.element("div").classes("next"):
                    self._notice = Notice()
                    with ui.element("div").props('role="status" aria-live="polite"'):
                        self._status = html(look="quiet")
                    self._next = act("Next", self._go)
            with ui.element("div"):
                self._fitted = FittedCard(self._desk, self._corrected)
                self._year = YearCard(self._desk)
        self._inputs |= self._place.inputs
        on_first_connection(self._restore)

    def _field(self, *fields: Any, hint: str = "") -> None:
        for one in fields:
            self._inputs[one.key] = BenchInput(
                one, unit=self._desk.unit, changed=self._changed, entered=self._go, hint=hint
            )

    def _build_before_the_neck_goes_in(self) -> None:
        steps = self._steps
        with steps.step("scan"):
            self._serial = ui.input("Serial", on_change=lambda event: self._changed("serial", event.value))
            self._serial.props('outlined autocomplete=off autocapitalize=off data-scan hint="scan or type"')
            self._serial.on("keydown.enter", self._take_up, [], js_handler=ENTER)
            self._again = act("Read its pocket again", lambda: self._once_more("pocket"), quiet=True)
        with steps.step("read"):
            with ui.element("div").classes("bench-form"):
                self._field(READING)
                self._field(*SQUARES, hint="gap at the cap end, open = +")
                self._field(MOVED, hint="movement of the dial by the mass")
            self._why = ui.select(READ_AGAIN, value="swap", label="Why again").props("outlined")
        with steps.step("pair"):
            self._pair, self._more = html(), html()
            self._others = ui.element("div").classes("row-of")
        with steps.step("label"):
            self._label = html()
            act("Print the label", lambda: ui.run_javascript("neckPrintLabel()"), quiet=True)
        with steps.step("bolt"):
            self._bolting = html()
        with steps.step("dry"):
            with ui.element("div").classes("row-of") as self._read_dry:
                self._field(BOLTED, hint="before any string: -0.07, several, or the tongue gap as 0.05mm")
                act("Skip the dry check", self._as_it_is, quiet=True)
            self._dry_found = html()
            with ui.element("div").classes("row-of") as self._after_dry:
                act("Read the joint again", lambda: self._once_more("joint"), quiet=True)
                self._keep_pair = act("String up as it is", self._as_it_is, quiet=True)

    def _build_after(self) -> None:
        with self._steps.step("string"):
            self._string_up = html()
        with self._steps.step("measure"), ui.element("div").classes("bench-form"):
            self._field(*AT_PITCH, *MORE_AT_PITCH)
        with self._steps.step("done"):
            self._verdict = html()

    async def _restore(self) -> None:
        """Put back what the tab kept: the input, the guitar, its pair or its verdict."""
        kept = await kept_by_tab("bench", Typed)
        self._typed = kept
        self._fill()
        name = kept.case if kept.case in self._names else self._names[0]
        self._quiet = True
        self._case.set_value(name)
        self._quiet = False
        await self._solve(name)
        if kept.taken:
            await self._guarded(self._take_up_kept)
        self._show(move=True)

    async def _take_up_kept(self) -> None:
        self._desk.scan(self._typed.taken)
        if self._desk.step == "read" and self._typed.asked:
            await self._choose_pair()
        else:
            await self._look_again()

    async def _look_again(self) -> None:
        """Check or judge a guitar again by what is in the log."""
        if self._desk.step == "done":
            await self._judge()
        elif self._desk.step in ("change", "string") and self._desk.bolted:
            await self._desk.dry_again()

    def _fill(self) -> None:
        """Show the kept texts in their fields."""
        self._quiet = True
        self._serial.set_value(self._typed.serial)
        for key, one in self._inputs.items():
            one.element.set_value(self._typed.texts.get(key, ""))
        for key, tick in self._place.uses.items():
            tick.set_value(self._typed.uses(key))
        self._quiet = False

    def _keep(self) -> None:
        keep("bench", self._typed)

    def _changed(self, key: str, text: str | None) -> None:
        """Keep what was typed; clear the answer that it makes void."""
        if self._quiet:
            return
        if key == "serial":
            self._typed.serial = text or ""
            if self._desk.serial:
                self._desk.clear_guitar()
                self._show()
        else:
            self._typed.texts[key] = text or ""
            if key in OF_POCKET:
                self._typed.asked = False
                self._typed.tested = ""
                self._desk.clear_pair()
            if key in OF_POCKET or key not in self._inputs or key in self._place.inputs:
                self._show()
        self._notice.show()
        self._keep()

    async def _chosen(self, event: events.ValueChangeEventArguments[Any]) -> None:
        if event.value and not self._quiet:
            self._typed.case = event.value
            self._keep()
            await self._solve(event.value)

    async def _solve(self, name: str) -> None:
        self._status.content = "Solving the instrument for the bench …"
        self._desk.clear_pair()
        self._show()
        if await self._guarded(lambda: self._desk.choose(name)):
            self._status.content = "Ready."
        case = self._desk.case
        if case is not None:
            unit, inch = self._desk.unit, self._desk.unit == "in"
            self._inputs[READING.key].hint(possible_reading(geometry_of(case), unit=unit))
            self._bolting.content = bolting_html(case)
            self._string_up.content = string_up_html(case, inch=inch)
        self._show()

    async def _guarded(self, work: Callable[[], Any]) -> bool:
        """Do work whose error is shown above the button; whether it was done."""
        done = False
        self._notice.show()
        with self._notice.guard():
            found = work()
            if found is not None:
                await found
            done = True
        return done

    async def _go(self) -> None:
        """Do the next step of the work: the large button, and Enter in the last field of a step."""
        step = self._desk.step
        if step in self._under_way:
            return
        self._under_way.add(step)
        try:
            work = {
                "scan": self._take_up, "read": self._ask_pair, "pair": self._log_pair, "dry": self._dry,
                "change": self._change_dry,
                "string": self._at_pitch, "done": self._finish,
            }[step]  # fmt: skip
            await work()
        finally:
            self._under_way.discard(step)

    async def _take_up(self) -> None:
        """Take up the guitar scanned; what was typed for another one goes."""
        self._status.content = ""
        if await self._guarded(lambda: self._desk.scan(self._typed.serial)):
            desk, typed = self._desk, self._typed
            if desk.serial != typed.taken:
                typed.texts = {key: text for key, text in typed.texts.items() if key not in OF_GUITAR}
                typed.taken, typed.asked, typed.tested = desk.serial, False, ""
                self._fill()
            self._keep()
            await self._guarded(self._look_again)
        self._show(move=True)

    def _once_more(self, what: Literal["pocket", "joint"]) -> None:
        self._desk.again = what
        self._show(move=True)

    async def _ask_pair(self) -> None:
        self._typed.asked = True
        if self._typed.texts.get(MOVED.key) and not self._typed.tested:
            self._typed.tested = datetime.now(UTC).isoformat(timespec="seconds")
        self._keep()
        await self._guarded(self._choose_pair)
        self._status.content = ""

    async def _choose_pair(self) -> None:
        desk, inch = self._desk, self._desk.unit == "in"
        self._status.content = "Choosing the pair …"
        first = await desk.pair_for(self._typed)
        self._pair.content = pair_html(first.pair, serial=desk.serial, reading_mm=first.reading_mm, inch=inch)
        self._more.content = ""
        self._show(move=True)
        self._status.content = "Calculating the chance that it is right …"
        self._more.content = whole_html(await desk.whole_pair(), inch=inch)
        self._status.content = ""
        self._show()

    async def _log_pair(self, pair: PairForecast | None = None) -> None:
        desk = self._desk
        chosen = pair or desk.offered[0]
        reason = str(self._why.value) if desk.fits else "new"

        async def write() -> None:
            self._said_logged(await desk.log_pair(chosen, self._typed, reason=reason))

        await self._guarded(write)
        self._show(move=True)

    def _said_logged(self, warning: str | None) -> None:
        """After a fit was logged: nothing measured on the pair before counts for this one."""
        for key in (BOLTED.key, *(one.key for one in (*AT_PITCH, *MORE_AT_PITCH))):
            self._typed.texts.pop(key, None)
        self._typed.asked = False
        self._fill()
        self._keep()
        if warning:
            self._notice.show(warning)

    async def _dry(self) -> None:
        self._status.content = "Comparing with the expected …"
        if await self._guarded(lambda: self._desk.check_dry(self._typed)):
            self._typed.texts.pop(BOLTED.key, None)
            self._fill()
        self._status.content = ""
        self._show(move=True)

    async def _change_dry(self) -> None:
        found = self._desk.dry
        if found is not None:
            await self._guarded(lambda: self._said_logged(self._desk.log_next(found.check.best)))
        self._show(move=True)

    def _as_it_is(self) -> None:
        self._desk.as_it_is = True
        self._show(move=True)

    async def _at_pitch(self) -> None:
        if await self._guarded(lambda: self._desk.log_at_pitch(self._typed)):
            await self._guarded(self._judge)
        self._show(move=True)

    async def _judge(self) -> None:
        self._swap, self._verdict.content = None, ""
        self._status.content = "Comparing with the expected …"
        swap = await self._desk.judge()
        self._swap = swap
        inch = self._desk.unit == "in"
        self._verdict.content = swap_html(swap, serial=self._desk.serial, inch=inch)
        self._status.content = ""

    async def _finish(self) -> None:
        """Log the swap advised, else go on to the next guitar."""
        swap = self._swap
        if swap is not None and not swap.keep:
            await self._guarded(lambda: self._said_logged(self._desk.log_next(swap.new)))
        else:
            self._serial.set_value("")
        self._show(move=True)

    async def _corrected(self) -> None:
        """After a correction in the log: the step and the verdict may be others."""
        self._desk.read_log()
        await self._guarded(self._look_again)
        self._show()

    def _show(self, *, move: bool = False) -> None:
        """Show the step of the work, and with ``move`` put the focus on the next field or button."""
        desk, typed, inch = self._desk, self._typed, self._desk.unit == "in"
        step, last = desk.step, desk.last
        self._steps.show(step, summaries(last, inch=inch))
        if step != "done":
            self._swap, self._verdict.content = None, ""
        self._again.set_visibility(bool(desk.fits) and step not in ("read", "pair"))
        self._why.set_visibility(bool(desk.fits))
        for key, uses in ((one.key, "use_squares") for one in SQUARES):
            self._inputs[key].element.set_visibility(typed.uses(uses))
        for one in MORE_AT_PITCH:
            self._inputs[one.key].element.set_visibility(typed.uses("use_more"))
        self._inputs[MOVED.key].element.set_visibility(any(typed.text(one) for one in JIG))
        self._read_dry.set_visibility(step == "dry")
        self._after_dry.set_visibility(step in ("change", "string") and desk.bolted)
        self._keep_pair.set_visibility(step == "change")
        dry = desk.dry if step in ("change", "string") else None
        self._dry_found.content = dry_html(dry.check, ends=dry.ends, inch=inch) if dry else ""
        self._label.content = label_html(last) if last is not None else ""
        self._offer()
        self._place.show(typed)
        self._fitted.show()
        self._next.set_text(next_words(desk, self._swap))
        if move:
            focus(self._target())

    def _target(self) -> ui.element:
        """The field or button to use next."""
        step = self._desk.step
        if step in ("pair", "change") or (step == "done" and self._swap is not None and not self._swap.keep):
            return self._next
        field = {"read": READING, "dry": BOLTED, "string": AT_PITCH[0]}.get(step)
        return self._serial if field is None else self._inputs[field.key].element

    def _offer(self) -> None:
        """The neighbouring pairs, each with a button of its own."""
        self._others.clear()
        with self._others:
            for pair in self._desk.offered[1:]:
                words = f"Log {short_pair(pair)} for {self._desk.serial} instead"
                act(words, lambda _, chosen=pair: self._log_pair(chosen), quiet=True)
