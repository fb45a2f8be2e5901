"""What a tab keeps of what was typed, through a reload and a restart of the server."""

import json

from nicegui import ui


def keep(name: str, text: str) -> None:
    """Have the tab keep a text through a reload."""
    ui.run_javascript(f"neckKeep({json.dumps(name)}, {json.dumps(text)})")


async def kept_by_tab(name: str) -> object:
    """What the tab kept under a name; None where it kept nothing, or does not answer."""
    try:
        return await ui.run_javascript(f"neckKept({json.dumps(name)})", timeout=10.0)
    except TimeoutError:
        return None
