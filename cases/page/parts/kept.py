"""Input kept by a browser tab through a reload and a restart of the server."""

import json
from collections.abc import Awaitable, Callable

from nicegui import Client, ui


def keep(name: str, text: str) -> None:
    """Have the tab keep a text."""
    ui.run_javascript(f"neckKeep({json.dumps(name)}, {json.dumps(text)})")


async def kept_by_tab(name: str) -> object:
    """The value that the tab kept under a name; None if there is none or the tab does not answer."""
    try:
        return await ui.run_javascript(f"neckKept({json.dumps(name)})", timeout=10.0)
    except TimeoutError:
        return None


def on_first_connection(work: Callable[[], Awaitable[None]]) -> None:
    """Run ``work`` once, when the browser of the page being built first connects."""
    client = ui.context.client
    begun = False

    async def connected(_: Client) -> None:
        nonlocal begun
        if not begun:
            begun = True
            with client:
                await work()

    client.on_connect(connected)
