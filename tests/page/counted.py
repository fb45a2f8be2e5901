"""The page's command, which writes on a signal how much it holds: `python -m tests.page.counted page`"""

import gc
import json
import signal
import sys
from pathlib import Path


def held() -> dict[str, int]:
    """Visitors, stores of tabs, and objects made since the start that are in use."""
    from nicegui import Client, app

    gc.collect()
    return {
        "visitors": len(Client.instances),
        "tabs": len(app.storage._tabs),
        "objects": len(gc.get_objects()),
    }


if __name__ == "__main__":
    from cases.cli import main

    written = Path.cwd() / "held.json"
    signal.signal(signal.SIGUSR1, lambda *_: written.write_text(json.dumps(held())))
    sys.exit(main())
