"""Memory of the server: what visitors held goes back to the system when they have left.

Python returns memory in pieces of 1 MB, each only when nothing in it is in use any more. Three things that live
on would each hold a piece of memory that a visitor has used: the free list of asyncio for waiting futures, that
of the event loop for timers, and the names in the interpreter's cache of attributes. The two lists are therefore
filled before the first visitor, the cache is emptied after the last.
"""

import asyncio
import gc
import sys
from collections.abc import Callable

from nicegui import Client, app

ON_A_FREE_LIST = 256
"""More than either free list takes: 255 waiting futures, 250 timers (asyncio of Python 3.11, uvloop 0.23)."""
PAUSE_S = 1.0
"""From the end of a visit to tidying up [s]; the visitor's elements are gone by then."""


def give_memory_back() -> None:
    """Set up the server so that it does; once, before it starts."""
    # The library (nicegui 3.18) keeps an empty store for each tab that ever came, for 30 days by default; the
    # page keeps nothing there.
    app.storage.max_tab_storage_age = PAUSE_S
    app.on_startup(_settle)
    app.on_delete(_left)


async def _settle() -> None:
    """Fill the free lists with objects that lie together; what is loaded by now stays for good and need not be
    searched for garbage again.
    """
    loop = asyncio.get_running_loop()
    waiting = [loop.create_future().__await__() for _ in range(ON_A_FREE_LIST)]
    timers = [loop.call_later(PAUSE_S, int) for _ in range(ON_A_FREE_LIST)]
    for one in timers:
        one.cancel()
    del waiting, timers
    gc.collect()
    gc.freeze()


def _left() -> None:
    asyncio.get_running_loop().call_later(PAUSE_S, _tidy)


def _tidy() -> None:
    """Collect what visitors have left behind; while one is there nobody has to wait for it."""
    if not Client.instances:
        gc.collect()
        _empty_caches()


_empty_caches: Callable[[], None] = getattr(sys, "_clear_internal_caches", None) or sys._clear_type_cache
"""Empties the interpreter's cache of attributes, by its name since Python 3.13 or before."""
