"""Long work beside the page: worker processes, what they found last, and who still waits for what."""

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_all_start_methods, get_context
from typing import Any

from pebble import ProcessExpired, ProcessFuture, ProcessPool

from cases.casefile.case import Case
from cases.casefile.workshop import Workshop
from cases.page.drawn import Drawn
from cases.page.jobs import Failed, full_answer
from cases.page.live import Worked
from materials.errors import NeckpreloadError

MOST_KEPT = 16
"""Cases worked out in full that are kept, about 2 MB each."""
MOST_WAITING = 40
"""Jobs that may wait at once; a class of twenty has two each."""
LONGEST_S = 60.0
"""A job that takes longer is ended [s]."""


def _context() -> Any:
    """How workers start: from a server that has read the modules once, so that a cancelled one is soon
    replaced; where there is none, anew.
    """
    if "forkserver" not in get_all_start_methods():
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload(["cases.page.jobs"])
    return context


class WorkError(NeckpreloadError):
    """Work that gave no result; says why and what to do."""


class CancelledWork(Exception):
    """Work that its last listener gave up."""


@dataclass
class _Shared:
    """A job in progress with the number of those who wait for it."""

    future: "ProcessFuture[Any]"
    listeners: int = 0


class Workroom:
    """Worker processes with a memory of limited size; one for the whole page, used from its event loop.

    Parameters
    ----------
    workers : number of processes.
    workshop : house settings that every answer is given in.
    """

    def __init__(self, *, workers: int, workshop: Workshop) -> None:
        self._workers = workers
        self._workshop = workshop
        self._pool: ProcessPool | None = None
        self._kept: OrderedDict[str, Worked] = OrderedDict()
        self.drawn = Drawn()
        self._running: dict[tuple[str, str], _Shared] = {}

    def known(self, case: Case) -> Worked | None:
        """The full answer of a case, if it was worked out lately."""
        found = self._kept.get(case.sha256)
        if found is not None:
            self._kept.move_to_end(case.sha256)
        return found

    async def full(self, case: Case) -> Worked:
        """The full answer of a case: at once where it is known, else from a worker.

        Raises
        ------
        WorkError
            With the sentence of what went wrong.
        CancelledWork
            If it was cancelled.
        """
        known = self.known(case)
        if known is not None:
            return known
        worked = await self.ask(("full", case.sha256), full_answer, case, self._workshop)
        self._kept[case.sha256] = worked
        while len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)
        return worked

    def start(self, case: Case) -> None:
        """Begin with a case before anybody asks."""
        self._shared(("full", case.sha256), full_answer, (case, self._workshop))

    async def ask(self, key: tuple[str, str], job: Callable[..., Any], *given: Any) -> Any:
        """Have a worker do a job; those who ask for the same share it, and the last to leave ends it.

        Raises
        ------
        WorkError, CancelledWork
            As `full`.
        """
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
                f"This took longer than {LONGEST_S:.0f} s and was ended; check the measures, or ask by the "
                "command."
            ) from None
        except ProcessExpired:
            raise WorkError("The worker ended before it was done; try again.") from None
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
                raise WorkError("Many are waiting for an answer just now; try again in some seconds.")
            if self._pool is None:
                self._pool = ProcessPool(max_workers=self._workers, context=_context())
            future = self._pool.schedule(job, args=given, timeout=LONGEST_S)
            self._running[key] = _Shared(future)
        return self._running[key]

    def close(self) -> None:
        """End all workers."""
        if self._pool is not None:
            self._pool.stop()
            self._pool.join()
            self._pool = None
