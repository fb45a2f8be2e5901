"""The bench in the order of the work: scan, read the pocket, pair, label, bolt up, check dry, string up."""

from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from typing import Any, Literal

from nicegui import events

from cases.bench.shims.choose_pair import PairForecast
from cases.bench.shims.swap import Swap
from cases.page.answer_html import problems_html
from cases.page.bench_html import chance_text, named_pair, swap_verdict
from cases.page.bench_typed import (
    AT_PITCH,
    BOLTED,
    MORE_AT_PITCH,
    MOVED,
    OF_GUITAR,
    OF_POCKET,
    READING,
    SQUARES,
    BenchField,
    Typed,
)
from cases.page.benchdesk import BenchDesk
from cases.page.parts.bench_sheet import BenchSheet
from cases.page.parts.frame import html, sheet
from cases.page.parts.kept import keep, kept_by_tab, on_first_connection
from cases.page.room import Room
from cases.page.work import Workroom
from cases.show.text.dry import verdict

NONE_RELEASED = (
    "No case is released: the bench takes cases with revision, released_by and released_on; have one "
    "released, then load this page again."
)
IN_LOG_ONLY = frozenset(one.key for one in (BOLTED, *AT_PITCH, *MORE_AT_PITCH))
"""Fields that change nothing on the page before they are logged."""


def bench_page(room: Room, benches: Workroom) -> None:
    """Build the bench for one visitor."""
    with sheet(room, here="/bench", title="The bench"):
        names = list(room.case_names())
        if names:
            BenchView(room, benches, names)
        else:
            html(problems_html((NONE_RELEASED,)))


class BenchView:
    """What happens on one visitor's bench."""

    def __init__(self, room: Room, benches: Workroom, names: list[str]) -> None:
        self._desk = BenchDesk(room, benches)
        self._typed, self._names = Typed(), names
        self._swap: Swap | None = None
        self._quiet = False
        self._under_way: set[str] = set()
        self._sheet = BenchSheet(self._desk, self, names)
        on_first_connection(self._restore)

    async def _restore(self) -> None:
        """Put back what the tab kept: the input, the guitar, its pair or its verdict."""
        kept = await kept_by_tab("bench", Typed)
        self._typed = kept
        self._fill()
        name = kept.case if kept.case in self._names else self._names[0]
        self._quiet = True
        self._sheet.case.set_value(name)
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
        elif self._desk.step in ("dry", "change", "string") and self._desk.bolted:
            await self._desk.dry_again()
            self._say_dry()

    def _fill(self) -> None:
        self._quiet = True
        self._sheet.fill(self._typed)
        self._quiet = False

    def _show(self, *, move: bool = False) -> None:
        """Show the step of the work, and with ``move`` put the focus on the next field or button."""
        if self._desk.step != "done":
            self._swap = None
        self._sheet.show(self._typed, self._swap, move=move)

    def _forget(self, *fields: BenchField) -> None:
        """Empty some fields."""
        for one in fields:
            self._typed.texts.pop(one.key, None)
        self._fill()

    def _keep(self) -> None:
        keep("bench", self._typed)

    def changed(self, key: str, text: str | None) -> None:
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
            if key not in IN_LOG_ONLY:
                self._show()
        self._sheet.notice.show()
        self._sheet.say("")
        self._keep()

    async def chosen(self, event: events.ValueChangeEventArguments[Any]) -> None:
        """Solve another instrument."""
        if event.value and not self._quiet:
            self._typed.case = event.value
            self._keep()
            await self._solve(event.value)

    async def _solve(self, name: str) -> None:
        self._sheet.say("Solving the instrument for the bench …")
        self._desk.clear_pair()
        self._show()
        if await self._guarded(lambda: self._desk.choose(name)):
            self._sheet.say("Ready.")
        self._sheet.solved()
        self._show()

    async def _guarded(self, work: Callable[[], Any]) -> bool:
        """Do work whose error is shown above the button; whether it was done."""
        done = False
        self._sheet.notice.show()
        with self._sheet.notice.guard():
            found = work()
            if found is not None:
                await found
            done = True
        return done

    async def go(self) -> None:
        """Do the next step of the work: the large button, and Enter in the last field of a step."""
        work = {
            "scan": self.take_up, "read": self._ask_pair, "pair": self._log_best, "dry": self._dry,
            "change": self._change_dry, "string": self._at_pitch, "done": self._finish,
        }[self._desk.step]  # fmt: skip
        # a new reading supersedes the one under way; an entry is written once
        await (work() if self._desk.step in ("scan", "read") else self._once(work))

    async def _once(self, work: Callable[[], Awaitable[None]]) -> None:
        """Do a step of the work, unless it is under way already."""
        step = self._desk.step
        if step in self._under_way:
            return
        self._under_way.add(step)
        try:
            await work()
        finally:
            self._under_way.discard(step)

    async def take_up(self) -> None:
        """Take up the guitar scanned; what was typed for another one goes."""
        self._sheet.say("")
        if await self._guarded(lambda: self._desk.scan(self._typed.serial)):
            desk, typed = self._desk, self._typed
            if desk.serial != typed.taken:
                typed.taken, typed.asked, typed.tested = desk.serial, False, ""
                self._forget(*OF_GUITAR)
            self._keep()
            await self._guarded(self._look_again)
        self._show(move=True)

    def once_more(self, what: Literal["pocket", "joint"]) -> None:
        """Ask for another reading of the pocket or of the bolted joint."""
        self._desk.again = what
        self._forget(*((READING, *SQUARES, MOVED) if what == "pocket" else (BOLTED,)))
        self._show(move=True)

    async def _ask_pair(self) -> None:
        self._typed.asked = True
        if self._typed.texts.get(MOVED.key) and not self._typed.tested:
            self._typed.tested = datetime.now(UTC).isoformat(timespec="seconds")
        self._keep()
        if not await self._guarded(self._choose_pair):
            self._sheet.say("")

    async def _choose_pair(self) -> None:
        desk = self._desk
        self._sheet.say("Choosing the pair …")
        await desk.pair_for(self._typed)
        self._show(move=True)
        self._sheet.say("Calculating the chance that it is right …")
        whole = await desk.whole_pair()
        self._sheet.say(f"{desk.serial}: {named_pair(whole.pair)}. {chance_text(whole.pair)}")
        self._show()

    async def _log_best(self) -> None:
        await self._log(self._desk.offered[0])

    async def log_pair(self, pair: PairForecast) -> None:
        """Log the pair that went in instead of the best one."""
        await self._once(lambda: self._log(pair))

    async def _log(self, pair: PairForecast) -> None:
        desk = self._desk
        reason = str(self._sheet.why.value) if desk.fits else "new"

        async def write() -> None:
            self._said_logged(await desk.log_pair(pair, self._typed, reason=reason))

        await self._guarded(write)
        self._show(move=True)

    def _said_logged(self, warning: str | None) -> None:
        """After a fit was logged: nothing measured on the pair before counts for this one."""
        self._forget(BOLTED, *AT_PITCH, *MORE_AT_PITCH)
        self._typed.asked = False
        self._keep()
        last = self._desk.last
        self._sheet.say("" if last is None else f"Logged for {last.serial}: {named_pair(last)}.")
        if warning:
            self._sheet.notice.show(warning)

    async def _dry(self) -> None:
        self._sheet.say("Comparing with the expected …")
        if await self._guarded(lambda: self._desk.check_dry(self._typed)):
            self._forget(BOLTED)
            self._keep()
        self._say_dry()
        self._show(move=True)

    def _say_dry(self) -> None:
        found = self._desk.dry
        self._sheet.say("" if found is None else f"{self._desk.serial}: {verdict(found.check)}.")

    async def _change_dry(self) -> None:
        found = self._desk.dry
        if found is not None:
            await self._guarded(lambda: self._said_logged(self._desk.log_next(found.check.best)))
        self._show(move=True)

    def strike(self) -> None:
        """Strike out the readings of the bolted joint, to read it again."""
        with self._sheet.notice.guard():
            self._desk.strike_bolted()
        self._sheet.say("")
        self._show(move=True)

    def as_it_is(self) -> None:
        """String up without a dry check, or against its advice."""
        self._desk.as_it_is = True
        self._show(move=True)

    async def _at_pitch(self) -> None:
        if await self._guarded(lambda: self._desk.log_at_pitch(self._typed)):
            await self._guarded(self._judge)
        self._show(move=True)

    async def _judge(self) -> None:
        self._swap = None
        self._sheet.say("Comparing with the expected …")
        self._swap = await self._desk.judge()
        self._sheet.say(swap_verdict(self._swap, serial=self._desk.serial))

    async def _finish(self) -> None:
        """Log the swap advised, else go on to the next guitar."""
        swap = self._swap
        if swap is not None and not swap.keep:
            await self._guarded(lambda: self._said_logged(self._desk.log_next(swap.new)))
        else:
            self._sheet.serial.set_value("")
        self._show(move=True)

    async def corrected(self) -> None:
        """After a correction in the log: the step and the verdict may be others."""
        self._desk.read_log()
        await self._guarded(self._look_again)
        self._show()
