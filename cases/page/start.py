"""Start of the server: the allocator that gives memory back; the workers' modules, loaded beside its own."""

import ctypes
import os
import sys
from typing import Any

ALLOCATOR = "PYTHONMALLOC"
"""Variable that chooses Python's allocator when it starts."""
TRIM = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
"""Function of the C library that gives memory back, where there is one."""


def begin() -> None:
    """Start this program again, in the same process, on the C library's allocator, where that one can give
    memory back; then begin to load the workers' modules in a process of their own.

    To be called before anything is loaded or printed. If the variable chooses an allocator already, it is
    only taken from the environment: the workers, which have no visitors, keep Python's own, which is a
    little faster.
    """
    chosen = os.environ.pop(ALLOCATOR, None)
    if TRIM is not None and chosen is None:
        os.execve(sys.executable, [sys.executable, *sys.orig_argv[1:]], {**os.environ, ALLOCATOR: "malloc"})
    if context().get_start_method() == "forkserver":
        from multiprocessing import forkserver

        forkserver.ensure_running()


def context() -> Any:
    """A fork server with the workers' modules loaded, which soon replaces a cancelled worker; else spawn."""
    from multiprocessing import get_all_start_methods, get_context

    if "forkserver" not in get_all_start_methods():
        return get_context("spawn")
    found = get_context("forkserver")
    found.set_forkserver_preload(["cases.page.jobs"])
    return found
