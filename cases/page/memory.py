"""Memory of the server: what visitors held goes back to the system when they have left.

Python's own allocator returns memory in pieces of 1 MB, each only once nothing in it is in use. A server that
goes on holds a few small objects in nearly every piece (free lists of asyncio and of the event loop, names in
the interpreter's cache of attributes, running timers), so that it never shrinks. The C library's allocator
returns single pages of 4 kB when asked to.
"""

import asyncio
import gc
from collections.abc import Sized

from cases.page.start import TRIM

PAUSE_S = 1.0
"""From the end of a visit to tidying up [s]; the visitor's elements are gone by then."""


async def settle() -> None:
    """Prepare a new server: what is loaded by now stays for good and is no longer searched for garbage."""
    gc.collect()
    gc.freeze()


class Tidying:
    """Tidies up after visitors; ``present`` are those who are there."""

    def __init__(self, present: Sized) -> None:
        self._present = present
        self._due: asyncio.TimerHandle | None = None

    def left(self) -> None:
        """A visitor has left; those who leave together are tidied up after once."""
        if self._due is None:
            self._due = asyncio.get_running_loop().call_later(PAUSE_S, self._tidy)

    def _tidy(self) -> None:
        self._due = None
        gc.collect()
        if TRIM is not None and not self._present:
            TRIM(0)
