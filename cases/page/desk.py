"""State of one tab: its draft, the answer to it, the sliders; nothing here draws."""

import asyncio
from collections.abc import Callable
from math import degrees
from typing import Literal

from cases.casefile.case import Case
from cases.page.draft import Draft, Made, made
from cases.page.drawn import Drawing
from cases.page.fields import FormTable
from cases.page.jobs import RoughStart, rough_change
from cases.page.live import Bend, Knobs, LiveState, Worked, preview
from cases.page.room import Room
from cases.page.svg import Stage
from cases.page.work import CancelledWork, WorkError, Workroom
from materials.errors import NeckpreloadError

Standing = Literal["empty", "full", "working", "cancelled", "failed", "wrong"]
Part = Literal["answer", "live"]


class Desk:
    """State of one tab, whose full answers come from ``workroom``.

    ``standing`` is ``full`` if the answer is that of the draft, else why not; ``about_deg`` is the
    approximate offset or taper of the draft until the full answer is there [deg].
    """

    def __init__(self, room: Room, workroom: Workroom) -> None:
        self.room = room
        self.draft = Draft()
        self.made = Made(None, None)
        self.worked: Worked | None = None
        self.standing: Standing = "empty"
        self.about_deg: float | None = None
        self.message = ""
        self.knobs = Knobs()
        self.live: LiveState | None = None
        self.stage: Stage | None = None
        self.exaggeration: float | None = None
        self._workroom = workroom
        self._bend: Bend | None = None
        self._task: asyncio.Task[None] | None = None
        self._wanted: Knobs | None = None
        self._dragging = False
        self._listeners: list[Callable[[Part], None]] = []

    def listen(self, listener: Callable[[Part], None]) -> None:
        """Call ``listener`` whenever the answer or the state under the sliders changes."""
        self._listeners.append(listener)

    def _tell(self, part: Part) -> None:
        for listener in self._listeners:
            listener(part)

    def take(self, draft: Draft) -> None:
        """Take a draft: check it, show a known or approximate answer, and start the full one."""
        self.draft = draft
        self.made = made(draft, self.room)
        self._leave()
        self.about_deg, self.message = None, ""
        case = self.made.case
        if case is None:
            self.standing = "wrong"
        elif (known := self._workroom.known(case)) is not None:
            self._show(known)
        else:
            self.standing = "working"
            self.about_deg = self._at_once(case)
            self._task = asyncio.create_task(self._work(case))
        self._tell("answer")

    def cancel(self) -> None:
        """Stop the calculation; the previous answer stays."""
        if self._task is not None:
            self._leave()
            self.standing = "cancelled"
            self._tell("answer")

    def close(self) -> None:
        """Stop all work for this tab."""
        self._leave()
        self._listeners.clear()

    def _leave(self) -> None:
        if self._task is not None:
            self._task.cancel()
            self._task = None

    def _at_once(self, case: Case) -> float | None:
        if self.worked is None or self.worked.answer.joint.kind != case.joint.kind:
            return None
        try:
            return preview(self.worked, case)
        except NeckpreloadError:
            return None  # no preview; the full answer reports the reason

    async def _work(self, case: Case) -> None:
        rough = None
        before = self.worked
        if before is not None and self.about_deg is None and before.answer.joint.kind == case.joint.kind:
            rough = asyncio.create_task(self._rough(case, before))
        try:
            self._show(await self._workroom.full(case))
        except CancelledWork:
            self.standing = "cancelled"
        except WorkError as error:
            self.standing, self.message, self.about_deg = "failed", str(error), None
        finally:
            if rough is not None:
                rough.cancel()
        self._task = None
        self._tell("answer")

    async def _rough(self, case: Case, before: Worked) -> None:
        start = RoughStart(before.offset.offset, before.upper, before.rough_angle)
        key = ("rough", f"{before.case.sha256} {case.sha256}")
        try:
            self.about_deg = await self._workroom.ask(key, rough_change, case, start)
        except (WorkError, CancelledWork):
            return  # as above
        self._tell("answer")

    def _show(self, worked: Worked) -> None:
        again = self.worked is not None and self.worked.sha256 == worked.sha256
        self.worked, self.standing, self.about_deg = worked, "full", None
        if not again:
            self._bend = Bend(worked)
            self.stage = self._workroom.drawn.stage(worked, self.exaggeration)
            self.knobs = Knobs(strings=self.knobs.strings)
            self._solve(self.knobs)

    def exaggerate(self, factor: float) -> None:
        """Draw movements ``factor`` times their size."""
        if self.worked is not None and factor != self.exaggeration:
            self.exaggeration = factor
            self.stage = self._workroom.drawn.stage(self.worked, factor)
            self._tell("live")

    async def drag(self, knobs: Knobs) -> None:
        """Solve the neck for the sliders; of several waiting positions only the last is solved."""
        self._wanted = knobs
        if self._dragging:
            return
        self._dragging = True
        try:
            while self._wanted is not None:
                wanted, self._wanted = self._wanted, None
                self._solve(wanted)
                self._tell("live")
                await asyncio.sleep(0)
        finally:
            self._dragging = False

    def _solve(self, knobs: Knobs) -> None:
        if self._bend is None:
            return
        try:
            self.live, self.knobs, self.message = self._workroom.drawn.state(self._bend, knobs), knobs, ""
        except NeckpreloadError as error:
            self.message = f"The joint finds no equilibrium for these sliders: {error}"

    def drawing(self) -> Drawing | None:
        """Drawing of the neck under the sliders; None before the first answer."""
        if self.stage is None or self.live is None:
            return None
        return self._workroom.drawn.drawing(self.stage, self.live)

    def form(self, case: Case) -> tuple[FormTable, ...]:
        """Every key of a case as a form field."""
        return self._workroom.drawn.form(case)

    @property
    def next_knobs(self) -> Knobs:
        """Position of the sliders, including one not yet solved."""
        return self._wanted or self.knobs

    @property
    def found_deg(self) -> tuple[float, ...]:
        """Angles of the shims of the full answer [deg]."""
        if self.worked is None:
            return ()
        angles = self.worked.offset.pair.angles
        return tuple(degrees(angles[k]) for k in self.worked.question.shims)
