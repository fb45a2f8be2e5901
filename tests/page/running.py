"""A page running in a process of its own, for tests that ask it over the network."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

PATIENCE_S = 120.0
"""How long a server may take to start on a busy machine; nothing is measured by it."""


@dataclass(frozen=True)
class RunningPage:
    """Where it stands and the process that serves it."""

    port: int
    process: subprocess.Popen
    output: Path

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running_page(folder: Path, *options: str) -> Iterator[RunningPage]:
    """Serve the page from a folder of its own until the test is done."""
    port, output = free_port(), folder / "page.txt"
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("NECKPRELOAD", "NICEGUI", "PYTEST"))
    }
    environment |= {"HOME": str(folder), "XDG_DATA_HOME": str(folder), "XDG_CONFIG_HOME": str(folder)}
    with output.open("w") as written:
        process = subprocess.Popen(
            [sys.executable, "-m", "cases.cli", "page", "--port", str(port), *options],
            cwd=folder, env=environment, stdout=written, stderr=subprocess.STDOUT,
        )  # fmt: skip
    page = RunningPage(port, process, output)
    try:
        _wait(page)
        yield page
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def _wait(page: RunningPage) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if page.process.poll() is not None:
            raise AssertionError(f"the page ended: {page.output.read_text()}")
        try:
            httpx.get(page.url + "/nothing-here", timeout=10)
        except httpx.TransportError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError(f"the page did not start: {page.output.read_text()}")
