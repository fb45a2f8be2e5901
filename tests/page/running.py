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

from cases import load

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


def workshop_of(folder: Path) -> Path:
    """The settings of a workshop with a released case `ours` and one that is not, `trial`."""
    (folder / "cases").mkdir()
    body = load("fourteen-mahogany").with_values({"body.stiffness_n_m_per_rad": 25000.0}).to_toml()
    text = body.replace('name = "fourteen-mahogany"\n', "")
    released = 'revision = "C"\nreleased_by = "bench lead"\nreleased_on = 2031-05-04\n'
    for name, head in (("ours", released), ("trial", 'revision = "D"\n')):
        (folder / "cases" / f"{name}.toml").write_text(head + text)
    (folder / "workshop.toml").write_text('cases_folder = "cases"\n')
    return folder / "workshop.toml"


@contextmanager
def running_page(folder: Path, *options: str, module: str = "cases.cli") -> Iterator[RunningPage]:
    """Serve the page from a folder of its own until the test is done; ``module`` has the command."""
    port, output = free_port(), folder / "page.txt"
    environment = {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("NECKPRELOAD", "NICEGUI", "PYTEST"))
    }
    environment |= {"HOME": str(folder), "XDG_DATA_HOME": str(folder), "XDG_CONFIG_HOME": str(folder)}
    environment |= {"PYTHONPATH": str(Path(__file__).parents[2])}
    with output.open("w") as written:
        process = subprocess.Popen(
            [sys.executable, "-m", module, "page", "--port", str(port), *options],
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
