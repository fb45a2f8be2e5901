"""Input kept by a browser tab through a reload and a restart of the server."""

import json
from collections.abc import Awaitable, Callable

from nicegui import Client, ui
from pydantic import BaseModel

from cases.page.draft import Kept, from_tab


def keep(name: str, given: BaseModel) -> None:
    """Have the tab keep what was typed."""
    ui.run_javascript(f"neckKeep({json.dumps(name)}, {json.dumps(given.model_dump_json())})")


async def kept_by_tab(name: str, model: type[Kept]) -> Kept:
    """What the tab kept under a name; empty if it kept nothing valid or does not answer."""
    try:
        return from_tab(model, await ui.run_javascript(f"neckKept({json.dumps(name)})", timeout=10.0))
    except TimeoutError:
        return model()


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
