"""Worker processes of the page, their latest results, and the tabs that wait for each."""

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pebble import ProcessExpired, ProcessFuture, ProcessPool

from cases.casefile.case import Case
from cases.casefile.workshop import Workshop
from cases.page.drawn import Drawn
from cases.page.jobs import Failed, full_answer
from cases.page.live import Worked
from cases.page.room import DEFAULT_CASE, Room
from cases.page.start import context
from materials.errors import NeckpreloadError

MOST_KEPT = 16
"""Largest number of full answers kept, about 3 MB each."""
MOST_WAITING = 40
"""Largest number of jobs at once: two for each of a class of twenty."""
LONGEST_S = 60.0
"""Time limit of a job [s]."""


def first_answers(room: Room) -> "Workroom":
    """The workers for a page's answers, at work on the first one if the page shows it."""
    answers = Workroom(workers=2, workshop=room.settings.workshop)
    if room.settings.mode != "bench":
        answers.start(room.open_case(DEFAULT_CASE))
    return answers


class WorkError(NeckpreloadError):
    """Work without a result; says why and what to do."""


class CancelledWork(Exception):
    """Work cancelled by its last listener."""


@dataclass
class _Shared:
    """A job in progress with the number of its listeners."""

    future: "ProcessFuture[Any]"
    listeners: int = 0


class Workroom:
    """Worker processes with a cache of limited size, one for the whole page, used from its event loop.

    Answers are given in the house settings of ``workshop``.
    """

    def __init__(self, *, workers: int, workshop: Workshop) -> None:
        self._workers = workers
        self._workshop = workshop
        self._pool: ProcessPool | None = None
        self._kept: OrderedDict[str, Worked] = OrderedDict()
        self.drawn = Drawn()
        self._running: dict[tuple[str, str], _Shared] = {}

    def known(self, case: Case) -> Worked | None:
        """The full answer of a case, if it is in the cache."""
        found = self._kept.get(case.sha256)
        if found is not None:
            self._kept.move_to_end(case.sha256)
        return found

    async def full(self, case: Case) -> Worked:
        """The full answer of a case. Raises `WorkError` with the reason, `CancelledWork` if cancelled."""
        known = self.known(case)
        if known is not None:
            return known
        worked = await self.ask(("full", case.sha256), full_answer, case, self._workshop)
        self._kept[case.sha256] = worked
        while len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)
        return worked

    def start(self, case: Case) -> None:
        """Start the full answer of a case before anybody asks."""
        self._shared(("full", case.sha256), full_answer, (case, self._workshop))

    async def ask(self, key: tuple[str, str], job: Callable[..., Any], *given: Any) -> Any:
        """Run a job in a worker; equal requests share it until the last is cancelled. Errors as of `full`."""
        shared = self._shared(key, job, given)
        shared.listeners += 1
        try:
            found = await asyncio.shield(asyncio.wrap_future(shared.future))
        except asyncio.CancelledError:
            if shared.future.cancelled():
                raise CancelledWork from None
            raise
        except TimeoutError:
            raise WorkError(
                f"This took longer than {LONGEST_S:.0f} s and was stopped; check the measures, or use the "
                "command `neckpreload offset`."
            ) from None
        except ProcessExpired:
            raise WorkError("The worker stopped before it finished; try again.") from None
        finally:
            shared.listeners -= 1
            if shared.listeners == 0:
                self._running.pop(key, None)
                if not shared.future.done():
                    shared.future.cancel()
        if isinstance(found, Failed):
            raise WorkError(found.text)
        return found

    def _shared(self, key: tuple[str, str], job: Callable[..., Any], given: tuple[Any, ...]) -> _Shared:
        if key not in self._running:
            if len(self._running) >= MOST_WAITING:
                raise WorkError("Too many requests are waiting; try again in a few seconds.")
            if self._pool is None:
                self._pool = ProcessPool(max_workers=self._workers, context=context())
            future = self._pool.schedule(job, args=given, timeout=LONGEST_S)
            self._running[key] = _Shared(future)
        return self._running[key]

    def close(self) -> None:
        """End all workers."""
        if self._pool is not None:
            self._pool.stop()
            self._pool.join()
            self._pool = None
